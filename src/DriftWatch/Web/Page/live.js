// The live stream. It tells three things apart: talking, silent (no beat for 3 s: the service beats each second) and
// broken. Whoever shows values hears of it at once, because what is on the screen is then old.

import * as who from './who.js';

const silentAfterMs = 3000;
const renewAfterMs = 8000;

export class Live {
  constructor(bench, cursor, handlers) {
    this.bench = bench;
    this.cursor = cursor;
    this.handlers = handlers;
    this.lastHeard = performance.now();
    this.up = undefined;
    this.open();
    this.watch = setInterval(() => this.look(), 500);
  }

  open() {
    this.opened = performance.now();
    this.source = new EventSource(`/api/v1/benches/${this.bench}/live?after=${this.cursor}`);
    for (const name of ['hello', 'numbers', 'quantities', 'drifts', 'state', 'link', 'finding', 'alarm', 'health', 'bench']) {
      this.source.addEventListener(name, event => {
        this.lastHeard = performance.now();
        if (event.lastEventId) this.cursor = event.lastEventId; // finding.alarm
        this.handlers[name]?.(JSON.parse(event.data));
        if (name === 'numbers') this.set(true);
      });
    }
    this.source.addEventListener('error', () => {
      this.set(false);
      if (this.source.readyState === EventSource.CLOSED) who.look(); // refused: perhaps the sign-in ended
    });
  }

  look() {
    const now = performance.now();
    if (now - this.lastHeard < silentAfterMs) return;
    this.set(false);
    // A browser gives up for good on some errors, and a half-dead connection never ends: open another.
    if (now - Math.max(this.opened, this.lastHeard) > renewAfterMs || this.source.readyState === EventSource.CLOSED) {
      if (now - this.opened < silentAfterMs) return;
      this.source.close();
      this.open();
    }
  }

  set(up) {
    if (this.up === up) return;
    this.up = up;
    this.handlers.link_changed(up);
  }

  close() {
    clearInterval(this.watch);
    this.source.close();
  }
}
