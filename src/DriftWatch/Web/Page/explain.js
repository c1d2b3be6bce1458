// What a number means: its words, unit, source, calibration, limits, baseline and newest reading, one click away on every page.
// It asks the service itself, so that a page needs no more than the ids to open it.

import * as api from './api.js';
import * as units from './units.js';
import * as words from './words.js';

const againMs = 2000;
const mostBaselines = 50; // looked through for the one in force

const roles = {
  other: 'Kept, shown and held to its own limits; nothing else is inferred from it.',
  'supply-air': 'Compressed air before the regulator, from the compressor or the house. It must stay above the regulated pressure, or the wheel loses its air.',
  'regulated-air': 'Air behind the regulator, at the inlet of the head wheel’s air bearing. The wheel floats on it.',
  'guide-vacuum': 'Vacuum that holds the tape in the guide, as a depression: more is a greater number.',
  'rf-level': 'Level of the RF that one head reads off the tape.',
  'control-track': 'Level of the control track, by which the servos find the tracks.',
  'timing-error': 'Timing error over one turn of the head wheel, four passes of a head, against the angle.',
  'corrector-use': 'Greatest timing error that the corrector sees, as a share of what it can correct.',
  'servo-lock': 'On while the machine’s servos report that they are locked.',
  'wheel-speed': 'Speed of the head wheel.',
  'sync-level': 'Amplitude of sync in the picture that is played.',
  'video-level': 'Level of white in the picture that is played.',
  'audio-level': 'Level of the sound.',
  'dew-point': 'Temperature at which water falls out of the compressed air, under its pressure.',
  'ambient-temperature': 'Temperature of the room.',
  'ambient-humidity': 'Relative humidity of the room.',
  barometer: 'Pressure of the room’s air; gauge pressures and the venturi’s vacuum depend on it.',
  'compressor-running': 'On while the compressor works.',
  'sensor-rail': 'Supply of the sensors whose output is a share of it.',
  'control-track-phase': 'Phase between head wheel and control track: where on the track the heads run.',
  'rf-tilt': 'RF at the end of a head’s pass over that at its beginning: how the tape lies in the guide.',
  'guide-servo': 'Drive of the servo that moves the guide, from its middle: at its end it can correct no more.',
  'tape-counter': 'Place on the tape by the counter of the machine, in seconds of play.',
  timecode: 'Place on the tape by its recorded timecode.',
};

const doubts = {
  limit: 'a limit was passed', fault: 'a channel had faults', alarm: 'an alarm stood', drifting: 'something drifted', 'off-setpoint': 'the air was off its setpoint',
};

const standings = {
  provisional: 'provisional: half a minute of tape, until there is a better one',
  stable: 'taken by the machine after minutes in which nothing was wrong',
  confirmed: 'confirmed by a person',
};

const element = (tag, text, className) => {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (className) made.className = className;
  return made;
};

function facts(title, rows) {
  const section = element('section'), list = element('dl');
  for (const [term, said] of rows) {
    if (!said) continue;
    const box = element('div');
    box.append(element('dt', term), element('dd', said));
    list.append(box);
  }
  section.append(element('h3', title), list);
  return section;
}

const when = iso => words.instant(Date.parse(iso), Date.now());
const seconds = s => (s < 1 && s > 0 ? `${Math.round(s * 1000)} ms` : `${Number(s.toFixed(1))} s`);
/** A value as the instrument said it. */
export const plain = (value, unit) => `${String(Number(value.toPrecision(7))).replace(/^-/, '−')} ${units.plainSign(unit)}`.trim();

/** How a reading becomes a value, as a formula. */
export function calibration({ form, gain, offset, coefficients, raw, values, rawUnit }, unit) {
  const own = units.plainSign(unit), sign = units.plainSign(rawUnit) || 'reading';
  if (form === 'line' && gain === 1 && offset === 0 && rawUnit === unit) return `none: the instrument says ${own || 'the value'} itself`;
  if (form === 'line') return `${own} = ${Number(gain.toPrecision(7))} × ${sign} ${offset < 0 ? '−' : '+'} ${Number(Math.abs(offset).toPrecision(7))}`;
  if (form === 'polynomial') return `${own} from ${sign} by the polynomial ${coefficients.map(c => Number(c.toPrecision(7))).join(', ')}, lowest order first`;
  return `${own} from ${sign} by straight lines through ${raw.map((r, i) => `${r} → ${values[i]}`).join(', ')}`;
}

