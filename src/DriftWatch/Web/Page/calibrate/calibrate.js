// 'Calibrate', below 'Bench': the reference, points up and down with the input read live, what they come to, and its entry. What
// was written down is kept in this browser until it is entered, so that a power cut or a closed page costs nothing.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { newId } from '../entry-id.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as who from '../who.js';
import * as history from './history.js';
import { Input } from './input.js';
import { Points } from './points.js';
import * as result from './result.js';

const fields = [
  ['name', 'Reference', 'text'], ['serial', 'Its serial number', 'text'], ['certificate', 'Its certificate', 'text'], ['unit', 'Its unit', 'text'],
  ['uncertainty', 'Its expanded uncertainty', 'number'], ['coverage', 'k of that', 'number'], ['step', 'Least step it shows', 'number'],
  ['tolerance', 'Greatest error accepted', 'number'], ['resolution', 'Least step of the input', 'number'], ['months', 'Due again after, months', 'number'],
  ['conditions', 'Where, and how warm', 'text'], ['up', 'Points going up, with blanks between', 'text'],
];
const waitMs = 250;
const airCaution = 'Compressed air can injure and a receiver holds enough of it to kill. Stop the wheel before its air is shut off; relieve the pressure before anything is opened; eye protection on.';
const otherCaution = 'Mains, compressed air and the wheel do not care what this page says: switch off, vent and lock before you touch an instrument or its wiring.';
const pressures = ['psi', 'bar', 'mbar', 'Pa', 'hPa', 'kPa', 'inH2O', 'inHg', 'mmHg'];

let model = null, channel = null, sheet = {}, trying = null, timer = null;
const input = new Input(() => number(sheet.resolution) || 0);
const points = new Points(input, () => changed());
const past = new Polled(at('what'), 15_000, api.calibrations, answer => history.show(answer, model, channel));
const live = new Polled(at('points'), 500, api.channels, answer => {
  input.take(answer.items.find(c => c.id === channel?.id), channel);
  points.look();
});
at('points').prepend(make('p', { className: 'from', attributes: { role: 'status' } }));
const follower = new Follower({ loaded: begin });

function begin(loaded) {
  model = loaded;
  const series = model.channels.map(c => c.definition).filter(d => d.kind !== 'frame');
  at('channel').replaceChildren(...series.map(d => new Option(d.label, d.id)));
  const wanted = new URLSearchParams(location.search).get('channel');
  choose(series.find(d => d.id === wanted) ?? series[0]);
  past.begin(model);
  live.begin(model);
}

function choose(definition) {
  channel = definition;
  if (!channel) return;
  at('channel').value = channel.id;
  at('back').href = `bench.html?${new URLSearchParams({ bench: model.bench.id })}`;
  say(at('careful'), `Caution: ${pressures.includes(channel.unit) ? airCaution : otherCaution} DriftWatch is no safety interlock and drives nothing on the machine.`);
  const before = kept();
  sheet = before ?? { unit: channel.unit, coverage: '2', up: '', taken: [] };
  input.begin(channel);
  buildFields();
  points.begin(channel, sheet);
  past.again();
  if (before) changed();
  else asLastTime(channel);
}

/** Nobody writes down twice what stood on the last sheet. */
async function asLastTime(definition) {
  try {
    const { items } = await api.calibrations(model.bench.id);
    const last = items.find(r => r.channel === definition.id && r.inForce && r.id);
    if (!last || definition !== channel || sheet.name) return;
    const { reference, tolerance, resolution, intervalMonths, points: made } = await api.calibration(model.bench.id, last.id);
    if (definition !== channel || sheet.name) return;
    const text = value => (value === null ? '' : String(value));
    sheet = {
      ...sheet, name: reference.name, serial: text(reference.serial), certificate: text(reference.certificate), unit: reference.unit, uncertainty: text(reference.uncertainty),
      coverage: text(reference.coverage), step: text(reference.resolution), tolerance: text(tolerance), resolution: text(resolution), months: text(intervalMonths),
      up: reference.unit === channel.unit ? [...new Set(made.filter(p => p.direction === 'up').map(p => p.nominal))].join(' ') : '',
    };
    buildFields();
    points.begin(channel, sheet);
  } catch (problem) {
    console.warn(`The last sheet can't be read: ${problem.message}`); // it is written anew then
  }
}

