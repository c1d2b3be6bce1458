// The page by keyboard alone. One letter goes where the eye wants to; '?' shows them all, and there they can be turned off, for
// people whose words or tremor press keys that were not meant (WCAG 2.2, criterion 2.1.4).

import { at, make } from './dom.js';

const key = 'driftwatch.keys';
const isOn = () => localStorage.getItem(key) !== 'off';

const focus = node => {
  node?.scrollIntoView({ block: 'center' });
  node?.focus();
};

const firstIn = id => at(id).querySelector('button, summary, a');

/** The channel before or after the one that has the focus, in the order in which they stand. */
function step(by) {
  const all = [...document.querySelectorAll('.strip h3 .about')];
  const here = all.findIndex(b => b.closest('.strip').contains(document.activeElement));
  focus(all[here < 0 ? (by > 0 ? 0 : all.length - 1) : Math.min(all.length - 1, Math.max(0, here + by))]);
}

const deeds = [
  ['?', 'These keys', open],
  ['w', 'Worst first, and back to the way of air and tape', () => at('order').click()],
  ['a', 'To the first alarm', () => focus(firstIn('alarms') ?? at('sound'))],
  ['d', 'To what drifts', () => focus(firstIn('drifts') ?? at('drifts-title'))],
  ['f', 'To the first finding', () => focus(firstIn('open') ?? firstIn('recent-box'))],
  ['c', 'To the first channel', () => focus(document.querySelector('.strip h3 .about'))],
  ['n', 'To the next channel; Enter says what its number means', () => step(1)],
  ['p', 'To the channel before', () => step(-1)],
  ['m', 'Mark this moment', () => at('act-mark').click()],
  ['b', 'Take a baseline', () => at('act-baseline').click()],
  ['s', 'Sound on or off', () => at('sound').click()],
  ['u', 'Units', () => at('units-open').click()],
];

function dialog() {
  const close = make('button', { type: 'button', textContent: 'Close' });
  const choice = make('input', { type: 'checkbox', id: 'keys-on', checked: isOn() });
  choice.addEventListener('change', () => localStorage.setItem(key, choice.checked ? 'on' : 'off'));
  const list = make('dl', { className: 'keys' }, ...deeds.map(([letter, does]) => make('div', {}, make('dt', {}, make('kbd', { textContent: letter })), make('dd', { textContent: does }))),
    make('div', {}, make('dt', {}, make('kbd', { textContent: 'Esc' })), make('dd', { textContent: 'Closes what is open over the page' })));
  const made = make('dialog', { id: 'keys', className: 'wide', attributes: { 'aria-labelledby': 'keys-title' } },
    make('div', { className: 'top' }, make('h2', { id: 'keys-title', textContent: 'Keys' }), close),
    list, make('p', {}, make('label', {}, choice, ' Letters work without Ctrl or Alt; the question mark always does')));
  close.addEventListener('click', () => made.close());
  return made;
}

function open() {
  at('keys')?.remove();
  const made = dialog();
  document.body.append(made);
  made.showModal();
}

export function setUp() {
  at('keys-open').addEventListener('click', open);
  document.addEventListener('keydown', event => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    if (document.querySelector('dialog[open]') || event.target.closest('input, textarea, select')) return;
    const deed = deeds.find(([letter]) => letter === event.key);
    if (!deed || (!isOn() && event.key !== '?')) return;
    event.preventDefault();
    deed[2]();
  });
}
