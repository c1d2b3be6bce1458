// The aids: what each is told, from where the present value of a column comes, and how it is done. Names of fields and columns
// are those of the service, which are those of the command line.

import * as units from '../units.js';
import * as words from '../words.js';

const choice = (id, label, options, value = options[0][0]) => ({ id, label, kind: 'choice', options, value });
const number = (id, label, value = '', more = {}) => ({ id, label, kind: 'number', value, ...more });

const standards = choice('standard', 'Standard', [['525', '525/60'], ['525-colour', '525/60 colour'], ['625', '625/50']]);

/** The newest reading of a channel in a unit, or in words why there is none: an old one or a fault is no reading. */
export function reading({ model, follower }, channel, unit) {
  if (!channel) return { why: 'this bench has no such channel' };
  const { label, staleAdvisorySeconds, unit: own } = channel.definition;
  if (!follower.isUp) return { why: `${label}: the connection is lost` };
  if (!channel.now) return { why: `${label}: no reading yet` };
  if (model.ageSeconds(channel) > staleAdvisorySeconds) return { why: `${label}: no data since ${words.instant(model.utcOf(channel.now.at), model.utcNow)}` };
  if (channel.now.fault) return { why: `${label}: fault, ${words.fault(channel.now.fault)}` };
  if (channel.now.value === null) return { why: `${label}: no value` };
  const value = inUnit(channel.now.value, own, unit);
  return value === null ? { why: `${label} is in ${own}, not in ${unit}` } : { value, at: channel.now.at };
}

/** Between units of one kind that differ by a factor; null where they are of different kinds. */
export function inUnit(value, own, unit) {
  if (own === unit) return value;
  const kind = units.kinds.find(k => own in k.units && unit in k.units);
  return kind && !kind.zero ? value * kind.units[own] / kind.units[unit] : null;
}

const isIn = unit => channel => channel.definition.kind === 'series' && inUnit(1, channel.definition.unit, unit) !== null;
const rfOf = head => ({ model }) => model.channels.find(c => c.definition.role === 'rf-level' && c.definition.head === head);
const source = (id, label, unit, role, none) => ({ id, label, kind: 'source', fits: isIn(unit), role, none, isLocal: true });
const fromSource = (id, unit) => context => reading(context, context.model.byId.get(context.fields[id]), unit);

/** Skew or scallop of the record above, whichever the loop is about. */
function fromRecord({ timing, fields }) {
  const standing = document.getElementById('timing').dataset.standing;
  if (standing === 'none' || !timing.answer?.told) return { why: 'there is no timing record above' };
  if (standing === 'old') return { why: 'the timing record above is old' };
  const quantity = timing.quantity(fields.adjust === 'in-out' ? 'skew' : 'scallop');
  return { value: quantity.value, fills: { standardError: quantity.standardUncertainty } };
}

