// Lanes of what happened: machine states, alarms, findings, marks, passes and baselines. A click on one picks it.

import { drawn, palette } from '../chart.js';
import * as words from '../words.js';
import { begin, hatch } from './draw.js';
import { Stops } from './stops.js';

// In heights of a letter, which grows with the page.
const height = { state: 2.4, alarms: 2, findings: 2, marks: 1.8, passes: 1.8, baselines: 1.8 };

const titles = [
  ['state', 'Machine state'], ['alarms', 'Alarms'], ['findings', 'Findings'], ['marks', 'Marks and notes'], ['passes', 'Passes of transfers'], ['baselines', 'Baselines'],
];

/** The smallest width of something that happened: a finger hits what is wider with its slack. */
const least = 4;
const slack = 8;

export class Lanes {
  constructor(host, pick) {
    this.pick = pick;
    this.rows = new Map(titles.map(([id, title]) => {
      const root = document.createElement('div');
      root.className = 'lane event';
      root.dataset.lane = id;
      const label = document.createElement('p');
      label.className = 'label';
      label.textContent = title;
      const plot = document.createElement('div');
      plot.className = 'plot';
      plot.style.height = `${Math.round(height[id] * drawn.letter)}px`;
      const canvas = document.createElement('canvas');
      canvas.setAttribute('role', 'img');
      canvas.addEventListener('click', event => this.hit(id, event));
      plot.append(canvas);
      root.append(label, plot);
      host.append(root);
      const row = { canvas, title, shown: [] };
      row.stops = new Stops(plot, title, () => row.shown, pick);
      return [id, row];
    }));
  }

  /** Without <isRead> nothing is known of a lane that shows nothing. */
  draw(axis, happened, idle, isRead) {
    for (const [id, row] of this.rows) {
      const started = begin(row.canvas);
      if (!started) continue;
      const { c } = started;
      const h = started.height;
      for (const [from, to, isFuture] of idle) hatch(c, axis.x(Math.max(from, axis.from)), axis.x(Math.min(to, axis.to)), h, isFuture);
      c.font = drawn.font;
      c.textBaseline = 'middle';
      row.shown = [];
      const items = happened.filter(e => e.lane === id && e.to >= axis.from && e.from <= axis.to);
      for (const item of items) this.drawItem(c, axis, h, row, item);
      c.strokeStyle = palette.hair;
      c.lineWidth = 1;
      c.strokeRect(-1, 0.5, axis.width + 1, h - 1);
      if (items.length === 0) {
        c.fillStyle = palette.quiet;
        c.fillText(isRead ? 'none' : 'reading …', 6, h / 2);
      }
      row.stops.follow();
      row.canvas.setAttribute('aria-label', `${row.title}: ${items.length === 0 ? (isRead ? 'none' : 'not read yet') : `${items.length} in the span, listed beside the lanes`}`);
    }
  }

  drawItem(c, axis, h, row, item) {
    const x0 = Math.max(0, axis.x(item.from));
    const x1 = Math.min(axis.width, Math.max(axis.x(item.to), x0 + (item.lane === 'state' ? 0 : least)));
    row.shown.push({ x0, x1, item });
    if (item.lane === 'state') drawState(c, h, x0, x1, item);
    else if (item.lane === 'alarms' || item.lane === 'findings') drawBar(c, h, x0, x1, item);
    else drawFlag(c, h, x0, item);
  }

  /** What lies under the pointer, the shortest of it, else the nearest within reach. */
  hit(id, event) {
    const x = event.offsetX;
    const near = this.rows.get(id).shown
      .map(s => ({ ...s, distance: Math.max(0, s.x0 - x, x - s.x1) }))
      .filter(s => s.distance <= slack)
      .sort((a, b) => a.distance - b.distance || (a.x1 - a.x0) - (b.x1 - b.x0));
    if (near.length > 0) this.pick(near[0].item);
  }
}

/** The farther the machine has come, the higher it stands: the night's stairs are seen without a colour. */
function drawState(c, h, x0, x1, item) {
  const rank = words.states.findIndex(s => s[0] === item.state);
  const top = rank < 0 ? h * 0.45 : h - 3 - (h - 6) * (rank + 1) / words.states.length;
  c.fillStyle = palette.envelope;
  c.fillRect(x0, top, x1 - x0, h - top);
  c.fillStyle = palette.trace;
  c.fillRect(x0, top, x1 - x0, 2);
  c.fillRect(x0, top, 1, h - top);
  const { word } = words.stateWords(item.state);
  const room = x1 - x0 - 8;
  c.textAlign = 'left';
  if (c.measureText(word).width > room) return;
  // Where the stair is low its word stands above it, where it is high within.
  const place = top > h / 2 ? top - 7 : h - 8;
  c.fillStyle = palette.ink;
  c.fillText(word, x0 + 5, place);
}

const signOf = { high: '▲▲', medium: '▲', low: '◇', alarm: '▲', advisory: '◇', note: '·' };

function drawBar(c, h, x0, x1, item) {
  const strong = item.rank === 'high' || item.rank === 'medium' || item.rank === 'alarm';
  const colour = item.isFault ? palette.fault : strong ? palette.alarm : item.rank === 'note' ? palette.quiet : palette.advisory;
  const inset = item.rank === 'note' ? h * 0.36 : strong ? 3 : 5;
  c.fillStyle = colour;
  c.strokeStyle = colour;
  c.globalAlpha = strong ? 0.9 : 0.35;
  c.fillRect(x0, inset, x1 - x0, h - 2 * inset);
  c.globalAlpha = 1;
  if (item.rank !== 'note') {
    c.lineWidth = 1.2;
    c.setLineDash(strong ? [] : [4, 3]);
    c.strokeRect(x0 + 0.5, inset + 0.5, Math.max(1, x1 - x0 - 1), h - 2 * inset - 1);
    c.setLineDash([]);
  }
  const text = `${item.isFault ? '✕ ' : ''}${signOf[item.rank] ?? ''} ${item.title}`;
  c.textAlign = 'left';
  if (c.measureText(text).width < x1 - x0 - 8) {
    c.fillStyle = strong ? palette['on-alarm'] : palette.ink;
    c.fillText(text, x0 + 4, h / 2 + 0.5);
  }
}

function drawFlag(c, h, x, item) {
  c.fillStyle = palette.ink;
  c.fillRect(x, 2, 1.5, h - 4);
  c.beginPath();
  if (item.lane === 'baselines') c.rect(x + 1, 3, 7, 7);
  else {
    c.moveTo(x, 2);
    c.lineTo(x + 9, 6);
    c.lineTo(x, 10);
  }
  c.fill();
}
