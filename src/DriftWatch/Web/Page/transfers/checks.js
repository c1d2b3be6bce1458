// The pre-flight: a list to sign item by item. What readings say of an item stands there before anybody signs it, and is kept with the
// signature; what they contradict can be signed, and is shown.

import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { Polled } from '../polled.js';
import * as words from '../words.js';
import { field, forget, keep, numberInput, numberOf, textInput, textOf, tried, trouble } from './entry.js';
import * as terms from './terms.js';

const nowMs = 15_000; // what readings prove takes the service some reading

export class Checks {
  constructor(view) {
    this.view = view;
    this.now = new Map();
    this.polled = new Polled(at('checks-now'), nowMs, api.checksNow, ({ items }) => {
      this.now = new Map(items.map(i => [i.check, i.telemetry]));
      this.items?.forEach(item => this.showNow(item));
    });
  }

  begin(pass) {
    this.items = this.view.procedures.checks.map((check, i) => this.item(check, i, pass));
    at('checks').replaceChildren(...this.items.map(i => i.element));
    this.end();
  }

  end() {
    this.polled.bench = null;
  }

  item(check, i, pass) {
    const kept = (input, name) => keep(input, `${pass.id}.${check.key}.${name}`);
    const error = trouble();
    const value = check.asksValue ? kept(numberInput(), 'value') : null;
    const note = kept(textInput({ placeholder: 'needed where it is not done or does not apply' }), 'note');
    const item = { check, value, note, error, said: make('p', { className: 'signed' }), now: make('p', { className: 'proof' }) };
    const button = (answer, text, className) => {
      const made = make('button', { type: 'button', textContent: text, className, ariaLabel: `${text}: ${check.text}` });
      made.addEventListener('click', () => this.sign(item, answer, made));
      return made;
    };
    item.buttons = [button('done', 'Sign as done', 'strong'), button('not-done', 'Not done', ''), button('does-not-apply', 'Does not apply', '')];
    item.form = make('details', { attributes: { 'data-act': '' } }, make('summary'),
      make('div', { className: 'fields' }, value && field(`Value${check.unit ? `, ${words.unitSign(check.unit)}` : ''}`, value), field('Note', note, 'long')),
      error, make('p', { className: 'do' }, ...item.buttons.flatMap(b => [b, ' '])));
    item.element = make('li', { className: 'item', data: { key: check.key } },
      make('h4', { textContent: `${i + 1}. ${check.text}` }),
      check.caution ? make('p', { className: 'careful', textContent: `Caution: ${check.caution}` }) : null,
      item.now, item.said, item.form,
      make('p', { className: 'source', textContent: `Source: ${check.source}` }));
    return item;
  }

  /** How far it is, in words. */
  show(pass) {
    const isOpen = pass.stage === 'preparing' || pass.stage === 'ready';
    if (isOpen && at('stage-checks').open && this.polled.bench === null) this.polled.begin(this.view.model);
    if (!isOpen) this.end();
    this.next = this.items.find(i => pass.checksUnsigned.includes(i.check.key)) ?? null;
    for (const item of this.items) this.fill(item, pass.checks.find(c => c.check === item.check.key) ?? null, isOpen);
    const contradicted = pass.checks.filter(c => c.answer === 'done' && c.telemetry?.standing === 'contradicted').length;
    const notDone = pass.checks.filter(c => c.answer === 'not-done').length;
    return [
      `${this.items.length - pass.checksUnsigned.length} of ${this.items.length} signed`,
      notDone > 0 ? `◇ ${notDone} not done` : null, contradicted > 0 ? `▲ ${contradicted} contradicted` : null,
    ].filter(Boolean).join(', ');
  }

  fill(item, signed, isOpen) {
    const { element, form, check } = item;
    const isNext = isOpen && item === this.next;
    const standing = !signed ? 'unsigned' : signed.telemetry?.standing === 'contradicted' && signed.answer === 'done' ? 'contradicted' : signed.answer;
    element.dataset.standing = standing;
    element.classList.toggle('next', isNext);
    const value = signed?.value === null || !signed ? '' : ` ${signed.value} ${words.unitSign(check.unit ?? '')}`.trimEnd();
    say(item.said, signed ? `${standing === 'done' ? '●' : standing === 'contradicted' ? '▲' : '◇'} Signed as ${terms.answers[signed.answer]}${value ? `,${value}` : ''}: ${terms.signed(signed.signed)}${signed.telemetry ? ` — readings then ${terms.proof(signed.telemetry)}` : ''}` : 'Not signed.');
    form.hidden = !isOpen;
    const summary = form.querySelector('summary');
    say(summary, signed ? 'Sign again' : 'Sign');
    summary.ariaLabel = `${summary.textContent}: ${check.text}`;
    summary.hidden = isNext;
    if (isNext !== item.isNext) form.open = isNext; // what a person opened himself stays
    item.isNext = isNext;
    item.isOpen = isOpen;
    this.showNow(item);
  }

  showNow(item) {
    const now = this.now.get(item.check.key);
    const isTold = item.isOpen && now && !(item.check.asksValue && now.standing === 'cannot-tell');
    item.now.hidden = !isTold;
    if (!isTold) return;
    item.now.dataset.standing = now.standing;
    say(item.now, `Readings now ${terms.proof(now)}`);
  }

  sign(item, answer, button) {
    const { value, note, error, check } = item;
    return tried(button, error, async () => {
      const number = value && answer === 'done' ? numberOf(value, 'Value') : undefined;
      const entered = await this.view.enter(`check.${check.key}`, { kind: 'check-signed', check: check.key, answer, value: number, note: textOf(note) });
      forget(note, ...(value ? [value] : []));
      item.form.open = false;
      if (this.next) this.next.buttons[0].focus();
      else at('stage-line-up').querySelector('summary').focus();
      return entered;
    });
  }
}
