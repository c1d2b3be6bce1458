// One transfer: its tape, its passes, and the pass that is looked at, stage by stage; what comes next is always said. A pass that is
// over is only looked at: whoever wants another begins another.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { at, make, say } from '../dom.js';
import { Checks } from './checks.js';
import { enter, tried, trouble } from './entry.js';
import { LineUp } from './line-up.js';
import { Papers } from './papers.js';
import { Review } from './review.js';
import { Run } from './run.js';
import { tapeForm } from './tape.js';
import * as terms from './terms.js';

const names = { checks: 'Pre-flight', 'line-up': 'Line-up', run: 'Run', review: 'Review and verdict', papers: 'Documents' };

/** The stage at which a pass stands. */
function stageOf(pass) {
  if (pass.stage === 'preparing') return pass.checksUnsigned.length > 0 ? 'checks' : 'line-up';
  if (pass.stage === 'ready' || pass.stage === 'running') return 'run';
  return pass.stage === 'ended' || pass.stage === 'judged' ? 'review' : 'papers';
}

export class PassView {
  /** `again` asks the service at once; `open` goes to another transfer or pass. */
  constructor({ again, open }) {
    this.open_ = open;
    this.again = again;
    this.stages = { checks: new Checks(this), 'line-up': new LineUp(this), run: new Run(this), review: new Review(this), papers: new Papers(this) };
    for (const [id, stage] of Object.entries(this.stages)) at(`stage-${id}`).addEventListener('toggle', () => this.pass && this.id === this.pass.id && stage.show(this.pass));
    this.error = trouble();
    at('pass-acts').append(this.error);
    at('begin-pass').addEventListener('click', () => this.beginPass());
    this.tapeError = trouble();
    at('open-another').after(this.tapeError);
    at('open-another').addEventListener('click', () => this.openAnother());
    at('give-up').addEventListener('click', () => this.giveUp());
    at('way-of-pass').replaceChildren(...Object.entries(names).map(([id, textContent]) => {
      const link = make('a', { href: `#stage-${id}`, textContent });
      link.addEventListener('click', event => {
        event.preventDefault();
        this.show_(id);
        at(`stage-${id}`).querySelector('summary').focus();
      });
      return make('li', { data: { stage: id } }, link, ' ', make('span'));
    }));
  }

  begin(model) {
    Object.assign(this, { model, bench: model.bench.id, now: null, procedures: null, id: null, lists: new Map() });
    this.load(model);
  }

  /** The site's lists are of the bench file in force: read once for each. */
  async load(model) {
    while (model === this.model) {
      try {
        const procedures = await api.procedures(model.bench.id);
        if (model !== this.model) return;
        this.now = procedures;
        return this.again();
      } catch (problem) {
        say(at('pass-said'), problem.message);
        await new Promise(resolve => setTimeout(resolve, 3000));
      }
    }
  }

  /** A pass whose run has ended is shown by the lists of its day, as it is judged. */
  listsOf(pass, model) {
    if (!pass?.run?.ended) return this.now;
    if (this.lists.get(pass.id) === undefined) {
      this.lists.set(pass.id, null);
      api.procedures(model.bench.id, pass.id).then(lists => {
        if (model !== this.model) return;
        this.lists.set(pass.id, lists);
        this.again();
      }, problem => {
        this.lists.delete(pass.id); // the next look asks again
        say(at('pass-said'), problem.message);
      });
    }
    return this.lists.get(pass.id);
  }

  open(transfer) {
    if (this.transfer?.id !== transfer) {
      this.transfer = null;
      at('pass-shown').hidden = true;
    }
  }

  close() {
    this.transfer = this.pass = this.id = null;
    Object.values(this.stages).forEach(stage => stage.end?.());
  }

  /** `number` names the pass; null means the newest. */
  show(transfer, number, model) {
    if (!this.now || model !== this.model) return;
    const pass = transfer.passes.find(p => p.number === number) ?? transfer.passes.at(-1) ?? null;
    const lists = this.listsOf(pass, model);
    if (!lists) return;
    this.procedures = lists;
    Object.assign(this, { transfer, pass });
    at('pass-shown').hidden = false;
    this.showTape(transfer);
    this.showPasses(transfer, pass);
    at('stages').hidden = !pass;
    const isNew = pass?.id !== this.id;
    this.id = pass?.id ?? null;
    say(at('next'), pass ? pass.next : 'Begin its first pass.');
    at('next-box').dataset.stage = pass?.stage ?? 'none';
    if (!pass) return;
    const here = stageOf(pass);
    if (isNew) Object.values(this.stages).forEach(stage => stage.begin(pass));
    for (const [id, stage] of Object.entries(this.stages)) this.tell(id, stage.show(pass), here);
    if (isNew) Object.keys(names).forEach(id => { at(`stage-${id}`).open = id === here; });
    else if (here !== this.here) this.show_(here, this.here);
    this.here = here;
  }

