// One aid at work: fields, the line on which a reading is entered or taken, the rows so far, and what they come to. The service
// keeps nothing: after every change all rows go to it, and the answer is shown anew.

import * as api from '../api.js';
import { at, make } from '../dom.js';
import * as words from '../words.js';
import { shapeSigns } from './palette.js';
import { partsOf } from './parts.js';
import { Plot } from './plot.js';
import { Sheet } from './sheet.js';

const waitMs = 40; // what is typed on within it goes as one change
const decimals = { dB: 2, psi: 3, ns: 1 };

export class Aid {
  constructor(aid, context, caution) {
    Object.assign(this, { aid, model: context.model, follower: context.follower, timing: context.timing });
    this.key = `driftwatch.aid.${context.model.bench.id}.${aid.id}`;
    this.fields = Object.fromEntries(aid.fields.map(f => [f.id, f.value ?? '']));
    this.sheet = new Sheet(aid, () => this.change());
    this.caution = caution;
    this.restore();
    this.build();
    this.change();
  }

  restore() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(this.key) ?? 'null');
      if (!kept) return;
      Object.assign(this.fields, kept.fields);
      this.sheet.rows = kept.rows;
      this.sheet.render();
    } catch (problem) {
      console.warn(`Rows of ${this.aid.id} that were kept can't be read: ${problem.message}`);
    }
  }

  get live() {
    return this.aid.columns.filter(c => c.read);
  }

  get typed() {
    return this.aid.columns.filter(c => !c.fixed && !c.isClock && (!c.read || c.isWritable));
  }

  build() {
    const { aid } = this;
    this.said = make('p', { className: 'from', attributes: { role: 'status' } });
    this.error = make('p', { className: 'error', hidden: true, attributes: { role: 'alert' } });
    this.headline = make('p', { className: 'headline', attributes: { 'aria-live': 'polite' } });
    this.parts = make('div', { className: 'parts' });
    const canvas = make('canvas', { attributes: { role: 'img' } });
    this.key_ = make('p', { className: 'key' });
    at('aid').replaceChildren(
      this.caution ? make('p', { className: 'careful', textContent: this.caution }) : '',
      make('p', { className: 'how', textContent: aid.how }),
      make('div', { className: 'asked' }, ...aid.fields.map(f => this.field(f))),
      make('div', { className: 'work' },
        make('div', { className: 'given' }, ...(aid.columns.length && !aid.rows ? [this.entry()] : []), this.said, this.sheet.root, ...(aid.columns.length ? [this.files()] : [])),
        make('div', { className: 'answer' }, this.error, this.headline, make('div', { className: 'drawn', hidden: true }, canvas), this.key_, this.parts)));
    this.plot = new Plot(canvas);
    this.beat();
  }

  field(field) {
    const id = `aid-${field.id}`;
    let input;
    if (field.kind === 'number') {
      input = make('input', { id, value: this.fields[field.id], inputMode: 'decimal', autocomplete: 'off', size: 8 });
    } else {
      const options = field.kind === 'choice' ? field.options : this.model.channels.filter(field.fits).map(c => [c.definition.id, c.definition.label]);
      input = make('select', { id }, ...options.map(([value, label]) => new Option(label, value)));
      if (field.kind === 'source' && !options.some(([value]) => value === this.fields[field.id])) {
        this.fields[field.id] = this.model.channels.find(c => field.fits(c) && c.definition.role === field.role)?.definition.id ?? options[0]?.[0] ?? '';
      }
      if (field.id === 'standard' && !sessionStorage.getItem(this.key) && this.model.bench.standard.startsWith('625')) this.fields.standard = '625';
      input.value = this.fields[field.id];
    }
    input.addEventListener('input', () => {
      this.fields[field.id] = input.value.trim();
      this.change();
    });
    return make('p', {}, make('label', { htmlFor: id, textContent: field.label }), input, field.read ? this.takeInto(field, input) : null);
  }

  takeInto(field, input) {
    const button = make('button', { type: 'button', textContent: 'Take', ariaLabel: `Take the present value for ${field.label}` });
    button.addEventListener('click', () => {
      const { value, why } = field.read(this);
      if (why) return this.say(`Nothing taken. ${words.kind(why)}.`, true);
      input.value = this.fields[field.id] = text(value, 'psi');
      this.say(`Taken: ${input.value} psi.`);
      this.change();
    });
    return button;
  }

  /** Enter takes: the knob's position is written, the present values are read. */
  entry() {
    const live = this.live.length > 0;
    this.inputs = new Map(this.typed.map(c => [c.id, make('input', { id: `enter-${c.id}`, inputMode: 'decimal', autocomplete: 'off', size: 8 })]));
    this.shown = new Map(this.live.map(c => [c.id, make('output', { className: 'present' })]));
    const form = make('form', { className: 'entry' },
      ...this.typed.map(c => make('p', {}, make('label', { htmlFor: `enter-${c.id}`, textContent: c.read ? `${c.label}, where it is not taken` : c.label }), this.inputs.get(c.id))),
      ...this.live.map(c => make('p', {}, make('span', { className: 'label', textContent: c.label }), this.shown.get(c.id))),
      make('button', { type: 'submit', className: 'strong', textContent: live ? 'Take (Enter)' : 'Add (Enter)' }),
      this.aid.everySeconds ? this.byItself() : null);
    form.addEventListener('submit', event => {
      event.preventDefault();
      this.take();
    });
    return form;
  }

  byItself() {
    this.auto = make('input', { type: 'checkbox', id: 'aid-auto' });
    return make('label', { className: 'auto' }, this.auto, ` one every ${this.aid.everySeconds} s by itself`);
  }

  take(byHand = true) {
    const row = {};
    const wanting = [];
    for (const column of this.typed) row[column.id] = this.inputs.get(column.id).value.trim();
    let at = null, taken = 0;
    for (const column of this.live) {
      if (row[column.id]) continue; // what was written goes before what is read
      const got = column.read(this);
      if (got.why) wanting.push(got.why);
      else {
        row[column.id] = text(got.value, column.label.split(', ')[1]);
        at = got.at ?? at;
        taken++;
        this.fill(got.fills);
      }
    }
    const missing = this.typed.find(c => !c.read && !c.isOptional && !row[c.id]);
    if (missing) return this.say(`Nothing taken: write ${words.kind(missing.label).toLowerCase()} first.`, true, missing.id);
    if (this.live.length > 0 && taken === 0 && !this.live.some(c => row[c.id])) return this.say(`Nothing taken. ${words.kind(wanting.join('; '))}.`, true);
    this.stamp(row, at);
    this.sheet.add(row);
    this.inputs.forEach(input => (input.value = ''));
    if (byHand) this.inputs.get(this.typed[0].id).focus();
    this.say(wanting.length > 0 ? `Taken as row ${this.sheet.rows.length}; left empty: ${wanting.join('; ')}.` : `Taken as row ${this.sheet.rows.length}.`, wanting.length > 0);
    this.change(0);
  }

  /** Time counts from the first row; a row that was written by hand has the time of its entry. */
  stamp(row, at) {
    const clock = this.aid.columns.find(c => c.isClock);
    if (!clock) return;
    const now = at ?? this.model.engineNow;
    if (this.sheet.isEmpty || this.begun === undefined) this.begun = now - 1000 * Number(this.sheet.rows.at(-1)?.[clock.id] ?? 0);
    row[clock.id] = String(Number(((now - this.begun) / 1000).toFixed(3)));
  }

  fill(values = {}) {
    for (const [id, value] of Object.entries(values)) {
      this.fields[id] = String(Number(value.toPrecision(3)));
      at(`aid-${id}`).value = this.fields[id];
    }
  }

  say(text, isTrouble = false, focus = null) {
    this.said.textContent = text;
    this.said.dataset.trouble = String(isTrouble);
    if (focus) this.inputs.get(focus).focus();
  }

  files() {
    const load = make('input', { type: 'file', id: 'aid-file', className: 'unseen', accept: '.csv,text/csv,text/plain' });
    load.addEventListener('change', async () => {
      const [file] = load.files;
      load.value = '';
      if (!file) return;
      try {
        this.sheet.load(await file.text());
        this.say(`${file.name}: ${this.sheet.rows.length} rows.`);
        this.change();
      } catch (problem) {
        this.say(`${file.name}: ${problem.message}`, true);
      }
    });
    const save = make('button', { type: 'button', textContent: 'Save as CSV' });
    save.addEventListener('click', () => {
      const link = make('a', { href: URL.createObjectURL(new Blob([this.sheet.csv().text], { type: 'text/csv' })), download: `${this.aid.id}.csv` });
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    });
    const clear = make('button', { type: 'button', textContent: 'Begin anew' });
    clear.addEventListener('click', () => {
      this.sheet.clear();
      this.begun = undefined;
      this.say('All rows were taken out.');
      this.change();
    });
    return make('p', { className: 'files' }, make('label', { className: 'button', htmlFor: 'aid-file' }, 'Load a table', load), save, clear);
  }

  /** Ten times a second: what would be taken now, and taking by itself. */
  beat() {
    for (const column of this.live) {
      const shown = this.shown?.get(column.id);
      if (!shown) continue;
      const { value, why } = column.read(this);
      const now = why ? 'nothing' : text(value, column.label.split(', ')[1]).replace('-', '−');
      if (shown.textContent !== now) shown.textContent = now;
      shown.title = why ?? '';
    }
    if (this.auto?.checked && performance.now() - (this.tookAt ?? 0) >= 1000 * this.aid.everySeconds) {
      this.tookAt = performance.now();
      this.take(false);
    }
  }

  change(wait = waitMs) {
    this.changedAt = performance.now();
    sessionStorage.setItem(this.key, JSON.stringify({ fields: this.fields, rows: this.sheet.rows }));
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.measure(), wait);
  }

  async measure() {
    const { aid, changedAt } = this;
    const isReady = aid.measuresWith ? aid.measuresWith.every(f => this.fields[f]) : aid.measuresEmpty || !this.sheet.isEmpty;
    if (!this.error.isConnected) return;
    if (!isReady) return this.show(null);
    const { text: csv, lines } = this.sheet.csv();
    const body = aid.columns.length === 0 ? {} : { csv: lines.length === 0 ? '' : csv };
    for (const field of aid.fields) {
      const value = this.fields[field.id];
      if (field.isLocal || value === '') continue;
      body[field.id] = field.kind === 'number' ? asNumber(value) : value;
    }
    // Another change, or another aid, has taken its place meanwhile.
    const isCurrent = () => changedAt === this.changedAt && this.error.isConnected;
    try {
      const answer = await api.measure(aid.id, body);
      if (isCurrent()) this.show(answer);
    } catch (problem) {
      if (isCurrent()) this.fail(problem, lines);
    }
  }

  fail(problem, lines) {
    this.show(null);
    const row = problem.body?.line ? lines[problem.body.line - 2] : undefined;
    const field = this.aid.fields.find(f => f.id === problem.body?.parameter);
    this.sheet.mark(row);
    if (field) at(`aid-${field.id}`).setAttribute('aria-invalid', 'true');
    this.error.hidden = false;
    this.error.textContent = `${field ? `${field.label}: ` : row !== undefined ? `Row ${row + 1}: ` : ''}${problem.message}`;
  }

  show(answer) {
    this.error.hidden = true;
    this.sheet.mark(undefined);
    this.aid.fields.forEach(f => at(`aid-${f.id}`).removeAttribute('aria-invalid'));
    const headline = answer?.headline ? answer.headline.replace(/^[a-z]/, l => l.toUpperCase()) : '';
    if (this.headline.textContent !== headline) this.headline.textContent = headline;
    this.headline.dataset.sound = String(answer?.isSound ?? false);
    this.parts.replaceChildren(...(answer?.told ? partsOf(answer) : []));
    const heads = [...new Set((answer?.drawing?.traces ?? []).map(t => t.head))].filter(Boolean);
    this.key_.textContent = heads.map(head => `${shapeSigns[head - 1]} head ${head}`).join('   ');
    this.plot.take(answer?.drawing ?? null, `${answer?.drawing?.y ?? ''} over ${answer?.drawing?.x ?? ''}. ${headline}`);
    if (answer) Object.assign(at('aid').dataset, { shownMs: (performance.now() - this.changedAt).toFixed(0), workedMs: answer.tookMilliseconds.toFixed(2), rows: this.sheet.rows.length });
  }
}

const text = (value, unit) => value.toFixed(decimals[unit] ?? 3);

/** What is no number goes as it is: the service names the field. */
const asNumber = value => (Number.isFinite(Number(value.replace(',', '.'))) ? Number(value.replace(',', '.')) : value);
