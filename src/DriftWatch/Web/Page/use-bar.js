// The beam: home in the middle, the low limit at its left end, the high one at its right. What is used grows from the middle to
// the side where the value lies; beyond the limit it stands out over the end. The words beside it say the same.

import { make } from './dom.js';
import { arrows } from './tolerance.js';

const reach = 1.2; // of the way to a limit that a half of the beam shows

const place = share => `${50 + 50 * share / reach}%`;

const setText = (node, text) => {
  if (node.textContent !== text) node.textContent = text; // leave the DOM alone where nothing changed
};

export class UseBar {
  constructor() {
    this.spent = make('i', { className: 'spent' });
    this.beam = make('div', { className: 'beam', attributes: { 'aria-hidden': 'true' } },
      make('i', { className: 'end low' }), make('i', { className: 'end high' }), make('i', { className: 'home' }), this.spent);
    this.said = make('p', { className: 'used' });
    this.root = make('div', { className: 'use' }, this.beam, this.said);
    this.beam.querySelector('.low').style.left = place(-1);
    this.beam.querySelector('.high').style.left = place(1);
  }

  /** @param use What {@link useOf} told, or null where the value can't be trusted. @param moves What {@link movesOf} told. */
  show(use, moves) {
    const told = use !== null && use.share !== undefined;
    this.root.dataset.told = String(told);
    this.root.dataset.beyond = String(told && use.share >= 1);
    this.beam.dataset.low = String(told && use.hasLow);
    this.beam.dataset.high = String(told && use.hasHigh);
    setText(this.said, useWords(use, moves));
    if (!told) return;
    const end = Math.min(reach, Math.max(0, use.share)) * (use.side === 'low' ? -1 : 1);
    this.spent.style.left = place(Math.min(0, end));
    this.spent.style.width = `${50 * Math.abs(end) / reach}%`;
  }
}

/** Less than half a percent is none; what is beyond the limit is said so first. */
export function useWords(use, moves) {
  const way = moves ? `${moves} ${arrows[moves]}` : '';
  if (use === null) return '';
  if (use.share === undefined) return [use.untold, way].filter(Boolean).join(', ');
  const percent = Math.round(100 * Math.max(0, use.share));
  const used = use.share >= 1 ? `beyond its limit, ${percent} %` : percent === 0 ? 'none used' : `${percent} % used, ${use.side === 'low' ? 'low' : 'high'}`;
  return way ? `${used}, ${way}` : used;
}
