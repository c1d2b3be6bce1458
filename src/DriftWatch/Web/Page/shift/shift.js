// 'Shift': what who takes over has to know, as it stands now, on one sheet that prints; notes of the shift, and its hand-over
// signed. All by keyboard: 'n' goes to the note, Enter writes it down.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { newId } from '../entry-id.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as units from '../units.js';
import * as who from '../who.js';
import * as sheet from './sheet.js';

const hourMs = 3_600_000;
const everyMs = 15_000;
let model = null, sent = {};
let hours = Number(new URLSearchParams(location.search).get('hours')) || 12;

const polled = new Polled(at('sheet'), everyMs, id => api.handover(id, model.utcNow - hours * hourMs), show);
const follower = new Follower({
  loaded(loaded) {
    model = loaded;
    at('parts').replaceChildren();
    polled.begin(loaded);
  },
  state: () => polled.now(),
});

function show(answer) {
  sheet.show(answer);
  const passes = answer.passes.filter(p => ['preparing', 'ready', 'running'].includes(p.stage));
  const choice = at('note-of'), key = passes.map(p => p.pass).join();
  if (choice.dataset.key === key) return; // what a person chose stays
  choice.dataset.key = key;
  choice.replaceChildren(...passes.map(p => new Option(`${p.tape}, pass ${p.number}`, p.pass)), new Option('the shift', ''));
}

/** The id of an act; the same again for one that is sent again, so that after a lost answer it is entered once. */
function idOf(act) {
  const key = JSON.stringify(act);
  if (sent.key !== key) sent = { key, id: newId() };
  return sent.id;
}

/** Enters it under the name that is signed in or written here; what it says stands beside the form. */
async function enter(said, body, done) {
  const by = who.provedName() ? undefined : at('by').value.trim();
  if (by === '') {
    say(said, '✕ Write who you are first.');
    at('by').focus();
    return false;
  }
  try {
    await api.enter(model.bench.id, { id: idOf({ by, ...body }), by, ...body });
    sent = {};
    acts.keepName(by);
    say(said, done);
    polled.now();
    return true;
  } catch (problem) {
    say(said, `✕ Not entered. ${problem.message}`);
    return false;
  }
}

at('note-form').addEventListener('submit', async event => {
  event.preventDefault();
  const note = at('note').value.trim(), pass = at('note-of').value;
  const place = pass ? { transfer: polled.answer.passes.find(p => p.pass === pass).transfer, pass } : { shift: true };
  if (await enter(at('noted'), { kind: 'note', note, ...place }, `● Written down: ${note}`)) {
    at('note').value = '';
    at('note').focus();
  }
});

at('over-form').addEventListener('submit', async event => {
  event.preventDefault();
  const to = at('to').value.trim(), note = at('last').value.trim() || undefined;
  if (await enter(at('handed'), { kind: 'shift-handed-over', to, note }, `● Handed over to ${to}.`)) at('to').value = at('last').value = '';
});

at('hours').value = String(hours);
if (!at('hours').value) at('hours').value = String(hours = 12);
at('hours').addEventListener('change', () => {
  hours = Number(at('hours').value);
  history.replaceState(null, '', page.address({ hours }));
  polled.now();
});
at('print').addEventListener('click', () => print());
document.addEventListener('keydown', event => {
  if (event.key !== 'n' || event.ctrlKey || event.altKey || event.metaKey || event.target.closest('input, select, textarea')) return;
  event.preventDefault();
  at('note').focus();
});
units.onChange(() => polled.again());

page.begin(id => {
  at('by').value = acts.signer();
  at('by-box').hidden = who.provedName() !== null;
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
