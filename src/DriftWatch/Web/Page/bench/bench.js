// 'Bench': how every instrument does, what each channel reads and means now, and whether what comes is stored and told.

import * as api from '../api.js';
import { at } from '../dom.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as units from '../units.js';
import * as channels from './channels.js';
import * as instruments from './instruments.js';
import * as mirrors from './mirrors.js';
import * as store from './store.js';

const both = async id => {
  const [kept, health] = await Promise.all([api.store(id), api.health(id)]);
  return { kept, health };
};
const parts = [
  new Polled(at('channels'), 1000, api.channels, channels.show),
  new Polled(at('instruments'), 2000, api.instruments, instruments.show),
  new Polled(at('kept'), 5000, both, store.show),
  new Polled(at('routes'), 5000, api.notices, store.showRoutes),
  new Polled(at('mirrors'), 5000, api.mirrors, mirrors.show),
];
const follower = new Follower({
  loaded(model) {
    at('maintenance').href = `maintenance.html?${new URLSearchParams({ bench: model.bench.id })}`;
    at('site').href = `site.html?${new URLSearchParams({ bench: model.bench.id })}`;
    channels.begin(model);
    instruments.begin();
    store.begin();
    mirrors.begin();
    parts.forEach(part => part.begin(model));
  },
  link: () => parts[1].now(), // a line that went down is not left standing for two seconds
});

units.onChange(() => parts.forEach(part => part.again()));

page.begin(id => {
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
