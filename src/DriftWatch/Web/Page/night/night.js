// The night, or any other span: all channels over one time axis, what happened on it, and whether it was sound.

import { show as showHealth } from '../alarm-health.js';
import * as api from '../api.js';
import { drawn, readPalette } from '../chart.js';
import { say } from '../dom.js';
import * as explain from '../explain.js';
import { localTime } from '../local-time.js';
import * as page from '../page.js';
import * as units from '../units.js';
import * as choose from './choose.js';
import * as controls from './controls.js';
import * as data from './data.js';
import { Derived, asChannel, isTold } from './derived.js';
import { Axis, onceShown, sizeOf, unwatched } from './draw.js';
import { Hand } from './hand.js';
import { InView } from './in-view.js';
import { Lanes } from './lanes.js';
import * as head from './head.js';
import * as link from './link.js';
import * as paper from './paper.js';
import { Read } from './read.js';
import { drawRuler } from './ruler.js';
import * as side from './side.js';
import * as span from './span.js';
import * as story from './story.js';
import { Strip, said } from './strip.js';
import * as tools from './tools.js';
import { forgetColours } from './trace.js';

const at = id => document.getElementById(id);

const newest = { events: new data.Newest(), drifts: new data.Newest(), health: new data.Newest() };
let bench = null, known = null, view = span.read(location.search, Date.now());
let strips = [], derived, lanes, events = null, eventsOver = null, drifts = null, happened = [], hover = null;
let settling = null, stretching = null, following = null, drawing = false;
const afterDraw = [];

/** An answer mostly comes sooner, and drawing what is there, only to draw over it, would hold it up; later than this a hand would feel. */
const answerMs = 60;
const inView = new InView();
const read = new Read(), other = new Read();

const axis = () => new Axis(view.from, view.to, sizeOf(at('axis')).width);
const labelKnown = id => [...bench.channels, ...(bench.quantities ?? [])].find(c => c.id === id)?.label;
const labelOf = id => labelKnown(id) ?? id;
const series = () => bench.channels.filter(c => c.kind === 'series');
const quantities = () => (bench.quantities ?? []).map(asChannel);
const isChosen = c => !view.channels || view.channels.includes(c.id);
/** Ids of the channels that are asked for; null for all. */
const channelsAsked = () => (view.channels && bench ? strips.map(s => s.definition.id) : view.channels);
/** The same, those of the lanes in view before the others. */
function portions() {
  const ids = those => those.map(s => s.definition.id);
  const [seen, rest] = [true, false].map(is => strips.filter(s => inView.has(s.root) === is));
  return seen.length > 0 && rest.length > 0 ? [ids(seen), ids(rest)] : [channelsAsked()];
}

/** Lanes with the columns they are drawn from: derived ones come later than those of channels. */
const groups = () => [...strips.map(strip => ({ strips: [strip], columns: read.of(strip.definition.id), other: other.of(strip.definition.id) })), derived];
const shift = () => (typeof view.compare === 'number' ? view.from - view.compare : 0);
// ---- What is shown

/** Another span. What is there is drawn where it now lies and what it lacks is asked for; one act waits a little for that, a hand that drags for nothing. */
function show(from, to, { push = false, live = false } = {}) {
  from = Math.round(from);
  const length = Math.round(Math.min(span.longest, Math.max(span.shortest, to - from)));
  const moved = typeof view.compare === 'number' ? view.compare + (from - view.from) : view.compare;
  if (!live && (from !== view.from || from + length !== view.to)) head.unread();
  view = { ...view, from, to: from + length, compare: moved, live };
  loadColumns();
  clearTimeout(stretching);
  if (push) stretching = setTimeout(draw, answerMs);
  else draw();
  settle(push);
}

/** Once the span stands still it goes into the address, and what takes longer is asked for. */
function settle(push = false) {
  if (push) history.pushState(null, '', span.write(view));
  clearTimeout(settling);
  settling = setTimeout(() => {
    history.replaceState(null, '', span.write(view));
    showControls();
    loadStory();
  }, 220);
}

const columnsWanted = () => Math.max(100, Math.min(4000, sizeOf(at('axis')).width - drawn.axis));

