// A frame as four head passes side by side over the angle, on one scale: what differs from head to head is seen at once.

import { drawn, palette } from './chart.js';
import * as units from './units.js';

export class FrameChart {
  constructor(host, definition) {
    this.host = host;
    this.unit = definition.unit;
    this.canvas = document.createElement('canvas');
    host.append(this.canvas);
    this.resizer = new ResizeObserver(() => this.draw());
    this.resizer.observe(host);
    this.frame = null;
  }

  take(frame) {
    this.frame = frame;
    this.draw();
    return Math.max(...frame.values) - Math.min(...frame.values);
  }

  /** It is held against no baseline; its unit may be another now. */
  mark() {
    this.draw();
  }

  repaint() {
    this.draw();
  }

  draw() {
    const ratio = devicePixelRatio;
    const width = this.host.clientWidth, height = this.host.clientHeight;
    if (width === 0 || height === 0) return;
    this.canvas.width = width * ratio;
    this.canvas.height = height * ratio;
    const ctx = this.canvas.getContext('2d');
    ctx.scale(ratio, ratio);
    if (!this.frame) return;
    const { values, heads, anglesDegrees } = this.frame;
    const axis = drawn.axis, gap = 10, top = 4, floor = height - 4;
    const each = (width - axis - gap * 3) / 4;
    const most = Math.max(1, ...values.map(Math.abs)) * 1.15;
    const reach = Math.max(...anglesDegrees.map(Math.abs)) * 1.04;
    const y = value => top + (1 - (value + most) / (2 * most)) * (floor - top);
    ctx.font = drawn.font;
    for (let head = 1; head <= 4; head++) {
      const left = (head - 1) * (each + gap);
      ctx.fillStyle = palette.tolerance;
      ctx.fillRect(left, top, each, floor - top);
      ctx.strokeStyle = palette.hair;
      ctx.lineWidth = 1;
      ctx.beginPath();
      ctx.moveTo(left, y(0));
      ctx.lineTo(left + each, y(0));
      ctx.moveTo(left + each / 2, top);
      ctx.lineTo(left + each / 2, floor);
      ctx.stroke();
      ctx.strokeStyle = palette.trace;
      ctx.lineWidth = 1.5;
      ctx.beginPath();
      let begun = false;
      values.forEach((value, i) => {
        if (heads[i] !== head) return;
        const x = left + (anglesDegrees[i] + reach) / (2 * reach) * each;
        if (begun) ctx.lineTo(x, y(value));
        else ctx.moveTo(x, y(value));
        begun = true;
      });
      ctx.stroke();
      ctx.fillStyle = palette.quiet;
      ctx.textAlign = 'left';
      ctx.fillText(String(head), left + 3, top + 11);
    }
    ctx.textAlign = 'left';
    ctx.fillStyle = palette.quiet;
    const edge = width - axis + 4;
    ctx.fillText(units.limit(Math.round(most), this.unit), edge, top + 10);
    ctx.fillText('0', edge, y(0) + 4);
    ctx.fillText(units.limit(-Math.round(most), this.unit), edge, floor - 2);
  }

  destroy() {
    this.resizer.disconnect();
    this.canvas.remove();
  }
}
