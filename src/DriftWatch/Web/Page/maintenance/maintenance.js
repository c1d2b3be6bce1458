// 'Maintenance', below 'Bench': head hours and wear, air, compressor, geometry, calibrations and alarms over weeks and months.

import * as api from '../api.js';
import { at, make } from '../dom.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import { readPalette } from '../heads/palette.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as units from '../units.js';
import * as parts from './parts.js';

const dayMs = 86_400_000;
let model = null;
let days = Number(new URLSearchParams(location.search).get('days')) || 31;

const polled = new Polled(at('record'), 120_000, id => api.maintenance(id, model.utcNow - days * dayMs), answer => {
  readPalette();
  at('parts').replaceChildren(make('p', { className: 'back' }, make('a', { href: `bench.html?bench=${model.bench.id}`, textContent: 'Bench' }), ' › Maintenance'), ...parts.all(answer));
  parts.draw();
});
const follower = new Follower({
  loaded(loaded) {
    model = loaded;
    at('parts').replaceChildren();
    polled.begin(loaded);
  },
});

at('days').value = String(days);
if (!at('days').value) at('days').value = String(days = 31);
at('days').addEventListener('change', () => {
  days = Number(at('days').value);
  history.replaceState(null, '', page.address({ days }));
  polled.now();
});
units.onChange(() => polled.again());
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => polled.again());

page.begin(id => {
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
