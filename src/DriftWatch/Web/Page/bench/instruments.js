// Each instrument in a card: whether it does what it should, and everything that is counted of it.

import { at, facts, make, say } from '../dom.js';
import * as words from '../words.js';

const standings = {
  good: ['●', 'good'], slow: ['◇', 'too few values'], faulty: ['✕', 'faults'], silent: ['—', 'no fresh data'],
  down: ['▲', 'down'], connecting: ['○', 'not up yet'], unheard: ['○', 'not heard yet'], unused: ['○', 'not used'],
};
const cards = new Map();

/** A count that has three digits between its marks, as a person reads it. */
export const count = value => value.toLocaleString('en-GB');
const times = (n, what) => `${count(n)} ${what}${n === 1 ? '' : 's'}`;
const list = (items, name) => items.map(i => `${count(i.count)} × ${name(i)}`).join(', ');
const perSecond = value => Number(value.toPrecision(value < 10 ? 3 : 4)).toString();

export function begin() {
  cards.clear();
  at('instrument-list').replaceChildren();
}

export function show(answer, model) {
  for (const item of answer.items) {
    if (!cards.has(item.id)) cards.set(item.id, card());
    fill(cards.get(item.id), item, model);
  }
}

function card() {
  const title = make('h3'), standing = make('p', { className: 'standing' }), says = make('p', { className: 'says' });
  const known = facts({
    reach: 'Reached by', line: 'Line', rate: 'Rate', values: 'Values', missed: 'Missed asks', lines: 'Lines', rejected: 'Lines rejected',
    faults: 'Faults', last: 'Last fault', downs: 'Line went down', channels: 'Channels',
  });
  const element = make('li', { className: 'card' }, title, standing, says, known.list);
  at('instrument-list').append(element);
  return { element, title, standing, says, known };
}

function fill({ element, title, standing, says, known }, item, model) {
  const when = iso => words.instant(Date.parse(iso), model.utcNow);
  const [sign, word] = standings[item.standing] ?? ['?', item.standing];
  element.dataset.standing = item.standing;
  say(title, item.label || item.id);
  say(standing, `${sign} ${word}`);
  say(says, item.says);
  const { lines } = item;
  known.fill({
    reach: `${item.reach}; profile ${item.profile}`,
    line: item.line && `${item.line}${item.since ? ` since ${when(item.since)}` : ''}: ${item.reason}${item.retryInSeconds ? ` (next try was ${item.retryInSeconds.toFixed(0)} s after)` : ''}`,
    rate: item.perSecond === null ? `not known yet; ${perSecond(item.duePerSecond)} a second are due`
      : `${perSecond(item.perSecond)} of ${perSecond(item.duePerSecond)} values a second, over the last ${item.overSeconds.toFixed(0)} s`,
    values: count(item.values),
    missed: item.missedTicks === null ? 'it is not asked: it sends by itself' : item.missedTicks === 0 ? 'none' : count(item.missedTicks),
    lines: lines && [
      times(lines.valid, 'line'), lines.unchecked > 0 ? `${count(lines.unchecked)} without a checksum` : null, `${count(lines.sequenceGaps)} missing by their numbers`,
      lines.sequenceRepeats > 0 ? `${count(lines.sequenceRepeats)} came twice` : null,
      lines.sequenceRestarts > 0 ? `numbers began anew ${times(lines.sequenceRestarts, 'time')}` : null,
    ].filter(Boolean).join(', '),
    rejected: lines && (lines.rejects.length === 0 ? 'none' : list(lines.rejects, r => r.words)),
    faults: item.faults.length === 0 ? 'none' : list(item.faults, f => words.fault(f.fault)),
    last: item.lastFault && `${words.fault(item.lastFault.fault)}, ${labelOf(item, item.lastFault.channel)}, ${when(item.lastFault.at)}`,
    downs: item.downs === 0 ? 'never' : `${times(item.downs, 'time')}, ${item.reconnects === item.downs ? 'came back each time' : `came back ${times(item.reconnects, 'time')}`}; last ${when(item.lastDownAt)}: ${item.lastDown}`,
    channels: wrong(item),
  });
}

const labelOf = (item, id) => item.channels.find(c => c.id === id)?.label ?? id;

/** The channels that are not as they should be, each with what of it; else how many there are. */
function wrong({ channels }) {
  const not = channels.filter(c => c.standing !== 'good');
  if (not.length === 0) return channels.length === 0 ? 'none' : `${channels.length}, all good`;
  return `${channels.length}; ${not.map(c => `${c.label}: ${standings[c.standing][1]}`).join('; ')}`;
}
