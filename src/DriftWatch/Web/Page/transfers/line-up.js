// The line-up, one step at a time: what it reads now, what it is held to, what it read before and in the end, and what was turned. Where
// the bench has a channel or quantity for it the service reads it; what a person reads off is kept as read by hand.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { Polled } from '../polled.js';
import * as units from '../units.js';
import * as words from '../words.js';
import { field, forget, keep, numberInput, numberOf, textInput, textOf, tried, trouble } from './entry.js';
import * as terms from './terms.js';

const nowMs = 1000;
const hand = 'hand';

const putRight = 'Switch the machine’s standard, or put the tape’s description right, before the line-up.';

const show = (value, unit) => (unit ? units.show(value, unit) : String(value));

/** What a step is held to, in words. */
export function toleranceOf({ least, greatest, unit }) {
  if (least === null && greatest === null) return null;
  if (least === null) return `at most ${units.showLimit(greatest, unit)}`;
  return greatest === null ? `at least ${units.showLimit(least, unit)}` : `${units.limit(least, unit)} to ${units.showLimit(greatest, unit)}`;
}

const holds = ({ least, greatest }, value) => (least === null && greatest === null ? null : !(least !== null && value < least) && !(greatest !== null && value > greatest));
const standing = is => (is === null ? '' : is ? ', ● within its tolerance' : ', ▲ outside its tolerance');

export class LineUp {
  constructor(view) {
    this.view = view;
    this.now = new Map();
    this.polled = new Polled(at('line-up-now'), nowMs, api.lineUpNow, ({ standard, items }) => {
      this.now = new Map(items.map(i => [i.step, i]));
      this.showStandard(standard);
      this.showNow();
    });
    this.error = trouble();
    at('end-line-up').after(this.error);
    at('end-line-up').addEventListener('click', () => this.finish());
    units.onChange(() => this.chosen && this.view.pass && this.choose(this.chosen.key));
  }

  begin(pass) {
    this.end();
    const { standard } = this.view.transfer.tape;
    this.steps = this.view.procedures.lineUp.filter(s => s.standard === null || s.standard === standard);
    this.buttons = this.steps.map(step => {
      const button = make('button', { type: 'button', className: 'step' });
      button.addEventListener('click', () => {
        this.choose(step.key);
        at('step-title').focus();
      });
      return button;
    });
    at('steps').replaceChildren(...this.buttons.map(b => make('li', {}, b)));
    this.pass = pass;
    this.chosen = null;
    this.choose((terms.isInHand(pass.stage) ? this.untouched(pass) : null)?.key ?? this.steps[0]?.key);
  }

  end() {
    this.polled.bench = null;
  }

  untouched(pass) {
    return this.steps.find(s => pass.steps.every(r => r.step !== s.key)) ?? null;
  }

  recordOf(key) {
    return this.pass.steps.find(r => r.step === key) ?? null;
  }

  show(pass) {
    this.pass = pass;
    const isOpen = pass.stage === 'preparing' || pass.stage === 'ready';
    if (isOpen && at('stage-line-up').open && this.polled.bench === null) this.polled.begin(this.view.model);
    if (!isOpen) {
      this.end();
      this.showStandard(null);
    }
    at('step-form').hidden = at('line-up-now').hidden = !isOpen;
    at('end-box').hidden = !isOpen;
    this.steps.forEach((step, i) => {
      const record = this.recordOf(step.key);
      const sign = !record ? '○' : !record.done ? '◇' : record.inTolerance === false ? '▲' : '●';
      const state = !record ? 'not recorded' : !record.done ? 'left out' : record.inTolerance === false ? 'outside' : 'recorded';
      say(this.buttons[i], `${sign} ${i + 1}. ${step.text} (${state})`);
      if (step === this.chosen) this.buttons[i].setAttribute('aria-current', 'step');
      else this.buttons[i].removeAttribute('aria-current');
    });
    this.showRecord();
    const missing = this.steps.filter(s => pass.steps.every(r => r.step !== s.key));
    say(at('end-said'), pass.lineUpEnded ? `● Ended by ${terms.signed(pass.lineUpEnded)}. A step recorded now opens it again.`
      : missing.length === 0 ? 'All steps are recorded or left out. Ending the line-up takes this tape’s baseline.'
      : `${terms.many(missing.length, 'step')} not recorded yet; the verdict will weigh that. Ending the line-up takes this tape’s baseline.`);
    at('end-line-up').hidden = Boolean(pass.lineUpEnded);
    at('end-line-up').classList.toggle('strong', missing.length === 0);
    const outside = pass.steps.filter(r => r.done && r.inTolerance === false).length;
    return [
      `${pass.steps.length} of ${this.steps.length} steps`, outside > 0 ? `▲ ${outside} outside` : null, pass.lineUpEnded ? 'ended' : null,
    ].filter(Boolean).join(', ');
  }

