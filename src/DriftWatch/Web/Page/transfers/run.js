// The run: it begins and ends by the machine's state or by hand. Meanwhile how long it lasts, where on the tape it is and how that is
// known; a mark by one key, and notes. A mark that could not be sent waits here with its instant and is sent again.

import * as acts from '../acts.js';
import { at, make, say } from '../dom.js';
import { newId } from '../entry-id.js';
import * as units from '../units.js';
import * as words from '../words.js';
import { enter, isOpen, keep, numberInput, numberOf, field, forget, read, textOf, tried, trouble } from './entry.js';
import * as terms from './terms.js';
import * as when from './when.js';

const markKey = 'k';
const keysKey = 'driftwatch.keys'; // the same choice as on the page 'Now'
const retryMs = 5000;
const longestSilenceMs = 5000; // as long as the service takes a counter's reading for its own

export class Run {
  constructor(view) {
    this.view = view;
    this.error = trouble();
    this.start = numberInput({ placeholder: '0' });
    at('run-start').replaceChildren(field('What the counter stands at, in seconds', this.start));
    at('run-error').replaceChildren(this.error);
    at('begin-run').addEventListener('click', () => this.beginRun());
    at('end-run').addEventListener('click', () => this.endRun());
    at('mark').addEventListener('click', () => this.mark(textOf(at('note'))));
    at('note-form').addEventListener('submit', event => {
      event.preventDefault();
      this.note();
    });
    at('mark-key').checked = localStorage.getItem(keysKey) !== 'off';
    at('mark-key').addEventListener('change', () => localStorage.setItem(keysKey, at('mark-key').checked ? 'on' : 'off'));
    document.addEventListener('keydown', event => this.key(event));
    setInterval(() => this.flush(), retryMs);
  }

  begin(pass) {
    at('note').value = '';
    keep(at('note'), `${pass.id}.note`);
    say(at('mark-said'), '');
    this.pass = pass;
    this.showUnsent();
  }

  show(pass) {
    this.pass = pass;
    const { run } = pass;
    const runs = pass.stage === 'running';
    const isReady = pass.stage === 'preparing' || pass.stage === 'ready';
    const { runBeginsAfterSeconds, runEndsAfterSeconds } = this.view.procedures;
    at('run-ready').hidden = !isReady;
    say(at('run-how'), pass.stage === 'ready'
      ? `The run begins by itself once tape has run for ${words.duration(runBeginsAfterSeconds)}, having stood since the end of the line-up; or by hand.`
      : 'End the line-up first: then the run begins by itself. By hand it can begin at once, and the verdict weighs what is missing.');
    at('run-start').hidden = this.counter() !== null;
    at('begin-run').classList.toggle('strong', pass.stage === 'ready');
    at('run-now').hidden = !run;
    at('end-run').hidden = at('mark-box').hidden = !runs;
    if (!run) return pass.stage === 'given-up' ? 'none' : 'not yet';
    const ended = run.ended;
    say(at('run-began'), `Began ${run.beganBy === 'state' ? 'by the machine’s state' : 'by hand'}: ${terms.signed(run.began)}${ended ? `. Ended: ${terms.signed(ended)}.` : `. It ends by itself once tape has stood for ${words.duration(runEndsAfterSeconds)}, or by hand.`}`);
    const standard = run.standard ?? { standing: 'cannot-tell', text: 'nobody asked the head wheel’s speed' }; // entries of old have none
    say(at('run-standard'), `Standard ${terms.proof(standard)}`);
    at('run-standard').dataset.standing = standard.standing;
    say(at('run-lasts'), runs ? 'Runs for' : 'Ran for');
    this.beat();
    this.showNotes(pass);
    return runs ? 'running' : ended ? words.duration((Date.parse(ended.about) - Date.parse(run.began.about)) / 1000) : 'begun';
  }

  /** The channel that counts, as the service would choose it; null where there is none. */
  counter() {
    const of = role => this.view.model.channels.find(c => c.definition.role === role)?.definition.id;
    return of('timecode') ?? of('tape-counter') ?? null;
  }

  /**
   * Where the tape is, and by what: as the service has it, the counter's last reading and the time since, by the counter itself while that
   * is short; the time since the run began where no counter has read in this run.
   */
  place(ms = this.view.model.utcNow) {
    const { run } = this.pass;
    const beganMs = Date.parse(run.began.about);
    const read = run.basis === 'elapsed-time' ? null : this.lastRead(run.channel);
    if (!read || read.ms < beganMs - longestSilenceMs) return { seconds: run.startSeconds + (ms - beganMs) / 1000, basis: 'elapsed-time' };
    const isSilent = Math.abs(ms - read.ms) > longestSilenceMs;
    return { seconds: read.seconds + (ms - read.ms) / 1000, basis: isSilent ? 'elapsed-time' : run.basis, isSilent };
  }

  /** The last good reading of the counter: a fault has none, so it is kept here. */
  lastRead(id) {
    const { model } = this.view;
    const { definition, now } = model.byId.get(id) ?? {};
    if (now && !now.fault && now.value !== null) this.read = { id, seconds: units.seconds(now.value, definition.unit), ms: model.utcOf(now.at) };
    return this.read?.id === id ? this.read : null;
  }

