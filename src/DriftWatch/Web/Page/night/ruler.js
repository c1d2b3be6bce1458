// The ruler over the lanes: times of day, and days and months where the span is long.

import { drawn, palette } from '../chart.js';
import * as words from '../words.js';
import { begin, ticks } from './draw.js';

const dayName = new Intl.DateTimeFormat('en-GB', { weekday: 'short', day: 'numeric', month: 'short' });
const monthName = new Intl.DateTimeFormat('en-GB', { month: 'short', year: 'numeric' });

function tickWords({ at: ms, isDay, step }) {
  if (step >= 28 * 86_400_000) return monthName.format(ms);
  if (isDay) return dayName.format(ms);
  if (step < 1000) return words.clock(ms) + '.' + String(Math.floor(ms) % 1000).padStart(3, '0');
  return step < 60_000 ? words.clock(ms) : words.clock(ms).slice(0, 5);
}

/** Local time above, UTC below: both are on the page, and neither has to be reckoned. */
export function drawRuler(canvas, shared) {
  const started = begin(canvas);
  if (!started) return;
  const { c, height } = started;
  c.font = drawn.font;
  c.textBaseline = 'middle';
  const put = (text, x, y, colour) => {
    const half = c.measureText(text).width / 2;
    c.fillStyle = colour;
    c.textAlign = 'center';
    c.fillText(text, Math.min(shared.width + drawn.axis - half, Math.max(half, x)), y);
  };
  for (const tick of ticks(shared, 8.4 * drawn.letter)) {
    const x = shared.x(tick.at);
    c.fillStyle = tick.isDay ? palette.quiet : palette.hair;
    c.fillRect(Math.round(x), height - 10, 1, 10);
    put(tickWords(tick), x, 0.85 * drawn.letter, tick.isDay ? palette.ink : palette.quiet);
    if (tick.step < 86_400_000) put(`${new Date(tick.at).toISOString().slice(11, tick.step < 60_000 ? 19 : 16)} UTC`, x, 2.1 * drawn.letter, palette.quiet);
  }
}
