// 'Heads and geometry': the timing record with its fit, RF of the heads side by side, and the aids for setting up.

import * as header from '../header.js';
import { Follower } from '../follow.js';
import * as page from '../page.js';
import * as units from '../units.js';
import { readPalette } from './palette.js';
import { Aids } from './aids.js';
import { Rf } from './rf.js';
import { Timing } from './timing.js';
import { at } from '../dom.js';

const rf = new Rf();
const timing = new Timing();
const aids = new Aids(timing);

const follower = new Follower({
  loaded(model) {
    timing.bench(model, follower);
    rf.bench(model, follower);
    aids.bench(model, follower);
  },
  numbers(changed) {
    rf.take(changed);
    if (changed.some(c => c.definition.id === timing.channel)) timing.newFrame();
  },
  quantities: told => timing.takeQuantities(told),
});

const drawTrends = () => {
  rf.drawTrends();
  timing.drawTrends();
};

readPalette();
for (const asked of ['(prefers-color-scheme: dark)', '(forced-colors: active)']) {
  matchMedia(asked).addEventListener('change', () => {
    readPalette();
    timing.draw();
    aids.draw();
    drawTrends();
  });
}
units.onChange(() => {
  timing.showAnswer();
  rf.showAgain();
  drawTrends();
});
setInterval(() => !document.hidden && drawTrends(), 2000); // a bucket of the trends
// Ten looks a second at what is live, but nothing is drawn that nobody sees.
setInterval(() => !document.hidden && aids.beat(), 100);
setInterval(() => {
  if (document.hidden) return;
  rf.beat();
  timing.beat();
}, 500);

page.begin(id => {
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