function range({ rawLow, rawHigh, low, high }, { rawUnit }, unit) {
  const ends = (from, to, show) => (from === null && to === null ? '' : from === null ? `under ${show(to)}` : to === null ? `over ${show(from)}` : `${show(from)} to ${show(to)}`);
  const own = ends(low, high, v => units.show(v, unit)), raw = ends(rawLow, rawHigh, v => plain(v, rawUnit));
  if (!raw) return 'no bound is set';
  return own && rawUnit !== unit ? `${own} (${raw} at the instrument); beyond it is a fault` : `${own || raw}; beyond it is a fault`;
}

function limitLine(limit, unit, baseline) {
  const item = element('li'), title = element('strong', `${words.severity[limit.severity]} ${limit.side === 'low' ? 'below' : 'above'} ${words.limitAt(limit, unit)}`);
  const at = limit.reference === 'absolute' ? null : limit.reference === 'baseline' ? baseline + limit.value : baseline * limit.value;
  const now = limit.reference === 'absolute' ? '' : baseline === null ? ' There is no baseline now, so it is not judged.' : ` Now that is ${units.show(at, unit)}.`;
  const delay = limit.onDelaySeconds > 0 ? `Said after ${seconds(limit.onDelaySeconds)}` : 'Said at once';
  const over = limit.reference === 'baseline-fraction' ? `${limit.deadband} of the baseline` : units.showChange(limit.deadband, unit).replace('+', '');
  const back = [limit.deadband > 0 && `by ${over}`, limit.offDelaySeconds > 0 && `for ${seconds(limit.offDelaySeconds)}`].filter(Boolean).join(' ');
  const inside = back ? `; over when back ${back}` : '';
  const judged = limit.judgedIn.length === 0 ? 'in every state' : `while ${limit.judgedIn.map(s => words.stateWords(s).word.toLowerCase()).join(', ')}, or the state is unknown`;
  item.append(title, element('p', `${delay}${inside}. Judged ${judged}.${now}`), element('p', `Source: ${limit.source}.`, 'source'), element('p', `Delay and deadband: ${limit.delaySource}.`, 'source'));
  return item;
}

function limits(list, unit, baseline) {
  const section = element('section'), items = element('ul');
  section.append(element('h3', 'Limits'));
  if (list.length === 0) section.append(element('p', 'None: it is kept and shown, and nothing is said about it but that it is missing.'));
  items.append(...list.map(limit => limitLine(limit, unit, baseline)));
  section.append(items);
  return section;
}

function baselineFacts(id, unit, drift, taken) {
  const inForce = drift?.baseline ?? null;
  const newest = [...taken.items].reverse().find(b => b.values.some(v => v.channel === id && (inForce === null || v.value === inForce)));
  if (inForce === null && !newest) return facts('Baseline', [['Value', 'none was taken yet']]);
  if (!newest) return facts('Baseline', [['Value', `${units.show(inForce, unit)}; who took it is not among the newest ${mostBaselines}`]]);
  const value = newest.values.find(v => v.channel === id);
  return facts('Baseline', [
    ['Value', `${units.show(value.value, unit)}${value.standardError ? ` ± ${units.showChange(value.standardError, unit).replace('+', '')} (standard error)` : ''}`],
    ['Taken', `${when(newest.at)} by ${newest.by === 'automatic' ? 'the machine itself' : newest.by}, while ${words.stateWords(newest.state).word.toLowerCase()}`],
    ['Standing', `${standings[newest.standing]}${inForce === null && drift ? '; not in force now' : ''}`],
    ['Doubts', newest.unwell.length === 0 ? 'none: nothing was wrong meanwhile' : newest.unwell.map(d => doubts[d] ?? words.kind(d)).join('; ')],
  ]);
}

function newestFacts(now, definition) {
  if (!now) return element('p');
  const value = now.at === null ? 'none yet' : now.fault ? `fault: ${words.fault(now.fault)}` : now.value === null ? 'a frame' : words.valueOf(now.value, definition);
  return facts('Newest reading', [
    ['Value', value],
    ['Of', now.at && `${when(now.at)}, ${words.age(now.ageSeconds)}`],
    ['As read', now.raw === null ? '' : plain(now.raw, now.rawUnit)],
  ]);
}

