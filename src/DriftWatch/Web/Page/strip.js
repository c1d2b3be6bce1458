// One channel's strip: name and standing in words, the present value across the room, ten minutes of line.

import { Buckets } from './buckets.js';
import { Chart } from './chart.js';
import { fill } from './dom.js';
import { FrameChart } from './frame.js';
import { UseBar } from './use-bar.js';
import * as words from './words.js';

const element = (tag, className, text) => {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text !== undefined) made.textContent = text;
  return made;
};

const setText = (node, text) => {
  if (node.textContent !== text) node.textContent = text; // leave the DOM alone where nothing changed
};

export class Strip {
  /** <meaning> opens what a number means, by its id and label. */
  constructor(model, channel, meaning) {
    this.model = model;
    this.channel = channel;
    const { definition } = channel;
    this.definition = definition;
    this.isFrame = definition.kind === 'frame';
    this.isQuantity = definition.kind === 'quantity';
    this.visible = false; // until the browser has said so
    if (!this.isFrame) this.buckets = new Buckets(definition.periodSeconds);
    this.spread = null;

    this.root = element('article', 'strip');
    this.root.dataset.channel = definition.id;
    this.root.dataset.mood = 'waiting';
    const name = element('div', 'name');
    const title = element('h3');
    const about = element('button', 'about', definition.label);
    about.type = 'button';
    about.title = 'What this number means';
    about.addEventListener('click', () => meaning(definition.id, definition.label));
    title.append(about);
    title.id = 'strip-' + definition.id;
    this.root.setAttribute('aria-labelledby', title.id);
    this.words = element('p', 'words', 'no reading yet');
    name.append(title, this.words);
    const value = element('p', 'value');
    this.number = element('span', 'number', '—');
    this.unit = element('span', 'unit');
    this.showUnit();
    this.age = element('span', 'age', '');
    value.append(this.number, ' ', this.unit, ' ', this.age);
    this.host = element('div', 'line');
    this.host.setAttribute('role', 'img');
    this.host.setAttribute('aria-label', this.isFrame
      ? `${definition.label}: newest frame, four head passes over the angle`
      : `${definition.label}: line of the last ten minutes${this.isQuantity ? ', as far as this page has been open' : ''}`);
    this.bar = new UseBar();
    this.root.append(name, value, this.bar.root, this.host);
  }

  /** Once it is seen: a chart takes a browser milliseconds, and numbers are not to wait for charts that nobody sees. */
  build() {
    if (this.chart || !this.root.isConnected) return;
    this.chart = this.isFrame ? new FrameChart(this.host, this.definition) : new Chart(this.host, this.definition);
    this.chart.mark(this.model.baselineOf(this.definition.id));
    this.showLine();
  }

  showUnit() {
    setText(this.unit, words.unitOf(this.definition) + (this.isFrame ? ' p–p' : ''));
    this.root.dataset.switch = String(words.isSwitch(this.definition));
  }

  /** The baseline in force, or null, has been told; or the units have changed. */
  mark(baseline) {
    this.showUnit();
    this.chart?.mark(baseline);
  }

  /** The page's colours are others now. */
  repaint() {
    this.chart?.repaint();
  }

  takeReading() {
    if (this.isFrame) {
      this.frameIsNew = true;
    } else {
      this.buckets.add(this.model.utcOf(this.channel.now.at), this.channel.now);
    }
  }

  takeFrame(frame) {
    this.spread = this.chart.take(frame);
    this.showNumber();
  }

  /** The number; at most ten times a second. */
  showNumber() {
    const { now } = this.channel;
    const value = this.isFrame ? this.spread : now?.value ?? null;
    const shown = this.mood !== 'stale' && !now?.fault && value !== null && value !== undefined;
    setText(this.number, shown ? words.numberOf(value, this.definition) : '—');
  }

  /** Standing and age; twice a second. */
  showStanding() {
    const { mood, words: said } = this.model.standing(this.channel);
    this.mood = mood;
    if (this.root.dataset.mood !== mood) this.root.dataset.mood = mood;
    setText(this.words, said);
    const { now } = this.channel;
    setText(this.age, now && mood !== 'stale' ? words.age(this.model.ageSeconds(this.channel)) : '');
    const good = this.model.isTrusted(this.definition.id);
    this.use = good ? this.model.useOf(this.channel) : null;
    this.bar.show(this.use, good ? this.model.movesOf(this.channel) : null);
    this.showNumber();
  }

