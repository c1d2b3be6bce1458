// What is on the screen is drawn first: half of the lanes of a night lie below it, and each costs a zoom milliseconds.

const whenIdle = globalThis.requestIdleCallback ?? (then => setTimeout(() => then({ timeRemaining: () => 10 }), 30));

/** A hand that zooms acts again sooner than this. */
const stillMs = 350;

/** Lanes that are on the screen or near it; before the browser has told, all are. */
export class InView {
  #seen = new Map();
  #turn = 0;
  #timer = 0;
  #observer = new IntersectionObserver(entries => {
    for (const { target, isIntersecting } of entries) this.#seen.set(target, isIntersecting);
  }, { rootMargin: '60px' });

  follow(roots) {
    this.#observer.disconnect();
    this.#seen.clear();
    roots.forEach(root => this.#observer.observe(root));
  }

  has(root) {
    return this.#seen.get(root) ?? true;
  }

  /** Draws what nobody sees when there is nothing else to do, and leaves it where a newer drawing has come. */
  paintLater(paints, then) {
    const mine = ++this.#turn;
    const next = deadline => {
      if (mine !== this.#turn) return;
      do paints.shift()(); while (paints.length > 0 && deadline.timeRemaining() > 5);
      if (paints.length > 0) whenIdle(next);
      else then();
    };
    clearTimeout(this.#timer);
    if (paints.length > 0) this.#timer = setTimeout(() => whenIdle(next), stillMs);
  }
}
