// What the page knows: channels with their newest readings, open and earlier findings, and the service's clock. Ages
// run on by the browser's own monotonic clock, so that a value grows old even when nothing arrives any more.

import { placeOf } from './chart.js';
import * as tolerance from './tolerance.js';
import * as words from './words.js';

const mostRecent = 60;

// Judgement tells the quantities once a second; this many seconds without a word are as long as a channel's stale advisory.
const quantitySilentSeconds = 6;

/** A quantity stands, is drawn and is explained like a channel; it has no line of its own and no store of readings. */
const asChannel = quantity => ({
  ...quantity, quantity: quantity.kind, kind: 'quantity', role: null, periodSeconds: 1, staleAdvisorySeconds: quantitySilentSeconds, setpoint: null,
});

export class Model {
  constructor(answer) {
    this.bench = answer.bench;
    this.state = answer.bench.state;
    this.stateSince = null; // UTC in milliseconds; null where it is not known
    this.channels = answer.channels.map(definition => ({ definition, now: null }));
    this.quantities = (answer.quantities ?? []).map(q => ({ definition: asChannel(q), now: null }));
    this.byId = new Map([...this.channels, ...this.quantities].map(c => [c.definition.id, c]));
    this.drifts = { at: null, items: [] };
    this.driftOf = new Map();
    this.order = this.channels;
    this.instruments = new Map(answer.instruments.map(i => [i.id, i]));
    this.open = new Map();
    this.recent = [];
    this.acknowledged = new Map();
    this.alarms = new Map();
    this.watchedSeconds = answer.bench.watchedSeconds;
    this.loadedAt = performance.now();
    this.engineMs = null;
    this.utcMs = Date.parse(answer.bench.now);
    this.clockAt = performance.now();
  }

  takeState(state) {
    if (state !== this.state) this.stateSince = this.utcNow;
    this.state = state;
  }

  get utcNow() {
    return this.utcMs + (performance.now() - this.clockAt);
  }

  get engineNow() {
    return this.engineMs + (performance.now() - this.clockAt);
  }

  get watchedNow() {
    return this.watchedSeconds + (performance.now() - this.loadedAt) / 1000;
  }

  setOrder(ids) {
    this.order = ids.map(id => this.byId.get(id));
  }

  /** Takes a numbers event; gives back the channels that changed, and whether the wall clock was set meanwhile. */
  takeNumbers(event) {
    const before = this.engineMs === null ? null : this.utcMs - this.engineMs;
    this.engineMs = event.e;
    this.utcMs = event.u;
    this.clockAt = performance.now();
    const changed = [];
    for (const [index, at, value = null, minimum = value, maximum = value, fault = null] of event.v) {
      const channel = this.order[index];
      if (!channel || at === undefined) continue;
      channel.now = { at, value, minimum: minimum ?? value, maximum: maximum ?? value, fault };
      changed.push(channel);
    }
    return { changed, stepped: before !== null && Math.abs(event.u - event.e - before) > 500 };
  }

  /** Takes a quantities event; gives back those that it told. */
  takeQuantities({ e, v }) {
    const told = [];
    for (const [id, value] of Object.entries(v)) {
      const quantity = this.byId.get(id);
      if (!quantity) continue;
      quantity.now = { at: e, value, minimum: value, maximum: value, fault: null };
      told.push(quantity);
    }
    return told;
  }

  takeDrifts(drifts) {
    this.drifts = drifts;
    this.driftOf = new Map(drifts.items.map(d => [d.id, d]));
  }

  baselineOf(id) {
    return this.driftOf.get(id)?.baseline ?? null;
  }

  /** Whether there is a good reading of now: neither silent nor faulty, and a number. */
  isTrusted(id) {
    const channel = this.byId.get(id), now = channel?.now;
    return Boolean(now) && !now.fault && now.value !== null && this.ageSeconds(channel) <= channel.definition.staleAdvisorySeconds;
  }

  /** What a channel that is trusted uses of its tolerance; null for a frame. */
  useOf({ definition, now }) {
    return definition.kind === 'frame' ? null : tolerance.useOf(definition, this.baselineOf(definition.id), now.value, this.state);
  }

  movesOf({ definition }) {
    return tolerance.movesOf(this.driftOf.get(definition.id));
  }

  utcOf(engineMs) {
    return engineMs + (this.utcMs - this.engineMs);
  }

  ageSeconds(channel) {
    return channel.now ? (this.engineNow - channel.now.at) / 1000 : Infinity;
  }

  takeFinding(finding) {
    if (finding.phase === 'ended') {
      this.open.delete(finding.id);
      this.remember(finding);
    } else if (finding.severity === 'note') {
      this.remember(finding);
    } else {
      this.open.set(finding.id, finding);
    }
    this.noteSeen(finding);
  }

