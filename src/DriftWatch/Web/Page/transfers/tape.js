// A tape as it is described, first or anew.

import { make } from '../dom.js';
import { enter, field, forget, keep, numberInput, numberOf, textInput, textOf, tried, trouble } from './entry.js';
import { bands } from './terms.js';

const speeds = { '525/60': '15', '625/50': '15.625' }; // inches a second, of the standards
const texts = [
  ['title', 'Title', 'programme or series'], ['carrier', 'Carrier', 'stock, reel, splices, box, labels'],
  ['condition', 'Condition', 'what is seen of edges, shedding, smell'], ['previousPasses', 'Earlier passes', 'what is known of passes before this book'],
];

/**
 * A form that describes a tape. `tape` is one that is described anew, or null; `entered` gets the answer. What was typed stays until it
 * has been entered.
 */
export function tapeForm(bench, tape, entered) {
  const kept = (input, name) => keep(input, `${bench}.tape.${tape?.id ?? 'new'}.${name}`);
  const identifier = kept(textInput({ maxLength: 120, value: tape?.identifier ?? '', required: true }), 'identifier');
  const standard = kept(make('select', {}, ...Object.keys(speeds).map(s => new Option(s, s))), 'standard');
  const band = kept(make('select', {}, ...Object.entries(bands).map(([value, text]) => new Option(text, value))), 'band');
  const speed = kept(numberInput({ value: tape ? String(tape.speedInchesPerSecond) : '' }), 'speed');
  standard.value = localStorage.getItem(standard.dataset.kept) ?? tape?.standard ?? '525/60';
  band.value = localStorage.getItem(band.dataset.kept) ?? tape?.band ?? 'unknown';
  speed.value ||= speeds[standard.value];
  const more = Object.fromEntries(texts.map(([name, , placeholder]) => [name, kept(textInput({ value: tape?.[name] ?? '', placeholder }), name)]));
  standard.addEventListener('change', () => {
    if (speed.value === '' || Object.values(speeds).includes(speed.value)) speed.value = speeds[standard.value];
  });
  const error = trouble();
  const button = make('button', { className: 'strong', textContent: tape ? 'Describe it anew' : 'Write this tape down' });
  const form = make('form', { className: 'fields tape-form', attributes: { 'data-act': '' } },
    field('Identifier, as on its box', identifier), field('Standard', standard), field('Band', band), field('Speed, in/s', speed),
    ...texts.map(([name, label]) => field(label, more[name], 'long')),
    error, make('p', { className: 'do' }, button));
  form.addEventListener('submit', event => {
    event.preventDefault();
    tried(button, error, async () => {
      const answer = await enter(bench, `tape.${tape?.id ?? 'new'}`, {
        kind: 'tape-described', tape: tape?.id, identifier: identifier.value.trim(), standard: standard.value, band: band.value, speedInchesPerSecond: numberOf(speed, 'Speed'),
        ...Object.fromEntries(texts.map(([name]) => [name, textOf(more[name])])),
      });
      const all = [identifier, standard, band, speed, ...Object.values(more)];
      const values = all.map(input => input.value);
      forget(...all);
      if (tape) all.forEach((input, i) => { input.value = values[i]; });
      else [standard.value, band.value, speed.value] = ['525/60', 'unknown', speeds['525/60']];
      entered(answer);
      return answer;
    });
  });
  return form;
}
