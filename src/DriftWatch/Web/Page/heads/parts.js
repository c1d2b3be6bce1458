// The words of a measurement as they come from the service, which are those of the command line.

import { make } from '../dom.js';
import * as words from '../words.js';

const sentence = text => words.minus(text).replace(/^[a-z]/, letter => letter.toUpperCase());

function table({ columns, rows }) {
  return make('div', { className: 'scrolled', tabIndex: 0, role: 'group', ariaLabel: 'Figures' }, make('table', {},
    columns.some(Boolean) ? make('thead', {}, make('tr', {}, ...columns.map(c => (c ? make('th', { scope: 'col', textContent: c }) : make('td'))))) : null,
    make('tbody', {}, ...rows.map(row => make('tr', {}, ...row.map((cell, i) =>
      (i === 0 ? make('th', { scope: 'row', textContent: cell }) : make('td', { textContent: words.minus(cell) }))))))));
}

function list(lines) {
  return make('ul', {}, ...lines.map(line => make('li', { textContent: sentence(line) })));
}

const text = lines => lines.map(line => make('p', { textContent: sentence(line.trim()) }));

/** All parts but the sentence that stands above them already. */
export function partsOf(answer) {
  const shown = [];
  shown.push(...text(answer.opening));
  for (const part of answer.parts) {
    if (part.title) shown.push(make('h4', { textContent: part.title.replace(/:$/, '') }));
    if (part.layout === 'table' || part.layout === 'figures') shown.push(table(part));
    else if (part.layout === 'list') shown.push(list(part.lines));
    else shown.push(...text(part.lines.filter(line => line !== answer.headline)));
  }
  return shown;
}
