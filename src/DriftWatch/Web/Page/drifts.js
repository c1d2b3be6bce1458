// What drifts towards a limit, the soonest first: how fast, how much of the tolerance is used, and when it will leave it. What the
// service says of a channel that is silent or faulty now is not repeated here as if it still held.

import { at, fill, make, say } from './dom.js';
import { leaves, movesOf } from './tolerance.js';
import * as words from './words.js';

const oldAfterMs = 180_000; // three looks of the judge

function span({ minutesLeftLow: low, minutesLeftHigh: high }) {
  if (low === null) return '';
  return high === null ? ` (not before ${words.minutes(low)})` : ` (${words.minutes(low)} to ${words.minutes(high)})`;
}

export class Drifts {
  constructor(model, explain) {
    this.model = model;
    this.explain = explain;
    this.items = new Map();
  }

  show() {
    const { at: looked, items } = this.model.drifts;
    const trusted = items.filter(d => this.model.isTrusted(d.id));
    const leaving = trusted.filter(leaves).sort((a, b) => a.minutesLeft - b.minutesLeft);
    fill(at('drifts'), leaving.map(d => this.item(d)));
    for (const id of this.items.keys()) if (!leaving.some(d => d.id === id)) this.items.delete(id);
    say(at('drifts-said'), this.rest(looked, items, trusted, leaving));
  }

  /** Made once and filled again, so that a person on its button stays there. */
  item(drift) {
    if (!this.items.has(drift.id)) this.items.set(drift.id, this.make(drift));
    const { root, way, use } = this.items.get(drift.id);
    const { unit } = drift;
    const bounds = [drift.slopePerHourLow, drift.slopePerHourHigh].map(v => words.change(v, unit)).join(' to ');
    const used = drift.usedShare > 0 ? `${Math.round(100 * drift.usedShare)} % of its tolerance is used` : 'none of its tolerance is used yet';
    const leavesAt = this.model.utcNow + 60_000 * drift.minutesLeft;
    say(way, `${movesOf(drift) === 'rises' ? '↗ Rises' : '↘ Falls'} ${words.change(drift.slopePerHour, unit)} an hour, ${bounds} by 95 %.`);
    say(use, `${used}. Going on like this it is at ${words.quantity(drift.limit, unit)} in ${words.minutes(drift.minutesLeft)}${span(drift)}: about ${words.shortClock(leavesAt)}.`);
    return root;
  }

  make(drift) {
    const open = make('button', { type: 'button', className: 'about', textContent: drift.label, title: 'What this number means' });
    open.addEventListener('click', () => this.explain(drift.id, drift.label));
    const way = make('p'), use = make('p');
    return { way, use, root: make('li', { className: 'drift', data: { drift: drift.id } }, make('h3', {}, open), way, use) };
  }

  rest(looked, items, trusted, leaving) {
    if (!looked) return 'Not looked at yet: that is done once a minute.';
    if (this.model.utcNow - Date.parse(looked) > oldAfterMs) return `Not looked at since ${words.instant(Date.parse(looked), this.model.utcNow)}: what stands here is old.`;
    const unknown = trusted.filter(d => movesOf(d) === null).length, away = items.length - trusted.length;
    const others = trusted.length - leaving.length - unknown;
    const parts = [leaving.length === 0 ? 'Nothing is seen to go to a limit within eight hours.' : `${others === 1 ? '1 other does' : `${others} others do`} not go to a limit within eight hours.`];
    if (unknown > 0) parts.push(`Of ${unknown} it can’t be told yet.`);
    if (away > 0) parts.push(`Of ${away} nothing is said: no good reading now.`);
    return `${parts.join(' ')} Looked at ${words.clock(Date.parse(looked))}.`;
  }
}
