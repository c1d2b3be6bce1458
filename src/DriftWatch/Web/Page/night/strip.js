// One channel's lane: its least and greatest of every column, its mean, its limits, and beside it the values at the cursor.

import { palette, rangeOf, marksOf } from '../chart.js';
import * as units from '../units.js';
import * as words from '../words.js';
import { begin, font, hatch } from './draw.js';

const make = (tag, className) => {
  const made = document.createElement(tag);
  made.className = className;
  return made;
};

const spike = 4;

export class Strip {
  constructor(definition) {
    this.definition = definition;
    this.baseline = null;
    this.root = make('article', 'lane strip');
    this.root.dataset.channel = definition.id;
    const label = make('div', 'label');
    this.title = make('h3', '');
    this.title.textContent = definition.label;
    this.value = make('p', 'value');
    this.extent = make('p', 'extent');
    label.append(this.title, this.value, this.extent);
    this.plot = make('div', 'plot');
    this.canvas = document.createElement('canvas');
    this.canvas.setAttribute('role', 'img');
    this.plot.append(this.canvas);
    this.root.append(label, this.plot);
    this.showExtent(null);
  }

  /** Draws the columns; <other> holds those of the span that is compared, moved by <shift> milliseconds. */
  draw(axis, columns, idle, other, shift, showBaseline) {
    const started = begin(this.canvas);
    if (!started) return;
    const { c, height } = started;
    for (const [from, to, isFuture] of idle) hatch(c, axis.x(Math.max(from, axis.from)), axis.x(Math.min(to, axis.to)), height, isFuture);
    const mine = columns?.channels.get(this.definition.id);
    const theirs = other?.channels.get(this.definition.id);
    const { unit } = this.definition;
    const [low, high] = extremes(mine, columns, axis, 0, extremes(theirs, other, axis, shift));
    const shown = shownBy(unit);
    const marks = { ...marksOf(this.definition, this.baseline), ...(!showBaseline && { baseline: null }) };
    const [bottom, top] = rangeOf(low === null ? null : shown(low), high === null ? null : shown(high), marks, unit);
    const place = value => height - 3 - (value - bottom) / (top - bottom) * (height - 6);
    const y = value => place(shown(value));
    drawMarks(c, axis, place, height, marks);
    c.save();
    c.beginPath();
    c.rect(0, 0, axis.width, height);
    c.clip();
    if (mine) this.drawColumns(c, axis, columns, mine, y, height);
    if (theirs) this.drawOther(c, axis, other, theirs, shift, y);
    c.restore();
    drawScale(c, axis, height, bottom, top, unit, low !== null);
    this.showExtent(mine, low, high);
  }

  drawColumns(c, axis, columns, mine, y, height) {
    const { times, step, count } = columns;
    const wide = Math.max(1, axis.x(axis.from + step));
    const [first, last] = within(columns, axis, 0);
    const usual = usualReach(mine, first, last);
    const band = new Path2D(), out = new Path2D(), line = new Path2D(), faults = new Path2D();
    let before = null;
    for (let i = first; i < last; i++) {
      const x = axis.x(times[i]);
      if (mine.faults.has(i)) faults.rect(x, height - 7, Math.max(1.5, wide), 7);
      const mean = mine.mean[i];
      if (mean === null) continue;
      const [low, high] = [mine.minimum[i], mine.maximum[i]];
      band.rect(x, y(high) - 0.5, wide, Math.max(1, y(low) - y(high) + 1));
      // What leaves its company is drawn full, or one reading of a night would be a shade nobody sees.
      if (mean - low > spike * usual) out.rect(x + wide / 2 - 0.75, y(mean), 1.5, y(low) - y(mean) + 1);
      if (high - mean > spike * usual) out.rect(x + wide / 2 - 0.75, y(high) - 1, 1.5, y(mean) - y(high) + 1);
      const centre = axis.x(times[i] + step / 2);
      const joined = before !== null && times[i] - before <= this.bridge(step) && times[i] > before;
      if (joined) line.lineTo(centre, y(mean));
      else line.moveTo(centre, y(mean));
      if (!joined && (i + 1 >= count || mine.mean[i + 1] === null)) line.rect(centre - 0.75, y(mean) - 0.75, 1.5, 1.5); // alone: a dot
      before = times[i];
    }
    c.fillStyle = palette.envelope;
    c.fill(band);
    c.fillStyle = palette.trace;
    c.fill(out);
    c.strokeStyle = palette.trace;
    c.lineWidth = 1.4;
    c.lineJoin = 'round';
    c.stroke(line);
    c.fillStyle = palette.fault;
    c.fill(faults);
  }