async function loadColumns() {
  const { from, to, compare } = view;
  const count = columnsWanted();
  derived.show({ bench: known.id, from, to, compare: typeof compare === 'number' ? compare : null, count, live: view.live });
  const question = (begin, end) => async (channels, signal) => {
    const answer = await data.columns(known.id, begin, end, count, channels, signal);
    await known.built;
    return answer;
  };
  const asked = [read.ask(portions(), question(from, to), (done, of) => {
    head.trouble('columns', null);
    return new Promise(shown => draw(() => {
      if (done === of) document.body.dataset.columns = `${from}-${to}`;
      if (done === 1) markDrawn();
      shown();
    }));
  })];
  if (typeof compare === 'number') asked.push(other.ask(portions(), question(compare, compare + (to - from)), () => draw()));
  else other.forget();
  await Promise.all(asked).catch(problem => head.trouble('columns', problem));
}

/** The lanes in view are on the screen: what a zoom or a move is measured by. */
function markDrawn() {
  performance.clearMarks('columns drawn');
  performance.mark('columns drawn');
}

async function loadStory() {
  const { from, to } = view;
  const { id, built } = known;
  await newest.events.run(signal => Promise.all([data.events(id, from, to, signal), built]), ([answer]) => {
    events = answer;
    eventsOver = [from, to];
    head.trouble('events', null);
    drifts = null;
    happened = story.happened(events, labelOf);
    tellVerdict();
    side.list(happened, pick);
    draw();
  }).catch(problem => {
    events = null;
    happened = [];
    if (!unreadNow()) head.unread('Can’t be told: what happened could not be read.');
    head.trouble('events', problem);
    draw();
  });
  await newest.drifts.run(signal => data.drifts(id, from, to, channelsAsked(), signal), answer => {
    drifts = answer;
    side.drifts(drifts, events?.states ?? []);
    tellVerdict();
    let hasOther = false;
    for (const strip of strips) {
      const { baseline } = strip;
      strip.baseline = drifts.items.find(d => d.id === strip.definition.id)?.baseline ?? null;
      hasOther ||= strip.baseline !== baseline;
    }
    head.trouble('drifts', null);
    const told = () => { document.body.dataset.story = `${from}-${to}`; };
    if (hasOther) draw(told);
    else told();
  }).catch(problem => head.trouble('drifts', problem));
  await newest.health.run(signal => api.alarmHealth(id, from, to, signal), answer => {
    showHealth(answer, labelKnown, at('measures-rest'));
    at('health-rest').hidden = false;
  }).catch(problem => { at('health-said').textContent = problem.message; });
}

// ---- Drawing, once a frame at most

function draw(then) {
  clearTimeout(stretching);
  if (then) afterDraw.push(then);
  if (drawing) return;
  drawing = true;
  requestAnimationFrame(() => {
    drawing = false;
    drawNow(false);
    const done = afterDraw.splice(0);
    if (done.length > 0) onceShown(() => done.forEach(then => then()));
  });
}

/** Draws what is in view at once and the rest as there is time, or <whole> all of it. */
function drawNow(whole) {
  const shared = axis();
  const idle = events ? unwatched(events, shared) : [];
  drawRuler(at('axis').querySelector('canvas'), shared);
  lanes.draw(shared, happened, idle, events !== null && covers(...eventsOver));
  const how = { idle, locked: events ? story.locked(events) : [], shift: shift(), showBaseline: view.compare === 'baseline' };
  const beyond = [];
  for (const group of groups()) {
    const isRead = group.columns !== null && covers(group.columns.from, group.columns.to);
    for (const strip of (!whole && group.drawable) || group.strips) {
      const paint = () => strip.draw(shared, group.columns, { ...how, other: group.other, isRead });
      if (whole || inView.has(strip.root)) paint();
      else beyond.push(paint);
    }
  }
  inView.paintLater(beyond, () => showCursor());
  showCursor(shared);
  say(at('when'), `${story.dateTime(view.from)} to ${story.dateTime(view.to)} ${story.zone(view.to)}, ${story.length((view.to - view.from) / 1000)}`);
}

/** Whether what was read reaches over the span that is shown; while it moves on with the clock it lags by a step. */
function covers(from, to) {
  const slack = (view.to - view.from) * 0.02 + 2000;
  return from <= view.from + slack && to >= view.to - slack;
}

const lanesHeight = () => {
  const last = at('derived').hidden ? at('strips') : at('derived');
  return `${last.offsetTop + last.offsetHeight}px`;
};

