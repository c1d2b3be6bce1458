// What happened in a span as one list for lanes and side, and the night in a sentence.

import * as words from '../words.js';

const ms = text => (text === null ? null : Date.parse(text));

const faultKinds = new Set(['sensor-fault', 'stale', 'instrument-silent']);

const priorityWords = { high: 'High alarm', medium: 'Medium alarm', low: 'Low alarm' };

const tagOf = findingId => findingId.slice(findingId.indexOf('.') + 1, findingId.lastIndexOf('.'));

/** Whether an alarm of the list tells of the same, or of what this names the cause: the finding has its bar, and needs no second line. */
export const isBehind = (finding, all) => finding.lane === 'findings'
  && all.some(e => e.lane === 'alarms' && (e.tag === finding.tag || finding.kind === 'cause') && e.from <= finding.to && e.to >= finding.from);

/** Everything with a place on the axis: lane, from, to, rank, title, text and what more there is to say. */
export function happened(events, labelOf) {
  const now = ms(events.now);
  const where = channel => (channel ? labelOf(channel) : 'The bench');
  return [
    ...events.states.map((s, i) => ({
      lane: 'state', id: `state-${i}`, from: ms(s.from), to: ms(s.to), state: s.state, title: words.stateWords(s.state).word, text: words.stateWords(s.state).means,
    })),
    ...events.alarms.map(a => ({
      lane: 'alarms', id: a.id, from: ms(a.start), to: ms(a.end) ?? now, lasts: a.end === null, rank: a.priority, word: priorityWords[a.priority],
      title: words.kind(a.tag.split('.')[0]), isFault: faultKinds.has(a.tag.split('.')[0]), tag: a.tag, where: where(a.channel), channel: a.channel, text: a.text, cause: a.cause, by: a.by, why: a.why, stands: a.state, tape: a.tape,
    })),
    ...events.findings.map(f => ({
      lane: 'findings', id: f.id, from: ms(f.start), to: f.severity === 'note' ? ms(f.end) ?? ms(f.start) : ms(f.end) ?? now, lasts: f.severity !== 'note' && f.end === null,
      rank: f.severity, word: words.severity[f.severity], isFault: faultKinds.has(f.kind === 'cause' ? f.cause : f.kind), kind: f.kind, tag: tagOf(f.id), where: where(f.channel),
      title: f.kind === 'cause' && f.cause !== 'unknown' ? `Cause: ${f.cause.replaceAll('-', ' ')}` : words.kind(f.kind), channel: f.channel, text: f.text, cause: f.cause, value: f.value, limit: f.limit, unit: f.unit, by: f.acknowledgedBy, tape: f.tape,
    })),
    ...events.marks.map(m => ({
      lane: m.kind === 'mark' ? 'marks' : 'passes', id: m.id, from: ms(m.at), to: ms(m.at), rank: 'mark', word: words.kind(m.kind), title: m.text, text: m.text,
    })),
    ...events.baselines.map(b => ({
      lane: 'baselines', id: `baseline-${b.number}`, from: ms(b.at), to: ms(b.at), rank: 'mark', word: 'Baseline',
      title: b.by === 'automatic' ? `Taken by the machine, ${b.standing}` : `Taken by ${b.by}, ${b.standing}`,
      text: b.unwell.length > 0 ? `Meanwhile something was wrong: ${b.unwell.join(', ').replaceAll('-', ' ')}.` : 'Nothing was wrong meanwhile.',
    })),
  ];
}

const count = (n, one, many) => `${n} ${n === 1 ? one : many}`;

/** Short lengths to the second, long ones to the minute. */
export function length(seconds) {
  const s = Math.round(seconds);
  if (s < 3600) return words.duration(s).replace(/ 0 s$/, '');
  return words.duration(s).replace(/ 0 (min|h)$/, '');
}

