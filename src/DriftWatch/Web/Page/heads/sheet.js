// The numbers of one aid: rows of cells that can be written over, taken out, loaded and saved as the CSV that the command line
// reads.

import { make } from '../dom.js';

const parseCell = text => text.trim().replaceAll('"', '');

export class Sheet {
  constructor(aid, changed) {
    Object.assign(this, { aid, changed });
    this.rows = (aid.rows ?? []).map(([id]) => ({ level: id }));
    this.body = make('tbody');
    this.root = make('div', { className: 'scrolled' }, make('table', { className: 'sheet' },
      make('thead', {}, make('tr', {}, ...aid.columns.map(c => make('th', { scope: 'col', textContent: c.label })), aid.rows ? null : make('td'))), this.body));
    this.render();
  }

  get isEmpty() {
    return !this.rows.some(row => this.written(row));
  }

  written(row) {
    return this.aid.columns.some(c => !c.fixed && (row[c.id] ?? '') !== '');
  }

  /** Rows without any number are left out; line i + 2 of the text is row `lines[i]`. */
  csv() {
    const lines = [];
    const text = [this.aid.columns.map(c => c.id).join(',')];
    this.rows.forEach((row, i) => {
      if (!this.written(row)) return;
      lines.push(i);
      text.push(this.aid.columns.map(c => parseCell(row[c.id] ?? '').replaceAll(',', '.')).join(','));
    });
    return { text: `${text.join('\n')}\n`, lines };
  }

  add(row) {
    this.rows.push(row);
    this.body.append(this.rowOf(row, this.rows.length - 1));
    this.root.scrollTop = this.root.scrollHeight;
    this.root.hidden = false;
  }

  /** Takes a table that was saved. Columns that the aid does not know are refused by name. */
  load(text) {
    const lines = text.split(/\r?\n/).filter(line => line.trim() && !line.startsWith('#'));
    const heading = (lines.shift() ?? '').split(',').map(c => parseCell(c).toLowerCase());
    const known = this.aid.columns.map(c => c.id);
    if (!heading.some(c => known.includes(c))) throw new Error(`Line 1: the heading has none of the columns ${known.join(', ')}. Write them in the first line, parted by commas.`);
    const rows = lines.map(line => Object.fromEntries(line.split(',').map((cell, i) => [heading[i], parseCell(cell)]).filter(([c]) => known.includes(c))));
    this.rows = this.aid.rows ? this.aid.rows.map(([id]) => rows.find(r => r.level?.toLowerCase() === id) ?? { level: id }) : rows;
    this.render();
  }

  clear() {
    this.rows = (this.aid.rows ?? []).map(([id]) => ({ level: id }));
    this.render();
  }

  /** Marks the row that the service could not read. */
  mark(index) {
    [...this.body.children].forEach((row, i) => row.querySelectorAll('input').forEach(input =>
      (i === index ? input.setAttribute('aria-invalid', 'true') : input.removeAttribute('aria-invalid'))));
  }

  render() {
    this.body.replaceChildren(...this.rows.map((row, i) => this.rowOf(row, i)));
    this.root.hidden = this.rows.length === 0;
  }

  rowOf(row, index) {
    const cell = column => {
      if (column.fixed) return make('th', { scope: 'row', textContent: this.aid.rows[index][1] });
      const name = this.aid.rows ? this.aid.rows[index][1] : `${column.label}, row ${index + 1}`;
      const input = make('input', { value: row[column.id] ?? '', inputMode: 'decimal', autocomplete: 'off', ariaLabel: name, size: 8 });
      input.addEventListener('input', () => {
        row[column.id] = input.value.trim();
        this.changed();
      });
      return make('td', {}, input);
    };
    const drop = make('button', { type: 'button', className: 'plain', textContent: '✕', title: 'Take this row out', ariaLabel: `Take out row ${index + 1}` });
    drop.addEventListener('click', () => {
      this.rows.splice(this.rows.indexOf(row), 1);
      this.render();
      this.changed();
      (this.body.lastElementChild?.querySelector('button') ?? document.getElementById('aid')).focus();
    });
    return make('tr', {}, ...this.aid.columns.map(cell), this.aid.rows ? null : make('td', {}, drop));
  }
}
