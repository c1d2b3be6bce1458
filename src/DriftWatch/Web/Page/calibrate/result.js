// What the points come to so far: the verdicts, the errors drawn, the budget.

import { at, make, say } from '../dom.js';
import { conformity, signed } from './history.js';

const svgns = 'http://www.w3.org/2000/svg';
const height = 220, left = 62, right = 12, top = 12, bottom = 26;

export function wait(missing) {
  at('wrong').hidden = true;
  at('shown').replaceChildren(make('p', { textContent: `${missing} more ${missing === 1 ? 'point' : 'points'} until a line can be told.` }));
}

export function refuse(text) {
  say(at('wrong'), text);
  at('wrong').hidden = false;
  at('shown').replaceChildren();
}

export function show(d) {
  at('wrong').hidden = true;
  at('shown').replaceChildren(
    make('div', { className: 'verdicts' }, verdict('As found', d.asFound, d), verdict('As left', d.asLeft, d)),
    drawn(d),
    make('p', { className: 'key', textContent: `Error in ${d.unit} over the reference in ${d.unit}. Hollow: as found; filled: as left; triangles point the way the reference went${d.tolerance === null ? '' : '; dashed: tolerance'}.` }),
    budget(d),
    make('p', { textContent: drift(d) }),
    make('p', { textContent: d.hysteresis ? `Hysteresis: ${signed(d.hysteresis.largest, d.unit)} at most.` : `Hysteresis: ${d.hysteresisMissing}.` }),
    make('p', { className: 'small', textContent: d.statement }));
}

function verdict(name, error, d) {
  return make('div', { className: 'verdict', data: { conformity: error.conformity } },
    make('h3', { textContent: name }),
    make('p', { className: 'standing', textContent: d.tolerance === null ? conformity(error.conformity) : `${conformity(error.conformity)}${error.conformity === 'undecided' ? ': too near to' : ''} ±${d.tolerance} ${d.unit}` }),
    make('p', { textContent: `largest error ${signed(error.largest, d.unit)} at ${plain(error.at)} ${d.unit}, U = ${error.expanded.toPrecision(2)} ${d.unit} (k = 2)` }));
}

function drift(d) {
  const middle = d.drift.at[Math.floor(d.drift.at.length / 2)];
  return `Since version ${d.drift.sinceVersion}: ${signed(middle.difference, d.unit)} in the middle of the range${middle.perYear === null ? '' : `, ${signed(middle.perYear, d.unit)} a year`}, ${middle.isSignificant ? 'more' : 'no more'} than its uncertainty.`;
}

function budget(d) {
  const line = (source, type, u, basis) => make('tr', {}, make('th', { scope: 'row', textContent: source }), make('td', { textContent: type }), make('td', { textContent: u }), make('td', { className: 'basis', textContent: basis }));
  const digits = Math.max(0, Math.min(8, 2 - Math.floor(Math.log10(d.budget.expanded || 1))));
  return make('div', { className: 'scroll', tabIndex: 0, attributes: { role: 'region', 'aria-label': 'Uncertainty budget' } }, make('table', { className: 'budget' },
    make('caption', { textContent: `Uncertainty of one reading at ${plain(d.budget.value)} ${d.unit} (JCGM 100:2008)` }),
    make('thead', {}, make('tr', {}, ...['source', 'type', `u, ${d.unit}`, 'how'].map(text => make('th', { scope: 'col', textContent: text })))),
    make('tbody', {},
      ...d.budget.lines.map(l => line(l.source, l.type, l.uncertainty === null ? '—' : l.uncertainty.toFixed(digits), l.basis)),
      line('expanded, k = 2', '', d.budget.expanded.toFixed(digits), d.budget.freedom === null ? 'covers about 95 %' : `k = ${d.budget.factorFor95.toFixed(2)} would cover 95 %`))));
}

function drawn(d) {
  const width = matchMedia('(max-width: 760px)').matches ? 380 : 640; // letters keep their size on a phone
  const svg = part('svg', { viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': `Errors of ${d.points.length} points: as found at most ${signed(d.asFound.largest, d.unit)}, as left ${signed(d.asLeft.largest, d.unit)}` });
  const xs = d.points.map(p => p.reference);
  const most = 1.15 * Math.max(...d.points.map(p => Math.max(Math.abs(p.asFound), Math.abs(p.asLeft))), d.asLeft.expanded, d.tolerance ?? 0) || 1;
  const least = Math.min(...xs), span = Math.max(...xs) - least || 1;
  const x = v => left + (width - left - right) * (0.04 + 0.92 * (v - least) / span);
  const y = e => top + (height - top - bottom) * (0.5 - e / (2 * most));
  const rule = (e, name) => svg.append(part('line', { class: name, x1: left, x2: width - right, y1: y(e), y2: y(e) }));
  rule(0, 'zero');
  for (const sign of d.tolerance === null ? [] : [-1, 1]) rule(sign * d.tolerance, 'tolerance');
  for (const e of [-most / 1.15, 0, most / 1.15]) svg.append(part('text', { x: left - 6, y: y(e) + 4, 'text-anchor': 'end' }, signed(e, '').trim()));
  for (const v of [...new Set(xs.map(v => Math.round(v * 1e6) / 1e6))].filter((v, i, all) => all.findIndex(o => Math.abs(x(o) - x(v)) < 46) === i)) svg.append(part('text', { x: x(v), y: height - 8, 'text-anchor': 'middle' }, plain(v)));
  for (const p of d.points) {
    svg.append(part('path', { class: 'found', d: triangle(x(p.reference), y(p.asFound), p.direction) }));
    svg.append(part('path', { class: 'left', d: triangle(x(p.reference), y(p.asLeft), p.direction) }));
  }
  return svg;
}

function triangle(x, y, direction) {
  const sign = direction === 'up' ? 1 : -1;
  return `M${x} ${y - sign * 5}L${x + 4.5} ${y + sign * 4}L${x - 4.5} ${y + sign * 4}Z`;
}

function part(name, attributes, text) {
  const made = document.createElementNS(svgns, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

const plain = value => String(Number(value.toPrecision(6)));
