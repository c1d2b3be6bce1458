// The pass looked through: what happened where on the tape, what to run again, and the verdict by the site's rules with every reason. A
// person gives it, and a second one may stand behind it.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { Polled } from '../polled.js';
import * as words from '../words.js';
import { field, forget, keep, textInput, textOf, tried, trouble } from './entry.js';
import * as terms from './terms.js';

const nowMs = 15_000; // and at once after each entry
const formats = [['csv', 'CSV'], ['edl', 'edit list'], ['vtt', 'WebVTT']];
const severitySigns = { alarm: '▲ Alarm', advisory: '◇ Advisory', note: '○ Note' };
const kinds = { mark: '■ Mark', note: '◦ Note' };

/** By the clock: a counter may be set anew between an item's begin and its end. */
const lasts = item => (Date.parse(item.to) - Date.parse(item.from)) / 1000;

export class Review {
  constructor(view) {
    this.view = view;
    this.polled = new Polled(at('review-now'), nowMs, id => api.review(id, view.transfer.id, view.pass.id), answer => this.fill(answer));
    this.error = trouble();
    at('verdict-error').replaceChildren(this.error);
    at('give-verdict').addEventListener('click', () => this.give());
    at('countersign').addEventListener('click', () => this.countersign());
    at('verdict').append(...Object.entries(terms.verdicts).map(([value, text]) => new Option(text, value)));
    at('verdict').addEventListener('change', () => this.showWhy());
    this.note = textInput();
    at('verdict-note').replaceChildren(field('Note', this.note, 'long'));
  }

  begin(pass) {
    this.end();
    Object.assign(this, { pass, byRules: null, rowsKey: null });
    this.note.value = '';
    keep(this.note, `${pass.id}.verdict`);
    at('review-shown').hidden = true;
    for (const part of ['sections', 'items']) {
      at(`${part}-files`).replaceChildren('Save: ', ...formats.flatMap(([format, text]) => [make('a', {
        href: api.reviewExport(this.view.bench, this.view.transfer.id, pass.id, format, part), textContent: text, download: `pass-${pass.number}-${part}.${format}`,
        ariaLabel: `${part === 'sections' ? 'Sections to run again' : 'All that happened'} as ${text}`,
      }), ' ']));
    }
  }

  end() {
    this.polled.bench = null;
  }

  show(pass) {
    const isChanged = pass.entries !== this.pass?.entries;
    this.pass = pass;
    at('review-waits').hidden = Boolean(pass.run);
    at('review-now').hidden = !pass.run;
    if (pass.run && at('stage-review').open && this.polled.bench === null) this.polled.begin(this.view.model);
    if (!pass.run || !at('stage-review').open) this.end();
    if (isChanged && this.polled.bench !== null) this.polled.now();
    const { verdict } = pass;
    at('verdict-box').hidden = !pass.run?.ended || Boolean(verdict?.countersigned);
    at('given').hidden = !verdict;
    at('given').dataset.verdict = verdict?.verdict ?? '';
    if (verdict) {
      say(at('given-word'), terms.verdict(verdict.verdict));
      say(at('given-by'), `Given by ${terms.signed(verdict.signed)}${verdict.verdict === verdict.byRules ? '' : `. The rules came to ‘${terms.verdicts[verdict.byRules]}’.`}`);
      say(at('given-second'), verdict.countersigned ? `● Countersigned by ${terms.signed(verdict.countersigned)}` : '○ Not countersigned.');
    }
    say(at('give-verdict'), verdict ? 'Give another verdict' : 'Give the verdict');
    at('give-verdict').classList.toggle('strong', !verdict);
    at('countersign').hidden = !verdict || Boolean(verdict.countersigned);
    return verdict ? `${terms.verdict(verdict.verdict)}${verdict.countersigned ? ', countersigned' : ''}` : pass.run?.ended ? 'waits for the verdict' : pass.run ? 'as far as it has come' : 'after the run';
  }

