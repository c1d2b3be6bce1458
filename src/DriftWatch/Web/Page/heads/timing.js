// The timing record: follows the newest frame, stands still when asked, or shows a record from a file. All three go the same way:
// the record as CSV to the service, which reads it as the command line does.

import * as api from '../api.js';
import { at, fill, make, say } from '../dom.js';
import * as explain from '../explain.js';
import * as units from '../units.js';
import * as words from '../words.js';
import { partsOf } from './parts.js';
import { RecordChart } from './record-chart.js';
import { Trend, aboutButton } from './trend.js';

const turnsOf = [
  { what: 'guide-height', title: 'Guide height', ns: 'scallop', seen: 'scallop, sagitta', mil: 'height', sides: ['against the heads’ motion', 'along the heads’ motion'] },
  { what: 'guide-in-out', title: 'Guide in or out (penetration)', ns: 'skew', seen: 'skew, end to end', mil: 'penetration', sides: ['IN', 'OUT'] },
];
const signs = { turn: '▲', leave: '●', 'leave-not-sure': '◇' };

export class Timing {
  constructor() {
    this.chart = new RecordChart(at('timing-canvas'));
    this.record = null; // { csv, unit, name, at (UTC ms) or null }
    this.held = false;
    this.answer = null;
    at('timing-hold').addEventListener('click', () => this.hold(!this.held));
    at('timing-live').addEventListener('click', () => this.hold(false));
    at('timing-file').addEventListener('change', event => this.load(event.target.files[0]));
    at('timing-channel').addEventListener('change', () => {
      this.forget();
      this.newFrame();
    });
    for (const id of ['timing-standard', 'timing-tape', 'timing-terms']) at(id).addEventListener('change', () => this.measure());
  }

  get channel() {
    return at('timing-channel').value || null;
  }

  bench(model, follower) {
    const before = this.model?.bench.id;
    Object.assign(this, { model, follower });
    this.articles = new Map(turnsOf.map(turn => [turn.ns, this.article(turn)]));
    const frames = model.channels.filter(c => c.definition.kind === 'frame' && ['ns', 'us'].includes(c.definition.unit));
    const chosen = this.channel;
    at('timing-channel').replaceChildren(...frames.map(c => new Option(c.definition.label, c.definition.id)));
    if (frames.some(c => c.definition.id === chosen)) at('timing-channel').value = chosen;
    at('timing-channel').closest('p').hidden = frames.length < 2;
    if (before !== model.bench.id) {
      at('timing-standard').value = model.bench.standard.startsWith('625') ? '625' : '525';
      this.forget();
    }
    this.newFrame();
  }

  forget() {
    Object.assign(this, { record: null, answer: null, held: false });
    this.showHeld();
    this.showAnswer();
    this.showFrom();
  }

  /** A new frame has come: fetch it, unless the record stands still. One at a time; what comes meanwhile is fetched after. */
  async newFrame() {
    if (this.held || !this.channel) return this.showFrom();
    if (document.hidden) return;
    if (this.fetching) {
      this.waiting = true;
      return;
    }
    this.fetching = true;
    const { model, channel } = this;
    try {
      const frame = await api.latestFrame(model.bench.id, channel);
      if (!this.held && model === this.model && channel === this.channel) {
        const rows = frame.values.map((value, i) => `${frame.heads[i]},${frame.anglesDegrees[i]},${value}`);
        this.record = { csv: `head,angle,error\n${rows.join('\n')}\n`, unit: frame.unit, name: `frame ${frame.sequence}`, at: Date.parse(frame.at) };
        await this.measure();
      }
    } catch (problem) {
      if (problem.status !== 404) this.fail(problem);
    } finally {
      this.fetching = false;
    }
    if (this.waiting) {
      this.waiting = false;
      this.newFrame();
    }
  }

  hold(still) {
    this.held = still;
    if (!still && this.record?.at === null) this.forget();
    at('timing-file').value = '';
    this.fail(null);
    this.showHeld();
    this.newFrame();
  }

  async load(file) {
    if (!file) return;
    const csv = await file.text();
    const before = this.record;
    this.held = true;
    this.record = { csv, unit: 'ns', name: file.name, at: null };
    if (!(await this.measure())) {
      this.record = before;
      this.held = before?.at === null;
      at('timing-file').value = '';
    }
    this.showHeld();
    this.showFrom();
  }

  showHeld() {
    const fromFile = this.held && this.record?.at === null;
    at('timing-hold').setAttribute('aria-pressed', String(this.held));
    at('timing-hold').textContent = this.held ? 'Held still' : 'Hold still';
    at('timing-hold').hidden = fromFile;
    at('timing-live').hidden = !fromFile;
  }

  async measure() {
    const record = this.record;
    if (!record) return false;
    try {
      const answer = await api.measure('timing', {
        csv: record.csv, unit: record.unit, standard: at('timing-standard').value, tape: at('timing-tape').value, terms: at('timing-terms').value,
      });
      if (record !== this.record) return false;
      this.fail(null);
      this.answer = answer;
      this.showAnswer();
      this.showFrom();
      return true;
    } catch (problem) {
      this.fail(problem, record.name);
      return false;
    }
  }

  fail(problem, name) {
    at('timing-error').hidden = !problem;
    at('timing-error').textContent = problem ? `${name ? `${name}: ` : ''}${problem.message}` : '';
  }

