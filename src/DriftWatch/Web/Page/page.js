// What all pages have: their names with this one marked, and the bench, kept in the address so that a link opens the same.

import { chosen } from './ahead.js';
import * as api from './api.js';
import { at, make } from './dom.js';
import * as unitChoice from './unit-choice.js';
import * as wall from './wall.js';
import * as who from './who.js';

// In the order in which a day uses them; each page adds its own line.
const pages = [['./', 'Now'], ['night.html', 'Night'], ['transfers.html', 'Transfers'], ['shift.html', 'Shift'], ['heads.html', 'Heads and geometry'], ['bench.html', 'Bench']];

const below = { 'calibrate.html': 'bench.html', 'maintenance.html': 'bench.html', 'site.html': 'bench.html' }; // pages that are reached from another

const again = () => new Promise(resolve => setTimeout(resolve, 3000));

/** The page's own part of the address; what is undefined is left out of it. */
export function address(parts) {
  const asked = new URLSearchParams(location.search);
  for (const [key, value] of Object.entries(parts)) {
    if (value === undefined || value === null || value === '') asked.delete(key);
    else asked.set(key, value);
  }
  return `${location.pathname}?${asked}`;
}

/** Who speaks, of which bench, and the way to the other pages: first in the head. */
function buildHead() {
  at('head').prepend(make('div', { className: 'who' },
    make('h1', { textContent: 'DriftWatch' }),
    make('p', {}, make('label', { htmlFor: 'bench', className: 'unseen', textContent: 'Bench' }), make('select', { id: 'bench' }), ' ', make('span', { id: 'machine' })),
    make('nav', { id: 'pages', className: 'pages', ariaLabel: 'Pages' })));
}

const unitsButton = unitChoice.button();

function showPages(bench) {
  const here = location.pathname.replace(/index\.html$/, '');
  at('pages').replaceChildren(...pages.map(([file, name]) => {
    const link = document.createElement('a');
    const target = new URL(file, location.href);
    if (bench) target.searchParams.set('bench', bench);
    if (wall.isAsked()) target.searchParams.set('wall', '');
    link.href = target.pathname + target.search;
    link.textContent = name;
    if (target.pathname === here || below[here.slice(here.lastIndexOf('/') + 1)] === file) link.setAttribute('aria-current', 'page');
    return link;
  }), unitsButton);
}

async function benches(trouble) {
  while (true) {
    try {
      const { items } = await api.benches();
      trouble(null);
      return items;
    } catch (problem) {
      trouble(problem.message);
      await again();
    }
  }
}

/**
 * Fills the choice of benches and calls back with the id of the one that is shown, now and at each change; with null where
 * the service watches none. While the service can't be asked, says so and tries again for ever.
 */
export async function begin(show, trouble) {
  buildHead();
  showPages(new URLSearchParams(location.search).get('bench'));
  const [items] = await Promise.all([benches(trouble), who.look()]);
  const choice = at('bench');
  choice.replaceChildren(...items.map(b => new Option(b.label, b.id)));
  const first = chosen(items);
  if (!first) return show(null);
  choice.addEventListener('change', () => {
    history.pushState(null, '', address({ bench: choice.value }));
    showPages(choice.value);
    show(choice.value);
  });
  addEventListener('popstate', () => {
    const id = new URLSearchParams(location.search).get('bench') ?? items[0].id;
    if (id === choice.value || !items.some(b => b.id === id)) return;
    choice.value = id;
    showPages(id);
    show(id);
  });
  choice.value = first.id;
  showPages(first.id);
  return show(first.id);
}
