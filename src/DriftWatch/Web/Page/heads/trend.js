// Ten minutes of one number, small: whether it stands, goes or jumps is seen beside the number itself.

import * as api from '../api.js';
import { Buckets, spanMs } from '../buckets.js';
import { make, say } from '../dom.js';
import * as words from '../words.js';
import { palette, ready } from './palette.js';

let waiting = null;

/** One walk over the log for all quantities of a page: whoever asks in the same turn is asked for together. */
function pastOf(bench, from, to, count, id) {
  if (!waiting) {
    const together = waiting = { ids: [] };
    together.answer = Promise.resolve().then(() => {
      waiting = null;
      return api.quantities(bench, from, to, count, together.ids);
    });
  }
  waiting.ids.push(id);
  return waiting.answer;
}

export class Trend {
  /** <channel> of the model: a channel with a history, or a derived quantity, whose past is worked out. */
  constructor(model, channel) {
    Object.assign(this, { model, channel, definition: channel.definition });
    this.buckets = new Buckets(this.definition.periodSeconds);
    this.canvas = make('canvas', { role: 'img' });
    this.said = make('figcaption');
    this.root = make('figure', { className: 'past' }, make('div', { className: 'drawn small' }, this.canvas), this.said);
    this.load();
  }

  async load() {
    const { from, to } = this.buckets.wanted(this.model.utcNow);
    const { id } = this.model.bench;
    try {
      if (this.definition.kind === 'quantity') this.buckets.loadColumns(await pastOf(id, from, to, this.buckets.count, this.definition.id), this.definition.id);
      else this.buckets.load(await api.history(id, this.definition.id, from, to, this.buckets.count));
      this.draw();
    } catch (problem) {
      console.warn(`Trend of ${this.definition.id}: ${problem.message}`); // it fills as long as the page is open
    }
  }

  /** A new reading has come. */
  take() {
    const { now } = this.channel;
    if (now) this.buckets.add(this.model.utcNow, now);
  }

  draw() {
    const { data: [x, greatest, least, mean] } = this.buckets.columns(this.model.utcNow);
    const told = mean.filter(v => v !== null).length;
    const low = Math.min(...least.filter(v => v !== null)), high = Math.max(...greatest.filter(v => v !== null));
    say(this.said, told === 0 ? 'last 10 min: nothing told' : `last 10 min: ${words.rangeOf(low, high, this.definition)}`);
    this.canvas.setAttribute('aria-label', `${this.definition.label}, ${this.said.textContent}`);
    const place = ready(this.canvas);
    if (!place || told === 0) return;
    const { ctx, width, height } = place;
    const now = this.model.utcNow / 1000;
    const pad = Math.max((high - low) * 0.1, 1e-9);
    const px = s => (s - (now - spanMs / 1000)) / (spanMs / 1000) * width;
    const py = v => 2 + (high + pad - v) / (high - low + 2 * pad) * (height - 4);
    ctx.fillStyle = palette.envelope;
    const each = Math.max(1, width * this.buckets.widthMs / spanMs);
    mean.forEach((v, i) => v !== null && ctx.fillRect(px(x[i]) - each / 2, py(greatest[i]), each, Math.max(1, py(least[i]) - py(greatest[i]))));
    ctx.strokeStyle = palette.trace;
    ctx.lineWidth = 1.5;
    ctx.beginPath();
    mean.forEach((v, i) => {
      if (v === null) return;
      if (i > 0 && mean[i - 1] !== null) ctx.lineTo(px(x[i]), py(v));
      else ctx.moveTo(px(x[i]) - 1, py(v));
      ctx.lineTo(px(x[i]), py(v));
    });
    ctx.stroke();
  }
}

/** A name that opens what its number means. */
export function aboutButton(label, open) {
  const button = make('button', { type: 'button', className: 'about', textContent: label, title: 'What this number means' });
  button.addEventListener('click', open);
  return button;
}