  showLine() {
    if (!this.visible) return;
    if (!this.chart) return soon(this);
    if (this.isFrame) return;
    const now = this.model.utcNow;
    const columns = this.buckets.columns(now);
    this.root.dataset.gapSeconds = String(this.buckets.longestGap(columns));
    this.chart.draw(columns, now, this.model.state === 'locked' ? this.model.stateSince : null);
  }

  destroy() {
    this.chart?.destroy();
    this.root.remove();
  }
}

/** Charts are built one at a time, and what has arrived meanwhile is shown between two of them. */
const unbuilt = new Set();
function soon(strip) {
  if (unbuilt.size === 0) setTimeout(buildNext);
  unbuilt.add(strip);
}

function buildNext() {
  const [strip] = unbuilt;
  unbuilt.delete(strip);
  if (unbuilt.size > 0) setTimeout(buildNext); // before: one that fails must not keep the others from being drawn
  strip.build();
}

const groups = [
  ['Air', ['supply-air', 'regulated-air', 'dew-point', 'compressor-running']],
  ['Guide', ['guide-vacuum']],
  ['Heads', ['rf-level', 'control-track']],
  ['Timing', ['timing-error', 'corrector-use', 'guide-servo', 'wheel-speed', 'servo-lock']],
  ['Levels', ['sync-level', 'video-level', 'audio-level']],
  ['Room', ['ambient-temperature', 'ambient-humidity', 'barometer']],
];

/** Strips in the order in which air and tape take their way; each group hangs on the same line at the left. */
export function layOut(host, model, meaning) {
  host.replaceChildren();
  const strips = [...model.channels, ...model.quantities].map(channel => new Strip(model, channel, meaning));
  const ruler = element('div', 'ruler');
  ruler.setAttribute('aria-hidden', 'true');
  const scale = element('div', 'scale');
  for (const text of ['−10 min', '−8', '−6', '−4', '−2', 'now']) scale.append(element('span', '', text));
  ruler.append(scale);
  host.append(ruler);
  const left = new Set(strips);
  const put = (label, members) => {
    if (members.length === 0) return;
    const section = element('section', 'group');
    const title = element('h2', '', label);
    title.id = 'group-' + label.toLowerCase();
    section.setAttribute('aria-labelledby', title.id);
    section.style.setProperty('--members', members.length);
    const rows = element('div', 'rows');
    for (const strip of members) {
      strip.rows = rows;
      rows.append(strip.root);
    }
    section.append(title, rows);
    host.append(section);
  };
  for (const [label, roles] of groups) {
    const members = roles.flatMap(role => strips.filter(s => s.definition.role === role));
    members.forEach(s => left.delete(s));
    put(label, members);
  }
  put('Other', [...left].filter(s => !s.isQuantity));
  put('Derived', [...left].filter(s => s.isQuantity));
  host.style.setProperty('--strips', model.channels.length);
  return strips;
}

/** Alarms first, then what can't be trusted, because it can hide one; then by what is used. */
function rank({ mood, use }) {
  if (mood === 'alarm') return 1000;
  if (['stale', 'fault', 'waiting'].includes(mood)) return 900;
  return mood === 'advisory' ? 100 + (use?.share ?? 0) : use?.share ?? -1;
}

/** By so much of a tolerance a channel must be worse to go before another: rows that change places for their noise can't be read. */
const lead = 0.05;

/** One list, the worst on top; called again it puts what has got worse where it belongs, unless the keyboard stands in it. */
export function worstFirst(host, strips) {
  const known = host.querySelector('.worst .rows');
  const rows = known ?? openWorst(host);
  if (rows.contains(document.activeElement)) return;
  const place = new Map([...rows.children].map((root, i) => [root, i]));
  const sorted = [...strips].sort((a, b) => (known ? place.get(a.root) - place.get(b.root) : rank(b) - rank(a)));
  for (let i = 1; i < sorted.length; i++) {
    for (let k = i; k > 0 && rank(sorted[k]) > rank(sorted[k - 1]) + lead; k--) [sorted[k - 1], sorted[k]] = [sorted[k], sorted[k - 1]];
  }
  fill(rows, sorted.map(s => s.root));
}

function openWorst(host) {
  const section = element('section', 'group worst'), title = element('h2', '', 'Worst first'), rows = element('div', 'rows');
  title.id = 'group-worst';
  section.setAttribute('aria-labelledby', title.id);
  section.style.setProperty('--members', host.querySelectorAll('.strip').length);
  section.append(title, rows);
  host.querySelector('.ruler').after(section);
  host.dataset.order = 'worst';
  return rows;
}

/** Back to the way that air and tape take. */
export function wayFirst(host, strips) {
  strips.forEach(s => s.rows.append(s.root));
  host.querySelector('.worst')?.remove();
  delete host.dataset.order;
}
