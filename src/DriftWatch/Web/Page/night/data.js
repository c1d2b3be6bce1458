// What the service tells of a span. One question of a kind is under way at a time; the newest wins.

import { ask } from '../api.js';

const span = (bench, what, from, to, more = {}) => {
  const asked = new URLSearchParams({ from: new Date(from).toISOString(), to: new Date(to).toISOString() });
  for (const [key, value] of Object.entries(more)) if (value !== null && value !== undefined) asked.set(key, value);
  return `/benches/${encodeURIComponent(bench)}/span${what}?${asked}`;
};

/** Columns of channels, with the instants at which they begin. */
export class Columns {
  constructor(answer) {
    this.from = Date.parse(answer.from);
    this.to = Date.parse(answer.to);
    this.now = Date.parse(answer.now);
    this.step = answer.columnSeconds * 1000;
    this.count = answer.count;
    this.runs = answer.starts.map(s => ({ column: s.column, at: Date.parse(s.at) }));
    this.channels = new Map(answer.channels.map(c => [c.id, { ...c, faults: pairs(c.faults) }]));
    this.baselines = new Map(answer.baselines?.map(b => [b.id, b.value]));
    this.times = new Float64Array(this.count);
    for (let i = 0, run = 0; i < this.count; i++) {
      if (this.runs[run + 1]?.column === i) run++;
      this.times[i] = this.runs[run].at + (i - this.runs[run].column) * this.step;
    }
  }

  /** The column that holds an instant, −1 for none; where the clock was put back, the later one. */
  at(ms) {
    for (let r = this.runs.length - 1; r >= 0; r--) {
      const { column, at } = this.runs[r];
      const i = column + Math.floor((ms - at) / this.step);
      if (i >= column && i < (this.runs[r + 1]?.column ?? this.count)) return i;
    }
    return -1;
  }
}

function pairs(flat) {
  const made = new Map();
  for (let i = 0; i < flat.length; i += 2) made.set(flat[i], flat[i + 1]);
  return made;
}

export const columns = async (bench, from, to, count, channels, signal) =>
  new Columns(await ask(span(bench, '', from, to, { columns: count, channels: channels?.join(',') }), { signal }));

/** Derived quantities: worked out as they are asked for. */
export const quantities = async (bench, from, to, count, ids, signal) =>
  new Columns(await ask(span(bench, '/quantities', from, to, { columns: count, quantities: ids.join(',') }), { signal }));

export const events = (bench, from, to, signal) => ask(span(bench, '/events', from, to), { signal });
export const drifts = (bench, from, to, channels, signal) => ask(span(bench, '/drifts', from, to, { channels: channels?.join(',') }), { signal });
export const relation = (bench, from, to, first, second) => ask(span(bench, '/relation', from, to, { first, second }));

/** The file of a view, made by the service: pictures and the table of columns as it is on the screen, or every reading of the channels. */
export function file(bench, kind, view, { channels, quantities, count }) {
  const ids = channels?.join(',');
  if (kind === 'csv') return '/api/v1' + span(bench, '/csv', view.from, view.to, { channels: ids });
  const compare = typeof view.compare === 'number' ? new Date(view.compare).toISOString() : view.compare;
  const shown = { channels: ids, quantities: quantities.join(',') || null, compare };
  if (kind === 'columns') return '/api/v1' + span(bench, '/csv', view.from, view.to, { ...shown, values: 'columns', columns: count });
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  return '/api/v1' + span(bench, '/picture', view.from, view.to, { ...shown, format: kind, zone });
}

/** Runs the newest question only: an older one is given up, and what it brings is not shown. */
export class Newest {
  #stop = null;

  stop() {
    this.#stop?.abort();
    this.#stop = null;
  }

  run(question, show) {
    return this.inTurn([question], show);
  }

  /** The same of several, the next once what the one before it brought is shown. */
  async inTurn(questions, show) {
    this.stop();
    const mine = this.#stop = new AbortController();
    try {
      for (const question of questions) {
        const answer = await question(mine.signal);
        if (mine !== this.#stop) return;
        await show(answer);
        if (mine !== this.#stop) return;
      }
    } catch (problem) {
      if (mine === this.#stop && !mine.signal.aborted) throw problem;
    }
  }
}
