// Puts the page together: loads a bench, listens to it, and draws on a slow and a quick beat. Numbers move at most ten
// times a second, lines once, and nothing is drawn that nobody sees.

import * as acts from './acts.js';
import * as alarmHealth from './alarm-health.js';
import { Alarms, tagWords } from './alarms.js';
import * as api from './api.js';
import { Boards } from './boards.js';
import { linesReady, readPalette } from './chart.js';
import { Drifts } from './drifts.js';
import * as explain from './explain.js';
import * as few from './few.js';
import { Findings } from './findings.js';
import * as header from './header.js';
import { Live } from './live.js';
import { Model } from './model.js';
import * as keys from './keys.js';
import * as page from './page.js';
import * as routes from './routes.js';
import * as sound from './sound.js';
import { layOut, wayFirst, worstFirst } from './strip.js';
import * as units from './units.js';
import * as whatIf from './what-if.js';

const at = id => document.getElementById(id);
const heardUnstored = new Map(); // id of an alarm to the input up to which it was heard
let model, strips = [], byChannel = new Map(), boards, drifts, findings, alarms, live, isWorstFirst = false, lostSince = null, storeTrouble = null, loading = 0;

const seen = new IntersectionObserver(entries => {
  for (const entry of entries) {
    const strip = strips.find(s => s.root === entry.target);
    if (!strip) continue;
    strip.visible = entry.isIntersecting;
    if (strip.visible) strip.showLine();
  }
}, { rootMargin: '80px' });

/** Shows a bench; while the service can't be asked, says so and tries again for ever. */
async function load(id) {
  const turn = ++loading;
  while (turn === loading) {
    try {
      await show(id, turn);
      return;
    } catch (problem) {
      header.showTrouble(problem.message);
      await again();
    }
  }
}

const again = () => new Promise(resolve => setTimeout(resolve, 3000));

async function show(id, turn) {
  const [answer, open, latest, [newest, openAlarms]] = await Promise.all([
    api.bench(id), api.openFindings(id), api.latestFindings(id),
    api.newestAlarm(id).then(async cursor => [cursor, await api.openAlarms(id)]), // after the cursor: what comes between is told again
  ]);
  if (turn !== loading) return;
  live?.close();
  seen.disconnect();
  strips.forEach(s => s.destroy());
  header.showLost(lostSince = null);
  storeTrouble = null;
  heardUnstored.clear();
  model = new Model(answer);
  model.setFindings(open.items, latest.items);
  model.setAlarms(openAlarms.items);
  listen(id, `${latest.nextCursor}.${newest.nextCursor}`); // connects while the page is built; what it tells comes after that
  for (const button of document.querySelectorAll('[data-of-bench]')) button.disabled = false; // before, a press would be lost
  at('machine').textContent = `${answer.bench.machine}, ${answer.bench.standard}`;
  if (!hasValues) document.body.dataset.values = 'awaited'; // laid out once, with numbers in them
  header.showState(model.state);
  readPalette();
  const meaning = (channel, label) => explain.open(id, channel, label);
  strips = layOut(at('strips'), model, meaning);
  byChannel = new Map(strips.map(s => [s.definition.id, s]));
  boards = new Boards(model, meaning);
  drifts = new Drifts(model, meaning);
  drifts.show();
  beat();
  if (isWorstFirst) worstFirst(at('strips'), strips);
  findings = new Findings(model, acknowledge);
  findings.show();
  findings.announceOpen();
  alarms = new Alarms(model, alarmActs);
  alarms.show();
  header.showLines(model);
  whatIf.openAsked();
  await valuesOrPatience();
  delete document.body.dataset.values;
  if (turn !== loading) return;
  unfoldEarlier();
  api.notices(id).then(told => sound.follow(told.page), problem => console.warn(`How this page calls: ${problem.message}`));
  await linesReady();
  if (turn !== loading) return;
  strips.forEach(s => seen.observe(s.root)); // which has those drawn that are seen
  loadHistory();
}

/** Once, where there is room for it; after the values, because it is long. */
let isUnfolded = false;
function unfoldEarlier() {
  if (!isUnfolded) at('recent-box').open = matchMedia('(min-width: 900px)').matches;
  isUnfolded = true;
}

/** Strips fill from the store, three at a time in their order. */
async function loadHistory() {
  const mine = model;
  const waiting = strips.filter(s => !s.isFrame && !s.isQuantity);
  const next = async () => {
    const strip = waiting.shift();
    if (!strip || mine !== model) return;
    const { from, to } = strip.buckets.wanted(mine.utcNow);
    try {
      const history = await api.history(mine.bench.id, strip.definition.id, from, to, strip.buckets.count);
      if (mine !== model) return;
      strip.buckets.load(history);
      strip.root.dataset.history = 'loaded';
      strip.showLine();
    } catch (problem) {
      console.warn(`History of ${strip.definition.id}: ${problem.message}`);
    }
    await next();
  };
  await Promise.all([next(), next(), next()]);
}

