// What would have come with other limits: a span of the store is judged again beside the running service. Nothing that is
// stored or in force is touched.

import * as api from './api.js';
import { address } from './page.js';
import * as units from './units.js';
import * as words from './words.js';
import { localText, localTime } from './local-time.js';
import { tagWords } from './alarms.js';

const at = id => document.getElementById(id);
const lookAgainMs = 400;
const hour = 3_600_000;

let of = () => null;
let bench = null, changes = [];
let job = null;

export function setUp(model) {
  of = model;
  at('what-if-open').addEventListener('click', open);
  at('what-if-close').addEventListener('click', () => at('what-if').close());
  at('try-channel').addEventListener('change', offerLimits);
  at('try-limit').addEventListener('change', offerValue);
  at('try-add').addEventListener('click', () => say(() => add()));
  at('try-cancel').addEventListener('click', () => job && api.cancelWhatIf(of().bench.id, job).catch(() => {}));
  at('what-if-form').addEventListener('submit', event => {
    event.preventDefault();
    judge();
  });
}

function open() {
  const model = of();
  if (model.bench.id !== bench) changes = []; // another bench has other channels
  bench = model.bench.id;
  showChanges();
  const withLimits = [...model.channels, ...model.quantities].filter(c => c.definition.limits.length > 0);
  at('try-channel').replaceChildren(...withLimits.map(c => new Option(c.definition.label, c.definition.id)));
  offerLimits();
  if (!at('try-from').value) {
    at('try-from').value = localText(model.utcNow - 12 * hour);
    at('try-to').value = localText(model.utcNow);
  }
  at('what-if').showModal();
}

/** Opens with the span that a link of another page asks for, `?what-if=from/to`, once. */
export function openAsked() {
  const asked = new URLSearchParams(location.search).get('what-if')?.split('/').map(text => Date.parse(text)) ?? [];
  if (asked.length !== 2 || asked.some(Number.isNaN)) return;
  history.replaceState(null, '', address({ 'what-if': null }));
  [at('try-from').value, at('try-to').value] = asked.map(localText);
  open();
}

const limitsOf = id => of().byId.get(id)?.definition.limits ?? [];

function offerLimits() {
  const { unit } = of().byId.get(at('try-channel').value)?.definition ?? {};
  at('try-limit').replaceChildren(...limitsOf(at('try-channel').value).map((limit, i) => {
    return new Option(`${limit.side} ${limit.severity}, now ${words.limitAt(limit, unit)}`, String(i));
  }));
  offerValue();
}

/** What a limit's number is counted in: a place of the unit, a step of it, or a share of the baseline. */
const scales = {
  absolute: { shown: units.convert, own: units.back, sign: units.sign },
  baseline: { shown: units.convertChange, own: units.backChange, sign: unit => `${units.sign(unit)} from the baseline` },
  'baseline-fraction': { shown: value => value, own: value => value, sign: () => 'times the baseline' },
};

function offerValue() {
  const { unit } = of().byId.get(at('try-channel').value)?.definition ?? {};
  const limit = limitsOf(at('try-channel').value)[Number(at('try-limit').value)];
  const scale = limit && scales[limit.reference];
  at('try-value').value = limit ? String(Number(scale.shown(limit.value, unit).toPrecision(7))) : '';
  at('try-value-label').textContent = limit ? `Value to try, ${scale.sign(unit)}` : 'Value to try';
}

function add() {
  const channel = at('try-channel').value;
  const limit = limitsOf(channel)[Number(at('try-limit').value)];
  const value = at('try-value').valueAsNumber;
  if (!limit || !Number.isFinite(value)) throw new Error('Choose a limit and write the value to try.');
  const { unit } = of().byId.get(channel).definition;
  const { side, severity } = limit;
  changes = changes.filter(c => c.channel !== channel || c.limit.side !== side || c.limit.severity !== severity);
  changes.push({ channel, limit: { ...limit, value: scales[limit.reference].own(value, unit) } });
  showChanges();
}

