// The input as it is read now: its last readings, and whether they have come to rest.

import { at, say } from '../dom.js';
import * as explain from '../explain.js';

const most = 8; // readings that make a point, as the command line takes them
const oldSeconds = 5;

export class Input {
  /** `resolution` gives the least step of the input, 0 where nobody said it. */
  constructor(resolution) {
    this.resolution = resolution;
  }

  begin(channel) {
    Object.assign(this, { channel, seen: [], why: 'waiting for a reading' });
    this.show();
  }

  take(now, channel) {
    if (!now || channel !== this.channel) return;
    this.why = now.fault ? `fault: ${now.fault}` : now.raw === null ? 'no reading yet' : now.ageSeconds > oldSeconds ? 'no fresh reading' : null;
    if (this.why) this.seen = [];
    else if (this.seen.at(-1)?.at !== now.at) this.seen = [...this.seen, { at: now.at, raw: now.raw }].slice(-most);
    this.show();
  }

  /**
   * Null until there are readings enough; else whether a line through them changes by no more than twice their scatter, or two steps of
   * the input. The scatter is by the median of differences, as the service's own Settling has it: a step does not swell it.
   */
  get rest() {
    if (this.seen.length < most) return null;
    const t = this.seen.map(r => Date.parse(r.at) / 1000), y = this.seen.map(r => r.raw);
    const mean = list => list.reduce((a, b) => a + b, 0) / list.length;
    const tm = mean(t), ym = mean(y);
    const spread = t.reduce((s, v) => s + (v - tm) ** 2, 0);
    const slope = spread > 0 ? t.reduce((s, v, i) => s + (v - tm) * (y[i] - ym), 0) / spread : 0;
    const steps = y.slice(1).map((v, i) => Math.abs(v - y[i])).sort((a, b) => a - b);
    const scatter = (steps[Math.floor((steps.length - 1) / 2)] + steps[Math.floor(steps.length / 2)]) / 2 / 0.9539;
    const change = slope * (t.at(-1) - t[0]);
    return { isAtRest: Math.abs(change) <= 2 * Math.max(scatter, this.resolution()), change, scatter };
  }

  show() {
    const { rest, channel } = this;
    const unit = channel.calibration.rawUnit;
    const last = this.seen.at(-1);
    say(at('now-raw'), last ? explain.plain(last.raw, unit) : '—');
    say(at('now-rest'), this.why ? `✕ ${this.why}`
      : rest === null ? `○ ${this.seen.length} of ${most} readings`
      : rest.isAtRest ? '● at rest' : `▲ still moves by ${explain.plain(Number(rest.change.toPrecision(2)), unit)}`);
    at('points').dataset.rest = this.why ? 'none' : rest === null ? 'waiting' : rest.isAtRest ? 'rest' : 'moves';
  }
}
