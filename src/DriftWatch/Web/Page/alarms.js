// Alarms that are not back to normal: what waits for a person first, then by priority and age. Each says how it stands in
// words and by a shape, what came first, its probable cause, and what a person may do about it.

import { fill, folded, isNarrow } from './dom.js';
import * as words from './words.js';

const at = id => document.getElementById(id);
const rank = { high: 2, medium: 1, low: 0 };

const stands = {
  unacknowledged: 'Stands, waits for a person',
  acknowledged: 'Stands, acknowledged',
  'returned-unacknowledged': 'Over, waits for a person',
  shelved: 'Shelved',
  'suppressed-by-design': 'Not judged in this state of the machine',
  'out-of-service': 'Out of service',
  normal: 'Back to normal',
};

export const waits = alarm => alarm.to === 'unacknowledged' || alarm.to === 'returned-unacknowledged';

/** Whether a line of the book asks for a person anew. */
export const calls = line => line.to === 'unacknowledged'
  && ['raised', 'worsened', 'unshelved', 'unsuppressed', 'put-back-in-service'].includes(line.step);

/** kind.subject in words; a channel's label where it is one. */
export function tagWords(model, tag) {
  return words.tag(tag, subject => model.byId.get(subject)?.definition.label);
}

const tagOfFinding = id => id.slice(id.indexOf('.') + 1, id.lastIndexOf('.'));

function fact(list, term, text) {
  if (!text) return null;
  const box = document.createElement('div'), dt = document.createElement('dt'), dd = document.createElement('dd');
  dt.textContent = term;
  dd.textContent = text;
  box.append(dt, dd);
  list.append(box);
  return dd;
}

function causeWords(alarm, cause) {
  const sure = cause?.details?.confidence;
  return `${words.kind(alarm.cause)}${sure ? `, ${Math.round(100 * sure)} % sure` : ''}`;
}

function button(text, name, run) {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = text;
  made.setAttribute('aria-label', `${text}: ${name}`);
  made.addEventListener('click', () => run(made));
  return made;
}

const mayAcknowledge = alarm => !alarm.acknowledged && alarm.to !== 'out-of-service';

export class Alarms {
  /** @param acts acknowledge, shelve, shelveUntilOver, unshelve, takeOut, putBack: each gets the alarm and the button. */
  constructor(model, acts) {
    this.model = model;
    this.acts = acts;
    this.items = new Map();
    this.opened = new Set();
  }

  show() {
    const all = [...this.model.alarms.values()].sort((a, b) => waits(b) - waits(a)
      || rank[b.priority] - rank[a.priority] || Date.parse(b.raised) - Date.parse(a.raised) || (a.tag < b.tag ? -1 : 1));
    const troubles = this.troubles(all);
    fill(at('alarms'), all.map(a => this.item(a, troubles.get(a))));
    for (const tag of this.items.keys()) if (!this.model.alarms.has(tag)) this.items.delete(tag);
    at('alarms-none').hidden = all.length > 0;
    const waiting = all.filter(waits).length;
    at('alarms-count').textContent = all.length === 0 ? '' : waiting === 0 ? 'none waits for a person' : `${waiting} wait${waiting === 1 ? 's' : ''} for a person`;
  }

  /** Of each alarm that may be acknowledged, all that one trouble made, the first of them at its head: a person answers it once. */
  troubles(all) {
    const byTrouble = new Map();
    for (const alarm of all.filter(mayAcknowledge)) {
      const trouble = this.model.causeOf(alarm)?.id ?? alarm.firstOut ?? alarm.id;
      byTrouble.set(trouble, [...byTrouble.get(trouble) ?? [], alarm]);
    }
    return new Map([...byTrouble.values()].flatMap(some => some.map(alarm => [alarm, some])));
  }

  item(alarm, together = []) {
    const cause = this.model.causeOf(alarm);
    const key = [alarm.id, alarm.input, alarm.place, this.model.aboutAlarm(alarm).input, cause?.id, cause?.input, together.map(a => a.id)].join('|');
    const known = this.items.get(alarm.tag);
    if (known?.dataset.key === key) return known; // keeps the focus, and what is open, where they are
    const wasOpen = known?.querySelector('.doors details')?.open ?? false;
    const item = this.make(alarm, this.model.aboutAlarm(alarm), cause, together);
    item.dataset.key = key;
    const more = item.querySelector('.doors details');
    if (more) more.open = wasOpen;
    this.items.set(alarm.tag, item);
    return item;
  }