function ofChannel(channel, instruments, drift, taken) {
  const { unit } = channel, instrument = instruments.find(i => i.id === channel.instrument);
  const source = channel.ratio ? `${channel.ratio.of} over ${channel.ratio.over}, of one scan` : `${instrument?.label || channel.instrument}, input ${channel.input}`;
  const { entered, validFrom, version, note } = channel.calibration;
  return [
    element('p', roles[channel.role] ?? words.kind(channel.role), 'meaning'),
    facts('Where it comes from', [
      ['Unit', units.shownUnit(unit) === unit ? units.plainSign(unit) || 'none' : `${units.plainSign(unit)}, shown in ${units.sign(unit)}`],
      ['From', source],
      ['Every', `${seconds(channel.periodSeconds)}; stale after ${seconds(channel.staleAdvisorySeconds)}, an alarm after ${seconds(channel.staleAlarmSeconds)}`],
      ['Range', range(channel.range, channel.calibration, unit)],
      ['Calibration', calibration(channel.calibration, unit)],
      ['Its date', entered ? `version ${version}, entered ${when(entered)}${validFrom ? `, holds from ${when(validFrom)}` : ''}` : `version ${version}, in the bench file from the start`],
      ['Its note', note],
      ['Setpoint', channel.setpoint === null ? '' : units.show(channel.setpoint, unit)],
    ]),
    limits(channel.limits, unit, drift?.baseline ?? null),
    baselineFacts(channel.id, unit, drift, taken),
  ];
}

function ofQuantity(quantity, drift, taken) {
  const { unit, meaning, needs } = quantity;
  return [
    element('p', `${meaning[0].toUpperCase()}${meaning.slice(1)}.`, 'meaning'),
    facts('Where it comes from', [
      ['Unit', units.shownUnit(unit) === unit ? units.plainSign(unit) || 'none' : `${units.plainSign(unit)}, shown in ${units.sign(unit)}`],
      ['From', `worked out by the service from: ${needs}`],
    ]),
    limits(quantity.limits, unit, drift?.baseline ?? null),
    baselineFacts(quantity.id, unit, drift, taken),
  ];
}

function dialog() {
  let made = document.getElementById('explain');
  if (made) return made;
  made = element('dialog', undefined, 'wide explain');
  made.id = 'explain';
  made.setAttribute('aria-labelledby', 'explain-title');
  const top = element('div', undefined, 'top'), title = element('h2'), close = element('button', 'Close');
  title.id = 'explain-title';
  close.type = 'button';
  close.addEventListener('click', () => made.close());
  top.append(title, close);
  made.append(top, element('div', undefined, 'explained'));
  document.body.append(made);
  return made;
}

/** Opens the explanation of a channel or quantity by its id. */
export async function open(bench, id, label = id) {
  const made = dialog(), body = made.querySelector('.explained');
  made.querySelector('h2').textContent = label;
  made.dataset.subject = id;
  body.replaceChildren(element('p', 'Asking the service …'));
  if (!made.open) made.showModal();
  try {
    const [answer, drifts, taken, newest] = await Promise.all([api.bench(bench), api.drifts(bench), api.baselines(bench, mostBaselines), api.channels(bench)]);
    if (made.dataset.subject !== id) return;
    const channel = answer.channels.find(c => c.id === id), quantity = answer.quantities.find(q => q.id === id);
    if (!channel && !quantity) throw new Error(`This bench has no channel or quantity ‘${id}’ any more.`);
    const drift = drifts.items.find(d => d.id === id);
    made.querySelector('h2').textContent = (channel ?? quantity).label;
    const parts = channel ? ofChannel(channel, answer.instruments, drift, taken) : ofQuantity(quantity, drift, taken);
    let reading = newestFacts(newest.items.find(c => c.id === id), channel ?? quantity);
    parts.splice(1, 0, reading);
    body.replaceChildren(...parts);
    if (!channel) return;
    while (await later() && made.open && made.dataset.subject === id) { // its age must not stand still while it is looked at
      const next = await api.channels(bench).then(a => newestFacts(a.items.find(c => c.id === id), channel), problem => element('p', problem.message, 'error'));
      reading.replaceWith(next);
      reading = next;
    }
  } catch (problem) {
    body.replaceChildren(element('p', problem.message, 'error'));
  }
}

const later = () => new Promise(resolve => setTimeout(() => resolve(true), againMs));
