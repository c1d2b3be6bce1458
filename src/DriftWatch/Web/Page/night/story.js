// What happened in a span as one list for lanes and side, and the night in a sentence.

import * as words from '../words.js';

const ms = text => (text === null ? null : Date.parse(text));

const faultKinds = new Set(['sensor-fault', 'stale', 'instrument-silent']);

const priorityWords = { high: 'High alarm', medium: 'Medium alarm', low: 'Low alarm' };

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
      title: words.kind(a.tag.split('.')[0]), where: where(a.channel), channel: a.channel, text: a.text, cause: a.cause, by: a.by, why: a.why, stands: a.state,
    })),
    ...events.findings.map(f => ({
      lane: 'findings', id: f.id, from: ms(f.start), to: f.severity === 'note' ? ms(f.end) ?? ms(f.start) : ms(f.end) ?? now, lasts: f.severity !== 'note' && f.end === null,
      rank: f.severity, word: words.severity[f.severity], isFault: faultKinds.has(f.kind), kind: f.kind, title: words.kind(f.kind), where: where(f.channel),
      channel: f.channel, text: f.text, cause: f.cause, value: f.value, limit: f.limit, unit: f.unit, by: f.acknowledgedBy,
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

/** Was it sound? A word for the hurried and the counts for who asks; nothing is called sound that nobody watched. */
export function verdict(events, all) {
  const alarms = events.alarms.length;
  const advisories = all.filter(e => e.lane === 'findings' && e.rank === 'advisory').length;
  const faults = all.filter(e => e.lane === 'findings' && e.isFault && e.rank !== 'note').length;
  const parts = [`${length(events.watchedSeconds)} watched, ${events.unwatchedSeconds >= 1 ? `${length(events.unwatchedSeconds)} unwatched` : 'nothing unwatched'}`];
  parts.push(`${count(alarms, 'alarm', 'alarms')}, ${count(advisories, 'advisory', 'advisories')}${faults > 0 ? `, of all findings ${count(faults, 'is', 'are')} sensor or line trouble` : ''}`);
  if (events.marks.length > 0) parts.push(count(events.marks.length, 'mark or pass', 'marks and passes'));
  if (events.baselines.length > 0) parts.push(count(events.baselines.length, 'baseline taken', 'baselines taken'));
  if (events.leftOut) parts.push('there was more than is listed');
  const locked = events.states.filter(s => s.state === 'locked').reduce((sum, s) => sum + (ms(s.to) - ms(s.from)) / 1000, 0);
  if (locked > 0) parts.push(`locked for ${length(locked)}`);
  const lasting = all.filter(e => e.lane === 'alarms' && e.lasts).length;
  const sentence = parts.join('; ') + '.';
  if (events.watchedSeconds < 1) return { mood: 'unknown', word: 'Nobody watched: whether it was sound can’t be told.', sentence };
  if (alarms > 0) {
    return { mood: 'alarm', word: lasting > 0 ? `Not sound: ${count(alarms, 'alarm', 'alarms')}, ${lasting} still there.` : `Not sound: ${count(alarms, 'alarm', 'alarms')}, all over.`, sentence };
  }
  const blind = events.unwatchedSeconds > 60;
  if (advisories > 0) return { mood: 'advisory', word: `No alarm, but ${count(advisories, 'thing', 'things')} to look at.`, sentence };
  if (blind) return { mood: 'unknown', word: 'Sound while it was watched, which was not all the time.', sentence };
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