export const aids = [
  {
    id: 'tracking',
    name: 'Tracking',
    how: 'Sets the tracking control where the heads lie on the middle of their tracks. Turn it to a position, write the position here and press Enter: the heads’ levels of that moment are taken. Five positions over plus and minus 4 mil at least.',
    fields: [choice('unit', 'Unit of the position', [['mil', 'mil'], ['um', 'µm'], ['division', 'divisions of the dial']])],
    columns: [
      { id: 'position', label: 'Position' },
      ...[1, 2, 3, 4].map(head => ({ id: `head${head}`, label: `Head ${head}, dB`, read: context => reading(context, rfOf(head)(context), 'dB') })),
    ],
  },
  {
    id: 'equaliser',
    name: 'Equaliser',
    how: 'Sets the master equaliser to the dip between two rises of the level. Turn it to a setting, write the setting here and press Enter: the level of that moment is taken. Nine settings at least; twenty tell a narrow dip better.',
    fields: [source('source', 'Level from', 'dB', 'rf-level')],
    columns: [{ id: 'setting', label: 'Setting' }, { id: 'level', label: 'Level, dB', read: fromSource('source', 'dB') }],
  },
  {
    id: 'matching',
    name: 'Matching',
    how: 'Matches the channels of heads 2 to 4 to that of head 1 on two bars of a picture. Write the head and the luminance of the dark and the bright bar, in mV or IRE, as read on your own measuring set. Ten readings of each head, spread over some seconds, are a good number.',
    fields: [number('tolerance', 'Good within, % of the step between the bars', '1')],
    columns: [{ id: 'head', label: 'Head, 1 to 4' }, { id: 'dark', label: 'Dark bar' }, { id: 'bright', label: 'Bright bar' }],
  },
  {
    id: 'levels',
    name: 'Levels',
    how: 'Holds levels of the output against the figures of the standard, and tells where two standards are mixed. Write what your measuring set shows; leave out what was not read.',
    fields: [
      choice('standard', 'Standard', [['525', '525/60 with set-up'], ['525-no-setup', '525/60 without set-up'], ['625', '625/50']]),
      choice('unit', 'Unit of black, white, sync and chroma', [['mV', 'mV'], ['IRE', 'IRE']]),
      choice('bar', 'Coloured bar', ['yellow', 'cyan', 'green', 'magenta', 'red', 'blue'].map(b => [b, b]), 'red'),
      choice('bars', 'Amplitude of the bars', [['75', '75 %'], ['100', '100 %']]),
    ],
    columns: [{ id: 'level', label: 'Level', fixed: true }, { id: 'value', label: 'Read' }],
    rows: [['black', 'Black'], ['white', 'White'], ['sync', 'Sync, its depth'], ['chroma', 'Chroma, peak to peak'], ['angle', 'Angle of the vector, degrees'], ['audio-zero', 'Zero tone, dBFS']],
  },
  {
    id: 'half-error',
    name: 'Half-error loop',
    how: 'For test recordings of this machine only: after each new recording tell the error that is seen, move the guide by what is said, and make a new recording. Enter takes the error from the timing record above, or write it. A move that was not the advised one is written beside it.',
    fields: [
      standards,
      choice('procedure', 'How the error is made visible', [
        ['new-recording', 'a new recording after every move, reproduced with opposite sense'], ['replay', 'a recording of this machine replayed unmoved'], ['archive', 'a tape that is to be preserved']]),
      choice('adjust', 'What is adjusted', [['height', 'guide height: errors are the sagitta of the scallop'], ['in-out', 'guide in or out: errors are the skew from end to end']]),
      number('standardError', 'Standard error of one reading, ns'),
      number('gain', 'Share of the error that is moved', '0.5'),
    ],
    columns: [{ id: 'error', label: 'Error seen, ns', read: fromRecord, isWritable: true }, { id: 'moved', label: 'Moved before it, mil', isOptional: true }],
    measuresEmpty: true,
  },
  {
    id: 'leak-down',
    name: 'Leak-down',
    how: 'The leak of a closed receiver. Pump it up, stop the compressor, shut the valve to the machine, wait until the receiver is at room temperature, then take its pressure for five to ten minutes and touch nothing.',
    fields: [
      source('source', 'Pressure from', 'psi', 'supply-air'),
      number('receiverLitres', 'Receiver with its pipes, litres'),
      number('volumeError', 'Known to ±, litres (a twentieth where empty)'),
      number('gaugeStep', 'Step of the gauge, psi (from the readings where empty)'),
      number('temperature', 'Temperature of the air, °C', '20'),
      number('temperatureError', 'Unseen change of it ±, K (0.5 where empty)'),
    ],
    columns: [{ id: 'time', label: 'Time, s', isClock: true }, { id: 'pressure', label: 'Pressure, psi', read: fromSource('source', 'psi'), isWritable: true }],
    everySeconds: 2,
  },
  {
    id: 'filter',
    name: 'Filter',
    how: 'The drop over filter and regulator: take the regulated pressure behind the filter at a stop, with the air up and nothing drawn, and again while wheel and venturi draw. Keep the drop: its growth at the same flow is the sign of clogging.',
    fields: [
      source('source', 'Pressure from', 'psi', 'regulated-air'),
      number('atRest', 'At rest, psi', '', { read: fromSource('source', 'psi') }),
      number('underFlow', 'Under flow, psi', '', { read: fromSource('source', 'psi') }),
      number('dropBefore', 'Drop when the element was new, psi (where known)'),
      number('gaugeError', 'Standard uncertainty of one reading, psi', '0.1'),
    ],
    columns: [],
    measuresWith: ['atRest', 'underFlow'],
  },
];