  /** A line of the alarm book: by tag, because one tag is one alarm however often it comes. */
  takeAlarm(line) {
    const wentWithItsChannel = line.step === 'taken-out-of-service' && line.why === 'bench-reloaded';
    if (line.to === 'normal' || wentWithItsChannel) {
      this.alarms.delete(line.tag);
      return;
    }
    const before = this.alarms.get(line.tag);
    const told = line.step === 'raised' || line.step === 'worsened' ? line : before?.id === line.id ? before.told : null;
    this.alarms.set(line.tag, { ...line, told });
  }

  /** Replaces all alarms by what the service says now. */
  setAlarms(items) {
    this.alarms.clear();
    items.forEach(({ alarm }) => this.takeAlarm(alarm));
  }

  /** What an alarm is about: the line that called for a person, or the finding that came first. What joined later says less of it. */
  aboutAlarm(alarm) {
    return alarm.told ?? this.finding(alarm.firstOut) ?? alarm;
  }

  /** The cause that puts an alarm's findings together, as it stands or was last said. */
  causeOf(alarm) {
    const names = finding => Object.values(finding.details ?? {}).includes(alarm.firstOut);
    return [...this.open.values(), ...this.recent].find(f => f.kind === 'cause' && names(f)) ?? null;
  }

  finding(id) {
    return this.open.get(id) ?? this.recent.find(f => f.id === id) ?? null;
  }

  noteSeen(finding) {
    const by = finding.details?.acknowledgedBy;
    if (by) this.acknowledged.set(finding.id, by);
  }

  remember(finding) {
    this.recent = [finding, ...this.recent.filter(f => f.id !== finding.id)].slice(0, mostRecent);
  }

  /** Replaces all findings by what the service says now. */
  setFindings(openItems, latestItems) {
    this.open.clear();
    this.recent = [];
    const open = new Set(openItems.map(i => i.finding.id));
    const stated = latestItems.map(i => i.finding).filter(f => f.kind === 'state').sort((a, b) => b.input - a.input)[0];
    if (stated) this.stateSince = Date.parse(stated.start);
    for (const { finding } of latestItems) {
      this.noteSeen(finding);
      if (!open.has(finding.id)) this.remember(finding);
    }
    for (const { finding } of openItems) {
      this.noteSeen(finding);
      this.open.set(finding.id, finding);
    }
  }

  openOf(channelId) {
    let worst = null;
    for (const finding of this.open.values()) {
      if (finding.channel !== channelId) continue;
      if (!worst || (finding.severity === 'alarm' && worst.severity !== 'alarm')) worst = finding;
    }
    return worst;
  }

  /** How a channel stands: a mood for the eye and words for everyone. Stale comes first: it never looks normal. */
  standing(channel) {
    const { definition, now } = channel;
    if (!now) return { mood: 'waiting', words: 'no reading yet' };
    const age = this.ageSeconds(channel);
    if (age > definition.staleAdvisorySeconds) {
      const since = words.instant(this.utcOf(now.at), this.utcNow);
      return {
        mood: 'stale',
        words: now.value === null ? `no data since ${since}` : `no data since ${since}; last ${words.valueOf(now.value, definition)}`,
      };
    }
    const finding = this.openOf(definition.id);
    if (now.fault) return { mood: 'fault', words: `fault: ${words.fault(now.fault)}` };
    if (finding) return { mood: finding.severity, words: words.kind(finding.kind) };
    if (definition.kind === 'quantity' && now.value === null) return { mood: 'untold', words: 'can’t be told now' };
    // Not yet said, because a limit has a delay; but nothing beyond its limit looks like what is within.
    if (definition.kind !== 'frame' && this.useOf(channel)?.share >= 1) return { mood: 'advisory', words: 'beyond its limit just now' };
    return { mood: 'steady', words: this.calmWords(definition) };
  }

  calmWords(definition) {
    if (definition.kind === 'frame') return 'frames arrive';
    if (definition.limits.length === 0) return 'no limits set';
    const judged = tolerance.judgedIn(definition.limits, this.state);
    if (judged.length === 0) return `not judged while ${words.stateWords(this.state).word.toLowerCase()}`;
    const baseline = this.baselineOf(definition.id);
    const places = side => judged.filter(l => l.side === side).map(l => placeOf(l, baseline)).filter(v => v !== null);
    const low = Math.max(...places('low')), high = Math.min(...places('high'));
    if (low === -Infinity && high === Infinity) return 'no baseline yet';
    const { unit } = definition;
    if (low === -Infinity) return `within limits, under ${words.limit(high, unit)}`;
    if (high === Infinity) return `within limits, over ${words.limit(low, unit)}`;
    return `within limits, ${words.limit(low, unit)} to ${words.limit(high, unit)}`;
  }
}