/** What was told by alarms, the longest first: three of them by name, the rest by number. */
function alarmWords(alarms) {
  const tags = new Map();
  for (const a of alarms) {
    const tag = tags.get(a.tag) ?? { title: `${a.where}, ${a.title.toLowerCase()}`, times: 0, ms: 0 };
    tags.set(a.tag, { ...tag, times: tag.times + 1, ms: tag.ms + a.to - a.from });
  }
  const sorted = [...tags.values()].sort((a, b) => b.ms - a.ms);
  const named = sorted.slice(0, 3).map(t => `${t.title} (${t.times > 1 ? `${t.times} times, ` : ''}${length(t.ms / 1000)})`);
  const rest = sorted.length - named.length;
  return `Alarms: ${named.join('; ')}${rest > 0 ? `; and ${rest} more` : ''}.`;
}

function driftWords(drifts) {
  const drifting = drifts.items.filter(d => d.isDrift);
  if (drifting.length === 0) return '';
  const next = drifting.filter(d => d.secondsLeft !== null).sort((a, b) => a.secondsLeft - b.secondsLeft)[0];
  const nearest = next ? `; going on like this ${next.label} is at its limit ${length(next.secondsLeft)} after the span` : '';
  return `${count(drifting.length, 'channel drifts', 'channels drift')}${nearest}.`;
}

/** Was it sound? A word for the hurried and a few sentences for who asks; nothing is called sound that nobody watched. */
export function verdict(events, all, drifts) {
  const alarms = all.filter(e => e.lane === 'alarms');
  const advisories = all.filter(e => e.lane === 'findings' && e.rank === 'advisory').length;
  const ofMachine = all.filter(e => (e.lane === 'alarms' || e.lane === 'findings' && e.rank === 'advisory') && !e.isFault).length;
  const locked = events.states.filter(s => s.state === 'locked').reduce((sum, s) => sum + (ms(s.to) - ms(s.from)) / 1000, 0);
  const said = [];
  if (alarms.length > 0) said.push(alarmWords(alarms));
  if (alarms.length > 0 && advisories > 0) said.push(`${count(advisories, 'advisory', 'advisories')} besides.`);
  if (alarms.length + advisories > 0 && ofMachine === 0) said.push('All of it is sensor or line trouble: while that lasted, nobody saw what those channels did.');
  if (drifts) said.push(driftWords(drifts));
  if (locked > 0) said.push(`Locked for ${length(locked)}.`);
  said.push(events.unwatchedSeconds < 1 ? `Watched throughout, ${length(events.watchedSeconds)}.` : `Watched for ${length(events.watchedSeconds)}, unwatched for ${length(events.unwatchedSeconds)}.`);
  if (events.leftOut) said.push('There was more than is listed.');
  const sentence = said.filter(Boolean).join(' ');
  if (events.watchedSeconds < 1) return { mood: 'unknown', word: 'Nobody watched: whether it was sound can’t be told.', sentence };
  if (alarms.length > 0) {
    const lasting = alarms.filter(e => e.lasts).length;
    return { mood: 'alarm', word: `Not sound: ${count(alarms.length, 'alarm', 'alarms')}, ${lasting > 0 ? `${lasting} still there` : 'all over'}.`, sentence };
  }
  if (advisories > 0) return { mood: 'advisory', word: `No alarm, but ${count(advisories, 'thing', 'things')} to look at.`, sentence };
  if (events.unwatchedSeconds > 60) return { mood: 'unknown', word: 'Sound while it was watched, which was not all the time.', sentence };
  return { mood: 'sound', word: 'Sound: nothing was found.', sentence };
}

const full = new Intl.DateTimeFormat('en-GB', {
  weekday: 'short', day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit', hourCycle: 'h23',
});
const zoned = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', timeZoneName: 'short', hourCycle: 'h23' });

export const dateTime = at => full.format(at);

export const zone = at => zoned.formatToParts(at).find(p => p.type === 'timeZoneName').value;

/** Local time to the second with its zone, and UTC with its day. */
export const bothClocks = at => `${dateTime(at)}:${words.clock(at).slice(6)} ${zone(at)}, ${new Date(at).toISOString().slice(0, 10)} ${words.utcClock(at)}`;

/** Levels rise before a lock is told and are gone before its loss is. */
const settlingMs = 30_000;

/** The stretches in which tape ran locked and levels had settled, as [from, to]. */
export const locked = events => events.states
  .filter(s => s.state === 'locked').map(s => [ms(s.from) + settlingMs, ms(s.to) - settlingMs]).filter(([from, to]) => from < to);
