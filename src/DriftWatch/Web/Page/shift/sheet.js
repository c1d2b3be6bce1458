// The sheet for who takes over. What it says comes from the service; here it only gets its place. An empty part says that it is empty. On a
// screen it has all; printed it is one sheet, the most important of each part, and says how much more there is.

import { at, make, say } from '../dom.js';
import * as words from '../words.js';

const stages = { preparing: 'is being prepared', ready: 'is lined up', running: 'runs', ended: 'waits for its verdict', judged: 'has its verdict' };
const stands = {
  unacknowledged: '▲ waits', 'returned-unacknowledged': '◇ over, waits', acknowledged: '● taken on', shelved: '○ shelved', 'out-of-service': '○ out of service', 'suppressed-by-design': '○ not judged in this state',
};
const most = { next: 3, alarms: 4, drifts: 2, due: 2, notes: 2 }; // on paper; the same as the service's own sheet
const percent = share => `${Math.round(100 * share)} %`;

export function show(answer) {
  const now = Date.parse(answer.to), when = iso => words.instant(Date.parse(iso), now);
  say(at('of'), `${answer.machine}: ${words.day(Date.parse(answer.from))} ${words.clock(Date.parse(answer.from))} to ${words.day(now)} ${words.clockWithZone(now)}`);
  const parts = at('parts');
  const made = make('div', {},
    answer.silentSince ? make('p', { className: 'silent', textContent: `✕ Nothing is stored since ${when(answer.silentSince)}: all below is as it stood then.` }) : null,
    answer.leftOut ? make('p', { className: 'silent', textContent: `✕ ${answer.leftOut}` }) : null,
    part('What runs', running(answer, when)),
    part('What to do next', next(answer)),
    part('Alarms', alarms(answer, when)),
    part('What drifts', drifts(answer, when)),
    part('Overdue', due(answer)),
    part('Notes and entries', notes(answer, when)));
  if (parts.dataset.key === made.innerHTML) return; // the selection and the place of a reader stay
  parts.dataset.key = made.innerHTML;
  parts.replaceChildren(...made.children);
}

const part = (title, content) => make('section', {}, make('h3', { textContent: title }), ...content);
const none = textContent => [make('p', { className: 'none', textContent })];
const list = (lines, fits = lines.length) => make('ul', { className: 'lines' }, ...lines.map((textContent, i) => beyond(make('li', { textContent }), i >= fits)));

/** What a printed sheet has no room for. */
function beyond(element, is) {
  element.classList.toggle('beyond', is);
  return element;
}

const more = count => (count > 0 ? [make('p', { className: 'more', textContent: `${count} more: the page ‘Shift’ and ‘driftwatch handover’ have them.` })] : []);

function running(answer, when) {
  const { word } = words.stateWords(answer.state);
  const machine = `Machine: ${word.toLowerCase()}${answer.stateSince ? ` since ${when(answer.stateSince)}` : ''}.`;
  if (answer.passes.length === 0) return [list([machine, 'No transfer is in hand.'])];
  return [list([machine, ...answer.passes.map(p => {
    const place = p.place ? ` It is at ${p.place.text} on the tape, ${p.placeBasis}.` : '';
    return `${p.tape}, pass ${p.number} ${stages[p.stage] ?? p.stage} since ${when(p.since)}.${place}`;
  })])];
}

function next(answer) {
  if (answer.next.length === 0) return none('Nothing is asked for.');
  return [make('ol', { className: 'lines' }, ...answer.next.map((n, i) => beyond(make('li', {}, make('strong', { textContent: words.sentence(/[.:]$/.test(n.about) ? n.about : `${n.about}:`) }), ` ${words.sentence(n.text)}`), i >= most.next))), ...more(answer.next.length - most.next)];
}