  fill(review) {
    at('review-shown').hidden = false;
    say(at('places'), review.places ? `Places on the tape are known ${review.places}.` : '');
    const key = JSON.stringify(review);
    if (key === this.rowsKey) return;
    this.rowsKey = key;
    const sections = review.sections.map(s => make('tr', {},
      make('th', { scope: 'row', textContent: `${terms.place(s.fromSeconds)} to ${terms.place(s.toSeconds)}` }),
      make('td', { textContent: words.duration(s.runToSeconds - s.runFromSeconds) }), make('td', { textContent: s.reasons.map(words.sentence).join(' ') })));
    at('sections').replaceChildren(...sections);
    at('sections-box').hidden = sections.length === 0;
    say(at('sections-said'), sections.length === 0 ? 'Nothing has to be run again.' : `${terms.many(sections.length, 'section')} to run again, with handles at both ends.`);
    const rows = review.items.map(item => make('tr', { data: { severity: item.severity } },
      make('th', { scope: 'row', textContent: item.place }),
      make('td', { textContent: lasts(item) >= 0.1 ? words.duration(lasts(item)) : '' }),
      make('td', { textContent: kinds[item.kind] ?? `${severitySigns[item.severity] ?? item.severity}: ${words.kind(item.kind)}` }),
      make('td', { textContent: words.sentence(item.text) })));
    at('items').replaceChildren(...rows);
    const unread = review.unread ? ` ${review.unread}` : '';
    at('items-box').hidden = rows.length === 0;
    say(at('items-said'), rows.length === 0 ? `Nothing happened in the run so far as it was watched.${unread}` : `${terms.many(rows.length, 'thing')} happened in the run.${unread}`);
    this.fillVerdict(review);
  }

  fillVerdict({ verdict, reasons }) {
    at('by-rules').hidden = verdict === null;
    if (verdict === null) return;
    say(at('by-rules-word'), `By the rules: ${terms.verdict(verdict)}`);
    at('reasons').replaceChildren(...reasons.map(r => make('li', { data: { verdict: r.verdict } },
      make('strong', { textContent: terms.verdict(r.verdict) }), ` ${words.sentence(r.text)}${r.fromSeconds === null ? '' : ` (at ${terms.place(r.fromSeconds)})`} `,
      make('span', { className: 'source', textContent: `Rule ${r.rule}: ${this.view.procedures.rules.find(rule => rule.key === r.rule)?.source ?? 'not in the list any more'}` }))));
    say(at('reasons-none'), reasons.length === 0 ? 'No rule has anything against it.' : '');
    if (this.byRules === null) at('verdict').value = this.pass.verdict?.verdict ?? verdict;
    this.byRules = verdict;
    this.showWhy();
  }

  showWhy() {
    const differs = this.byRules !== null && at('verdict').value !== this.byRules;
    say(at('verdict-note').querySelector('label'), differs ? 'Note: why not as the rules say' : 'Note (may stay empty)');
  }

  give() {
    return tried(at('give-verdict'), this.error, async () => {
      const entered = await this.view.enter('verdict', { kind: 'verdict-given', verdict: at('verdict').value || undefined, note: textOf(this.note) });
      forget(this.note);
      at('countersign').focus();
      return entered;
    });
  }

  /** Where names are declared the second person says hers here; who is signed in signs as himself, and the service tells whether that is another. */
  countersign() {
    const isDeclared = acts.isDeclared();
    return acts.question({
      title: 'Countersign the verdict',
      text: `A second person stands behind ‘${terms.verdicts[this.pass.verdict.verdict]}’, given by ${this.pass.verdict.signed.by}.`,
      label: 'Name of the second person',
      button: 'Countersign',
      input: isDeclared,
      act: async name => {
        if (isDeclared && !name) throw new Error('Write the name of the second person.');
        await this.view.enter('countersign', { kind: 'verdict-countersigned', by: isDeclared ? name : acts.signer() });
      },
    });
  }
}
