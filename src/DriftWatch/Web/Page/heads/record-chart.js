// A timing record as four passes side by side over the angle: what was measured, the line that was fitted, and below, on a scale
// of its own, what the fit leaves.

import { mark, palette, ready, steps, tickText } from './palette.js';
import * as units from '../units.js';

const usual = { axis: 54, gap: 10, top: 18, foot: 20, between: 14 }, restShare = 0.28; // with letters of 12 pixels

export class RecordChart {
  constructor(canvas) {
    this.canvas = canvas;
    new ResizeObserver(() => this.draw()).observe(canvas.parentElement);
  }

  take(record) {
    this.record = record;
    this.draw();
  }

  draw() {
    const place = this.record && ready(this.canvas);
    if (!place) return;
    const { ctx, width, height, scale: large } = place;
    const [axis, gap, top, foot, between] = Object.values(usual).map(size => Math.round(size * large));
    const { heads, anglesDegrees, errorsNs, residualsNs } = this.record;
    const errors = errorsNs.map(e => units.convertChange(e, 'ns')), rests = residualsNs.map(e => units.convertChange(e, 'ns'));
    const fitted = errors.map((e, i) => e - rests[i]);
    const order = heads.map((_, i) => i).sort((a, b) => heads[a] - heads[b] || anglesDegrees[a] - anglesDegrees[b]);
    const each = (width - axis - gap * 3) / 4;
    const reach = Math.max(...anglesDegrees.map(Math.abs)) * 1.05;
    const rest = (height - top - foot - between) * restShare;
    const main = height - top - foot - between - rest;
    const above = scale([...errors, ...fitted], top, main, large);
    const below = scale(rests, top + main + between, rest, large, true);
    for (let head = 1; head <= 4; head++) {
      const left = axis + (head - 1) * (each + gap);
      const x = i => left + (anglesDegrees[i] + reach) / (2 * reach) * each;
      this.field(ctx, left, each, above);
      this.field(ctx, left, each, below);
      const mine = order.filter(i => heads[i] === head);
      ctx.fillStyle = palette.quiet;
      ctx.textAlign = 'left';
      ctx.fillText(each > 90 * large ? `head ${head}` : String(head), left + 3, top - 5);
      ctx.textAlign = 'center';
      ctx.fillText('0°', left + each / 2, height - 5);
      if (each > 120 * large) {
        ctx.textAlign = 'left';
        ctx.fillText(`−${tickText(Math.round(reach / 1.05))}°`, left, height - 5);
        ctx.textAlign = 'right';
        ctx.fillText(`${tickText(Math.round(reach / 1.05))}°`, left + each, height - 5);
        ctx.textAlign = 'center';
      }
      if (mine.length === 0) {
        ctx.fillText('no points', left + each / 2, top + main / 2);
        continue;
      }
      ctx.fillStyle = palette.ink;
      const small = mine.length * 7 * large > each;
      for (const i of mine) mark(ctx, 1, x(i), above.y(errors[i]), (small ? 1.8 : 2.8) * large);
      ctx.strokeStyle = palette.trace;
      ctx.lineWidth = 2 * large;
      ctx.beginPath();
      mine.forEach((i, n) => (n === 0 ? ctx.moveTo(x(i), above.y(fitted[i])) : ctx.lineTo(x(i), above.y(fitted[i]))));
      ctx.stroke();
      ctx.strokeStyle = palette.quiet;
      ctx.lineWidth = 1.2 * large;
      ctx.beginPath();
      for (const i of mine) {
        ctx.moveTo(x(i), below.y(0));
        ctx.lineTo(x(i), below.y(rests[i]));
      }
      ctx.stroke();
    }
    ctx.textAlign = 'right';
    ctx.fillStyle = palette.quiet;
    for (const s of [above, below]) for (const tick of s.ticks) ctx.fillText(tickText(tick), axis - 5, s.y(tick) + 4);
    ctx.fillText(units.sign('ns'), axis - 5, top - 5);
  }

  field(ctx, left, each, { top: from, height, ticks, y }) {
    ctx.fillStyle = palette.tolerance;
    ctx.fillRect(left, from, each, height);
    ctx.strokeStyle = palette.hair;
    ctx.lineWidth = 1;
    ctx.beginPath();
    for (const tick of ticks) {
      ctx.moveTo(left, y(tick));
      ctx.lineTo(left + each, y(tick));
    }
    ctx.moveTo(left + each / 2, from);
    ctx.lineTo(left + each / 2, from + height);
    ctx.stroke();
    ctx.strokeStyle = palette.quiet;
    ctx.beginPath();
    ctx.moveTo(left, y(0));
    ctx.lineTo(left + each, y(0));
    if (y(0) >= from && y(0) <= from + height) ctx.stroke();
  }
}

function scale(values, from, height, large, even = false) {
  let low = Math.min(...values), high = Math.max(...values);
  if (even) [low, high] = [-Math.max(Math.abs(low), Math.abs(high)), Math.max(Math.abs(low), Math.abs(high))];
  const pad = Math.max((high - low) * 0.08, 1e-6);
  low -= pad;
  high += pad;
  let ticks = steps(low, high, Math.max(2, height / (34 * large)));
  if (even && ticks.length < 3) { // a nought alone is no scale
    const size = 10 ** Math.floor(Math.log10(high));
    const round = [5, 2, 1].map(n => n * size).find(n => n <= high);
    ticks = [-round, 0, round];
  }
  return { top: from, height, ticks, y: v => from + (high - v) / (high - low) * height };
}
