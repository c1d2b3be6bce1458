// A strip's line: mean over its envelope of minimum and maximum, on the tolerance it is held against. Gaps are left
// open, faults are ticks on the floor. The time axis is the same for every strip, so that events line up. Everything a chart
// holds is in the shown unit, so that its scale has round numbers there.

/* global uPlot */
import { spanMs } from './buckets.js';
import * as units from './units.js';
import * as words from './words.js';

export const palette = {};

// Asked once a size of the window: each asking has the browser reckon its styles.
let letters = null;
const rem = () => (letters ??= parseFloat(getComputedStyle(document.documentElement).fontSize));
addEventListener('resize', () => { letters = null; });

/** Sizes of what is drawn, which grow with the page's letters: strips.css holds the axis' width as --axis. */
export const drawn = {
  get letter() { return Math.max(11, Math.round(0.69 * rem())); },
  get axis() { return Math.max(46, Math.round(2.9 * rem())); },
  get font() { return `${this.letter}px system-ui, sans-serif`; },
};

export function readPalette() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ['trace', 'envelope', 'tolerance', 'advisory', 'alarm', 'quiet', 'hair', 'fault', 'ink', 'on-alarm']) {
    palette[name] = style.getPropertyValue('--' + name).trim();
  }
  return palette;
}

const folder = 'vendor/uplot-1.6.32/';

const loaded = element => new Promise((resolve, reject) => {
  element.addEventListener('load', resolve);
  element.addEventListener('error', () => reject(new Error('The page’s lines can’t be drawn: a file of it did not come.')));
  document.head.append(element);
});

/** What draws lines comes after the first values, which are not to wait for it; where it did not come it is asked for again. */
let coming = null;
export function linesReady() {
  coming ??= Promise.all([
    loaded(Object.assign(document.createElement('link'), { rel: 'stylesheet', href: `${folder}uPlot.min.css` })),
    loaded(Object.assign(document.createElement('script'), { src: `${folder}uPlot.iife.min.js` })),
  ]).catch(problem => {
    coming = null;
    throw problem;
  });
  return coming;
}

/** Where a limit lies in the channel's unit; null for one that refers to a baseline while there is none. */
export function placeOf({ reference, value }, baseline) {
  if (reference === 'absolute') return value;
  if (baseline === null) return null;
  return reference === 'baseline' ? baseline + value : baseline * value;
}

/** The numbers a chart draws beside the data, in the shown unit: the baseline, tolerance edges and alarm limits. */
export function marksOf({ limits, setpoint, unit }, baseline) {
  const shown = value => (value === null ? null : units.convert(value, unit));
  const nearest = (side, severity) => {
    const places = limits.filter(l => l.side === side && l.severity === severity).map(l => placeOf(l, baseline)).filter(v => v !== null);
    return places.length === 0 ? null : shown(side === 'low' ? Math.max(...places) : Math.min(...places));
  };
  return {
    advisoryLow: nearest('low', 'advisory'),
    advisoryHigh: nearest('high', 'advisory'),
    alarmLow: nearest('low', 'alarm'),
    alarmHigh: nearest('high', 'alarm'),
    setpoint: shown(setpoint),
    baseline: shown(baseline),
  };
}

/** Off lies a little above the floor, and on below the top. */
export const switchRange = [-0.15, 1.15];

/** The range: all data; the tolerance always; an alarm limit where it does not press the line flat. */
export function rangeOf(low, high, marks, unit) {
  const known = [marks.advisoryLow, marks.advisoryHigh, marks.setpoint, marks.baseline].filter(v => v !== null);
  let from = Math.min(low ?? Infinity, ...known);
  let to = Math.max(high ?? -Infinity, ...known);
  if (!Number.isFinite(from) || !Number.isFinite(to)) [from, to] = [0, 1];
  const least = unit === 'psi' || unit === 'inH2O' || unit === 'dB' ? Math.abs(units.convertChange(1, unit)) : Math.max(Math.abs(to) * 0.004, 1e-6);
  const span = Math.max(to - from, least);
  for (const alarm of [marks.alarmLow, marks.alarmHigh]) {
    if (alarm === null) continue;
    if (alarm < from && from - alarm < 2 * span) from = alarm;
    if (alarm > to && alarm - to < 2 * span) to = alarm;
  }
  const pad = Math.max(least - (to - from), (to - from) * 0.12) / 2;
  return [from - pad, to + pad];
}

/** A line that takes less than this share of its scale gets a scale of its own. */
const flat = 0.25;

/** Levels still rise when a lock is told. */
const settlingMs = 5000;

export class Chart {
  constructor(host, definition) {
    this.host = host;
    this.definition = definition;
    this.marks = marksOf(definition, null);
    this.faults = [];
    this.empty = true;
    this.since = null;
    this.plot = new uPlot(this.options(definition), [[], [], [], []], host);
    this.resizer = new ResizeObserver(() => this.fit());
    this.resizer.observe(host);
  }

