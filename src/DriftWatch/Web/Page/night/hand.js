// Mouse, wheel, fingers and keys on the lanes. They ask for a span or a cursor; what becomes of it is the page's matter.

import { longest, shortest } from './span.js';

/** A press that moves less than this is a click. */
const still = 4;

export class Hand {
  /** <ask> has axis(), show(from, to, { push }), hover(ms), hold(ms), read(), select(x0, x1). */
  constructor(lanes, axis, ask) {
    Object.assign(this, { lanes, axisElement: axis, ask, pointers: new Map(), moved: false });
    lanes.addEventListener('pointerdown', e => this.down(e));
    lanes.addEventListener('pointermove', e => this.move(e));
    lanes.addEventListener('pointerup', e => this.up(e));
    lanes.addEventListener('pointercancel', e => this.cancel(e));
    lanes.addEventListener('pointerleave', e => e.pointerType === 'mouse' && this.pointers.size === 0 && ask.hover(null));
    lanes.addEventListener('click', e => {
      if (!this.moved) return;
      this.moved = false;
      e.stopPropagation(); // it was a drag: nothing under it is picked
    }, true);
    lanes.addEventListener('dblclick', e => this.on(e) !== null && this.zoom(0.5, this.on(e), true));
    lanes.addEventListener('wheel', e => this.wheel(e), { passive: false });
    axis.addEventListener('keydown', e => this.key(e));
  }

  /** Where on the plots an event is, in their pixels; null beside them. */
  on(event) {
    const box = this.axisElement.getBoundingClientRect();
    const x = event.clientX - box.left;
    return event.target.closest?.('.plot') && x >= 0 && x <= box.width ? x : null;
  }

  down(event) {
    const x = this.on(event);
    if (x === null || event.button !== 0) return;
    this.pointers.set(event.pointerId, { x, x0: x });
    if (this.pointers.size === 1) {
      const { from, to } = this.ask.axis();
      this.start = { x, from, to, select: event.shiftKey };
      this.moved = false;
    }
    if (this.pointers.size === 2) this.pinch = { xs: [...this.pointers.values()].map(p => p.x), ...this.ask.axis() };
  }

  move(event) {
    const x = this.on(event);
    const pointer = this.pointers.get(event.pointerId);
    if (!pointer) {
      if (event.pointerType === 'mouse') this.ask.hover(x === null ? null : this.ask.axis().ms(x));
      return;
    }
    const box = this.axisElement.getBoundingClientRect();
    pointer.x = event.clientX - box.left;
    if (this.pointers.size === 2) return this.spread();
    if (!this.moved && Math.abs(pointer.x - this.start.x) < still) return;
    if (!this.moved) this.lanes.setPointerCapture(event.pointerId);
    this.moved = true;
    const { width } = this.ask.axis();
    if (this.start.select) return this.ask.select(this.start.x, pointer.x);
    const by = (pointer.x - this.start.x) / width * (this.start.to - this.start.from);
    this.ask.show(this.start.from - by, this.start.to - by, {});
  }

  up(event) {
    const pointer = this.pointers.get(event.pointerId);
    this.pointers.delete(event.pointerId);
    if (!pointer || !this.start) return;
    if (this.pinch) {
      // The finger that stays moves the span on from here, and not from where it was before the two came.
      const [left] = this.pointers.values();
      const { from, to } = this.ask.axis();
      this.pinch = null;
      this.start = left ? { x: left.x, from, to, select: false } : null;
      this.moved = true;
      return this.ask.settle();
    }
    if (this.start.select && this.moved) {
      this.ask.select(null);
      const axis = this.ask.axis();
      const [a, b] = [axis.ms(Math.min(this.start.x, pointer.x)), axis.ms(Math.max(this.start.x, pointer.x))];
      if (b - a >= shortest) this.ask.show(a, b, { push: true });
    } else if (!this.moved) {
      this.ask.hold(this.ask.axis().ms(pointer.x));
    } else {
      this.ask.settle();
    }
    this.start = null;
  }

  cancel(event) {
    this.pointers.delete(event.pointerId);
    this.pinch = this.start = null;
    this.ask.select(null);
    this.ask.settle();
  }

  /** Two fingers: what was under each stays under it. */
  spread() {
    const [a, b] = [...this.pointers.values()].map(p => p.x);
    const [a0, b0] = this.pinch.xs;
    const { from, to, width } = this.pinch;
    const scale = (b0 - a0) / (b - a || 1);
    if (!(scale > 0)) return;
    this.moved = true;
    const ms = (to - from) * scale;
    const centre = from + (a0 + b0) / 2 / width * (to - from);
    const begin = centre - (a + b) / 2 / width * ms;
    this.limited(begin, begin + ms, false);
  }

  wheel(event) {
    const x = this.on(event);
    if (x === null) return;
    const overAxis = event.target.closest('.ruler, .event') !== null;
    const sideways = event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY);
    if (!sideways && !event.ctrlKey && !event.metaKey && !overAxis) return; // the page scrolls
    event.preventDefault();
    if (sideways) return this.pan((event.deltaX || event.deltaY) / 1000);
    this.zoom(Math.exp(Math.max(-1, Math.min(1, event.deltaY / 300))), x, false);
  }

  pan(share, push = false) {
    const { from, to } = this.ask.axis();
    this.ask.show(from + share * (to - from), to + share * (to - from), { push });
  }

  /** Makes the span so many times as long; the instant at x stays where it is. */
  zoom(times, x, push) {
    const axis = this.ask.axis();
    const span = Math.min(longest, Math.max(shortest, (axis.to - axis.from) * times));
    const share = x / axis.width;
    const from = axis.ms(x) - share * span;
    this.ask.show(from, from + span, { push });
  }

  limited(from, to, push) {
    if (to - from >= shortest && to - from <= longest) this.ask.show(from, to, { push });
  }

  key(event) {
    if (event.altKey || event.metaKey || event.ctrlKey) return;
    const axis = this.ask.axis();
    const held = this.ask.held() ?? (axis.from + axis.to) / 2;
    const step = this.ask.step() * (event.shiftKey ? 10 : 1);
    const middle = axis.x(Math.min(axis.to, Math.max(axis.from, held)));
    const acts = {
      ArrowLeft: () => this.ask.hold(held - step, true),
      ArrowRight: () => this.ask.hold(held + step, true),
      ArrowDown: () => this.ask.hold(held - step, true),
      ArrowUp: () => this.ask.hold(held + step, true),
      Home: () => this.ask.hold(axis.from, true),
      End: () => this.ask.hold(axis.to - step, true),
      PageUp: () => this.pan(-0.5, true),
      PageDown: () => this.pan(0.5, true),
      '+': () => this.zoom(0.5, middle, true),
      '=': () => this.zoom(0.5, middle, true),
      '-': () => this.zoom(2, middle, true),
      Enter: () => this.ask.read(),
      Escape: () => this.ask.hold(null),
    };
    if (!acts[event.key]) return;
    event.preventDefault();
    acts[event.key]();
  }
}
