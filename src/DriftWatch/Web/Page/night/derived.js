// Derived quantities beneath the channels. Nothing stores them: the service works them out from every reading, which takes
// seconds, so they are asked for once somebody sees them and the span stands still.

import { say } from '../dom.js';
import * as data from './data.js';
import { Strip } from './strip.js';

const hour = 3_600_000;

/** The service walks over no longer span. */
const longest = 36 * hour;

const stillMs = 300;

/** A span that moves on with the clock is worked out again no sooner than this. */
const followMs = 15_000;

/** A quantity stands and is drawn like a channel: it is told at every tick of judgement. */
export const asChannel = quantity => ({ ...quantity, quantity: quantity.kind, kind: 'quantity', role: null, periodSeconds: 1, setpoint: null });

/** Whether the service works quantities out over a span of this length. */
export const isTold = (from, to) => to - from <= longest;

export class Derived {
  strips = [];
  columns = null;
  other = null;
  #asked = null;
  #seen = false;
  #timer = 0;
  #askedAt = -Infinity;
  #newest = new data.Newest();

  /** <said> tells what can't be told; <drawn> is called when there is something to draw. */
  constructor(box, host, said, drawn) {
    Object.assign(this, { box, host, said, drawn });
    new IntersectionObserver(entries => {
      this.#seen = entries.at(-1).isIntersecting;
      if (!this.#seen) return;
      this.drawn();
      this.#askSoon();
    }, { rootMargin: '200px' }).observe(box);
  }

  build(definitions, meaning) {
    this.box.hidden = definitions.length === 0;
    this.strips = definitions.map(d => new Strip(d, () => meaning(d)));
    this.host.replaceChildren(...this.strips.map(s => s.root));
    this.columns = this.other = null;
    this.due = this.#asked !== null; // the span may have been told before the bench was
    say(this.said, 'Worked out from the readings once they are in view.');
    this.#askSoon();
  }

  /** Lanes to draw: none while nobody sees them. */
  get drawable() {
    return this.#seen ? this.strips : [];
  }

  /** The span that is shown now: { bench, from, to, compare, count, live }. */
  show(view) {
    const same = this.#asked && JSON.stringify(this.#asked) === JSON.stringify(view);
    if (same) return;
    this.#asked = view;
    this.due = true;
    if (view.compare === null) this.other = null;
    this.#askSoon();
  }

  /** The service answers again: what it did not tell is asked once more. */
  again() {
    if (this.columns !== null || this.#asked === null) return;
    this.due = true;
    this.#askSoon();
  }

  /** Has all of it worked out, seen or not. */
  async whole() {
    if (this.due && this.strips.length > 0) await this.#ask();
  }

  #askSoon() {
    clearTimeout(this.#timer);
    if (!this.#seen || !this.due || this.strips.length === 0) return;
    const wait = this.#asked.live ? Math.max(stillMs, this.#askedAt + followMs - performance.now()) : stillMs;
    this.#timer = setTimeout(() => this.#ask(), wait);
  }

  async #ask() {
    const { bench, from, to, compare, count } = this.#asked;
    const ids = this.strips.map(s => s.definition.id);
    this.due = false;
    this.#askedAt = performance.now();
    say(this.said, 'Being worked out from the readings …');
    try {
      await this.#newest.run(async signal => {
        const mine = await data.quantities(bench, from, to, count, ids, signal);
        const theirs = compare === null ? null : await data.quantities(bench, compare, compare + (to - from), count, ids, signal);
        return [mine, theirs];
      }, ([mine, theirs]) => {
        [this.columns, this.other] = [mine, theirs];
        for (const strip of this.strips) strip.baseline = mine.baselines.get(strip.definition.id) ?? null;
        say(this.said, '');
        this.box.dataset.columns = `${from}-${to}`;
        this.drawn();
      });
    } catch (problem) {
      this.columns = this.other = null;
      say(this.said, problem.message);
      this.drawn();
    }
  }
}
