// The units in which the page shows. Stored, judged, asked of the service and sent to it is always the bench's own unit; only
// what stands on the screen changes, and the choice stays in this browser. Sentences that come from the service stay as they
// were recorded.

const key = 'driftwatch.units';

// Exact by definition: the inch and the pound by the international yard and pound agreement of 1959, standard gravity by the
// 3rd General Conference on Weights and Measures (1901). 'inH2O' and 'mmH2O' are conventional: a column of water of
// 1000 kg/m³ under standard gravity, as in NIST SP 811, appendix B.8, 'inch of water, conventional' (249.0889 Pa).
const metresAnInch = 0.0254;
const kilogramsAPound = 0.45359237;
const gravity = 9.80665;
const pascalAPsi = kilogramsAPound * gravity / metresAnInch ** 2;

/** Units of one kind: what one is in the kind's base unit, and the zero's place in it. The first one of each is only the first in the list. */
export const kinds = [
  { id: 'pressure', label: 'Air pressure', units: { psi: pascalAPsi, kPa: 1000, bar: 100_000 } },
  { id: 'vacuum', label: 'Vacuum', units: { inH2O: metresAnInch * 1000 * gravity, Pa: 1, mmH2O: gravity } },
  { id: 'length', label: 'Tracking and height', units: { mil: metresAnInch / 1000, um: 1e-6 } },
  { id: 'time', label: 'Timing', units: { us: 1e-6, ns: 1e-9 } },
  { id: 'temperature', label: 'Temperature', units: { degC: 1, degF: 5 / 9 }, zero: { degC: 273.15, degF: 459.67 * 5 / 9 } },
];

const decimalsOfUnit = {
  psi: 2, bar: 3, mbar: 1, Pa: 0, hPa: 1, kPa: 2, inH2O: 2, mmH2O: 1, inHg: 2, mmHg: 1, V: 3, mV: 1, uV: 0, mA: 3, A: 3,
  mil: 2, um: 1, degC: 1, degF: 1, K: 1, '%RH': 1, s: 2, ms: 2, us: 3, ns: 1, dB: 1, IRE: 1, '%': 1, 'rev/s': 2, 'rev/min': 0, count: 0, Hz: 2,
};

const signOfUnit = { degC: '°C', degF: '°F', us: 'µs', uV: 'µV', um: 'µm', deg: '°', arcmin: '′', inH2O: 'inH₂O', mmH2O: 'mmH₂O', 1: '', count: '' };

let chosen = read();
const listeners = new Set();

function read() {
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? '{}');
    return Object.fromEntries(kinds.filter(k => kept[k.id] in k.units).map(k => [k.id, kept[k.id]]));
  } catch {
    return {}; // what can't be read is no choice
  }
}

/** The choice of a kind; undefined shows what the bench has. */
export const choice = kind => chosen[kind];

/** Chooses a unit for a kind, or the bench's own by undefined, and tells everyone who shows numbers. */
export function choose(kind, unit) {
  chosen = { ...chosen, [kind]: unit };
  localStorage.setItem(key, JSON.stringify(chosen));
  tell();
}

/** Calls back after each change of the choice, here or on another page of this browser. */
export function onChange(callback) {
  listeners.add(callback);
}

const tell = () => listeners.forEach(callback => callback());

globalThis.addEventListener?.('storage', event => {
  if (event.key !== key && event.key !== null) return;
  chosen = read();
  tell();
});

const kindOf = unit => kinds.find(k => unit in k.units);

/** 'psi/min' is of the kind of 'psi', over minutes. */
function parts(unit) {
  const slash = unit.indexOf('/');
  return slash > 0 && kindOf(unit.slice(0, slash)) ? [unit.slice(0, slash), unit.slice(slash)] : [unit, ''];
}

/** The unit in which a value of this unit is shown. */
export function shownUnit(unit) {
  const [own, over] = parts(unit);
  return (chosen[kindOf(own)?.id] ?? own) + over;
}

const factor = (own, shown) => {
  const { units } = kindOf(own);
  return units[own] / units[shown];
};