  drawOther(c, axis, columns, theirs, shift, y) {
    const { times, step } = columns;
    const [first, last] = within(columns, axis, shift);
    const line = new Path2D();
    let before = null;
    for (let i = first; i < last; i++) {
      if (theirs.mean[i] === null) continue;
      const x = axis.x(times[i] + step / 2 + shift);
      if (before !== null && times[i] - before <= this.bridge(step) && times[i] > before) line.lineTo(x, y(theirs.mean[i]));
      else line.moveTo(x, y(theirs.mean[i]));
      before = times[i];
    }
    c.strokeStyle = palette.ink;
    c.lineWidth = 1.2;
    c.setLineDash([7, 4]);
    c.stroke(line);
    c.setLineDash([]);
  }

  /** A silence of more than two and a half periods is a gap, as everywhere in DriftWatch. */
  bridge(step) {
    return Math.max(this.definition.periodSeconds * 2500, step * 1.5);
  }

  /** Values at an instant; without one, what the span holds. */
  showAt(ms, columns, other, shift) {
    this.root.dataset.fault = 'false';
    if (ms === null) return this.showExtent(columns?.channels.get(this.definition.id));
    const { unit } = this.definition;
    const told = valuesAt(ms, columns, this.definition.id, this.bridge(columns?.step ?? 0));
    this.value.textContent = said(told, unit);
    this.root.dataset.fault = String(told.faults > 0);
    const parts = [];
    if (told.mean !== undefined && told.low !== told.high) parts.push(`${words.number(told.low, unit)} to ${words.number(told.high, unit)}`);
    if (other) parts.push(`then ${said(valuesAt(ms - shift, other, this.definition.id, this.bridge(other.step)), unit)}`);
    this.extent.textContent = parts.join('; ');
    return told;
  }

  showExtent(mine, low = this.low ?? null, high = this.high ?? null) {
    [this.low, this.high] = [low, high];
    const { unit, label } = this.definition;
    this.value.textContent = '';
    const faults = mine && mine.faults.size > 0 ? ', with faults' : '';
    const text = low === null ? `no reading${faults}` : `${words.number(low, unit)} to ${words.quantity(high, unit)}${faults}`;
    this.extent.textContent = text;
    this.canvas.setAttribute('aria-label', `${label} over the span: ${text}`);
  }
}

/** From the bench's unit to the shown one, for many values: every unit of a kind is a straight line of another. */
function shownBy(unit) {
  const zero = units.convert(0, unit);
  const one = units.convert(1, unit) - zero;
  return units.shownUnit(unit) === unit ? value => value : value => zero + one * value;
}