  /** Told before anything is turned: a machine that is lined up to another standard has to be lined up again. */
  showStandard(standard) {
    this.standard = standard;
    const box = at('line-up-standard');
    box.hidden = !standard;
    // A sentence that is read aloud is not said again for a tenth of a turn.
    const news = standard && `${standard.standing} ${Math.round(parseFloat(/\d+\.\d/.exec(standard.text) ?? '0') / 3)}`;
    if (news === this.standardSaid) return;
    this.standardSaid = news;
    if (!standard) return;
    box.dataset.standing = standard.standing;
    say(box, `Standard ${terms.proof(standard)}${standard.standing === 'contradicted' ? ` ${putRight}` : ''}`);
  }

  /** Builds the one step that is worked on. */
  choose(key) {
    const step = this.steps.find(s => s.key === key);
    if (!step) return;
    this.chosen = step;
    const kept = (input, name) => keep(input, `${this.pass.id}.${step.key}.${name}`);
    const unit = step.unit ? units.sign(step.unit) : '';
    const parts = this.parts = {
      live: make('output', {}), liveSaid: make('span', { attributes: { role: 'status' } }),
      before: kept(numberInput(), 'before'), beforeAt: kept(make('input', { type: 'hidden' }), 'before-at'), after: kept(numberInput(), 'after'), turned: kept(textInput({ placeholder: 'what, which way, how far' }), 'turned'), note: kept(textInput(), 'note'),
      by: kept(make('select', {}, new Option('by hand', hand)), 'by'), error: trouble(),
      take: make('button', { type: 'button', textContent: 'Keep what it reads now' }),
      record: make('button', { type: 'button', className: 'strong', textContent: 'Record this step' }),
      leave: make('button', { type: 'button', textContent: 'Leave it out' }),
    };
    parts.by.value ||= hand;
    const tolerance = toleranceOf(step);
    say(at('step-title'), `Step ${this.steps.indexOf(step) + 1} of ${this.steps.length}: ${step.text}`);
    const aid = step.aid ? make('a', { href: `heads.html?${new URLSearchParams({ bench: this.view.bench, aid: step.aid })}#${step.aid === 'timing' ? 'timing' : 'aids'}`, textContent: step.aid === 'timing' ? 'Look at the timing of the heads' : `Use the aid ‘${step.aid}’` }) : null;
    at('step-about').replaceChildren(...[
      step.caution ? make('p', { className: 'careful', textContent: `Caution: ${step.caution}` }) : null,
      make('p', { textContent: tolerance ? `Tolerance: ${tolerance}` : 'No tolerance of its own.' }), make('p', { className: 'source', textContent: `Source: ${step.source}` }),
      aid ? make('p', {}, aid) : null].filter(Boolean));
    at('step-now').replaceChildren('Reads now ', parts.live, ' ', parts.liveSaid);
    parts.afterField = field(`In the end${unit ? `, ${unit}` : ''}`, parts.after);
    parts.afterSaid = make('p', { className: 'field taken', textContent: 'In the end: the service takes what it reads when you record, or read when it happened.' });
    at('step-form').replaceChildren(
      make('div', { className: 'fields' }, field('Read', parts.by), make('div', { className: 'pair' }, field(`Before${unit ? `, ${unit}` : ''}`, parts.before), parts.take), parts.afterField, parts.afterSaid,
        field('What was turned', parts.turned, 'long'), field('Note (needed where it is left out)', parts.note, 'long')),
      parts.error, make('p', { className: 'do' }, parts.record, ' ', parts.leave));
    parts.take.addEventListener('click', () => this.takeBefore());
    parts.by.addEventListener('change', () => this.showBy());
    parts.record.addEventListener('click', () => this.record(true));
    parts.leave.addEventListener('click', () => this.record(false));
    this.steps.forEach((s, i) => (s === step ? this.buttons[i].setAttribute('aria-current', 'step') : this.buttons[i].removeAttribute('aria-current')));
    this.showNow();
    this.showRecord();
  }

