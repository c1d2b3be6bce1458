// Points that were read, lines that were fitted, and the places that the answer names. Heads differ by the shape of their points
// and the dashes of their lines.

import { dashOf, mark, palette, ready, steps, tickText } from './palette.js';

const left = 58, right = 14, top = 22, foot = 38;

export class Plot {
  constructor(canvas) {
    this.canvas = canvas;
    new ResizeObserver(() => this.draw()).observe(canvas.parentElement);
  }

  take(drawing, words) {
    this.drawing = drawing;
    this.canvas.parentElement.hidden = !drawing?.traces.length;
    this.canvas.setAttribute('aria-label', words);
    this.draw();
  }

  draw() {
    const place = this.drawing?.traces.length && ready(this.canvas);
    if (!place) return;
    const { ctx, width, height } = place;
    const { traces, places, byVoltage } = this.drawing;
    const across = places.filter(p => !p.isLevel), levels = places.filter(p => p.isLevel);
    const xs = [...traces.flatMap(t => t.x), ...across.map(p => p.at)];
    const ys = [...traces.flatMap(t => t.y), ...levels.flatMap(p => [p.lower, p.upper])].filter(Number.isFinite);
    const greatest = Math.max(...ys);
    const up = byVoltage ? db => 10 ** ((db - greatest) / 20) : v => v;
    const x = axis(xs, left, width - right, 0.04);
    const y = axis(ys.map(up), height - foot, top, 0.08);
    const at = v => y.at(up(v));
    ctx.fillStyle = palette.tolerance;
    ctx.fillRect(left, top, width - left - right, height - top - foot);
    this.grid(ctx, width, height, x, y, byVoltage ? [1, 0, -1, -2, -3, -4, -6, -9, -12, -20].map(d => d + Math.floor(greatest)).filter(d => up(d) >= y.from && up(d) <= y.to) : null, at);
    for (const { lower, upper } of levels) {
      ctx.fillStyle = palette.envelope;
      ctx.fillRect(left, at(upper), width - left - right, at(lower) - at(upper));
    }
    this.places(ctx, across, x, height);
    for (const trace of traces) {
      ctx.strokeStyle = palette.trace;
      ctx.fillStyle = palette.ink;
      ctx.lineWidth = 1.8;
      if (trace.isLine) {
        ctx.setLineDash(dashOf(trace.head));
        ctx.beginPath();
        trace.x.forEach((v, i) => (i === 0 ? ctx.moveTo(x.at(v), at(trace.y[i])) : ctx.lineTo(x.at(v), at(trace.y[i]))));
        ctx.stroke();
        ctx.setLineDash([]);
      } else {
        trace.x.forEach((v, i) => mark(ctx, trace.head, x.at(v), at(trace.y[i]), trace.x.length > 60 ? 2 : 4));
      }
    }
  }

  grid(ctx, width, height, x, y, levels, at) {
    ctx.strokeStyle = palette.hair;
    ctx.fillStyle = palette.quiet;
    ctx.lineWidth = 1;
    ctx.beginPath();
    ctx.textAlign = 'center';
    for (const tick of steps(x.from, x.to, Math.max(2, (width - left) / 80))) {
      ctx.moveTo(x.at(tick), top);
      ctx.lineTo(x.at(tick), height - foot);
      ctx.fillText(tickText(tick), x.at(tick), height - foot + 15);
    }
    ctx.textAlign = 'right';
    for (const tick of levels ?? steps(y.from, y.to, Math.max(2, (height - foot - top) / 40))) {
      const line = levels ? at(tick) : y.at(tick);
      ctx.moveTo(left, line);
      ctx.lineTo(width - right, line);
      ctx.fillText(tickText(tick), left - 6, line + 4);
    }
    ctx.stroke();
    ctx.textAlign = 'center';
    ctx.fillText(this.drawing.x, (left + width - right) / 2, height - 5);
    ctx.textAlign = 'left';
    ctx.fillText(this.drawing.y, 4, 12);
  }

  /** The place to set is a heavy line with its name; peaks of single heads are ticks on the floor. */
  places(ctx, across, x, height) {
    for (const place of across) {
      const isAnswer = !place.name.startsWith('peak');
      const reach = isAnswer ? top : height - foot - 10;
      if (isAnswer && place.lower !== null) {
        ctx.fillStyle = palette.envelope;
        ctx.fillRect(x.at(place.lower), top, Math.max(1, x.at(place.upper) - x.at(place.lower)), height - foot - top);
      }
      ctx.strokeStyle = isAnswer ? palette.ink : palette.quiet;
      ctx.lineWidth = isAnswer ? 2.5 : 1.5;
      ctx.beginPath();
      ctx.moveTo(x.at(place.at), reach);
      ctx.lineTo(x.at(place.at), height - foot);
      ctx.stroke();
      if (isAnswer) {
        ctx.fillStyle = palette.ink;
        ctx.textAlign = 'center';
        ctx.fillText(place.name, x.at(place.at), top - 6);
      }
    }
  }
}

function axis(values, begin, end, share) {
  let from = Math.min(...values), to = Math.max(...values);
  if (!(to > from)) [from, to] = [from - 1, to + 1];
  const pad = (to - from) * share;
  from -= pad;
  to += pad;
  return { from, to, at: v => begin + (v - from) / (to - from) * (end - begin) };
}