/** Tolerance, limits, setpoint and baseline, all in the shown unit. */
function drawMarks(c, axis, y, height, { advisoryLow, advisoryHigh, alarmLow, alarmHigh, setpoint, baseline }) {
  const low = advisoryLow ?? alarmLow, high = advisoryHigh ?? alarmHigh;
  const inside = v => Math.min(height, Math.max(0, v));
  if (low !== null || high !== null) {
    c.fillStyle = palette.tolerance;
    const upper = high === null ? 0 : inside(y(high)), lower = low === null ? height : inside(y(low));
    c.fillRect(0, upper, axis.width, Math.max(0, lower - upper));
  }
  const line = (value, colour, dash, width = 1) => {
    if (value === null || value === undefined || y(value) < 0 || y(value) > height) return;
    c.strokeStyle = colour;
    c.lineWidth = width;
    c.setLineDash(dash);
    c.beginPath();
    c.moveTo(0, Math.round(y(value)) - 0.5);
    c.lineTo(axis.width, Math.round(y(value)) - 0.5);
    c.stroke();
    c.setLineDash([]);
  };
  line(setpoint, palette.quiet, [1, 4]);
  line(advisoryLow, palette.advisory, [6, 4]);
  line(advisoryHigh, palette.advisory, [6, 4]);
  line(alarmLow, palette.alarm, []);
  line(alarmHigh, palette.alarm, []);
  line(baseline, palette.ink, [12, 3, 2, 3], 1.5);
}

export function said({ mean, faults, outside }, unit) {
  if (outside) return 'outside';
  if (mean !== undefined) return faults > 0 ? `${words.quantity(mean, unit)}, ${faults} faults` : words.quantity(mean, unit);
  return faults > 0 ? 'fault' : 'no reading';
}

/** The column at an instant; of a slow channel the newest that still stands there. */
export function valuesAt(ms, columns, id, reach) {
  const i = columns ? columns.at(ms) : -1;
  const mine = columns?.channels.get(id);
  if (i < 0 || !mine) return { outside: true };
  const faults = mine.faults.get(i) ?? 0;
  for (let k = i; faults === 0 && k > 0 && mine.mean[k] === null && !mine.faults.has(k) && columns.times[i] - columns.times[k - 1] <= reach; k--) {
    if (mine.mean[k - 1] !== null) return { mean: mine.mean[k - 1], low: mine.minimum[k - 1], high: mine.maximum[k - 1], faults: 0 };
  }
  return mine.mean[i] === null ? { faults } : { mean: mine.mean[i], low: mine.minimum[i], high: mine.maximum[i], faults };
}

/** First and one past the last column that the axis shows. */
function within({ times, step, count }, axis, shift) {
  let first = 0, last = count;
  while (first < count && times[first] + step + shift < axis.from) first++;
  while (last > first && times[last - 1] + shift > axis.to) last--;
  return [first, last];
}

function extremes(mine, columns, axis, shift, [low, high] = [null, null]) {
  if (!mine) return [low, high];
  const [first, last] = within(columns, axis, shift);
  for (let i = first; i < last; i++) {
    if (mine.mean[i] === null) continue;
    if (low === null || mine.minimum[i] < low) low = mine.minimum[i];
    if (high === null || mine.maximum[i] > high) high = mine.maximum[i];
  }
  return [low, high];
}

/** How far extremes usually lie from their mean: the median of some hundred columns. */
function usualReach(mine, first, last) {
  const every = Math.max(1, Math.floor((last - first) / 200));
  const reach = [];
  for (let i = first; i < last; i += every) if (mine.mean[i] !== null) reach.push((mine.maximum[i] - mine.minimum[i]) / 2);
  reach.sort((a, b) => a - b);
  return reach[reach.length >> 1] ?? 0;
}

function drawScale(c, axis, height, bottom, top, unit, hasValues) {
  c.strokeStyle = palette.hair;
  c.lineWidth = 1;
  c.strokeRect(-1, 0.5, axis.width + 1, height);
  if (!hasValues) return;
  c.font = font;
  c.fillStyle = palette.quiet;
  c.textBaseline = 'alphabetic';
  c.textAlign = 'left';
  const places = Math.min(words.decimals(unit), Math.max(0, Math.ceil(1 - Math.log10(top - bottom))));
  const number = v => v.toFixed(places).replace('-', '−');
  c.fillText(number(top), axis.width + 4, 10);
  c.fillText(number(bottom), axis.width + 4, height - 3);
}
