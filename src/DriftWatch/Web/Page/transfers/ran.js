// When tape ran on this bench and what was said meanwhile, whether or not anybody kept a transfer of it.

import { events as eventsOf } from '../night/data.js';
import { at, make, say } from '../dom.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as words from '../words.js';
import { runsOf } from './runs.js';

const dayMs = 86_400_000, marginMs = 60_000;
const day = new Intl.DateTimeFormat('en-GB', { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' });
const iso = ms => new Date(ms).toISOString();
const many = (n, what, plural = `${what}s`) => `${n} ${n === 1 ? what : plural}`;
const zone = encodeURIComponent(Intl.DateTimeFormat().resolvedOptions().timeZone); // whoever asks has the report in the times of his own wall clock
let days = Number(new URLSearchParams(location.search).get('days')) || 7;

const polled = new Polled(at('runs'), 15_000, id => {
  const now = Date.now();
  return eventsOf(id, now - days * dayMs, now);
}, show);
export function begin(model) {
  at('run-days').replaceChildren();
  delete at('run-days').dataset.key;
  polled.begin(model);
}

export const end = () => { polled.bench = null; };
export const now = () => polled.now();

function show(events, model) {
  const runs = runsOf(events);
  const total = runs.reduce((sum, r) => sum + r.to - r.from, 0);
  const watched = words.duration(events.watchedSeconds);
  say(at('runs-said'), [
    runs.length === 0 ? `No tape ran in the ${watched} that were watched.` : `${many(runs.length, 'run')}, ${words.duration(total / 1000)} of tape in the ${watched} that were watched.`,
    events.leftOut ? '▲ More happened than could be read at once: the oldest is left out. Choose fewer days.' : null,
  ].filter(Boolean).join(' '));
  const key = runs.map(r => [r.from, r.goesOn, r.alarms.length, r.findings.length, r.marks.length, r.baselines.length].join()).join(';');
  const shown = at('run-days');
  if (shown.dataset.key === key && shown.children.length > 0) {
    runs.forEach((run, i) => fill(shown.querySelectorAll('.run')[i], run, model)); // the focus stays where it is
    return;
  }
  shown.dataset.key = key;
  const byDay = Map.groupBy(runs, run => day.format(run.from));
  shown.replaceChildren(...[...byDay].map(([name, list]) => make('section', {},
    make('h3', { textContent: name }),
    make('ul', { className: 'runs', ariaLabel: `Runs of ${name}` }, ...list.map(run => card(run, model))))));
}

function card(run, model) {
  const link = className => make('a', { className });
  const [view, report, pdf, evidence, csv, png] = ['view', 'report', 'pdf', 'evidence', 'csv', 'png'].map(link);
  const element = make('li', { className: 'run' },
    make('p', { className: 'when' }), make('p', { className: 'standing' }), make('p', { className: 'locked' }), make('ul', { className: 'said-in' }),
    make('p', { className: 'links' }, view, ' ', report, ' ', pdf, ' ', evidence, ' ', csv, ' ', png));
  view.textContent = 'Open in the night view';
  report.textContent = 'Open report';
  pdf.textContent = 'Save report (PDF)';
  evidence.textContent = 'Save evidence (zip)';
  csv.textContent = 'Save CSV';
  png.textContent = 'Save picture';
  csv.download = png.download = pdf.download = evidence.download = '';
  fill(element, run, model);
  return element;
}

function fill(element, run, model) {
  const part = selector => element.querySelector(selector);
  const bench = model.bench.id;
  const [state, text] = standing(run);
  element.dataset.standing = state;
  say(part('.when'), `${run.isCut ? 'before ' : ''}${words.clock(run.from)} to ${run.goesOn ? 'now' : words.instant(run.to, run.from)}, ${words.duration((run.to - run.from) / 1000)}`);
  say(part('.standing'), text);
  say(part('.locked'), [
    `Locked for ${words.duration(run.locked / 1000)} of it.`,
    run.baselines.length > 0 ? `${many(run.baselines.length, 'baseline')} taken.` : null,
  ].filter(Boolean).join(' '));
  const lines = [
    ...run.alarms.map(a => `▲ ${a.text}`),
    ...run.findings.filter(f => !run.alarms.some(a => a.text === f.text)).map(f => `${f.severity === 'alarm' ? '▲' : '◇'} ${f.text}`),
    ...run.marks.map(m => `■ ${words.clock(Date.parse(m.at))} ${m.text}`),
  ];
  const list = part('.said-in');
  const shown = lines.slice(0, 6);
  if (lines.length > shown.length) shown.push(`and ${lines.length - shown.length} more in the night view`);
  if (list.dataset.lines !== shown.join('\n')) {
    list.dataset.lines = shown.join('\n');
    list.replaceChildren(...shown.map(textContent => make('li', { textContent })));
  }
  const label = `${words.instant(run.from, 0)} to ${run.goesOn ? 'now' : words.instant(run.to, run.from)}`;
  const span = `from=${iso(run.from - marginMs)}&to=${iso(run.to + marginMs)}`;
  for (const [name, href, what] of [
    ['.view', `night.html?bench=${bench}&${span}`, 'Open in the night view'],
    ['.report', `/api/v1/benches/${bench}/span/report.html?${span}&zone=${zone}`, 'Open report'],
    ['.pdf', `/api/v1/benches/${bench}/span/report.pdf?${span}&zone=${zone}`, 'Save report (PDF)'],
    ['.evidence', `/api/v1/benches/${bench}/span/package.zip?${span}&zone=${zone}`, 'Save evidence (zip)'],
    ['.csv', `/api/v1/benches/${bench}/span/csv?${span}`, 'Save CSV'],
    ['.png', `/api/v1/benches/${bench}/span/picture?${span}`, 'Save picture'],
  ]) {
    part(name).href = href;
    part(name).ariaLabel = `${what}: ${label}`;
  }
}

/** What was said of it, the worst first; what nobody watched is never called quiet. */
function standing(run) {
  const advisories = run.findings.filter(f => f.severity === 'advisory').length;
  const alarms = Math.max(run.alarms.length, run.findings.filter(f => f.severity === 'alarm').length);
  const unwatched = run.unwatched > 1000 ? `not watched for ${words.duration(run.unwatched / 1000)} of it` : null;
  const said = [alarms > 0 ? many(alarms, 'alarm') : null, advisories > 0 ? many(advisories, 'advisory', 'advisories') : null, unwatched].filter(Boolean).join(', ');
  if (alarms > 0) return ['alarm', `▲ ${said}`];
  if (unwatched) return ['unwatched', `— ${said}`];
  return advisories > 0 ? ['advisory', `◇ ${said}`] : ['quiet', '● nothing was said against it'];
}

at('days').value = String(days);
if (!at('days').value) at('days').value = String(days = 7);
at('days').addEventListener('change', () => {
  days = Number(at('days').value);
  history.replaceState(null, '', page.address({ days }));
  polled.now();
});
