// The parts of the record: tables, and points over the days. A part without anything says why in words.

import { make } from '../dom.js';
import { shapeSigns } from '../heads/palette.js';
import { Plot } from '../heads/plot.js';
import * as units from '../units.js';
import * as words from '../words.js';

const dayMs = 86_400_000;
let waiting = []; // drawn once they stand in the page and have a size

export const draw = () => {
  for (const plot of waiting) plot();
  waiting = [];
};

const text = value => (value === null || value === undefined ? '' : String(Number(value.toPrecision(4))).replace('-', '−'));

// A value and its error are shown to two figures of the error: more would tell what nobody knows.
const places = unsure => Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(Math.abs(unsure)))));
const to = (value, unsure) => (unsure > 0 ? value.toFixed(places(unsure)).replace(/^-(?=[0.]+$)/, '').replace('-', '−') : text(value));
const withError = (value, error) => `${to(value, error)}\u00a0±\u00a0${to(error, error)}`;

const hours = value => `${Number(value.toFixed(1))} h`;
const many = (n, what) => `${n} ${what}${n === 1 ? '' : 's'}`;
const day = iso => words.day(Date.parse(iso));
const value = (number, unit) => (number === null || number === undefined ? '' : words.quantity(number, unit));
const none = textContent => make('p', { className: 'none', textContent });
const small = textContent => make('p', { className: 'small', textContent });
const part = (title, ...content) => make('section', { className: 'part' }, make('h3', { textContent: title }), ...content);

function table(name, heads, rows, kind = '') {
  const cells = row => row.map((textContent, i) => make(i === 0 ? 'th' : 'td', i === 0 ? { textContent, scope: 'row' } : { textContent }));
  return make('div', { className: `scroll ${kind}`.trim(), tabIndex: 0, role: 'region', ariaLabel: name },
    make('table', {}, make('caption', { textContent: name }), make('thead', {}, make('tr', {}, ...heads.map(textContent => make('th', { textContent, scope: 'col' })))),
      make('tbody', {}, ...rows.map(row => make('tr', {}, ...cells(row))))));
}

/** Points over the days of the span; a line has a sign of its own, which its name repeats. */
function chart(title, unit, from, lines) {
  const told = lines.filter(l => l.points.length > 0);
  if (!told.some(l => l.points.length > 1)) return null; // one point draws nothing that its number does not say
  const canvas = make('canvas', { role: 'img' });
  const host = make('div', { className: 'plot' }, canvas);
  const names = told.length > 1 ? `: ${told.map((l, i) => `${shapeSigns[i]} ${l.name}`).join(', ')}` : '';
  const said = `${title}${names}; ${told.reduce((n, l) => n + l.points.length, 0)} points`;
  waiting.push(() => new Plot(canvas).take({
    x: `days since ${day(from)}`, y: units.sign(unit), places: [], byVoltage: false,
    traces: told.flatMap((l, i) => {
      const x = l.points.map(p => (Date.parse(p.at) - Date.parse(from)) / dayMs), y = l.points.map(p => units.convert(p.value, unit));
      return [{ head: i + 1, isLine: true, x, y }, { head: i + 1, isLine: false, x, y }];
    }),
  }, said));
  return make('figure', {}, host, make('figcaption', { textContent: said }));
}

export const all = answer => [summary(answer), heads(answer), air(answer), compressor(answer), geometry(answer), calibrations(answer), alarms(answer)];

const summary = a => make('p', {
  className: 'said',
  textContent: `${day(a.from)} to ${day(a.to)}: watched ${hours(a.watchedHours)}, tape ran ${hours(a.tapeHours)}; ${many(a.baselines, 'line-up')}${a.provisional > 0 ? `, ${a.provisional} provisional left out` : ''}.${a.leftOut ? ` ✕ ${a.leftOut}` : ''}`,
});

function heads(a) {
  const { readings, limit, limitSource, ranSinceHours, perWeek } = a.hours;
  const last = readings.at(-1);
  const meter = !last ? [none('The hour meter was never written down here.')] : [
    make('p', { textContent: `Last read off ${text(last.hours)} h on ${day(last.at)}; tape ran ${hours(ranSinceHours)} since.${limit === null ? '' : ` ${last.hours + ranSinceHours >= limit ? '▲ Past its limit of' : 'Of'} ${text(limit)} h (${limitSource}).`} ${perWeek === null ? 'Hours a week: too few to say.' : `${text(perWeek)} h a week over ${readings.length} readings.`}` }),
    table('Hour meter as written down', ['Read off', 'Hours', 'By', 'Tape'], readings.map(r => [day(r.at), text(r.hours), r.by, r.tape])),
  ];
  const levels = a.heads.length === 0 ? [none('This bench has no channel of a head’s RF level.')] : [
    chart('RF level at line-up', a.heads[0].unit, a.from, a.heads.map(h => ({ name: `head ${h.head}`, points: h.points }))),
    table('RF level at line-up, and each head against the median of the others', ['Head', 'n', 'Last', 'Level', 'Over head hours', 'Against the others'],
      a.heads.map(h => [String(h.head), String(h.count), value(h.points.at(-1)?.value, h.unit), h.says, h.overHours, h.against])),
  ];
  return part('Head hours and wear', ...meter, ...levels, make('h4', { textContent: 'Matching and equalisation' }),
    a.equalising.length === 0 ? none('No channel reads a head’s equalisation, and no line-up wrote any down.') : table('As line-ups wrote it down', stepHeads, a.equalising.map(stepRow), 'tapes'));
}