function alarms(answer, when) {
  const came = answer.raised === 0 ? 'No alarm came in this shift.' : `${answer.raised} came in this shift; ${answer.settled} of them over and answered for.`;
  if (answer.alarms.length === 0) return [make('p', { className: 'none', textContent: `All are back to normal, none is shelved or out of service. ${came}` })];
  const act = a => [a.by, a.until ? `until ${when(a.until)}` : a.state === 'shelved' ? 'until it is over' : null, a.why].filter(Boolean).join(', ');
  const rows = answer.alarms.map(a => row([stands[a.state] ?? a.state, a.priority, when(a.raised), words.sentence(a.text), act(a)], { waits: a.waits, priority: a.priority }));
  return [make('p', { className: 'none', textContent: came }), table('Alarms that are not back to normal', ['Stands', 'Priority', 'Since', 'What', 'Who, until when and why'], rows, most.alarms), ...more(rows.length - most.alarms)];
}

function drifts(answer, when) {
  if (answer.drifts.length === 0) return none('Nothing is known to drift.');
  const leaves = d => {
    if (!d.leaves) return 'can’t be told';
    const range = !d.leavesEarliest ? '' : d.leavesLatest ? ` (${when(d.leavesEarliest)} to ${when(d.leavesLatest)})` : ` (not before ${when(d.leavesEarliest)})`;
    return `about ${when(d.leaves)}${range}`;
  };
  const slope = d => (d.slopePerHour === null ? '' : `${words.change(d.slopePerHour, d.unit)} (${words.change(d.slopePerHourLow, d.unit)} to ${words.change(d.slopePerHourHigh, d.unit)})`);
  const value = (v, unit) => (v === null ? '' : words.quantity(v, unit));
  return [table('What goes to its limit; intervals of 95 %', ['Channel', 'Value', 'Limit', 'Tolerance used', 'An hour', 'Leaves its tolerance'],
    answer.drifts.map(d => row([d.label, value(d.value, d.unit), value(d.limit, d.unit), d.usedShare === null ? '' : percent(d.usedShare), slope(d), leaves(d)])), most.drifts), ...more(answer.drifts.length - most.drifts)];
}

function due(answer) {
  const overdue = answer.due.filter(d => d.isOverdue), untold = answer.due.filter(d => !d.isOverdue);
  const says = d => `${d.what}: ${d.text}`;
  return [
    ...(overdue.length === 0 ? none('Nothing that has a day or an hour is past it.') : [list(overdue.map(says), most.due), ...more(overdue.length - most.due)]),
    ...(untold.length === 0 ? [] : none(`Can’t be told. ${untold.map(says).join(' ')}`)),
  ];
}

const kinds = { note: '', mark: 'Mark: ', 'hand-over': 'Hand-over: ' };

function notes(answer, when) {
  const all = [
    ...answer.notes.map(n => ({ at: n.at, cells: [n.place?.text ?? '', n.by, n.about ?? 'the shift', `${kinds[n.kind] ?? ''}${n.text}`] })),
    ...answer.entries.map(e => ({ at: e.from, cells: ['', e.by, e.about ?? '', e.text] })),
  ].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
  if (all.length === 0) return none('Nobody wrote anything down.');
  return [table('What was written and entered', ['At', 'On the tape', 'Who', 'Of', 'What'], all.map(e => row([when(e.at), ...e.cells])), most.notes, true), ...more(all.length - most.notes)];
}

const row = (cells, data = {}) => make('tr', { data }, ...cells.map((textContent, i) => make(i === 0 ? 'th' : 'td', i === 0 ? { textContent, scope: 'row' } : { textContent })));

/** `fits` rows are printed, the first or the `last` of them. */
function table(name, heads, rows, fits = rows.length, last = false) {
  rows.forEach((element, i) => beyond(element, last ? i < rows.length - fits : i >= fits));
  return make('div', { className: 'scroll', tabIndex: 0, role: 'region', ariaLabel: name },
    make('table', {}, make('thead', {}, make('tr', {}, ...heads.map(textContent => make('th', { textContent, scope: 'col' })))), make('tbody', {}, ...rows)));
}
