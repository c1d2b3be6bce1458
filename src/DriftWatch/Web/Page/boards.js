// What is read from three metres away with a tape running: the air, the vacuum, the four heads and the geometry. A name, a number,
// how much of the tolerance is used and which way it goes; where there is no good reading, that in place of the number.

import { at, make } from './dom.js';
import { UseBar } from './use-bar.js';
import { numberOf, unitOf } from './words.js';

/** What of the head's place in the machine shows as timing; the one that stands worst stands for all, by its name. */
const geometry = { skew: 'Skew', scallop: 'Scallop', 'head-step': 'Head step' };

const setText = (node, text) => {
  if (node.textContent !== text) node.textContent = text;
};

function boardsOf(model) {
  const of = role => model.channels.filter(c => c.definition.role === role);
  const named = (list, name) => list.map((c, i) => [list.length > 1 ? `${name} ${i + 1}` : name, () => c]);
  const heads = of('rf-level').filter(c => c.definition.head !== null).sort((a, b) => a.definition.head - b.definition.head);
  const timing = model.quantities.filter(q => q.definition.quantity in geometry);
  return [
    ...named(of('regulated-air'), 'Air'),
    ...named(of('guide-vacuum'), 'Vacuum'),
    ...heads.map(c => [`Head ${c.definition.head}`, () => c]),
    ...(timing.length > 0 ? [['Geometry', worstOf(model, timing), c => geometry[c.definition.quantity]]] : []),
  ];
}

/** What is shown of several changes only for what is worse by so much of the tolerance: a name that flips can't be read. */
const lead = 0.1;

/** Gravest first; what can't be told hides neither behind what is good nor before what is in alarm. */
const gravity = { alarm: 4, fault: 3, stale: 3, waiting: 3, advisory: 2, untold: 1 };

function worstOf(model, channels) {
  let shown = channels[0];
  const grave = c => gravity[model.standing(c).mood] ?? 0;
  const share = c => (model.isTrusted(c.definition.id) ? model.useOf(c)?.share ?? 0 : 0);
  return () => {
    for (const c of channels) {
      if (grave(c) > grave(shown) || (grave(c) === grave(shown) && share(c) > share(shown) + lead)) shown = c;
    }
    return shown;
  };
}

class Board {
  constructor(model, name, pick, open, nameOf = null) {
    this.model = model;
    this.pick = pick;
    this.nameOf = nameOf;
    this.title = make('button', { type: 'button', className: 'about', textContent: name, title: 'What this number means' });
    this.title.addEventListener('click', () => open(pick().definition.id, pick().definition.label));
    this.number = make('span', { className: 'number', textContent: '—' });
    this.unit = make('span', { className: 'unit' });
    this.which = make('p', { className: 'which' });
    this.words = make('p', { className: 'words' });
    this.bar = new UseBar();
    this.root = make('li', { className: 'board', data: { mood: 'waiting', board: name } },
      make('h3', {}, this.title), make('p', { className: 'big' }, this.number, ' ', this.unit), this.bar.root, this.words, this.which);
  }

  show() {
    const channel = this.pick(), { definition } = channel;
    const { mood, words } = this.model.standing(channel);
    const good = this.model.isTrusted(definition.id);
    if (this.nameOf) setText(this.title, this.nameOf(channel));
    this.root.dataset.mood = mood;
    this.root.dataset.channel = definition.id;
    setText(this.number, good ? numberOf(channel.now.value, definition) : '—');
    setText(this.unit, good ? unitOf(definition) : '');
    this.bar.show(good ? this.model.useOf(channel) : null, good ? this.model.movesOf(channel) : null);
    setText(this.words, ['steady', 'advisory', 'alarm'].includes(mood) && good ? (mood === 'steady' ? '' : words) : shortly[mood] ?? words);
    setText(this.which, good ? definition.label : words);
  }
}

/** What fits under a number's name across the room; the whole sentence stands below it. */
const shortly = { stale: 'No data', fault: 'Fault', waiting: 'No reading yet', untold: 'Can’t be told' };

export class Boards {
  constructor(model, open) {
    this.all = boardsOf(model).map(([name, pick, nameOf]) => new Board(model, name, pick, open, nameOf));
    at('boards').replaceChildren(...this.all.map(b => b.root));
    at('boards').hidden = this.all.length === 0;
    at('boards').style.setProperty('--boards', this.all.length);
  }

  show() {
    this.all.forEach(b => b.show());
  }
}
