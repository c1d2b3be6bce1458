// What the page knows: channels with their newest readings, open and earlier findings, and the service's clock. Ages
// run on by the browser's own monotonic clock, so that a value grows old even when nothing arrives any more.

import * as words from './words.js';

const mostRecent = 60;

export class Model {
  constructor(answer) {
    this.bench = answer.bench;
    this.state = answer.bench.state;
    this.channels = answer.channels.map(definition => ({ definition, now: null }));
    this.byId = new Map(this.channels.map(c => [c.definition.id, c]));
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
    if (line.to === 'normal' || wentWithItsChannel) this.alarms.delete(line.tag);
    else this.alarms.set(line.tag, line);
  }

  /** Replaces all alarms by what the service says now. */
  setAlarms(items) {
    this.alarms.clear();
    items.forEach(({ alarm }) => this.takeAlarm(alarm));
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
        words: now.value === null ? `no data since ${since}` : `no data since ${since}; last ${words.quantity(now.value, definition.unit)}`,
      };
    }
    const finding = this.openOf(definition.id);
    if (now.fault) return { mood: 'fault', words: `fault: ${words.fault(now.fault)}` };
    if (finding) return { mood: finding.severity, words: words.kind(finding.kind) };
    return { mood: 'steady', words: this.calmWords(definition) };
  }

  calmWords(definition) {
    if (definition.kind === 'frame') return 'frames arrive';
    if (definition.limits.length === 0) return 'no limits set';
    const judged = definition.limits.filter(
      l => this.state === 'unknown' || l.judgedIn.length === 0 || l.judgedIn.includes(this.state));
    if (judged.length === 0) return `not judged while ${words.stateWords(this.state).word.toLowerCase()}`;
    const fixed = judged.filter(l => l.reference === 'absolute');
    if (fixed.length === 0) return 'no finding';
    const low = Math.max(...fixed.filter(l => l.side === 'low').map(l => l.value));
    const high = Math.min(...fixed.filter(l => l.side === 'high').map(l => l.value));
    const { unit } = definition;
    if (low === -Infinity) return `within limits, under ${words.limit(high, unit)}`;
    if (high === Infinity) return `within limits, over ${words.limit(low, unit)}`;
    return `within limits, ${words.limit(low, unit)} to ${words.limit(high, unit)}`;
  }
}
