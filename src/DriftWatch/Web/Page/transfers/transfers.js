// 'Transfers': tapes and their transfers, and one pass of one at a time, from the pre-flight to its documents. What stands in the book
// comes from the service alone; the address names transfer and pass, so that a link opens the same.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at } from '../dom.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import { List, address } from './list.js';
import { PassView } from './pass.js';
import * as ran from './ran.js';
import * as when from './when.js';

const bookMs = 3000, passMs = 2000;

const view = new PassView({ again: afresh, open });
const list = new List(open, () => bookPolled.now());
const bookPolled = new Polled(at('book'), bookMs, async id => {
  const [transfers, tapes] = await Promise.all([api.transfers(id), api.tapes(id)]);
  return { transfers, tapes };
}, (answer, model) => list.show(answer, model));
const passPolled = new Polled(at('pass'), passMs, id => api.transfer(id, wanted().transfer), (answer, model) => {
  if (answer.id === wanted().transfer) view.show(answer, wanted().pass, model);
});
const follower = new Follower({
  loaded(model) {
    list.begin(model.bench.id);
    view.begin(model);
    go(model);
  },
  numbers: () => view.beat(),
  state() {
    if (follower.model && !at('runs').hidden) ran.now();
  },
  link: () => view.linked(follower.isUp),
});

/** Asks of the pass what was not asked before now, so that what was just entered stands in the answer. */
async function afresh() {
  while (passPolled.asking) await new Promise(resolve => setTimeout(resolve, 20));
  await passPolled.now();
}

/** What the address names; a number that is none means the newest pass. */
function wanted() {
  const asked = new URLSearchParams(location.search);
  return { transfer: asked.get('transfer'), pass: Number(asked.get('pass')) || null };
}

/** Shows what the address names. */
function go(model = follower.model) {
  const isPass = wanted().transfer !== null;
  at('book').hidden = at('runs').hidden = isPass;
  at('pass').hidden = !isPass;
  if (!model) return;
  if (isPass) {
    bookPolled.bench = null;
    ran.end();
    view.open(wanted().transfer);
    passPolled.begin(model);
  } else {
    passPolled.bench = null;
    view.close();
    bookPolled.begin(model);
    ran.begin(model);
  }
}

function open(transfer, pass) {
  history.pushState(null, '', transfer ? address(transfer, pass) : page.address({ transfer: undefined, pass: undefined }));
  go();
  scrollTo(0, 0);
  at(transfer ? 'pass' : 'book').focus({ preventScroll: true });
}

addEventListener('popstate', () => go());
when.begin();
at('act-name').addEventListener('click', acts.askName);
at('back').addEventListener('click', event => {
  event.preventDefault();
  open(null);
});

page.begin(id => {
  acts.showName();
  const other = follower.model && follower.model.bench.id !== id;
  if (other && wanted().transfer) history.replaceState(null, '', page.address({ transfer: undefined, pass: undefined })); // it is of the other bench
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
