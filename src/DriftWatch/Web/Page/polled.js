// One thing that is asked for again and again while it is looked at. Its section says when what stands there is old.

import * as words from './words.js';

const hurryMs = 2000;

export class Polled {
  /** `section` has a `.from` that says how old it is; `ask` of a bench's id gives the answer that `show` puts on the page. */
  constructor(section, everyMs, ask, show) {
    Object.assign(this, { section, everyMs, ask, show, bench: null, answer: null, problem: null, answered: null });
    section.dataset.standing = 'waiting';
    setInterval(() => this.look(), Math.min(500, everyMs));
  }

  /** Another bench, or another bench file: what is known is of the one before. */
  begin(model) {
    Object.assign(this, { model, bench: model.bench.id, answer: null, answered: null, asked: -Infinity });
    this.section.dataset.standing = 'waiting';
    this.look();
  }

  again() {
    if (this.answer) this.show(this.answer, this.model);
  }

  look() {
    if (this.bench === null) return;
    this.say();
    if (!document.hidden && performance.now() - this.asked >= this.everyMs) this.now();
  }

  async now() {
    if (this.bench === null || this.asking) return;
    const { model } = this;
    this.asking = true;
    this.asked = performance.now();
    try {
      const answer = await this.ask(this.bench);
      if (model !== this.model) return;
      Object.assign(this, { answer, answered: performance.now(), problem: null });
      this.show(answer, model);
    } catch (problem) {
      this.problem = problem.message;
    } finally {
      this.asking = false;
      this.say();
    }
  }

  say() {
    const from = this.section.querySelector('.from');
    const age = this.answered === null ? null : performance.now() - this.answered;
    const isOld = age !== null && age > this.everyMs * 2 + hurryMs;
    const standing = age === null ? 'waiting' : isOld ? 'old' : 'live';
    if (this.section.dataset.standing !== standing) this.section.dataset.standing = standing;
    const text = isOld ? `Old: this is of ${words.clock(Date.now() - age)}. ${this.problem ?? 'The service does not answer.'}`
      : age === null ? this.problem ?? 'Asking the service…' : '';
    if (from.textContent !== text) from.textContent = text;
  }
}
