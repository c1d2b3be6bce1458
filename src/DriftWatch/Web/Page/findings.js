// Findings: those that last first, newest on top, then earlier ones. Each says what, since when, how far beyond which
// limit, and why as far as can be told.

import { fill, folded, isNarrow } from './dom.js';
import * as words from './words.js';

const at = id => document.getElementById(id);

function line(list, term, text) {
  if (!text) return;
  const box = document.createElement('div');
  const dt = document.createElement('dt');
  const dd = document.createElement('dd');
  dt.textContent = term;
  dd.textContent = text;
  box.append(dt, dd);
  list.append(box);
  return dd;
}

function against(finding, definition) {
  if (finding.value === null) return '';
  if (definition && words.isSwitch(definition)) return words.numberOf(finding.value, definition);
  const value = words.quantity(finding.value, finding.unit ?? '');
  return finding.limit === null ? value : `${value} against ${words.quantity(finding.limit, finding.unit ?? '')}`;
}

export class Findings {
  constructor(model, acknowledge) {
    this.model = model;
    this.acknowledge = acknowledge;
    this.items = new Map();
    this.opened = new Set();
  }

  show() {
    const { model } = this;
    // Alarms first; then the newest, by their place in the log where two are of one instant.
    const rank = f => (f.severity === 'alarm' ? 1 : 0);
    const open = [...model.open.values()].sort(
      (a, b) => rank(b) - rank(a) || b.engine.raised - a.engine.raised || b.input - a.input);
    fill(at('open'), open.map(f => this.item(f, true)));
    at('open-none').hidden = open.length > 0;
    fill(at('recent'), model.recent.map(f => this.item(f, false)));
    this.prune([...open, ...model.recent]);
    at('recent-count').textContent = `(${model.recent.length})`;
    const alarms = open.filter(f => f.severity === 'alarm').length;
    document.title = alarms > 0 ? `${alarms} ${alarms === 1 ? 'alarm' : 'alarms'} · DriftWatch` : 'DriftWatch';
  }

  /** A wall screen stays open for weeks: what is shown no more is not kept either. */
  prune(shown) {
    const ids = new Set(shown.map(f => f.id));
    for (const id of this.items.keys()) if (!ids.has(id)) this.items.delete(id);
    for (const id of this.opened) if (!ids.has(id)) this.opened.delete(id);
  }

  item(finding, isOpen) {
    const by = this.model.acknowledged.get(finding.id);
    const key = [finding.id, finding.input, finding.phase, isOpen, by].join('|');
    const known = this.items.get(finding.id);
    if (known?.dataset.key === key) return known; // keeps the focus where it is
    const item = this.make(finding, isOpen, by);
    item.dataset.key = key;
    this.items.set(finding.id, item);
    return item;
  }

  make(finding, isOpen, by) {
    const item = document.createElement('li');
    item.className = 'finding';
    item.dataset.severity = finding.severity;
    item.dataset.open = String(isOpen);
    item.dataset.finding = finding.id;
    const title = document.createElement('h3');
    const rank = document.createElement('span');
    rank.className = 'rank';
    rank.textContent = words.severity[finding.severity] ?? finding.severity;
    title.append(rank, ' ', words.kind(finding.kind));
    const text = document.createElement('p');
    text.textContent = words.sentence(finding.text);
    const facts = document.createElement('dl'), rare = isNarrow() ? document.createElement('dl') : facts;
    const label = finding.channel ? this.model.byId.get(finding.channel)?.definition.label ?? finding.channel : '';
    line(facts, 'Where', label);
    line(rare, 'Value', against(finding, this.model.byId.get(finding.channel)?.definition));
    line(facts, 'On the tape', words.onTape(finding.tape));
    line(rare, 'Began', words.instant(Date.parse(finding.start), this.model.utcNow));
    if (isOpen) {
      const lasts = line(facts, 'Lasts', ' ');
      lasts.dataset.since = finding.start;
      lasts.textContent = words.duration((this.model.utcNow - Date.parse(finding.start)) / 1000);
    } else if (finding.end) {
      line(facts, 'Over', words.instant(Date.parse(finding.end), this.model.utcNow));
    }
    if (finding.severity !== 'note') line(rare, 'Cause', finding.cause);
    const { shelvedBy, shelvedUntil } = finding.details ?? {};
    if (isOpen && shelvedUntil) {
      line(facts, 'Shelved', `until ${words.instant(Date.parse(shelvedUntil), this.model.utcNow)} by ${shelvedBy}`);
    }
    item.append(title, text, facts);
    if (rare !== facts) item.append(folded(rare, `More of ${words.kind(finding.kind)}${label ? `, ${label}` : ''}`, this.opened, finding.id));
    if (by) {
      const seen = document.createElement('p');
      seen.className = 'seen';
      seen.textContent = `Seen by ${by}`;
      item.append(seen);
    } else if (isOpen) {
      const button = document.createElement('button');
      button.type = 'button';
      button.textContent = 'Acknowledge';
      button.dataset.act = '';
      button.setAttribute('aria-label', `Acknowledge: ${words.kind(finding.kind)}${label ? `, ${label}` : ''}`);
      button.addEventListener('click', () => this.acknowledge(finding, button));
      item.append(button);
    }
    return item;
  }

  /** The units have changed: nothing that was made stands. */
  forget() {
    this.items.clear();
  }

  /** How long the open ones last; once a second. */
  tick() {
    for (const node of at('open').querySelectorAll('[data-since]')) {
      node.textContent = words.duration((this.model.utcNow - Date.parse(node.dataset.since)) / 1000);
    }
  }

  /** What is open when the page comes up; later ones are told as they come. */
  announceOpen() {
    const alarms = [...this.model.open.values()].filter(f => f.severity === 'alarm').length;
    if (alarms > 0) at('announce').textContent = alarms === 1 ? '1 alarm is open.' : `${alarms} alarms are open.`;
  }

  announce(finding) {
    if (finding.phase === 'raised' && finding.severity !== 'note') {
      at('announce').textContent = `${words.severity[finding.severity]}: ${words.sentence(finding.text)}`;
    }
  }
}