function showChanges() {
  at('try-changes').replaceChildren(...changes.map(change => {
    const item = document.createElement('li');
    const { label, unit } = of().byId.get(change.channel).definition;
    const drop = document.createElement('button');
    drop.type = 'button';
    drop.textContent = 'Drop';
    const { side, severity } = change.limit;
    drop.setAttribute('aria-label', `Drop: ${label}, ${side} ${severity}`);
    drop.addEventListener('click', () => {
      changes = changes.filter(c => c !== change);
      showChanges();
      at('try-add').focus();
    });
    item.append(`${label}: ${side} ${severity} at ${words.limitAt(change.limit, unit)} `, drop);
    return item;
  }));
}

function say(run) {
  at('try-error').hidden = true;
  try {
    run();
  } catch (problem) {
    fail(problem);
  }
}

function fail(problem) {
  const list = problem.body?.mistakes ?? [];
  at('try-error').textContent = [problem.message, ...list].join(' ');
  at('try-error').hidden = false;
}

function request() {
  const [from, to] = [localTime(at('try-from').value), localTime(at('try-to').value)];
  if (Number.isNaN(from) || Number.isNaN(to)) throw new Error('Write from when to when, day and time such as 2026-01-15 18:00.');
  const span = { from: new Date(from).toISOString(), to: new Date(to).toISOString() };
  const benchFile = at('try-file').value;
  if (benchFile.trim()) return { ...span, benchFile };
  if (changes.length === 0) add();
  return { ...span, limits: changes.map(({ channel, limit: { side, severity, value } }) => ({ channel, side, severity, value })) };
}

async function judge() {
  const model = of();
  at('try-error').hidden = true;
  at('try-result').replaceChildren();
  at('try-said').textContent = '';
  try {
    job = (await api.whatIf(model.bench.id, request())).id;
  } catch (problem) {
    fail(problem);
    if (!problem.body?.job) return;
    job = problem.body.job; // another one is at work: show how far it is, so that it can be cancelled
  }
  working(true);
  try {
    const mine = job;
    let answer;
    do {
      await new Promise(resolve => setTimeout(resolve, lookAgainMs));
      answer = await api.whatIfJob(model.bench.id, mine);
      at('try-progress').value = answer.progress;
    } while (answer.state === 'running');
    show(model, answer);
  } catch (problem) {
    fail(problem);
  } finally {
    working(false);
  }
}

function working(is) {
  at('try-go').disabled = is;
  at('try-working').hidden = !is;
  if (is) at('try-progress').value = 0;
}

function show(model, answer) {
  if (answer.state === 'cancelled') {
    at('try-said').textContent = 'Cancelled; nothing was changed.';
    return;
  }
  if (answer.state === 'failed') throw new Error(answer.trouble);
  at('try-said').textContent = `${answer.kept} kept, ${answer.gone} gone, ${answer.new} new. Both were judged anew, from two hours before the span on: a baseline taken before that is not known to either.`;
  at('try-result').replaceChildren(...answer.items.map(alarm => {
    const item = document.createElement('li');
    item.dataset.fate = alarm.fate;
    const title = document.createElement('h3');
    const fate = document.createElement('span');
    fate.className = 'fate';
    fate.textContent = words.kind(alarm.fate);
    title.append(fate, ' ', tagWords(model, alarm.tag));
    const when = document.createElement('p');
    const said = coming => `${words.instant(Date.parse(coming.raised), model.utcNow)}, ${coming.priority}`;
    when.textContent = [alarm.was && `came ${said(alarm.was)}`, alarm.would && `would have come ${said(alarm.would)}`].filter(Boolean).join('; ');
    const text = document.createElement('p');
    text.textContent = words.sentence((alarm.would ?? alarm.was).text);
    item.append(title, when, text);
    return item;
  }));
}
