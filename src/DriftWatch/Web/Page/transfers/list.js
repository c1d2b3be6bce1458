// All tapes and transfers of the book, the newest first, and where each stands.

import { at, make, say } from '../dom.js';
import * as page from '../page.js';
import * as words from '../words.js';
import { enter, tried, trouble } from './entry.js';
import { tapeForm } from './tape.js';
import * as terms from './terms.js';

const shownFirst = 24;
let all = false;

export const address = (transfer, pass) => page.address({ transfer, pass, days: undefined });

/** `open` opens a transfer by its id. */
export class List {
  constructor(open, again) {
    Object.assign(this, { open, again, bench: null });
    at('more-transfers').addEventListener('click', () => {
      all = true;
      this.key = null;
      this.again();
    });
  }

  begin(bench) {
    Object.assign(this, { bench, key: null });
    at('new-tape').replaceChildren(tapeForm(bench, null, answer => this.described(answer)));
  }

  described(answer) {
    this.wanted = answer.tape;
    at('new-tape-box').open = false;
    say(at('book-said'), 'The tape is written down.');
    this.again();
  }

  show({ transfers, tapes }, model) {
    const { items, openTransfer, openPass } = transfers;
    const bare = tapes.filter(tape => !items.some(t => t.tape.id === tape.id)).reverse();
    const key = JSON.stringify([items, bare, all]);
    this.showHand(items.find(t => t.id === openTransfer), openPass);
    at('book-none').hidden = items.length + bare.length > 0;
    if (key === this.key) return; // what has the focus keeps it
    this.key = key;
    at('bare-box').hidden = bare.length === 0;
    at('bare').replaceChildren(...bare.map(tape => this.bareTape(tape)));
    at('transfers').replaceChildren(...(all ? items : items.slice(0, shownFirst)).map(t => this.card(t, model)));
    at('more-transfers').hidden = all || items.length <= shownFirst;
    say(at('more-transfers'), `Show all ${items.length}`);
    if (this.wanted) at(`open-${this.wanted}`)?.focus();
    this.wanted = null;
  }

  showHand(transfer, openPass) {
    const pass = transfer?.passes.find(p => p.id === openPass);
    at('hand').hidden = !pass;
    if (!pass) return;
    say(at('hand-said'), `In hand: pass ${pass.number} of ${transfer.tape.identifier}, ${terms.stage(pass.stage)}.`);
    this.link(at('hand-open'), transfer.id, pass.number);
  }

  link(element, transfer, pass) {
    element.href = address(transfer, pass);
    element.onclick = event => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.open(transfer, pass);
    };
    return element;
  }

  bareTape(tape) {
    const error = trouble();
    const button = make('button', { type: 'button', id: `open-${tape.id}`, textContent: 'Open a transfer', ariaLabel: `Open a transfer of ${tape.identifier}`, attributes: { 'data-act': '' } });
    button.addEventListener('click', () => tried(button, error, async () => {
      const answer = await enter(this.bench, `open.${tape.id}`, { kind: 'transfer-opened', tape: tape.id });
      this.open(answer.transfer);
      return answer;
    }));
    return make('li', {}, make('strong', { textContent: tape.identifier }), ` ${[tape.title, terms.tapeFacts(tape)].filter(Boolean).join(' · ')} `, button, error);
  }

  card(transfer, model) {
    const { tape, passes } = transfer;
    const last = passes.at(-1);
    const rows = passes.map(pass => make('li', {},
      this.link(make('a', { textContent: `Pass ${pass.number}`, ariaLabel: `Pass ${pass.number} of ${tape.identifier}` }), transfer.id, pass.number), `: ${passWords(pass, model)}`));
    return make('li', { className: 'card', data: { verdict: last?.verdict ?? last?.stage ?? 'none', hand: String(Boolean(last) && terms.isInHand(last.stage)) } },
      make('h3', {}, this.link(make('a', { textContent: tape.identifier }), transfer.id, last?.number), tape.title ? ` ${tape.title}` : ''),
      make('p', { className: 'small', textContent: `${terms.tapeFacts(tape)}; opened ${words.instant(Date.parse(transfer.opened), model.utcNow)} by ${transfer.by}` }),
      passes.length > 0 ? make('ul', { className: 'passes' }, ...rows) : make('p', { textContent: 'No pass yet.' }));
  }
}

function passWords(pass, model) {
  const run = pass.runBegan && pass.runEnded
    ? `ran ${words.instant(Date.parse(pass.runBegan), model.utcNow)} for ${words.duration((Date.parse(pass.runEnded) - Date.parse(pass.runBegan)) / 1000)}` : null;
  const verdict = pass.verdict ? `${terms.verdict(pass.verdict)}, by ${pass.verdictBy}${pass.countersignedBy ? `, countersigned by ${pass.countersignedBy}` : ''}` : terms.stage(pass.stage);
  return [verdict, run].filter(Boolean).join('; ');
}