  tell(id, said, here) {
    const item = at('way-of-pass').querySelector(`[data-stage="${id}"]`);
    say(item.querySelector('span'), said);
    say(at(`stage-${id}`).querySelector('.how-far'), said);
    item.classList.toggle('passed', Object.keys(names).indexOf(id) < Object.keys(names).indexOf(here));
    if (id === here) item.setAttribute('aria-current', 'step');
    else item.removeAttribute('aria-current');
  }

  /** Opens one stage, and closes the one that is over. */
  show_(id, former = null) {
    if (former) at(`stage-${former}`).open = false;
    at(`stage-${id}`).open = true;
  }

  showTape({ tape, opened, notes }) {
    say(at('pass-title'), [tape.identifier, tape.title].filter(Boolean).join(' · '));
    say(at('tape-facts'), terms.tapeFacts(tape));
    const key = JSON.stringify([tape, notes]);
    if (this.tapeKey === key && at('tape-form').children.length > 0) return;
    this.tapeKey = key;
    const facts = [['Carrier', tape.carrier], ['Condition', tape.condition], ['Earlier passes', tape.previousPasses], ['Opened', terms.signed(opened)],
      ['Described', tape.descriptions === 1 ? 'once' : `${tape.descriptions} times; each description is kept`], ...notes.map(n => ['Note', terms.signed(n.signed)])];
    at('tape-known').replaceChildren(...facts.filter(([, value]) => value).map(([name, value]) => make('div', {}, make('dt', { textContent: name }), make('dd', { textContent: value }))));
    at('tape-form').replaceChildren(tapeForm(this.bench, tape, () => this.again()));
  }

  showPasses({ id, passes }, pass) {
    const key = JSON.stringify([passes.map(p => [p.number, p.stage, p.verdict?.verdict]), pass?.number]);
    say(at('begin-pass'), passes.length === 0 ? 'Begin its first pass' : 'Begin another pass');
    at('begin-pass').classList.toggle('strong', passes.every(p => p.stage === 'given-up'));
    at('begin-pass').hidden = passes.some(p => terms.isInHand(p.stage));
    at('give-up').hidden = pass?.stage !== 'preparing' && pass?.stage !== 'ready';
    if (this.passesKey === key) return;
    this.passesKey = key;
    at('passes').replaceChildren(...passes.map(p => {
      const link = make('a', { textContent: `Pass ${p.number}`, href: `?${new URLSearchParams({ bench: this.bench, transfer: id, pass: p.number })}` });
      if (p === pass) link.setAttribute('aria-current', 'page');
      link.addEventListener('click', event => {
        if (event.ctrlKey || event.metaKey || event.shiftKey) return;
        event.preventDefault();
        this.open_(id, p.number);
      });
      return make('li', {}, link, ` ${p.verdict ? terms.verdict(p.verdict.verdict) : terms.stage(p.stage)}`);
    }));
  }

  /** An entry about the pass that is looked at. Shows what became of it before it answers. */
  async enter(what, fields) {
    const answer = await enter(this.bench, `${this.pass.id}.${what}`, { ...fields, transfer: this.transfer.id, pass: this.pass.id });
    await this.again();
    return answer;
  }

  beginPass() {
    return tried(at('begin-pass'), this.error, async () => {
      const answer = await enter(this.bench, `pass.${this.transfer.id}`, { kind: 'pass-opened', transfer: this.transfer.id });
      this.open_(this.transfer.id);
      return answer;
    });
  }

  openAnother() {
    return tried(at('open-another'), this.tapeError, async () => {
      const answer = await enter(this.bench, `another.${this.transfer.id}`, { kind: 'transfer-opened', tape: this.transfer.tape.id });
      this.open_(answer.transfer);
      return answer;
    });
  }

  giveUp() {
    return acts.withName(() => acts.question({
      title: 'Give this pass up',
      text: 'It will have no run. What was signed in it stays in the book.',
      label: 'Why',
      button: 'Give it up',
      act: note => this.enter('give-up', { kind: 'pass-given-up', note: note || undefined }),
    }));
  }

  beat() {
    if (this.pass) this.stages.run.beat();
  }

  linked(isUp) {
    if (isUp && this.pass) this.stages.run.flush();
  }
}
