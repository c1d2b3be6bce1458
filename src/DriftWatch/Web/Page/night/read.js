// What was read of the channels over a span. The lanes in view are asked for first: a zoom waits for none that nobody sees.

import { Newest } from './data.js';

export class Read {
  #newest = new Newest();
  #parts = [];

  /** The newest columns that hold a channel; null while none do. */
  of(id) {
    return this.#parts.find(p => p.channels.has(id)) ?? null;
  }

  /** Milliseconds of a column; undefined while nothing was read. */
  get step() {
    return this.#parts[0]?.step;
  }

  /** What is on its way is not wanted either. */
  forget() {
    this.#newest.stop();
    this.#parts = [];
  }

  /** Asks <question>(ids, signal) for each portion of the channels in turn, and goes on to the next once <shown>(read so far, of so many) is over. */
  async ask(portions, question, shown) {
    const mine = [];
    await this.#newest.inTurn(portions.map(ids => signal => question(ids, signal)), answer => {
      mine.push(answer);
      const isHere = id => mine.some(p => p.channels.has(id));
      // What the other lanes show stays until their turn comes.
      const before = mine.length < portions.length ? this.#parts.filter(p => !mine.includes(p) && ![...p.channels.keys()].every(isHere)) : [];
      this.#parts = [...mine, ...before];
      return shown(mine.length, portions.length);
    });
  }
}