  showRecord() {
    const record = this.recordOf(this.chosen?.key);
    at('step-record').hidden = !record;
    if (!record) return;
    const { unit } = this.chosen;
    const how = record.readBy ? `read by ${this.labelOf(record.readBy)}` : 'read by hand';
    const values = record.after !== null
      ? `${record.before === null ? '' : `${show(record.before, unit)}, then `}${show(record.after, unit)}${standing(record.inTolerance)}, ${how}` : record.before !== null ? `${show(record.before, unit)} before, ${how}` : null;
    say(at('step-record'), `${record.done ? 'Recorded' : 'Left out'}: ${[values, record.turned ? `turned ${record.turned}` : null, terms.signed(record.signed)].filter(Boolean).join('; ')}`);
  }

  labelOf(id) {
    return this.view.model.byId.get(id)?.definition.label ?? id;
  }

  showNow() {
    const { parts, chosen } = this;
    if (!parts) return;
    const now = this.now.get(chosen.key);
    const reader = now?.readBy ?? null;
    if (reader && parts.by.options.length === 1) {
      parts.by.prepend(new Option(`by the service: ${now.label}`, reader));
      parts.by.value = localStorage.getItem(parts.by.dataset.kept) ?? reader;
      parts.by.value ||= reader; // another one was chosen, of an earlier list
    }
    at('step-now').hidden = !reader;
    if (reader) {
      const isTold = now.value !== null;
      say(parts.live, isTold ? show(now.value, chosen.unit) : '—');
      say(parts.liveSaid, isTold ? `${now.label}${standing(holds(chosen, now.value))}` : `${now.label}: ${now.why}`);
      at('step-now').dataset.within = String(isTold ? holds(chosen, now.value) : 'untold');
    }
    this.showBy();
  }

  showBy() {
    const { parts } = this;
    const isHand = parts.by.value === hand;
    parts.take.hidden = isHand;
    parts.before.readOnly = !isHand;
    parts.afterField.hidden = !isHand;
    parts.afterSaid.hidden = isHand;
  }

  takeBefore() {
    const { parts, chosen } = this;
    const now = this.now.get(chosen.key);
    parts.error.hidden = true;
    if (now?.value === null || now === undefined) {
      say(parts.error, `Nothing kept: ${now?.why ?? 'it has not been read yet'}.`);
      parts.error.hidden = false;
      return;
    }
    parts.before.value = String(Number(units.convert(now.value, chosen.unit ?? '').toPrecision(6)));
    parts.beforeAt.value = now.at; // the service looks up what it read then: a number from here would prove nothing
    for (const input of [parts.before, parts.beforeAt]) input.dispatchEvent(new Event('input'));
    parts.turned.focus();
  }

  record(isDone) {
    const { parts, chosen } = this;
    return tried(isDone ? parts.record : parts.leave, parts.error, async () => {
      const isHand = parts.by.value === hand;
      const inOwn = value => (value === undefined || !chosen.unit ? value : units.back(value, chosen.unit));
      const after = isHand ? inOwn(numberOf(parts.after, 'In the end')) : undefined;
      const entered = await this.view.enter(`step.${chosen.key}`, {
        kind: 'line-up-step', step: chosen.key, done: isDone, readBy: isHand ? undefined : parts.by.value,
        before: isHand ? inOwn(numberOf(parts.before, 'Before')) : undefined, beforeAt: isHand ? undefined : textOf(parts.beforeAt), after,
        turned: textOf(parts.turned), note: textOf(parts.note),
      });
      forget(parts.before, parts.beforeAt, parts.after, parts.turned, parts.note);
      const next = this.untouched(this.pass);
      if (next) this.choose(next.key);
      else this.choose(chosen.key);
      (next ? at('step-title') : at('end-line-up')).focus();
      return entered;
    });
  }

  finish() {
    const untouched = this.untouched(this.pass);
    const doubts = [
      this.standard?.standing === 'contradicted' ? `${this.standard.text} ${putRight}` : null,
      untouched ? `Not every step is recorded: next would be ‘${untouched.text}’ The verdict weighs what is missing.` : null,
    ].filter(Boolean);
    const run = () => this.view.enter('line-up-ended', { kind: 'line-up-ended' });
    if (doubts.length === 0) return tried(at('end-line-up'), this.error, run);
    return acts.withName(() => acts.question({
      title: 'End the line-up',
      text: doubts.join(' '),
      button: 'End it all the same',
      input: false,
      act: run,
    }));
  }
}
