// Colours for canvases: those of the style sheet, and the system's own where colours are forced.

import { make } from '../dom.js';

export const palette = {};

const system = {
  trace: 'LinkText', envelope: 'CanvasText', tolerance: 'Canvas', advisory: 'CanvasText', alarm: 'CanvasText', quiet: 'CanvasText', hair: 'CanvasText',
  fault: 'CanvasText', ink: 'CanvasText', panel: 'Canvas',
};

/** What lies behind the data lets it through, in the system's own ink: its grey is a colour of its own, for what can't be pressed. */
const faint = { envelope: 0.3, hair: 0.3 };

/** What the system paints by this name, to a share. */
function painted(name, share) {
  const probe = make('i', { hidden: true });
  probe.style.color = name;
  document.body.append(probe);
  const [red, green, blue] = getComputedStyle(probe).color.match(/[\d.]+/g);
  probe.remove();
  return `rgb(${red} ${green} ${blue} / ${share})`;
}

export function readPalette() {
  const style = getComputedStyle(document.documentElement);
  const forced = matchMedia('(forced-colors: active)').matches;
  for (const [name, own] of Object.entries(system)) palette[name] = forced ? painted(own, faint[name] ?? 1) : style.getPropertyValue('--' + name).trim();
}

/** A canvas made ready for drawing at the size of its host, in CSS pixels, and how much larger than usual its letters are; null while it can't be seen. */
export function ready(canvas) {
  const { clientWidth: width, clientHeight: height } = canvas.parentElement;
  if (width === 0 || height === 0) return null;
  canvas.width = width * devicePixelRatio;
  canvas.height = height * devicePixelRatio;
  const ctx = canvas.getContext('2d');
  ctx.scale(devicePixelRatio, devicePixelRatio);
  const letter = Math.max(12, Math.round(0.75 * parseFloat(getComputedStyle(document.documentElement).fontSize)));
  ctx.font = `${letter}px system-ui, sans-serif`;
  return { ctx, width, height, scale: letter / 12 }; // what is drawn beside letters grows with them
}

/** Steps of 1, 2 or 5 that make at most so many parts. */
export function steps(from, to, most) {
  const rough = (to - from) / most;
  if (!(rough > 0)) return [];
  const size = 10 ** Math.floor(Math.log10(rough));
  const step = size * [1, 2, 5, 10].find(s => s * size >= rough);
  const all = [];
  for (let n = Math.ceil(from / step); n * step <= to + step * 1e-9; n++) all.push(n * step);
  return all;
}

export const tickText = value => String(Number(value.toPrecision(6))).replace('-', '−');

const shapes = [
  (c, x, y, r) => c.arc(x, y, r, 0, 2 * Math.PI),
  (c, x, y, r) => c.rect(x - r, y - r, 2 * r, 2 * r),
  (c, x, y, r) => { c.moveTo(x, y - r * 1.3); c.lineTo(x + r * 1.2, y + r); c.lineTo(x - r * 1.2, y + r); c.closePath(); },
  (c, x, y, r) => { c.moveTo(x, y - r * 1.4); c.lineTo(x + r * 1.4, y); c.lineTo(x, y + r * 1.4); c.lineTo(x - r * 1.4, y); c.closePath(); },
];
const dashes = [[], [8, 4], [2, 3], [10, 3, 2, 3]];
export const shapeSigns = ['●', '■', '▲', '◆'];

/** A mark of a head: each has its own shape, so that no colour is needed to tell them. */
export function mark(ctx, head, x, y, r = 4) {
  ctx.beginPath();
  shapes[Math.max(0, head - 1)](ctx, x, y, r);
  ctx.fill();
}

export const dashOf = head => dashes[Math.max(0, head - 1)];
