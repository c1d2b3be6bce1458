// Every channel on a line: what the instrument says, the calibration that turns it, and the value it makes. What is old or a
// fault shows no value.

import { at, make, say } from '../dom.js';
import * as explain from '../explain.js';
import * as words from '../words.js';

const dayMs = 86_400_000;
const soonDays = 30; // time enough to plan for it; common practice, no source
const rows = new Map();
let bench = null;

export function begin(model) {
  bench = model.bench.id;
  rows.clear();
  at('channel-rows').replaceChildren(...model.channels.map(({ definition }) => {
    const row = line(definition);
    rows.set(definition.id, { ...row, definition });
    return row.element;
  }));
  showCalibrations(model);
}

function line(definition) {
  const cell = (name, label, ...children) => make('td', { className: name, data: { label }, attributes: { role: 'cell' } }, ...children);
  const name = make('button', { type: 'button', className: 'name', textContent: definition.label });
  name.addEventListener('click', () => explain.open(bench, definition.id, definition.label));
  const head = make('th', { attributes: { role: 'rowheader', scope: 'row' } }, name);
  const raw = cell('raw', 'As read'), value = cell('value', 'Value now'), standing = cell('standing', 'How it stands');
  const turned = cell('turned', 'Turned by', make('span', { textContent: explain.calibration(definition.calibration, definition.unit) }),
    make('small', { textContent: ` version ${definition.calibration.version}` }));
  if (definition.kind !== 'frame') head.append(make('a', { className: 'calibrate', textContent: 'Calibrate', ariaLabel: `Calibrate ${definition.label}`, href: `calibrate.html?${new URLSearchParams({ bench, channel: definition.id })}` }));
  const due = cell('due', 'Calibration', make('span'), make('small'));
  return { element: make('tr', { attributes: { role: 'row' } }, head, raw, turned, value, standing, due), raw, value, standing, due };
}

export function show(answer, model) {
  for (const now of answer.items) {
    const row = rows.get(now.id);
    if (row) fill(row, now, model);
  }
  showCalibrations(model);
}

function fill({ element, raw, value, standing, definition }, now, model) {
  const isOld = now.at === null || now.ageSeconds > definition.staleAdvisorySeconds;
  const stands = now.at === null ? ['waiting', '○ no reading yet']
    : isOld ? ['stale', `— no data since ${words.instant(Date.parse(now.at), model.utcNow)}`]
    : now.fault ? ['fault', `✕ fault: ${words.fault(now.fault)}`]
    : ['fresh', `● ${words.age(now.ageSeconds)}`];
  element.dataset.standing = stands[0];
  say(standing, stands[1]);
  const shown = stands[0] === 'fresh';
  const isFrame = definition.kind === 'frame';
  say(raw, !shown || (now.raw === null && !isFrame) ? '—' : isFrame ? 'a frame' : explain.plain(now.raw, now.rawUnit));
  say(value, !shown || now.value === null && !isFrame ? '—' : now.value === null ? 'a frame' : isFrame ? `up to ${words.quantity(now.value, now.unit)}` : words.valueOf(now.value, definition));
}

/** The words for a calibration's day, by the calendar of this browser. */
function due({ calibration }, nowMs) {
  if (!calibration.due) return { state: 'unset', text: '○ no due date' };
  const days = Math.round((Date.parse(calibration.due) - Date.parse(words.day(nowMs))) / dayMs);
  if (days < 0) return { state: 'over', text: `▲ overdue since ${calibration.due}, ${words.days(-days)}` };
  if (days <= soonDays) return { state: 'soon', text: `◇ due ${calibration.due}, ${days === 0 ? 'today' : `in ${words.days(days)}`}` };
  return { state: 'good', text: `● good until ${calibration.due}` };
}

function showCalibrations(model) {
  const states = { over: [], soon: [], unset: [], good: [] };
  for (const { element, due: cell, definition } of rows.values()) {
    const { state, text } = due(definition, model.utcNow);
    states[state].push(definition.label);
    element.dataset.due = state;
    const { note } = definition.calibration;
    say(cell.firstChild, text);
    say(cell.children[1], note ? ` ${note}` : ' no note of who calibrated it');
  }
  const some = labels => (labels.length > 4 ? `${labels.length} channels` : labels.join(', '));
  say(at('calibrations-said'), [
    states.over.length > 0 ? `▲ Calibration overdue: ${some(states.over)}.` : null,
    states.soon.length > 0 ? `◇ Due within ${soonDays} days: ${some(states.soon)}.` : null,
    states.unset.length > 0 ? `○ No due date (the bench file's calibration, ‘due’): ${some(states.unset)}.` : null,
    states.good.length > 0 ? `● ${states.good.length} good.` : null,
  ].filter(Boolean).join(' '));
}