function listen(id, cursor) {
  live = new Live(id, cursor, {
    hello(event) {
      if (event.benchHash !== model.bench.benchHash) return reload(id);
      model.setOrder(event.channels);
      takeState(event.state);
    },
    numbers(event) {
      const { changed, stepped } = model.takeNumbers(event);
      for (const channel of changed) {
        const strip = byChannel.get(channel.definition.id);
        strip.takeReading();
        if (strip.visible && !document.hidden) strip.showNumber();
      }
      if (!document.hidden) boards.show(); // what is read from three metres is no later than the rest
      if (stepped) loadHistory();
      noteFirstValues();
    },
    quantities(event) {
      for (const quantity of model.takeQuantities(event)) byChannel.get(quantity.definition.id).takeReading();
    },
    drifts(event) {
      model.takeDrifts(event);
      strips.forEach(s => s.mark(model.baselineOf(s.definition.id)));
      drifts.show();
    },
    state: event => takeState(event.state),
    link(event) {
      model.instruments.set(event.instrument, { label: '', ...model.instruments.get(event.instrument), ...event });
      header.showLines(model);
    },
    finding({ finding }) {
      model.takeFinding(finding);
      findings.show();
      if (finding.kind === 'cause') alarms.show(); // whose card says what to do first
      findings.announce(finding);
    },
    alarm({ alarm }) {
      model.takeAlarm(alarm);
      alarms.show();
      if (alarm.input <= (heardUnstored.get(alarm.id) ?? 0)) return;
      alarms.announce(alarm);
      sound.hear(model, alarm);
    },
    health(health) {
      header.showHealth(health);
      storeTrouble = health.storeTrouble;
      if (storeTrouble) takeUnstored();
    },
    bench: () => reload(id),
    link_changed(up) {
      if (up && lostSince !== null) {
        lostSince = null;
        header.showLost(null);
        header.showState(model.state);
        header.showLines(model);
        loadHistory();
        refreshFindings();
      } else if (!up && lostSince === null) {
        lostSince = model.utcNow;
        header.showLost(lostSince);
        header.unknown();
      }
      document.body.dataset.link = up ? 'up' : 'lost';
    },
  });
}

/** Another bench file is in force: what still comes on the old stream would fall on the wrong strips. */
function reload(id) {
  live.close();
  load(id);
}

function takeState(state) {
  model.takeState(state);
  header.showState(state);
}

async function refreshFindings() {
  const mine = model;
  const { id } = mine.bench;
  const [open, latest, openAlarms] = await Promise.all([api.openFindings(id), api.latestFindings(id), api.openAlarms(id)]).catch(() => []);
  if (!open || mine !== model) return;
  mine.setFindings(open.items, latest.items);
  mine.setAlarms(openAlarms.items);
  findings.show();
  alarms.show();
}

/** While the store takes nothing no line of the book comes. What judging says meanwhile is asked for, and heard once: when its line comes at last, it is no news. */
async function takeUnstored() {
  const mine = model;
  const { id } = mine.bench;
  const [open, latest, openAlarms] = await Promise.all([api.openFindings(id), api.latestFindings(id), api.openAlarms(id)]).catch(() => []);
  if (!open || mine !== model || !storeTrouble) return; // stored by now: its lines tell more
  const before = new Map(mine.alarms);
  mine.setFindings(open.items, latest.items);
  mine.setAlarms(openAlarms.items);
  findings.show();
  alarms.show();
  for (const alarm of mine.alarms.values()) {
    const known = before.get(alarm.tag);
    if (alarm.to !== 'unacknowledged' || (known?.id === alarm.id && known.to === alarm.to)) continue;
    heardUnstored.set(alarm.id, alarm.input);
    const line = { ...alarm, step: 'raised' }; // by now it may say what befell it since
    alarms.announce(line);
    sound.hear(mine, line);
  }
}