  beat() {
    const run = this.pass?.run;
    if (!run || at('pass').hidden) return;
    const end = run.ended ? Date.parse(run.ended.about) : this.view.model.utcNow;
    const key = Math.floor(end / 1000);
    if (this.shownAt === key && this.shownRun === run.began.entry) return; // once a second is as fast as a person reads
    Object.assign(this, { shownAt: key, shownRun: run.began.entry });
    say(at('run-elapsed'), words.duration((end - Date.parse(run.began.about)) / 1000));
    const { seconds, basis, isSilent } = !run.ended ? this.place()
      : { seconds: run.basis === 'elapsed-time' ? run.startSeconds + (end - Date.parse(run.began.about)) / 1000 : null, basis: run.basis }; // where a counter stood then, the review tells
    say(at('run-place'), seconds === null ? '—' : terms.place(Math.floor(seconds)).slice(0, -2)); // whole seconds: it is told once a second
    say(at('run-basis'), isSilent ? `by the counter’s last reading and the time since: it has been silent for more than ${longestSilenceMs / 1000} s` : `${terms.basis(basis)}${basis === 'elapsed-time' && run.startSeconds !== 0 ? `; it began at ${terms.place(run.startSeconds)}` : ''}`);
  }

  showNotes(pass) {
    const key = JSON.stringify(pass.notes);
    if (this.notesKey === key) return;
    this.notesKey = key;
    const begin = Date.parse(pass.run.began.about);
    at('notes').replaceChildren(...pass.notes.toReversed().map(({ mark, signed }) => {
      const seconds = (Date.parse(signed.about) - begin) / 1000;
      return make('li', {}, make('strong', { textContent: `${mark ? '■ Mark' : '◦ Note'}${seconds >= 0 ? ` at ${words.duration(seconds)} of the run` : ''}` }), ` ${terms.signed(signed)}`);
    }));
    at('notes-none').hidden = pass.notes.length > 0;
  }

  beginRun() {
    return tried(at('begin-run'), this.error, async () => {
      const entered = await this.view.enter('run-began', { kind: 'run-began', startSeconds: this.counter() === null ? numberOf(this.start, 'What the counter stands at') : undefined });
      this.start.value = '';
      at('mark').focus();
      return entered;
    });
  }

  endRun() {
    let ended;
    try {
      ended = when.about();
    } catch (problem) {
      say(this.error, problem.message);
      this.error.hidden = false;
      return;
    }
    this.error.hidden = true;
    return acts.withName(() => acts.question({
      title: 'End the run',
      text: `The run ends ${ended === undefined ? 'now' : `as of ${words.instant(Date.parse(ended), Date.now())}`}, for good: a pass has one run. What is not on it is run in another pass.`,
      button: 'End it',
      input: false,
      act: async () => {
        await this.view.enter('run-ended', { kind: 'run-ended' });
      },
    }));
  }

  key(event) {
    if (event.key !== markKey || event.ctrlKey || event.altKey || event.metaKey || event.repeat || !at('mark-key').checked) return;
    if (at('pass').hidden || this.pass?.stage !== 'running' || document.body.dataset.role === 'reader') return;
    if (document.querySelector('dialog[open]') || event.target.closest?.('input:not([type="checkbox"]), textarea, select, [contenteditable]')) return;
    event.preventDefault();
    this.mark();
  }

  /** A mark is of the instant at which it was set, or that is written above, whenever it is sent. */
  async mark(note) {
    let about;
    try {
      about = when.about() ?? new Date(this.view.model.utcNow).toISOString();
    } catch (problem) {
      say(at('mark-said'), problem.message);
      return;
    }
    const place = terms.place(this.place(Date.parse(about)).seconds);
    await acts.withName(async by => {
      this.keepUnsent([...this.unsent(), { id: newId(), by, about, note, place, transfer: this.view.transfer.id, pass: this.pass.id }]);
      if (note) forget(at('note'));
      when.clear();
      say(at('mark-said'), `Mark set at ${place}.`);
      await this.flush();
    });
  }

  note() {
    return tried(at('write-note'), this.error, async () => {
      const entered = await this.view.enter('note', { kind: 'note', note: textOf(at('note')), transfer: this.view.transfer.id, pass: this.pass.id });
      forget(at('note'));
      at('note').focus();
      return entered;
    });
  }

  get unsentKey() {
    return `driftwatch.marks.${this.view.bench}`;
  }

  unsent() {
    return read(this.unsentKey) ?? [];
  }

  keepUnsent(marks) {
    if (marks.length > 0) localStorage.setItem(this.unsentKey, JSON.stringify(marks));
    else localStorage.removeItem(this.unsentKey);
    this.showUnsent();
  }

  showUnsent(why = '') {
    const marks = this.unsent();
    at('unsent').hidden = marks.length === 0;
    say(at('unsent'), marks.length === 0 ? '' : `✕ ${terms.many(marks.length, 'mark')} not sent yet, at ${marks.map(m => m.place).join(', ')}. ${why} The page sends again by itself.`.replace(/ {2,}/g, ' '));
  }

  /** Sends what waits, the oldest first. What the service refuses is told and not sent again. */
  async flush() {
    if (this.flushing || !this.view.bench || this.unsent().length === 0) return;
    this.flushing = true;
    try {
      while (this.unsent().length > 0) {
        const [{ place, id, ...mark }] = this.unsent();
        try {
          await enter(this.view.bench, `mark.${id}`, { kind: 'note', mark: true, ...mark }, id);
        } catch (problem) {
          if (isOpen(problem)) return this.showUnsent(problem.message);
          say(at('mark-said'), `✕ The mark at ${place} was not entered. ${problem.message}`);
        }
        this.keepUnsent(this.unsent().filter(m => m.id !== id));
      }
      await this.view.again();
    } finally {
      this.flushing = false;
    }
  }
}
