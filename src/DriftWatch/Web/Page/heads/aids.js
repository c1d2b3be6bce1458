// The row of aids: one is open at a time, named in the address.

import * as api from '../api.js';
import { at, make } from '../dom.js';
import { address } from '../page.js';
import { Aid } from './aid.js';
import { aids } from './definitions.js';

export class Aids {
  constructor(timing) {
    this.timing = timing;
    this.tabs = aids.map(aid => {
      const tab = make('button', { type: 'button', id: `tab-${aid.id}`, textContent: aid.name, attributes: { role: 'tab', 'aria-controls': 'aid' } });
      tab.addEventListener('click', () => this.open(aid.id));
      return tab;
    });
    at('aids-tabs').replaceChildren(...this.tabs);
    at('aids-tabs').addEventListener('keydown', event => this.move(event));
    this.chosen = aids.find(a => a.id === new URLSearchParams(location.search).get('aid'))?.id ?? aids[0].id;
  }

  async bench(model, follower) {
    Object.assign(this, { model, follower });
    this.cautions ??= await api.measurements().then(a => new Map(a.items.map(i => [i.id, i.caution])), problem => this.untold(problem));
    if (model === this.model) this.open(this.chosen, false);
  }

  untold(problem) {
    at('aid').textContent = problem.message;
    return undefined;
  }

  /** Arrow keys go from aid to aid, as in every list of tabs. */
  move(event) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const here = this.tabs.indexOf(document.activeElement);
    const next = event.key === 'Home' ? 0 : event.key === 'End' ? this.tabs.length - 1 : step && here >= 0 ? (here + step + this.tabs.length) % this.tabs.length : -1;
    if (next < 0 || next === undefined) return;
    event.preventDefault();
    this.tabs[next].focus();
    this.open(aids[next].id);
  }

  open(id, keep = true) {
    if (!this.model || !this.cautions) return;
    this.chosen = id;
    if (keep) history.replaceState(null, '', address({ aid: id }));
    this.tabs.forEach((tab, i) => {
      tab.setAttribute('aria-selected', String(aids[i].id === id));
      tab.tabIndex = aids[i].id === id ? 0 : -1;
    });
    at('aid').setAttribute('aria-labelledby', `tab-${id}`);
    this.aid = new Aid(aids.find(a => a.id === id), this, this.cautions.get(id));
  }

  beat() {
    this.aid?.beat();
  }

  draw() {
    this.aid?.plot.draw();
  }
}