/** What a person does with an alarm is seen as its line of the book comes back. */
const onAlarm = run => (alarm, button) => run(model.bench.id, alarm, tagWords(model, alarm.tag)).catch(problem => say(button, problem));
const alarmActs = {
  acknowledgeAll: (some, button) => acts.acknowledgeAlarms(model.bench.id, some.map(a => a.id), some.map(a => tagWords(model, a.tag))).catch(problem => say(button, problem)),
  acknowledge: onAlarm((bench, alarm, name) => acts.acknowledgeAlarm(bench, alarm.id, name)),
  shelve: onAlarm((bench, alarm, name) => acts.shelveAlarm(bench, alarm.id, name)),
  shelveUntilOver: onAlarm((bench, alarm, name) => acts.shelveUntilOver(bench, alarm.id, name)),
  unshelve: onAlarm((bench, alarm, name) => acts.unshelveAlarm(bench, alarm.id, name)),
  takeOut: onAlarm((bench, alarm, name) => acts.takeOutOfService(bench, alarm.tag, name)),
  putBack: onAlarm((bench, alarm, name) => acts.putBackInService(bench, alarm.tag, name)),
};

function say(button, problem) {
  const said = document.createElement('p');
  said.className = 'error';
  said.setAttribute('role', 'alert');
  said.textContent = problem.message;
  button.parentElement.append(said);
}

async function acknowledge(finding, button) {
  button.disabled = true;
  try {
    const by = await acts.acknowledge(model.bench.id, finding.id);
    if (by) {
      model.acknowledged.set(finding.id, by);
      findings.show();
    }
  } catch (problem) {
    const said = button.nextElementSibling ?? button.parentElement.appendChild(document.createElement('p'));
    said.className = 'error';
    said.setAttribute('role', 'alert');
    said.textContent = problem.message;
  } finally {
    button.disabled = false;
  }
}

async function pullFrames() {
  for (const strip of strips) {
    if (!strip.frameIsNew || !strip.visible || !strip.chart) continue;
    strip.frameIsNew = false;
    await api.latestFrame(model.bench.id, strip.definition.id).then(f => strip.takeFrame(f), () => {});
  }
}

function beat() {
  if (!model || document.hidden) return;
  header.showClock(model);
  header.showSummary(model);
  few.show(model);
  strips.forEach(s => s.showStanding());
  boards.show();
}

function order() {
  isWorstFirst = !isWorstFirst;
  at('order').setAttribute('aria-pressed', String(isWorstFirst));
  if (isWorstFirst) worstFirst(at('strips'), strips);
  else wayFirst(at('strips'), strips);
}

/** Numbers come before lines: whoever opens the page while tape runs wants to know how it stands now. */
let hasValues = false, valuesShown;
const values = new Promise(resolve => { valuesShown = resolve; });
const patienceMs = 1000;
const valuesOrPatience = () => Promise.race([values, new Promise(resolve => setTimeout(resolve, patienceMs))]);

function noteFirstValues() {
  if (hasValues) return;
  hasValues = true;
  delete document.body.dataset.values;
  beat();
  requestAnimationFrame(() => {
    performance.mark('driftwatch-first-values'); // for whoever measures how long the page takes
    setTimeout(valuesShown);
  });
}

/** Heard on another page too: what sounds must not wait to be seen. */
function earBeat() {
  if (model) sound.tick(model, lostSince !== null ? 'Connection to DriftWatch lost. No alarm can be heard here.' : null);
}

let slow = 0;
function drawBeat() {
  if (!model || document.hidden) return;
  // Half of the lines each half second: every line once a second, no burst of work.
  slow ^= 1;
  strips.forEach((s, i) => i % 2 === slow && s.showLine());
  if (slow) {
    findings.tick();
    alarms.tick();
    drifts.show();
    if (isWorstFirst) worstFirst(at('strips'), strips);
    pullFrames();
  }
}

function showUnits() {
  if (!model) return;
  strips.forEach(s => s.mark(model.baselineOf(s.definition.id)));
  findings.forget();
  findings.show();
  alarms.forget();
  alarms.show();
  beat();
}

async function start() {
  header.build();
  acts.showName();
  at('act-name').addEventListener('click', acts.askName);
  at('act-mark').addEventListener('click', () => acts.mark(model.bench.id));
  at('act-baseline').addEventListener('click', () => acts.baseline(model.bench.id));
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => {
    readPalette();
    strips.forEach(s => s.repaint());
  });
  document.addEventListener('visibilitychange', () => {
    beat(); // numbers that were fresh when the page was left are old now
    strips.forEach(s => s.showLine());
  });
  units.onChange(showUnits);
  at('order').addEventListener('click', order);
  isWorstFirst = few.setUp(beat);
  at('order').setAttribute('aria-pressed', String(isWorstFirst));
  keys.setUp();
  sound.setUp();
  alarmHealth.setUp(() => model);
  whatIf.setUp(() => model);
  routes.setUp(() => model);
  setInterval(earBeat, 1000);
  setInterval(beat, 500);
  setInterval(drawBeat, 500);
  await page.begin(id => {
    if (id === null) at('machine').textContent = 'This service watches no bench.';
    else return load(id);
  }, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
}

start();