  options(definition) {
    const nowSeconds = Date.now() / 1000;
    return {
      width: Math.max(60, this.host.clientWidth),
      height: Math.max(30, this.host.clientHeight),
      padding: [4, 0, 4, 0],
      cursor: { show: false },
      legend: { show: false },
      select: { show: false },
      scales: {
        x: { time: true, range: () => this.span ?? [nowSeconds - spanMs / 1000, nowSeconds] },
        y: { range: (_, low, high) => (words.isSwitch(definition) ? switchRange : this.range(low, high)) },
      },
      axes: [
        { show: false },
        {
          side: 1,
          size: drawn.axis,
          gap: 4,
          space: 2 * drawn.letter,
          font: drawn.font,
          stroke: () => palette.quiet,
          grid: { show: false },
          ticks: { show: false },
          values: (_, splits) => (this.empty ? [] : splits.map(v => words.tick(v, this.definition))),
        },
      ],
      series: [
        {},
        { stroke: 'transparent', width: 0, points: { show: false }, spanGaps: false },
        { stroke: 'transparent', width: 0, points: { show: false }, spanGaps: false },
        { stroke: () => palette.trace, width: 1.5, points: { show: false }, spanGaps: false },
      ],
      bands: [{ series: [1, 2], fill: () => palette.envelope }],
      hooks: { drawClear: [u => this.under(u)], draw: [u => this.over(u)] },
    };
  }

  /** The scale of the hours with tape where the whole would press them flat: for ten minutes after each lock nothing could be seen. */
  range(low, high) {
    const whole = rangeOf(low, high, this.marks, this.definition.unit);
    const since = this.since === null ? null : this.reach();
    if (since === null) return whole;
    const scale = rangeOf(...since, this.marks, this.definition.unit);
    return scale[1] - scale[0] < flat * (whole[1] - whole[0]) ? scale : whole;
  }

  /** Least and greatest since the machine came into the state that holds; null without a reading. */
  reach() {
    const [x, greatest, least] = this.plot.data;
    let low = null, high = null;
    for (let i = x.length - 1; i >= 0 && x[i] >= this.since; i--) {
      if (least[i] === null) continue;
      low = Math.min(low ?? Infinity, least[i]);
      high = Math.max(high ?? -Infinity, greatest[i]);
    }
    return low === null ? null : [low, high];
  }

  under(u) {
    const { ctx } = u;
    const { left, top, width, height } = u.bbox;
    const y = v => Math.min(top + height, Math.max(top, u.valToPos(v, 'y', true)));
    const { advisoryLow, advisoryHigh, alarmLow, alarmHigh } = this.marks;
    const low = advisoryLow ?? alarmLow, high = advisoryHigh ?? alarmHigh;
    ctx.save();
    if (low !== null || high !== null) {
      const upper = high === null ? top : y(high);
      const lower = low === null ? top + height : y(low);
      ctx.fillStyle = palette.tolerance;
      ctx.fillRect(left, upper, width, Math.max(0, lower - upper));
    }
    ctx.strokeStyle = palette.hair;
    ctx.lineWidth = devicePixelRatio;
    ctx.beginPath();
    for (let part = 0; part <= 5; part++) {
      const at = Math.round(left + width * part / 5) - 0.5;
      ctx.moveTo(at, top);
      ctx.lineTo(at, top + height);
    }
    ctx.stroke();
    ctx.restore();
  }

  over(u) {
    const { ctx } = u;
    const { left, top, width, height } = u.bbox;
    const line = (value, colour, dash) => {
      if (value === null) return;
      const at = Math.round(u.valToPos(value, 'y', true)) - 0.5;
      if (at < top || at > top + height) return;
      ctx.strokeStyle = colour;
      ctx.setLineDash(dash.map(d => d * devicePixelRatio));
      ctx.beginPath();
      ctx.moveTo(left, at);
      ctx.lineTo(left + width, at);
      ctx.stroke();
    };
    ctx.save();
    ctx.lineWidth = devicePixelRatio;
    line(this.marks.setpoint, palette.quiet, [1, 4]);
    line(this.marks.baseline, palette.trace, [10, 3, 2, 3]);
    line(this.marks.advisoryLow, palette.advisory, [6, 4]);
    line(this.marks.advisoryHigh, palette.advisory, [6, 4]);
    line(this.marks.alarmLow, palette.alarm, []);
    line(this.marks.alarmHigh, palette.alarm, []);
    ctx.fillStyle = palette.fault;
    const tick = Math.max(2, width / 300) * 1.2;
    for (const at of this.faults) ctx.fillRect(u.valToPos(at, 'x', true) - tick / 2, top + height - height * 0.22, tick, height * 0.22);
    ctx.restore();
  }

  /** The baseline in force in the channel's unit, or null; also when the shown unit has changed. */
  mark(baseline) {
    this.marks = marksOf(this.definition, baseline);
  }

  repaint() {
    this.plot.redraw();
  }

  /** <sinceMs> is when tape came to run locked; null while it does not. */
  draw({ data, faults }, utcNowMs, sinceMs) {
    this.faults = faults;
    this.since = sinceMs === null ? null : (sinceMs + settlingMs) / 1000;
    this.empty = data[3].every(v => v === null) && Object.values(this.marks).every(v => v === null);
    this.span = [(utcNowMs - spanMs) / 1000, utcNowMs / 1000];
    this.plot.setData(this.shown(data));
  }

  shown([x, ...columns]) {
    const { unit } = this.definition;
    if (units.shownUnit(unit) === unit) return [x, ...columns];
    return [x, ...columns.map(column => column.map(v => (v === null ? null : units.convert(v, unit))))];
  }

  fit() {
    const { clientWidth: width, clientHeight: height } = this.host;
    if (width > 0 && height > 0 && (width !== this.plot.width || height !== this.plot.height)) this.plot.setSize({ width, height });
  }

  destroy() {
    this.resizer.disconnect();
    this.plot.destroy();
  }
}
