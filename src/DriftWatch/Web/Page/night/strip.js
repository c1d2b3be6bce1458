// One channel's lane: its least and greatest of every column, its mean, its limits, and beside it the values at the cursor.

import { drawn, palette, rangeOf, marksOf, switchRange } from '../chart.js';
import { say } from '../dom.js';
import * as units from '../units.js';
import * as words from '../words.js';
import { begin, hatch } from './draw.js';
import { paint, reaches } from './trace.js';

const make = (tag, className) => {
  const made = document.createElement(tag);
  made.className = className;
  return made;
};

const spike = 4;
const thickness = 1.4;

/** A line that takes less than this share of its lane beside hours without tape gets the scale of the hours with it. */
const flat = 0.25;

/** What lies beyond a lane's scale is marked at its edge by a bar of this height. */
const edge = 3;

export class Strip {
  constructor(definition, meaning) {
    this.definition = definition;
    this.isRead = false;
    this.difference = null;
    this.baseline = null;
    this.root = make('article', 'lane strip');
    this.root.dataset.channel = definition.id;
    const label = make('div', 'label');
    this.title = make('h3', '');
    const about = make('button', 'about');
    about.type = 'button';
    about.textContent = definition.label;
    about.title = 'What this number means';
    about.addEventListener('click', meaning);
    this.title.append(about);
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

  /** Draws the columns; <other> holds those of the span that is compared, moved by <shift> milliseconds; <locked> the stretches with tape, as [from, to]. */
  draw(axis, columns, { idle, locked, other, shift, showBaseline, isRead }) {
    this.isRead = isRead;
    const started = begin(this.canvas);
    if (!started) return;
    const { c, height } = started;
    const mine = columns?.channels.get(this.definition.id);
    const theirs = other?.channels.get(this.definition.id);
    const { unit } = this.definition;
    const [low, high] = extremes(mine, columns, axis, 0, extremes(theirs, other, axis, shift));
    const shown = shownBy(unit);
    const marks = { ...marksOf(this.definition, this.baseline), ...(!showBaseline && { baseline: null }) };
    const rangeOver = ([from, to]) => rangeOf(from === null ? null : shown(from), to === null ? null : shown(to), marks, unit);
    const tape = extremes(mine, columns, axis, 0, undefined, locked);
    const withTape = tape[0] === null ? null : rangeOver(extremes(theirs, other, axis, shift, tape));
    const scale = words.isSwitch(this.definition) ? switchRange : steadier(rangeOver([low, high]), withTape);
    const [bottom, top] = scale;
    const place = value => height - 3 - (value - bottom) / (top - bottom) * (height - 6);
    const y = value => place(shown(value));
    if (mine) this.drawColumns(started, axis, columns, mine, y);
    c.globalCompositeOperation = 'destination-over'; // pixels take the place of what is there, so what lies under them comes after them
    drawMarks(c, axis, place, height, marks);
    for (const [from, to, isFuture] of idle) hatch(c, axis.x(Math.max(from, axis.from)), axis.x(Math.min(to, axis.to)), height, isFuture);
    c.globalCompositeOperation = 'source-over';
    if (theirs) this.drawOther(started, axis, other, theirs, shift, y);
    drawScale(c, axis, height, scale, low === null ? null : [shown(low), shown(high)], this.definition);
    this.difference = mine && theirs ? meanOf(mine, columns, axis, 0) - meanOf(theirs, other, axis, shift) : null;
    [this.low, this.high] = [low, high]; // told once all lanes are drawn: between two of them it would have the page laid out again
  }

  drawColumns({ c, height, ratio }, axis, columns, mine, y) {
    const { times, step, count } = columns;
    const wide = Math.max(1, axis.x(axis.from + step)) * ratio;
    const [first, last] = within(columns, axis, 0);
    const usual = usualReach(mine, first, last);
    const w = Math.round(axis.width * ratio), h = Math.round(height * ratio);
    const [envelope, out, line, faults, beyond] = reaches(5, w);
    const at = value => y(value) * ratio;
    let before = null, pen = null;
    for (let i = first; i < last; i++) {
      const x = axis.x(times[i]) * ratio;
      if (mine.faults.has(i)) faults.span(x, x + Math.max(1.5 * ratio, wide), h - 7 * ratio, h);
      if (mine.mean[i] === null) continue;
      const [low, mean, high] = [at(mine.minimum[i]), at(mine.mean[i]), at(mine.maximum[i])]; // from the top: low lies below
      const centre = x + step / 2 / (axis.to - axis.from) * axis.width * ratio;
      envelope.span(x, x + wide, high - 0.5 * ratio, low + 0.5 * ratio);
      if (high < 0) beyond.span(x, x + wide, 0, edge * ratio);
      if (low > h) beyond.span(x, x + wide, h - edge * ratio, h);
      // What leaves its company is drawn full, or one reading of a night would be a shade nobody sees.
      if (mine.mean[i] - mine.minimum[i] > spike * usual) out.span(centre - 0.75 * ratio, centre + 0.75 * ratio, mean, low + ratio);
      if (mine.maximum[i] - mine.mean[i] > spike * usual) out.span(centre - 0.75 * ratio, centre + 0.75 * ratio, high - ratio, mean);
      const joined = before !== null && times[i] - before <= this.bridge(step) && times[i] > before;
      if (joined) line.line(pen.x, pen.y, centre, mean, thickness * ratio);
      else if (i + 1 >= count || mine.mean[i + 1] === null) line.span(centre - 0.75 * ratio, centre + 0.75 * ratio, mean - 0.75 * ratio, mean + 0.75 * ratio); // alone: a dot
      before = times[i];
      pen = { x: centre, y: mean };
    }
    paint(c, w, h, [
      { reach: envelope, colour: palette.envelope }, { reach: out, colour: palette.trace }, { reach: line, colour: palette.trace },
      { reach: beyond, colour: palette.ink }, { reach: faults, colour: palette.fault },
    ]);
  }

  /** The other span's mean dashed over this one's line, and outlines of its least and greatest: its dips are what one compares for. */
  drawOther({ c, height }, axis, columns, theirs, shift, y) {
    const [mean, least, greatest] = ['mean', 'minimum', 'maximum'].map(which => this.path(axis, columns, theirs[which], shift, y));
    c.save();
    c.beginPath();
    c.rect(0, 0, axis.width, height);
    c.clip();
    c.strokeStyle = palette.ink;
    c.lineWidth = 1;
    c.globalAlpha = 0.35;
    c.stroke(least);
    c.stroke(greatest);
    c.globalAlpha = 1;
    c.lineWidth = 1.2;
    c.setLineDash([7, 4]);
    c.stroke(mean);
    c.restore();
  }

  path(axis, columns, values, shift, y) {
    const { times, step } = columns;
    const [first, last] = within(columns, axis, shift);
    const line = new Path2D();
    let before = null;
    for (let i = first; i < last; i++) {
      if (values[i] === null) continue;
      const x = axis.x(times[i] + step / 2 + shift);
      if (before !== null && times[i] - before <= this.bridge(step) && times[i] > before) line.lineTo(x, y(values[i]));
      else line.moveTo(x, y(values[i]));
      before = times[i];
    }
    return line;
  }

  /** A silence of more than two and a half periods is a gap, as everywhere in DriftWatch. */
  bridge(step) {
    return Math.max(this.definition.periodSeconds * 2500, step * 1.5);
  }

  /** Values at an instant; without one, what the span holds. */
  showAt(ms, columns, other, shift) {
    this.root.dataset.fault = 'false';
    if (ms === null) return this.showExtent(columns?.channels.get(this.definition.id));
    const told = valuesAt(ms, columns, this.definition.id, this.bridge(columns?.step ?? 0));
    this.value.textContent = said(told, this.definition);
    this.root.dataset.fault = String(told.faults > 0);
    const parts = [];
    if (told.mean !== undefined && told.low !== told.high) parts.push(words.rangeOf(told.low, told.high, this.definition));
    if (other) parts.push(`then ${said(valuesAt(ms - shift, other, this.definition.id, this.bridge(other.step)), this.definition)}`);
    this.extent.textContent = parts.join('; ');
    return told;
  }

  showExtent(mine) {
    const [low, high] = [this.low ?? null, this.high ?? null];
    const { label } = this.definition;
    say(this.value, '');
    const faults = mine && mine.faults.size > 0 ? ', with faults' : '';
    const apart = this.difference === null || Number.isNaN(this.difference) || words.isSwitch(this.definition) ? '' : `; mean ${words.change(this.difference, this.definition.unit)} against then`;
    const none = this.definition.kind === 'quantity' ? 'can’t be told here' : `no reading${faults}`;
    const text = low === null ? (this.isRead ? none : 'reading …') : `${words.rangeOf(low, high, this.definition)}${faults}${apart}`;
    if (this.extent.textContent === text) return;
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

/** Baseline, limits, setpoint and tolerance, all in the shown unit, what lies above the others first. */
function drawMarks(c, axis, y, height, { advisoryLow, advisoryHigh, alarmLow, alarmHigh, setpoint, baseline }) {
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
  line(baseline, palette.ink, [12, 3, 2, 3], 1.5);
  line(alarmHigh, palette.alarm, []);
  line(alarmLow, palette.alarm, []);
  line(advisoryHigh, palette.advisory, [6, 4]);
  line(advisoryLow, palette.advisory, [6, 4]);
  line(setpoint, palette.quiet, [1, 4]);
  const low = advisoryLow ?? alarmLow, high = advisoryHigh ?? alarmHigh;
  if (low === null && high === null) return;
  const inside = v => Math.min(height, Math.max(0, v));
  const upper = high === null ? 0 : inside(y(high)), lower = low === null ? height : inside(y(low));
  c.fillStyle = palette.tolerance;
  c.fillRect(0, upper, axis.width, Math.max(0, lower - upper));
}

export function said({ mean, low, high, faults, outside }, definition) {
  if (outside) return definition.kind === 'quantity' ? '–' : 'outside';
  if (mean !== undefined) {
    const value = words.isSwitch(definition) ? words.rangeOf(low, high, definition) : words.valueOf(mean, definition);
    return faults > 0 ? `${value}, ${faults} faults` : value;
  }
  return faults > 0 ? 'fault' : definition.kind === 'quantity' ? 'not told' : 'no reading';
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

/** The scale of the hours with tape, where there are any and all hours would press them flat. */
function steadier(all, withTape) {
  return withTape && withTape[1] - withTape[0] < flat * (all[1] - all[0]) ? withTape : all;
}

/** Least and greatest of the columns that the axis shows, and of those given; with <stretches> of the columns that lie in them. */
function extremes(mine, columns, axis, shift, [low, high] = [null, null], stretches = null) {
  if (!mine) return [low, high];
  const [first, last] = within(columns, axis, shift);
  for (let i = first; i < last; i++) {
    if (mine.mean[i] === null) continue;
    if (stretches && !stretches.some(([from, to]) => columns.times[i] >= from && columns.times[i] + columns.step <= to)) continue;
    if (low === null || mine.minimum[i] < low) low = mine.minimum[i];
    if (high === null || mine.maximum[i] > high) high = mine.maximum[i];
  }
  return [low, high];
}

/** Mean of the columns that the axis shows; not a number without one. */
function meanOf({ mean }, columns, axis, shift) {
  const [first, last] = within(columns, axis, shift);
  let sum = 0, n = 0;
  for (let i = first; i < last; i++) {
    if (mean[i] === null) continue;
    sum += mean[i];
    n++;
  }
  return sum / n;
}

/** How far extremes usually lie from their mean: the median of some hundred columns. */
function usualReach(mine, first, last) {
  const every = Math.max(1, Math.floor((last - first) / 200));
  const reach = [];
  for (let i = first; i < last; i += every) if (mine.mean[i] !== null) reach.push((mine.maximum[i] - mine.minimum[i]) / 2);
  reach.sort((a, b) => a - b);
  return reach[reach.length >> 1] ?? 0;
}

/** Its ends as numbers, with a mark where values lie beyond them. */
function drawScale(c, axis, height, [bottom, top], extent, definition) {
  c.strokeStyle = palette.hair;
  c.lineWidth = 1;
  c.strokeRect(-1, 0.5, axis.width + 1, height);
  if (!extent) return;
  c.font = drawn.font;
  c.fillStyle = palette.quiet;
  c.textBaseline = 'alphabetic';
  c.textAlign = 'left';
  const { unit } = definition;
  const places = Math.min(words.decimals(unit), Math.max(0, Math.ceil(1 - Math.log10(top - bottom))));
  const isSwitch = words.isSwitch(definition);
  const text = value => (isSwitch ? words.tick(Math.round(value), definition) : value.toFixed(places).replace('-', '−'));
  c.fillText(`${extent[1] > top ? '▴' : ''}${text(top)}`, axis.width + 4, drawn.letter - 1);
  c.fillText(`${extent[0] < bottom ? '▾' : ''}${text(bottom)}`, axis.width + 4, height - 3);
}
