// The choice of units, on every page that has a list of pages.

import * as units from './units.js';

const dialogId = 'units';

function make(tag, parts = {}, ...children) {
  const made = Object.assign(document.createElement(tag), parts);
  made.append(...children);
  return made;
}

function row({ id, label, units: members }) {
  const select = make('select', { id: `units-${id}` }, new Option('as the bench has it', ''));
  select.append(...Object.keys(members).map(unit => new Option(units.plainSign(unit), unit)));
  select.value = units.choice(id) ?? '';
  select.addEventListener('change', () => units.choose(id, select.value || undefined));
  return make('p', {}, make('label', { htmlFor: select.id, textContent: label }), select);
}

function dialog() {
  const close = make('button', { type: 'button', textContent: 'Close' });
  const made = make('dialog', { id: dialogId },
    make('div', { className: 'top' }, make('h2', { id: 'units-title', textContent: 'Units' }), close),
    make('p', { textContent: 'Only what this browser shows changes, on all of these pages; numbers in the sentences of findings and alarms too, but for temperatures. '
      + 'What is stored, recorded and judged, and what programs ask for, stays in the bench’s own units.' }),
    ...units.kinds.map(row));
  made.setAttribute('aria-labelledby', 'units-title');
  close.addEventListener('click', () => made.close());
  return made;
}

export function open() {
  let choice = document.getElementById(dialogId);
  if (choice?.open) return;
  choice?.remove(); // made anew: another page may have chosen meanwhile
  choice = dialog();
  document.body.append(choice);
  choice.showModal();
}

/** What opens the choice; it stands behind the list of pages. */
export function button() {
  const made = make('button', { type: 'button', id: 'units-open', className: 'plain', textContent: 'Units' });
  made.addEventListener('click', open);
  return made;
}