function showCursor(shared = axis()) {
  const ms = hover ?? view.at;
  const inside = ms !== null && ms >= view.from && ms <= view.to;
  const line = at('cursor');
  line.hidden = !inside;
  line.dataset.held = String(view.at !== null && hover === null);
  if (inside) {
    line.style.left = `${at('axis').offsetLeft + shared.x(ms)}px`;
    line.style.height = lanesHeight();
  }
  showValues(inside ? ms : null);
  say(at('cursor-time'), inside ? story.bothClocks(ms) : '');
  const slider = at('axis');
  slider.setAttribute('aria-valuenow', String(inside ? Math.round(1000 * (ms - view.from) / (view.to - view.from)) : 0));
  slider.setAttribute('aria-valuetext', inside ? story.bothClocks(ms) : 'no cursor');
}

/** Values of every lane at an instant; gives back what each told. */
const showValues = ms => groups().flatMap(g => g.strips.map(strip => [strip.definition, strip.showAt(ms, g.columns, g.other, shift())]));

function select(x0, x1) {
  const box = at('window');
  box.hidden = x0 === null;
  if (x0 === null) return;
  box.style.height = lanesHeight();
  box.style.left = `${at('axis').offsetLeft + Math.min(x0, x1)}px`;
  box.style.width = `${Math.abs(x1 - x0)}px`;
}

// ---- What a person does

/** Holds the cursor where it is put, and lets it go when it is put there again. */
function hold(ms, byKey = false) {
  const near = Math.abs((view.at ?? Infinity) - (ms ?? 0)) < (view.to - view.from) / 400;
  view.at = ms === null || (!byKey && near) ? null : Math.round(Math.min(view.to, Math.max(view.from, ms)));
  hover = null;
  showCursor();
  settle();
}

/** The values at the cursor, for those who do not see the lanes. */
function readOut() {
  const ms = view.at;
  if (ms === null) return;
  const standing = happened.filter(e => e.from <= ms && e.to >= ms && e.lane !== 'findings').map(e => (e.lane === 'state' ? `machine ${e.title.toLowerCase()}` : `${e.word ?? ''} ${e.title}`.trim()));
  const told = showValues(ms).map(([definition, values]) => `${definition.label} ${said(values, definition)}`);
  at('announce').textContent = `At ${story.bothClocks(ms)}: ${[...standing, ...told].join('; ')}.`;
}

/** Shows what was picked and goes there, with room on both sides. */
function pick(item) {
  side.show(item);
  const length = Math.max(item.to - item.from, 60_000);
  if (item.lane !== 'state') view.at = item.from;
  show(item.from - length, item.from + 2 * length, { push: true });
  at('chosen-title').focus({ preventScroll: false });
}

function follow(on) {
  view.live = on;
  clearInterval(following);
  at('live').setAttribute('aria-pressed', String(on));
  if (!on) return;
  const step = () => {
    if (document.hidden || link.isLost()) return;
    const length = view.to - view.from;
    const now = Date.now();
    show(now - length, now, { live: true });
  };
  step();
  following = setInterval(step, Math.min(60_000, Math.max(2000, (view.to - view.from) / 1000)));
}

function compareWith(choice) {
  const days = { day: 1, week: 7 }[choice];
  if (days) view.compare = span.daysBefore(view.from, days);
  else if (choice === 'chosen') view.compare = localTime(at('other').value) || span.daysBefore(view.from, 1);
  else view.compare = choice || null;
  showControls();
  settle();
  loadColumns();
  draw();
}

function showControls() {
  const saved = { channels: channelsAsked(), quantities: isTold(view.from, view.to) ? derived.strips.map(s => s.definition.id) : [], count: columnsWanted() };
  controls.show(view, bench.bench.id, saved, { shown: strips.length + derived.strips.length, all: series().length + quantities().length });
}

const centre = () => (view.at !== null && view.at >= view.from && view.at <= view.to ? view.at : (view.from + view.to) / 2);

async function tellPair() {
  const pair = [at('first').value, at('second').value];
  view.pair = pair;
  settle();
  at('pair-said').textContent = 'Reckoning …';
  try {
    at('pair-said').textContent = side.relation(await data.relation(bench.bench.id, view.from, view.to, ...pair), labelOf);
  } catch (problem) {
    at('pair-said').textContent = problem.message;
  }
}