const keyOf = () => `driftwatch.calibrate.${model.bench.id}.${channel.id}`;

function kept() {
  try {
    return JSON.parse(localStorage.getItem(keyOf()) ?? 'null');
  } catch {
    return null; // what can't be read is begun anew
  }
}

function buildFields() {
  at('fields').replaceChildren(...fields.map(([id, label, kind]) => {
    const unit = id === 'tolerance' ? `, ${channel.unit}` : id === 'resolution' ? `, ${channel.calibration.rawUnit}` : '';
    const field = make('input', { id: `field-${id}`, value: sheet[id] ?? '', autocomplete: 'off', ...(kind === 'number' ? { inputMode: 'decimal' } : {}) });
    field.addEventListener('input', () => {
      sheet[id] = field.value;
      if (id === 'up') points.begin(channel, sheet);
      changed();
    });
    return make('p', { data: { field: id } }, make('label', { htmlFor: field.id, textContent: label + unit }), field);
  }));
}

function number(text) {
  return (text === undefined || String(text).trim() === '' ? undefined : Number(String(text).replace(',', '.')));
}

/** As the API takes it; what is empty is left out. */
function asked() {
  return {
    reference: {
      name: sheet.name || undefined, serial: sheet.serial || undefined, certificate: sheet.certificate || undefined, unit: sheet.unit || undefined,
      uncertainty: number(sheet.uncertainty), coverage: number(sheet.coverage), resolution: number(sheet.step),
    },
    tolerance: number(sheet.tolerance), resolution: number(sheet.resolution), intervalMonths: number(sheet.months), conditions: sheet.conditions || undefined,
    points: points.asked(),
  };
}

/** The same calibration keeps its id, so that one that is sent again after a lost answer is entered once. */
function withId(fields) {
  const text = JSON.stringify(fields);
  if (sheet.sent?.text !== text) sheet.sent = { id: newId(), text };
  localStorage.setItem(keyOf(), JSON.stringify(sheet));
  return { id: sheet.sent.id, ...fields };
}

/** After every change what was written is kept, and tried as soon as there are points enough. */
function changed() {
  localStorage.setItem(keyOf(), JSON.stringify(sheet));
  clearTimeout(timer);
  timer = setTimeout(tryIt, waitMs);
}

async function tryIt() {
  trying?.abort();
  const body = { sheet: asked() };
  at('do-enter').disabled = true;
  if (body.sheet.points.length < 3) return result.wait(3 - body.sheet.points.length);
  const mine = trying = new AbortController();
  try {
    const document = await api.tryCalibration(model.bench.id, channel.id, body, mine.signal);
    if (mine !== trying) return;
    result.show(document);
    at('do-enter').disabled = !points.isWhole();
  } catch (problem) {
    if (problem.name !== 'AbortError' && mine === trying) result.refuse(problem.message);
  }
}

at('channel').addEventListener('change', () => {
  window.history.replaceState(null, '', page.address({ channel: at('channel').value }));
  choose(model.channels.map(c => c.definition).find(d => d.id === at('channel').value));
});
at('clear').addEventListener('click', () => {
  sheet.taken = [];
  points.begin(channel, sheet);
  changed();
});
at('enter-form').addEventListener('submit', async event => {
  event.preventDefault();
  const by = who.provedName() ? undefined : at('by').value.trim();
  const from = at('apply-from').value.trim() || undefined;
  at('do-enter').disabled = true;
  try {
    const { document } = await api.calibrate(model.bench.id, channel.id, withId({ by, applyFrom: from, sheet: asked() }));
    at('entered').replaceChildren(`● Entered as version ${document.version}; due again ${document.due}. `, ...history.papers(model.bench.id, document.id, document.version));
    sheet.taken = [];
    delete sheet.sent;
    points.begin(channel, sheet);
    changed();
    past.now();
  } catch (problem) {
    say(at('entered'), `✕ Not entered. ${problem.message}`);
    at('do-enter').disabled = false;
  }
});

page.begin(id => {
  at('by').value = acts.signer();
  at('by-box').hidden = who.provedName() !== null;
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
