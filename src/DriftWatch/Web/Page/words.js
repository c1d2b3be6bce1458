// How numbers, times and states are said. Whole sentences, never pieces glued together.

import * as units from './units.js';

// Numbers follow the choice of units: whatever says a value through these says it in the chosen one.
export const unitSign = units.sign;
export const { decimals, number, limit, show: quantity, showChange: change, inSentence: sentence, minus } = units;

// What is either on or off is said in words: off first.
const switches = { 'servo-lock': ['not locked', 'locked'], 'compressor-running': ['rests', 'runs'] };

export const isSwitch = definition => definition.role in switches;

/** A channel's value without its unit; that of a switch as a word. */
export const numberOf = (value, definition) => switches[definition.role]?.[value >= 0.5 ? 1 : 0] ?? units.number(value, definition.unit);

/** The values of a while as words: of a switch both places where it was in both. */
export function rangeOf(low, high, definition) {
  if (!isSwitch(definition)) return `${units.number(low, definition.unit)} to ${units.show(high, definition.unit)}`;
  const [first, last] = [numberOf(low, definition), numberOf(high, definition)];
  return first === last ? first : `${first} and ${last}`;
}

/** A mark on a channel's scale; a switch has two places, and a word would not fit beside its line: that stands as the value. */
export function tick(value, definition) {
  if (!isSwitch(definition)) return units.tick(value, definition.unit);
  return value === 1 ? 'on' : value === 0 ? 'off' : '';
}

/** What an alarm's tag, kind.subject, says; <labelOf> has the label of a channel, or nothing. */
export function tag(text, labelOf) {
  const dot = text.indexOf('.');
  const subject = dot < 0 ? text : text.slice(dot + 1);
  const label = labelOf(subject) ?? kind(subject);
  return dot < 0 ? `All of ${label}` : `${kind(text.slice(0, dot))}, ${label}`;
}

export const unitOf = definition => (isSwitch(definition) ? '' : units.sign(definition.unit));

export const valueOf = (value, definition) => (isSwitch(definition) ? numberOf(value, definition) : units.show(value, definition.unit));

/** Where a limit lies, in words. */
export function limitAt({ reference, value }, unit) {
  if (reference === 'absolute') return units.showLimit(value, unit);
  return reference === 'baseline' ? `${units.showChange(value, unit)} from the baseline` : `${value} times the baseline`;
}

const localClock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' });
const localClockZone = new Intl.DateTimeFormat('en-GB', {
  hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23', timeZoneName: 'short',
});
const localDay = new Intl.DateTimeFormat('en-CA', { year: 'numeric', month: '2-digit', day: '2-digit' });

const minuteClock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });

export const shortClock = ms => minuteClock.format(ms);
export const clock = ms => localClock.format(ms);
export const clockWithZone = ms => localClockZone.format(ms);
/** The day by this browser's calendar. */
export const day = ms => localDay.format(ms);
export const days = n => (n === 1 ? '1 day' : `${n} days`);
export const utcClock = ms => new Date(ms).toISOString().slice(11, 19) + ' UTC';

/** The time of day, with the date in front where it is not today. */
export function instant(ms, nowMs) {
  const day = localDay.format(ms);
  return day === localDay.format(nowMs) ? clock(ms) : `${day} ${clock(ms)}`;
}

export function duration(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  if (s < 60) return `${s} s`;
  if (s < 3600) return `${Math.floor(s / 60)} min ${s % 60} s`;
  if (s < 86400) return `${Math.floor(s / 3600)} h ${Math.floor((s % 3600) / 60)} min`;
  return `${Math.floor(s / 86400)} d ${Math.floor((s % 86400) / 3600)} h`;
}

/** Whole minutes; seconds would promise more than an extrapolation can hold. */
export function minutes(exact) {
  const whole = Math.round(exact);
  return whole < 120 ? `${whole} min` : `${Math.floor(whole / 60)} h ${whole % 60} min`;
}

export const age = seconds => (seconds < 10 ? `${Math.max(0, seconds).toFixed(1)} s ago` : `${duration(seconds)} ago`);

export const states = [
  ['no-air', 'No air', 'nothing for the wheel to float on'],
  ['air-up', 'Air up', 'no tape closes the guide'],
  ['tape-on-guide', 'Tape on guide', 'vacuum holds it; no RF yet'],
  ['running', 'Running', 'the heads read RF; servos not locked'],
  ['locked', 'Locked', 'timing and levels can be trusted'],
];

export function stateWords(slug) {
  const found = states.find(s => s[0] === slug);
  return found ? { word: found[1], means: found[2] } : { word: 'State unknown', means: 'too few channels to tell; every limit is judged' };
}

const faultWords = {
  missing: 'no reading came', 'no-answer': 'no answer', 'line-down': 'line is down',
  'bad-checksum': 'checksum wrong', garbled: 'line garbled', 'instrument-error': 'instrument reports an error',
  'not-a-number': 'not a number', 'over-range': 'over range', 'under-range': 'under range', 'open-loop': 'open loop',
  'loop-high': 'loop too high', 'implausible-jump': 'implausible jump', stuck: 'stuck value', 'supply-lost': 'sensor supply lost',
};

export const fault = slug => faultWords[slug] ?? slug.replaceAll('-', ' ');

export const kind = slug => slug.replaceAll('-', ' ').replace(/^./, c => c.toUpperCase()).replace(/\brf\b/i, 'RF');

/** A place on the tape: hours, minutes, seconds and tenths. */
export function place(seconds) {
  const tenths = Math.round(Math.abs(seconds) * 10);
  const two = n => String(n).padStart(2, '0');
  return `${seconds < 0 && tenths > 0 ? '−' : ''}${Math.floor(tenths / 36_000)}:${two(Math.floor(tenths / 600) % 60)}:${two(Math.floor(tenths / 10) % 60)}.${tenths % 10}`;
}

const bases = { 'elapsed-time': 'by the time since the run began', counter: 'by the machine’s counter', timecode: 'by recorded timecode' };
export const basis = slug => bases[slug] ?? slug;

/** Where the tape stood and how that is known; nothing where no run was entered. */
export const onTape = tape => (tape ? `${place(tape.seconds)}, ${basis(tape.basis)}` : '');

export const severity = { alarm: 'Alarm', advisory: 'Advisory', note: 'Note' };

/** How the name of who acted is known. */
export const identity = known => ({ token: 'signed in', proxy: 'signed in by the proxy' })[known] ?? 'declared';
