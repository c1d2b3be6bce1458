// Which channels and derived quantities are shown, and which two channels are held against each other.

import { at } from '../dom.js';

const optionFor = ({ id, label }) => new Option(label, id);

function boxFor(definition, isOn) {
  const label = document.createElement('label');
  const box = document.createElement('input');
  box.type = 'checkbox';
  box.value = definition.id;
  box.checked = isOn;
  label.append(box, ' ', definition.label);
  return label;
}

/** <shown> holds the ids of those that are drawn; <chosen> is called with ids, or with null for all. */
export function lanes(channels, quantities, shown, chosen) {
  const host = at('channels');
  const all = [...channels, ...quantities];
  const derived = document.createElement('p');
  derived.className = 'of-derived';
  derived.textContent = 'Derived quantities';
  host.replaceChildren(host.querySelector('legend'), ...channels.map(c => boxFor(c, shown.has(c.id))),
    ...(quantities.length > 0 ? [derived] : []), ...quantities.map(q => boxFor(q, shown.has(q.id))));
  host.onchange = () => {
    const on = [...host.querySelectorAll('input:checked')].map(b => b.value);
    chosen(on.length === 0 || on.length === all.length ? null : on);
  };
}

export function pair(channels, asked) {
  for (const select of [at('first'), at('second')]) select.replaceChildren(...channels.map(optionFor));
  const ids = asked?.length === 2 ? asked : channels.slice(0, 2).map(c => c.id);
  [at('first').value, at('second').value] = ids;
}