  beat() {
    this.showFrom();
  }

  /** Whether the record that is drawn follows the machine, and how old it is: an old one is struck through. */
  showFrom() {
    const { record, model } = this;
    const from = at('timing-from');
    let said = this.channel ? 'No frame yet: the record is drawn as soon as one comes.' : 'This bench has no channel of timing errors. A record can be loaded from a file.';
    let old = false;
    if (record && model) {
      const age = record.at === null ? 0 : (model.utcNow - record.at) / 1000;
      old = !this.held && (age > model.byId.get(this.channel).definition.staleAdvisorySeconds || !this.follower.isUp);
      said = record.at === null ? `From a file: ${record.name}. It does not follow the machine.`
        : this.held ? `Held still: ${record.name} of ${words.instant(record.at, model.utcNow)}. It does not follow the machine.`
        : old ? `Old: ${record.name} of ${words.instant(record.at, model.utcNow)}, ${words.age(age)}. No new one comes.`
        : `Live: ${record.name}, ${words.age(age)}.`;
    }
    if (from.textContent !== said) from.textContent = said;
    from.setAttribute('role', old || this.held ? 'status' : 'note'); // a live age is not read out twice a second
    at('timing').dataset.standing = !record ? 'none' : this.held ? 'held' : old ? 'old' : 'live';
  }

  draw() {
    this.chart.draw();
  }

  quantity(name) {
    return this.answer?.quantities.find(q => q.name === name);
  }

  showAnswer() {
    const { answer } = this;
    at('timing-shown').hidden = !answer?.told;
    if (!answer) return;
    if (!answer.told) return this.fail({ message: answer.missing });
    const advice = answer.timing.advice;
    fill(at('timing-turns'), [
      ...turnsOf.map(turn => this.turn(turn, advice?.find(a => a.what === turn.what))),
      ...(advice ? [] : [make('p', { className: 'said', textContent: words.minus(answer.headline) })])]);
    at('timing-delays').replaceChildren(...(advice ?? []).filter(a => a.what.startsWith('delay-')).map(a =>
      make('li', { data: { verdict: a.verdict } }, ...told(a))));
    at('timing-delays-box').hidden = !advice;
    at('timing-parts').replaceChildren(...partsOf(answer));
    this.chart.take(answer.timing);
    at('timing-canvas').setAttribute('aria-label',
      `Four passes side by side, measured and fitted; ${turnsOf.map(t => `${t.seen} ${plusMinus(this.quantity(t.ns))}`).join('; ')}.`);
  }

  /** Made once: its name opens what the number means, and keeps the focus while frames come; its trend is that of the live machine. */
  article({ title, ns }) {
    const quantity = this.model.quantities.find(q => q.definition.quantity === ns);
    const trend = quantity ? new Trend(this.model, quantity) : null;
    const name = quantity ? aboutButton(title, () => explain.open(this.model.bench.id, quantity.definition.id, quantity.definition.label)) : title;
    const [value, small, seen, todo] = [make('span'), make('small'), make('p', { className: 'seen' }), make('p', { className: 'do' })];
    const root = make('article', {}, make('h3', {}, name), make('p', { className: 'big' }, value, small), seen, todo, trend?.root);
    return { root, value, small, seen, todo, trend };
  }

  takeQuantities(told) {
    for (const { trend } of this.articles?.values() ?? []) if (trend && told.includes(trend.channel)) trend.take();
  }

  drawTrends() {
    for (const { trend } of this.articles?.values() ?? []) trend?.draw();
  }

  turn({ ns, seen, mil, sides }, advice) {
    const off = this.quantity(mil);
    const other = units.shownUnit('mil') === 'um' ? ['mil', 1, 3] : ['µm', 25.4, 2];
    const made = this.articles.get(ns);
    made.root.dataset.verdict = advice?.verdict ?? 'none';
    say(made.value, plusMinus(off));
    say(made.small, ` ${(off.value * other[1]).toFixed(other[2]).replace('-', '−')} ± ${(off.standardUncertainty * other[1]).toFixed(other[2])} ${other[0]}, ${off.value < 0 ? sides[0] : sides[1]}`);
    say(made.seen, `${sentence(seen)}: ${plusMinus(this.quantity(ns))} (standard uncertainty)`);
    made.todo.hidden = !advice;
    if (advice && made.todo.textContent !== told(advice).map(t => t.textContent ?? t).join('')) made.todo.replaceChildren(...told(advice));
    return made.root;
  }
}

/** What to do in bold, and why behind it. */
function told({ verdict, text: asSaid }) {
  const text = words.minus(asSaid);
  const colon = text.indexOf(':');
  return [make('strong', { textContent: `${signs[verdict]} ${sentence(text.slice(0, colon))}` }), `${text.slice(colon)}.`];
}

const sentence = text => text.replace(/^[a-z]/, letter => letter.toUpperCase());

/** Value and standard uncertainty in the shown unit, to one place more than live values have. */
function plusMinus({ value, standardUncertainty: u, unit }) {
  const shown = units.shownUnit(unit);
  const places = { mil: 4, um: 2, ns: 1, us: 4 }[shown] ?? 2;
  const text = v => units.convertChange(v, unit).toFixed(places).replace('-', '−');
  return `${value > 0 ? '+' : ''}${text(value)} ± ${text(u)} ${units.sign(unit)}`;
}
