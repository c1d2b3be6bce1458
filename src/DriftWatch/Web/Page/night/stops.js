// A lane of what happened by keyboard: one stop a lane, arrows from one thing to the next, each read out, Enter picks it. The
// things themselves are drawn; what stands here is laid over them, and only while somebody is in the lane.

import { make } from '../dom.js';
import { bothClocks, length } from './story.js';

/** More than one goes through by arrows; the rest is in the list beside the lanes. */
const most = 300;

const said = item => `${item.word ? `${item.word}: ` : ''}${item.title}, ${bothClocks(item.from)}${item.to > item.from ? `, ${item.lasts ? 'lasts' : `for ${length((item.to - item.from) / 1000)}`}` : ''}`;

export class Stops {
  /** <shown> gives what the lane has drawn: { x0, x1, item }; <pick> is called with an item. */
  constructor(plot, title, shown, pick) {
    Object.assign(this, { shown, pick, at: 0, options: [] });
    this.box = make('div', { className: 'stops', id: `stops-${title.toLowerCase().replaceAll(' ', '-')}`, role: 'listbox', ariaLabel: `${title}, arrows go from one to the next` });
    this.box.addEventListener('focus', () => this.enter());
    this.box.addEventListener('blur', () => this.clear());
    this.box.addEventListener('keydown', event => this.key(event));
    plot.append(this.box);
  }

  /** The lane was drawn anew. */
  follow() {
    const any = this.shown().length > 0;
    this.box.hidden = !any;
    if (any) this.box.tabIndex = 0;
    if (any && document.activeElement === this.box) this.enter();
  }

  enter() {
    const items = [...this.shown()].sort((a, b) => a.item.from - b.item.from).slice(0, most);
    const before = this.items?.[this.at]?.item.id;
    this.items = items;
    this.at = Math.max(0, items.findIndex(i => i.item.id === before));
    this.options = items.map(({ x0, x1, item }, i) => {
      const option = make('div', { id: `${this.box.id}-${i}`, role: 'option', textContent: said(item) });
      option.style.left = `${x0}px`;
      option.style.width = `${Math.max(6, x1 - x0)}px`;
      return option;
    });
    this.box.replaceChildren(...this.options);
    this.mark();
  }

  mark() {
    this.options.forEach((option, i) => option.setAttribute('aria-selected', String(i === this.at)));
    if (this.options[this.at]) this.box.setAttribute('aria-activedescendant', this.options[this.at].id);
  }

  clear() {
    this.box.removeAttribute('aria-activedescendant');
    this.box.replaceChildren();
    this.options = [];
  }

  key(event) {
    if (event.altKey || event.metaKey || event.ctrlKey) return;
    const last = this.options.length - 1;
    const to = { ArrowRight: this.at + 1, ArrowDown: this.at + 1, ArrowLeft: this.at - 1, ArrowUp: this.at - 1, Home: 0, End: last }[event.key];
    if (to === undefined && event.key !== 'Enter') return;
    event.preventDefault();
    if (event.key === 'Enter') return this.items[this.at] && this.pick(this.items[this.at].item);
    this.at = Math.min(last, Math.max(0, to));
    this.mark();
  }
}
