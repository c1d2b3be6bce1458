// What a lane shows, as runs of pixels. A path through a thousand columns costs a browser milliseconds a lane, and twenty lanes
// are redrawn at each step of a zoom; of each pixel's column there is only one least and one greatest to fill between.

/** Where one column ends the next begins, reckoned another way: a rounding must not leave a pixel between them. */
const slack = 0.01;

/** Of every pixel's column the highest and the lowest place reached, in pixels from the top; nothing where top lies below bottom. */
export class Reach {
  constructor(width) {
    this.top = new Float32Array(width);
    this.bottom = new Float32Array(width);
  }

  /** From top to bottom over a width of one pixel at least. */
  span(x0, x1, top, bottom) {
    const first = Math.max(0, Math.round(x0));
    const after = Math.min(this.top.length, Math.max(first + 1, Math.round(x1 + slack)));
    for (let x = first; x < after; x++) this.take(x, top, bottom);
  }

  /** A line of this thickness from one point to another on its right. */
  line(x0, y0, x1, y1, thickness) {
    const slope = x1 > x0 ? (y1 - y0) / (x1 - x0) : 0;
    const half = thickness / 2;
    const first = Math.max(0, Math.floor(x0)), last = Math.min(this.top.length - 1, Math.floor(x1));
    for (let x = first; x <= last; x++) {
      const left = x <= x0 ? y0 : y0 + slope * (x - x0);
      const right = x + 1 >= x1 ? y1 : y0 + slope * (x + 1 - x0);
      this.take(x, Math.min(left, right) - half, Math.max(left, right) + half);
    }
  }

  take(x, top, bottom) {
    if (top < this.top[x]) this.top[x] = top;
    if (bottom > this.bottom[x]) this.bottom[x] = bottom;
  }
}

const used = []; // one set serves all lanes, which are drawn one after the other

/** As many empty reaches, until they are asked for again. */
export function reaches(count, width) {
  while (used.length < count) used.push(new Reach(width));
  for (let i = 0; i < count; i++) {
    if (used[i].top.length !== width) used[i] = new Reach(width);
    used[i].top.fill(Infinity);
    used[i].bottom.fill(-Infinity);
  }
  return used.slice(0, count);
}

let image = null; // one serves all lanes, which are as large as each other

/** Paints reaches over each other, the first lowest, in place of what is on the canvas; their pixels are those of the canvas. */
export function paint(c, width, height, layers) {
  if (image?.width !== width || image.height !== height) image = new ImageData(width, height);
  const pixels = new Uint32Array(image.data.buffer);
  pixels.fill(0);
  for (const { reach, colour } of layers) fill(image.data, pixels, width, height, reach, resolved(colour));
  c.putImageData(image, 0, 0);
}

const swatch = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
const colours = new Map();

/** The page's colours are others now: night has come, or contrast was asked for. */
export const forgetColours = () => colours.clear();

/** Red, green, blue and share of whatever the stylesheet says, system colours too, and the four as one pixel. */
function resolved(colour) {
  if (!colours.has(colour)) {
    swatch.clearRect(0, 0, 1, 1);
    swatch.fillStyle = colour;
    swatch.fillRect(0, 0, 1, 1);
    const { data } = swatch.getImageData(0, 0, 1, 1);
    colours.set(colour, { parts: [...data], whole: new Uint32Array(data.buffer)[0] });
  }
  return colours.get(colour);
}

function fill(data, pixels, width, height, { top, bottom }, { parts, whole }) {
  const opaque = parts[3] === 255;
  for (let x = 0; x < width; x++) {
    const from = Math.max(0, top[x]), to = Math.min(height, bottom[x]);
    if (!(from < to)) continue;
    const first = Math.floor(from), last = Math.ceil(to) - 1;
    // The ends of a run cover their pixels in part, so that a slow line has no stairs.
    over(data, 4 * (first * width + x), parts, Math.min(to, first + 1) - from);
    if (last > first) over(data, 4 * (last * width + x), parts, to - last);
    for (let y = first + 1, at = y * width + x; y < last; y++, at += width) {
      if (opaque || pixels[at] === 0) pixels[at] = whole;
      else over(data, 4 * at, parts, 1);
    }
  }
}

function over(data, at, parts, cover) {
  const mine = parts[3] / 255 * cover;
  const theirs = data[at + 3] / 255 * (1 - mine);
  const both = mine + theirs;
  if (both === 0) return;
  for (let i = 0; i < 3; i++) data[at + i] = (parts[i] * mine + data[at + i] * theirs) / both;
  data[at + 3] = 255 * both;
}
