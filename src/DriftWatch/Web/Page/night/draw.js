// Drawing on a lane's canvas: a time axis that all lanes share, sizes in CSS pixels, colours from the page.

import { drawn, palette } from '../chart.js';

/** Where an instant lies: all lanes have the same width, so one axis serves them all. */
export class Axis {
  constructor(from, to, width) {
    Object.assign(this, { from, to, width: Math.max(1, width - drawn.axis) });
  }

  x(ms) {
    return (ms - this.from) / (this.to - this.from) * this.width;
  }

  ms(x) {
    return this.from + x / this.width * (this.to - this.from);
  }
}

// Asked of the browser only once a plot: each asking between two changes of the page has it laid out anew.
let sizes = new WeakMap();
const resized = new ResizeObserver(entries => {
  for (const { target } of entries) sizes.delete(target);
});

/** The page was laid out anew, and nobody has been told yet. */
export const forgetSizes = () => { sizes = new WeakMap(); };

/** Width and height of a plot, in CSS pixels. */
export function sizeOf(plot) {
  if (!sizes.has(plot)) {
    sizes.set(plot, { width: plot.clientWidth, height: plot.clientHeight });
    resized.observe(plot);
  }
  return sizes.get(plot);
}

/** The canvas of a plot, cleared, in CSS pixels; null while it has no size. */
export function begin(canvas) {
  const { width, height } = sizeOf(canvas.parentElement);
  if (width === 0 || height === 0) return null;
  const ratio = devicePixelRatio || 1;
  const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
    canvas.style.width = width + 'px';
    canvas.style.height = height + 'px';
  }
  const c = canvas.getContext('2d');
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, width, height);
  return { c, width, height, ratio };
}

/** Slanting hatches over what nobody watched, and wider ones over what is not yet: neither can be taken for quiet. */
export function hatch(c, x0, x1, height, isFuture) {
  if (x1 - x0 < 0.5) return;
  c.save();
  c.beginPath();
  c.rect(x0, 0, x1 - x0, height);
  c.clip();
  c.strokeStyle = palette.hair;
  c.lineWidth = isFuture ? 1 : 2;
  const step = isFuture ? 14 : 7;
  c.beginPath();
  for (let x = Math.floor(x0 / step) * step - height; x < x1; x += step) {
    c.moveTo(x, height);
    c.lineTo(x + height, 0);
  }
  c.stroke();
  c.restore();
}

/** What of the axis lies in no watched stretch: nobody's hours, and those to come. */
export function unwatched(events, axis) {
  const spans = [];
  const now = Date.parse(events.now);
  let at = axis.from;
  for (const { from, to } of events.watched) {
    const begin = Date.parse(from);
    if (begin > at) spans.push([at, begin, false]);
    at = Math.max(at, Date.parse(to));
  }
  // The newest seconds are not stored yet: that is no gap.
  const end = Math.min(axis.to, now);
  if (end - at > 5000) spans.push([at, end, false]);
  if (axis.to > now) spans.push([Math.max(axis.from, now), axis.to, true]);
  return spans.filter(([from, to]) => to > axis.from && from < axis.to);
}

const second = 1000, minute = 60 * second, hour = 60 * minute, day = 24 * hour;
const steps = [
  1, 2, 5, 10, 20, 50, 100, 200, 500, second, 2 * second, 5 * second, 10 * second, 15 * second, 30 * second, minute, 2 * minute, 5 * minute,
  10 * minute, 15 * minute, 30 * minute, hour, 2 * hour, 3 * hour, 6 * hour, 12 * hour,
];

/** Ticks on round local times; days and months where the span is long. */
export function ticks(axis, space) {
  const most = Math.max(2, axis.width / space);
  const step = steps.find(s => (axis.to - axis.from) / s <= most);
  return step ? clockTicks(axis, step) : dayTicks(axis, most);
}

function clockTicks(axis, step) {
  const found = [];
  const start = new Date(axis.from);
  start.setHours(0, 0, 0, 0);
  // From each local midnight on, so that a night whose clock changes has its hours where people have them.
  for (let midnight = start.getTime(); midnight < axis.to; midnight = nextDay(midnight)) {
    const end = Math.min(axis.to, nextDay(midnight));
    if (step >= hour) {
      for (let hours = 0; hours < 24; hours += step / hour) {
        const at = new Date(midnight).setHours(hours); // an hour that the clock leaps over is the next one
        if (at >= axis.from && at < end && found.at(-1)?.at !== at) found.push({ at, isDay: at === midnight, step });
      }
      continue;
    }
    for (let at = midnight + Math.max(0, Math.ceil((axis.from - midnight) / step)) * step; at < end; at += step) {
      found.push({ at, isDay: at === midnight, step });
    }
  }
  return found;
}

function dayTicks(axis, most) {
  const days = (axis.to - axis.from) / day;
  const every = [1, 2, 5, 10].find(n => days / n <= most);
  const at = new Date(axis.from);
  at.setHours(0, 0, 0, 0);
  const found = [];
  if (every) {
    for (; at.getTime() < axis.to; at.setDate(at.getDate() + 1)) {
      const fits = every === 1 || (at.getDate() - 1) % every === 0 && (every < 10 || at.getDate() < 30);
      if (fits && at >= axis.from) found.push({ at: at.getTime(), isDay: true, step: day });
    }
    return found;
  }
  const months = [1, 2, 3, 6, 12].find(n => days / 30 / n <= most) ?? 12;
  for (at.setDate(1); at.getTime() < axis.to; at.setMonth(at.getMonth() + 1)) {
    if (at.getMonth() % months === 0 && at >= axis.from) found.push({ at: at.getTime(), isDay: true, step: 30 * day });
  }
  return found;
}

function nextDay(ms) {
  const d = new Date(ms);
  d.setDate(d.getDate() + 1);
  return d.getTime();
}

/** After the frame that is being drawn: a message is heard once its pixels are made, where the next frame would come a frame later. */
export function onceShown(then) {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = () => {
    port1.close();
    then();
  };
  port2.postMessage(null);
}