/** A value as it is shown: a number in {@link shownUnit}. */
export function convert(value, unit) {
  const [own, over] = parts(unit);
  const shown = chosen[kindOf(own)?.id] ?? own;
  if (shown === own) return value;
  const { units, zero } = kindOf(own);
  // A rate is a change: the zero falls out of it.
  return zero && !over ? (value * units[own] + zero[own] - zero[shown]) / units[shown] : value * factor(own, shown);
}

const secondsIn = { ns: 1e-9, us: 1e-6, ms: 1e-3, s: 1, min: 60, h: 3600 };

/** A time in the bench's own unit, in seconds whatever is chosen for the screen. */
export const seconds = (value, unit) => value * (secondsIn[unit] ?? 1);

/** The other way: what a person wrote in the shown unit, in the bench's own. */
export function back(value, unit) {
  const offset = convert(0, unit);
  return shownUnit(unit) === unit ? value : (value - offset) / (convert(1, unit) - offset);
}

/** A difference or a rate as it is shown. */
export function convertChange(value, unit) {
  return shownUnit(unit) === unit ? value : value * (convert(1, unit) - convert(0, unit));
}

/** The other way of {@link convertChange}. */
export const backChange = (value, unit) => (shownUnit(unit) === unit ? value : value / convertChange(1, unit));

/** Decimals with which a value of the unit is shown: in another unit as many as keep about the same step. */
export function decimals(unit) {
  const own = decimalsOfUnit[unit] ?? 3;
  if (shownUnit(unit) === unit) return own;
  const step = Math.abs(convertChange(10 ** -own, unit));
  return Math.max(0, Math.ceil(-Math.log10(step) - 0.2));
}

/** A true minus sign, and none before zero. */
const dressed = text => (Number(text) === 0 ? text.replace('-', '') : text).replace('-', '−');

export const sign = unit => plainSign(shownUnit(unit));

/** The sign of a unit as it is, not as it is shown. */
export function plainSign(unit) {
  const [own, over] = parts(unit);
  return (signOfUnit[own] ?? own) + over;
}

export const number = (value, unit) => dressed(convert(value, unit).toFixed(decimals(unit)));

/** A number that is in the shown unit already, as the ticks of an axis are. */
export const tick = (value, unit) => dressed(String(Number(value.toFixed(decimals(unit) + 1))));

/** A limit or a scale's number: no zeros that say nothing. */
export const limit = (value, unit) => dressed(String(Number(convert(value, unit).toFixed(decimals(unit)))));

const withSign = (text, unit) => (sign(unit) ? `${text} ${sign(unit)}` : text);

/** A value with its unit. */
export const show = (value, unit) => withSign(number(value, unit), unit);

export const showLimit = (value, unit) => withSign(limit(value, unit), unit);

/** A recorded sentence with true minus signs: a hyphen before a number that follows no digit or letter. Records keep what was said. */
export const minus = text => text.replace(/(^|[\s(±=])-(?=\d)/g, '$1−');

const inText = new RegExp(`([−-]?\\d+(?:\\.\\d+)?) (${kinds.filter(k => !k.zero).flatMap(k => Object.keys(k.units)).join('|')})(?![\\w²])`, 'g');

/**
 * A recorded sentence with its numbers in the chosen units, to as many digits as it had. Not temperatures: of those a sentence
 * doesn't tell whether one is a value or a difference, and they have different zeros.
 */
export function inSentence(text) {
  return minus(text).replace(inText, (whole, said, unit) => {
    if (shownUnit(unit) === unit) return whole;
    const digits = said.replace(/^[−-]?0*\.?0*/, '').replace('.', '').length;
    return `${dressed(String(Number(convert(Number(said.replace('−', '-')), unit).toPrecision(Math.max(2, digits)))))} ${sign(unit)}`;
  });
}

/** A difference or a rate with its unit and its sign. */
export function showChange(value, unit) {
  const text = dressed(convertChange(value, unit).toFixed(decimals(unit)));
  return withSign(Number(value) > 0 && !/^[0.]*$/.test(text) ? `+${text}` : text, unit);
}