function buildStrips() {
  const meaning = c => explain.open(known.id, c.id, c.label);
  if (!series().some(isChosen) && !quantities().some(isChosen)) view.channels = null;
  strips = series().filter(isChosen).map(c => new Strip(c, () => meaning(c)));
  at('strips').replaceChildren(...strips.map(s => s.root));
  derived.build(quantities().filter(isChosen), meaning);
  inView.follow([...strips, ...derived.strips].map(s => s.root));
  const frames = bench.channels.filter(c => c.kind === 'frame').map(c => c.label);
  at('frames').hidden = frames.length === 0;
  at('frames').textContent = `Not drawn over time, because they are frames and no lines: ${frames.join(', ')}.`;
  at('lanes').style.setProperty('--count', String(Math.max(4, strips.length)));
}

function buildChoices() {
  const shown = new Set([...strips, ...derived.strips].map(s => s.definition.id));
  choose.lanes(series(), quantities(), shown, ids => {
    view.channels = ids;
    buildStrips();
    showControls();
    loadColumns();
    settle();
  });
  choose.pair(series(), view.pair);
}

// ---- Beginning

let hand;

/** While the service can't be asked, says so and tries again for ever. */
async function open(id) {
  while (true) {
    try {
      await load(id);
      return head.trouble('bench', null);
    } catch (problem) {
      head.trouble('bench', problem);
      await new Promise(resolve => setTimeout(resolve, 3000));
    }
  }
}

/** Asks for the columns beside the bench: they are drawn once both are here. */
async function load(id) {
  read.forget();
  other.forget();
  events = drifts = null;
  happened = [];
  strips = []; // those of a bench that is no more are not asked for
  known = { id, built: build(id) };
  await Promise.all([known.built, loadColumns(), loadStory()]);
  if (view.pair) tellPair();
}

async function build(id) {
  bench = await api.bench(id);
  at('machine').textContent = `${bench.bench.machine}, ${bench.bench.standard}`;
  buildStrips();
  buildChoices();
  showControls();
  if (view.live) follow(true);
  link.follow(bench.bench, { lost: unreadNow, back: readMissed, reloaded: () => open(id) });
}

/** What is over stands as it was told; of a span that goes on nobody knows any more. */
function unreadNow() {
  const isUnread = link.isLost() && (view.live || view.to > Date.now());
  if (isUnread) head.unread('Can’t be told: the connection is lost.');
  return isUnread;
}

/** An answer that was on its way as the connection went says nothing of now either. */
function tellVerdict() {
  if (!unreadNow()) head.verdict(events, happened, drifts);
}

function readMissed() {
  if (view.live) return follow(true);
  loadColumns();
  loadStory();
  derived.again();
}

function repaintColours() {
  readPalette();
  forgetColours();
}

function repaint() {
  repaintColours();
  draw();
}

function start() {
  readPalette();
  lanes = new Lanes(at('events'), pick);
  derived = new Derived(at('derived'), at('derived-strips'), at('derived-said'), draw);
  hand = new Hand(at('lanes'), at('axis'), {
    axis,
    show: (from, to, how) => { if (view.live) follow(false); show(from, to, how); },
    settle: () => settle(true),
    hover: ms => { hover = ms; showCursor(); },
    hold,
    select,
    held: () => view.at,
    step: () => read.step ?? (view.to - view.from) / 1000,
    read: readOut,
  });
  tools.setUp({
    view: () => view,
    show: (...span) => { follow(false); show(...span, { push: true }); },
    pan: share => hand.pan(share, true),
    zoom: times => hand.zoom(times, axis().x(centre()), true),
    follow: () => { follow(!view.live); settle(true); },
    compareWith,
    tellPair,
  });
  new ResizeObserver(() => { draw(); if (bench) loadColumns(); }).observe(at('axis'));
  paper.setUp({ derived, draw: () => { repaintColours(); drawNow(true); }, leave: repaint });
  units.onChange(() => {
    if (drifts) side.drifts(drifts, events?.states ?? []);
    draw();
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', repaint);
  matchMedia('(forced-colors: active)').addEventListener('change', repaint);
  addEventListener('popstate', () => {
    view = span.read(location.search, Date.now());
    if (!bench) return;
    buildStrips();
    showControls();
    draw();
    loadColumns();
    loadStory();
  });
  page.begin(id => {
    if (id === null) { at('verdict').textContent = 'This service watches no bench.'; return; }
    return open(id);
  }, text => head.trouble('bench', text));
}

start();
