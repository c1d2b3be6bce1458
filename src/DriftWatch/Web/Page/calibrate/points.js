// The points of a calibration, going up and down: one after the other is taken from the live input, or typed where it can't be.

import { at, make, say } from '../dom.js';
import * as explain from '../explain.js';

const numbers = text => (text ?? '').split(/[\s;]+/).filter(Boolean).map(w => Number(w.replace(',', '.'))).filter(Number.isFinite);

export class Points {
  constructor(input, changed) {
    Object.assign(this, { input, changed, rows: [] });
  }

  /** Lays the way out; what was taken before at its points stays. */
  begin(channel, sheet) {
    Object.assign(this, { channel, sheet });
    const up = [...new Set(numbers(sheet.up))].sort((a, b) => a - b);
    this.way = [...up.map(nominal => ({ nominal, direction: 'up' })), ...up.slice(0, -1).reverse().map(nominal => ({ nominal, direction: 'down' }))];
    sheet.taken = this.way.map(p => (sheet.taken ?? []).find(t => t && t.nominal === p.nominal && t.direction === p.direction) ?? null);
    this.rows = this.way.map((point, i) => this.row(point, i));
    at('rows').replaceChildren(...this.rows.map(r => r.element));
    this.fill();
  }

  row({ nominal, direction }, i) {
    const reference = make('input', { value: this.sheet.taken[i]?.reference ?? nominal, inputMode: 'decimal', autocomplete: 'off', size: 8, ariaLabel: `Point ${i + 1}: the reference reads` });
    const raw = make('input', { inputMode: 'decimal', autocomplete: 'off', size: 10, ariaLabel: `Point ${i + 1}: readings of the input, with blanks between` });
    const take = make('button', { type: 'button' });
    const rest = make('td', { data: { label: 'At rest' } });
    const element = make('tr', {},
      make('th', { scope: 'row', textContent: `${direction === 'up' ? '↑' : '↓'} ${nominal}` }),
      make('td', { data: { label: 'Reference reads' } }, reference), make('td', { data: { label: 'Input' } }, raw), rest, make('td', {}, take));
    take.addEventListener('click', () => this.take(i));
    reference.addEventListener('change', () => this.edit(i));
    raw.addEventListener('change', () => this.type(i));
    reference.addEventListener('keydown', event => event.key === 'Enter' && this.take(i));
    return { element, reference, raw, take, rest };
  }

  take(i) {
    const { seen, rest, why } = this.input;
    const row = this.rows[i];
    if (why || rest === null) return say(at('said'), `Nothing taken: ${why ?? 'not enough readings yet'}.`);
    if (!rest.isAtRest && row.take.dataset.asked !== 'yes') {
      row.take.dataset.asked = 'yes';
      say(at('said'), 'It still moves. Wait, or take it all the same: the certificate then says that it was not at rest.');
      return this.fill();
    }
    this.keep(i, seen.map(r => r.raw), rest.isAtRest);
    say(at('said'), `Point ${i + 1} taken: ${explain.plain(Number(mean(seen.map(r => r.raw)).toPrecision(7)), this.channel.calibration.rawUnit)}.`);
    const next = this.sheet.taken.findIndex(t => t === null);
    if (next >= 0) this.rows[next].reference.focus();
    else at('do-enter').focus();
  }

  /** Typed readings: nobody looked whether they had come to rest. */
  type(i) {
    const values = numbers(this.rows[i].raw.value);
    if (values.length === 0) this.sheet.taken[i] = null;
    else return this.keep(i, values, null);
    this.fill();
    this.changed();
  }

  edit(i) {
    if (this.sheet.taken[i]) this.keep(i, this.sheet.taken[i].raw, this.sheet.taken[i].settled);
  }

  keep(i, raw, settled) {
    delete this.rows[i].take.dataset.asked;
    this.sheet.taken[i] = { ...this.way[i], reference: this.rows[i].reference.value, raw, settled };
    this.fill();
    this.changed();
  }

  look() {
    this.rows.forEach(row => {
      if (this.input.rest?.isAtRest) delete row.take.dataset.asked;
    });
    this.fill();
  }

  fill() {
    const next = this.sheet.taken.findIndex(t => t === null);
    this.rows.forEach((row, i) => {
      const taken = this.sheet.taken[i];
      row.element.dataset.stands = taken ? 'taken' : i === next ? 'next' : 'open';
      if (document.activeElement !== row.raw) {
        const text = taken ? (taken.settled === null ? taken.raw.join(' ') : String(Number(mean(taken.raw).toPrecision(7)))) : '';
        if (row.raw.value !== text) row.raw.value = text;
        row.raw.readOnly = taken !== null && taken.settled !== null;
      }
      say(row.rest, !taken ? '—' : taken.settled === null ? '○ typed' : taken.settled ? `● yes, ${taken.raw.length} readings` : '▲ NO');
      say(row.take, row.take.dataset.asked === 'yes' ? 'Take all the same' : taken ? 'Take again' : 'Take');
      row.take.classList.toggle('strong', i === next);
    });
    const unit = this.sheet.unit || this.channel.unit;
    say(at('next'), this.rows.length === 0 ? `Write the points above, such as 0 25 50 75 100 in ${unit}.`
      : next < 0 ? 'All points are taken.'
      : `Next: point ${next + 1} of ${this.rows.length}, going ${this.way[next].direction}. Set the reference to ${this.way[next].nominal} ${unit} without passing it, wait until it is at rest, then take (Enter).`);
  }

  isWhole() {
    return this.rows.length > 0 && this.sheet.taken.every(t => t !== null);
  }

  asked() {
    return this.sheet.taken.filter(Boolean).map(t => ({
      nominal: t.nominal, direction: t.direction, reference: Number(String(t.reference).replace(',', '.')), raw: t.raw, settled: t.settled ?? undefined,
    }));
  }
}

const mean = list => list.reduce((a, b) => a + b, 0) / list.length;