  make(alarm, about, cause, together) {
    const name = tagWords(this.model, alarm.tag);
    const now = this.model.utcNow;
    const item = document.createElement('li');
    item.className = 'alarm';
    Object.assign(item.dataset, { alarm: alarm.tag, priority: alarm.priority, state: alarm.to });
    const title = document.createElement('h3');
    const badge = document.createElement('span');
    badge.className = 'priority';
    badge.textContent = words.kind(alarm.priority);
    title.append(badge, ' ', name);
    const how = document.createElement('p');
    how.className = 'stands';
    how.textContent = stands[alarm.to] ?? words.kind(alarm.to);
    if (alarm.to !== 'unacknowledged' && alarm.to !== 'acknowledged' && alarm.active) how.textContent += '; its trouble lasts';
    const text = document.createElement('p');
    text.textContent = words.sentence(about.text);
    const first = document.createElement('p');
    first.className = 'first-action';
    first.hidden = !cause?.details?.firstAction;
    first.textContent = first.hidden ? '' : `Do first: ${words.sentence(cause.details.firstAction)}`;
    const facts = document.createElement('dl'), rare = isNarrow() ? document.createElement('dl') : facts;
    if (about.value !== null && about.limit !== null) {
      fact(rare, 'Value', `${words.quantity(about.value, about.unit ?? '')} against ${words.quantity(about.limit, about.unit ?? '')}`);
    }
    if (alarm.firstOut) fact(rare, 'Came first', tagWords(this.model, tagOfFinding(alarm.firstOut)));
    fact(facts, 'Cause', alarm.cause ? causeWords(alarm, cause) : 'not said yet');
    if (alarm.active) fact(facts, 'If nobody acts', alarm.consequence);
    if (alarm.findings > 1) fact(rare, 'With it', `${alarm.findings - 1} more, under Findings`);
    fact(facts, 'On the tape', words.onTape(alarm.tape));
    fact(rare, 'Raised', words.instant(Date.parse(alarm.raised), now));
    if (alarm.active) {
      const age = fact(facts, 'Age', ' ');
      age.dataset.since = alarm.raised;
      age.textContent = words.duration((now - Date.parse(alarm.raised)) / 1000);
    }
    if (alarm.shelvedUntil) fact(facts, 'Until', words.instant(Date.parse(alarm.shelvedUntil), now));
    if (alarm.by) fact(facts, 'Last act', `${words.kind(alarm.step)} by ${alarm.by} (${words.identity(alarm.identity)})${alarm.why ? `: ${alarm.why}` : ''}`);
    const more = rare === facts ? [] : [folded(rare, `More of ${name}`, this.opened, alarm.tag)];
    item.append(title, how, text, first, facts, ...more, this.doors(alarm, name, together));
    return item;
  }

  doors(alarm, name, together) {
    const box = document.createElement('div');
    box.className = 'doors';
    box.dataset.act = '';
    const { acts } = this;
    const alone = button('Acknowledge', name, b => acts.acknowledge(alarm, b));
    const isOneOfMany = together.length > 1;
    if (isOneOfMany && together[0] === alarm) box.append(button(`Acknowledge all ${together.length} of this trouble`, together.map(a => tagWords(this.model, a.tag)).join('; '), b => acts.acknowledgeAll(together, b)));
    else if (mayAcknowledge(alarm) && !isOneOfMany) box.append(alone);
    if (alarm.to === 'shelved') box.append(button('Unshelve', name, b => acts.unshelve(alarm, b)));
    if (alarm.to === 'out-of-service') box.append(button('Put back in service', name, b => acts.putBack(alarm, b)));
    else {
      const more = document.createElement('details'), summary = document.createElement('summary');
      summary.textContent = isOneOfMany ? 'This one alone, or keep quiet' : 'Keep quiet';
      summary.setAttribute('aria-label', `${summary.textContent}: ${name}`);
      more.append(summary);
      if (isOneOfMany) more.append(alone);
      if (alarm.to !== 'shelved') more.append(button('Shelve for a time', name, b => acts.shelve(alarm, b)));
      if (alarm.to !== 'shelved' && alarm.active) more.append(button('Shelve until it is over', name, b => acts.shelveUntilOver(alarm, b)));
      more.append(button('Take out of service', name, b => acts.takeOut(alarm, b)));
      box.append(more);
    }
    return box;
  }

  /** The units have changed: nothing that was made stands. */
  forget() {
    this.items.clear();
  }

  /** How old the standing ones are; once a second. */
  tick() {
    for (const node of at('alarms').querySelectorAll('[data-since]')) {
      node.textContent = words.duration((this.model.utcNow - Date.parse(node.dataset.since)) / 1000);
    }
  }

  announce(line) {
    if (calls(line)) at('announce').textContent = `${words.kind(line.priority)} alarm: ${words.sentence(line.text)}`;
  }
}