const stepHeads = ['At', 'Tape', 'Step', 'Before', 'After', 'Read', 'Turned'];
const stepRow = s => [day(s.at), s.tape, s.text, value(s.before, s.unit ?? ''), value(s.after, s.unit ?? ''), s.isByHand ? 'by hand' : 'by channel', s.turned ?? ''];

function air({ air: q, from }) {
  if (q.channel === null) return part('Air quality', none('This bench has no channel of the dew point: nothing can be said of the air’s water.'));
  if (q.days.length === 0) return part('Air quality', none('No dew point was read in this span.'));
  const spread = q.dayToDay === null ? 'too few days for a spread' : `standard deviation from day to day ${text(q.dayToDay)} K`;
  const points = of => q.days.map(d => ({ at: d.day, value: d[of] }));
  return part('Air quality',
    make('p', { textContent: `Dew point ${value(q.mean, 'degC')}, mean over ${many(q.days.length, 'day')}, ${spread}; the worst hour’s mean ${value(q.worstHour, 'degC')}.` }),
    make('p', { textContent: `Water: ${q.class} at the mean, ${q.worstClass} in the worst hour. Particles and oil need other instruments.` }),
    small(`Uncertainty: ${q.uncertainty ?? 'no calibration by a sheet states one: an offset of the sensor is in none of these numbers.'}`),
    chart('Dew point, daily', 'degC', from, [{ name: 'greatest', points: points('greatest') }, { name: 'mean', points: points('mean') }]));
}

function compressor(a) {
  const { count, medianSeconds, longestSeconds, deepestPsi } = a.sags;
  const sags = count === 0 || medianSeconds === null ? `Regulated air sagged ${many(count, 'time')}.`
    : `Regulated air sagged ${many(count, 'time')}; back after ${text(medianSeconds)} s (median), ${text(longestSeconds)} s at most${deepestPsi === null ? '' : `, ${value(deepestPsi, 'psi')} deep at most`}.`;
  const drawn = a.compressor.slice(0, 2).map(l => chart(l.label, l.unit, a.from, [{ name: l.label, points: l.points }]));
  return part('Compressor, filter and regulator', ...drawn,
    a.compressor.length === 0 ? none('No line-up of this span told anything of the air’s supply.')
      : table('At line-up', ['Quantity', 'n', 'Last', 'Trend'], a.compressor.map(l => [l.label, String(l.count), value(l.points.at(-1)?.value, l.unit), l.says])),
    make('p', { textContent: sags }),
    small('No channel reads the pressure lost over a filter: what judging says of a filter is by its cause.'),
    a.causes.length === 0 ? none('Judging named no cause in this span.')
      : table('Causes that judging named', ['Cause', 'n', 'What it asks first'], a.causes.map(c => [words.kind(c.cause), String(c.count), c.firstAction ?? ''])));
}

function geometry(a) {
  if (a.tapes.length === 0) return part('Geometry of the recordings', none('No transfer of this span has a line-up baseline with a timing record: nothing can be said of how its tapes were recorded.'));
  const cell = v => (v ? (v.standardError === null ? text(v.value) : withError(v.value, v.standardError)) : '');
  const steps = a.tapes.flatMap(t => t.steps);
  return part('Geometry of the recordings',
    table('At line-up, ± standard error', ['Line-up', 'Tape', ...a.spread.map(s => `${s.label}, ${units.plainSign(s.unit)}`)],
      a.tapes.map(t => [day(t.at), t.tape, ...a.spread.map(s => cell(t.values.find(v => v.id === s.id)))]), 'tapes'),
    table('How far recordings differ, beside what one is known to', ['Quantity', 'Tapes', 'Deviation from tape to tape', 'Standard error of one'],
      a.spread.map(s => [s.label, String(s.tapes), s.betweenTapes === null ? s.says : `${text(s.betweenTapes)} ${units.plainSign(s.unit)}`, s.ofOne === null ? '' : `${text(s.ofOne)} ${units.plainSign(s.unit)}`])),
    make('ul', {}, ...a.standingOut.map(t => make('li', { textContent: t }))),
    steps.length === 0 ? none('No line-up wrote down what it did to the guide.') : table('What line-ups wrote down of the guide', stepHeads, steps.map(stepRow), 'tapes'),
    small('Which machine recorded a tape is not told: the guide is set to each tape at its line-up, so what is left of skew and scallop is that line-up’s rest. A head step stands out beyond 3.5 robust deviations from the median (Iglewicz and Hoaglin 1993).'));
}

function calibrations(a) {
  if (a.calibrations.length === 0) return part('Calibrations', none('No instrument was calibrated by a sheet in this span, so of what they moved nothing can be said.'));
  return part('Calibrations', table('What each had moved since the one before, ± twice the standard uncertainty', ['Channel', 'Entered', 'Days', 'Moved', 'A year', 'More than its uncertainty', 'Due'],
    a.calibrations.map(c => [c.channel, `${day(c.at)}, ${c.by}`, text(c.days), `${withError(c.difference, 2 * c.uncertainty)} ${units.plainSign(c.unit)} at ${text(Number(c.atValue.toFixed(3)))}`,
      c.perYear === null ? '' : to(c.perYear, 2 * c.uncertainty * 365.25 / c.days), c.isSignificant ? '◇ yes' : 'no', c.due])));
}

const verdicts = { over: '▲ over', bearable: '◇ bearable', within: '● within', 'cannot-tell': 'can’t be told', 'no-target': '' };

function alarms({ alarms: health }) {
  return part('Alarms', table(`Over ${hours(health.watchedMinutes / 60)} that were watched: ${many(health.calls, 'call')}`, ['Measure', 'Is', 'Stands', 'Target', 'Source'],
    health.rows.map(r => [r.label, r.value, verdicts[r.verdict] ?? '', r.target, r.source])), small(health.caveat));
}
