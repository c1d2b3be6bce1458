// RF of the heads side by side: level, how far from its baseline and from the others, and how it stands in words.

import * as api from '../api.js';
import { at, make } from '../dom.js';
import * as explain from '../explain.js';
import * as words from '../words.js';
import { Trend, aboutButton } from './trend.js';

const signs = { good: '●', advisory: '◇', alarm: '▲', fault: '✕', 'no-data': '—', 'not-judged': '○' };
const db = value => (value === null ? '—' : `${value > 0 ? '+' : ''}${value.toFixed(1)}`.replace('-', '−').replace(/^[−+]0\.0$/, '0.0'));
const level = value => (value === null ? '—' : value.toFixed(1).replace('-', '−'));
// The scale reaches from well below the alarm to a little above: 6 dB is half the amplitude.
const reachDb = [-10, 4];

export class Rf {
  bench(model, follower) {
    Object.assign(this, { model, follower, answer: null });
    this.trends = new Map();
    at('rf-heads').replaceChildren();
    this.beat();
  }

  /** Asked for twice a second: the newest readings, not those that were judged last. */
  async beat() {
    const { model } = this;
    if (!model || this.asking) return;
    this.asking = true;
    try {
      const answer = await api.heads(model.bench.id);
      if (model === this.model) {
        this.answer = answer;
        this.show(answer);
      }
    } catch (problem) {
      at('rf-says').textContent = problem.message;
      at('rf').dataset.standing = 'old';
    } finally {
      this.asking = false;
    }
  }

  showAgain() {
    if (this.answer) this.show(this.answer);
  }

  show(answer) {
    at('rf').dataset.standing = 'live';
    at('rf-says').textContent = words.minus(answer.says);
    const list = at('rf-heads');
    if (list.children.length !== answer.heads.length) list.replaceChildren(...answer.heads.map(head => this.card(head)));
    answer.heads.forEach((head, i) => this.fill(list.children[i], head, answer.oddHead === head.head));
    at('rf-facts').textContent = [
      answer.spreadDb === null ? null : `Spread, highest less lowest: ${answer.spreadDb.toFixed(1)} dB.`,
      answer.baseline === null ? 'No baseline is taken yet; one is taken on the page Now.'
        : `Baseline of ${words.instant(Date.parse(answer.baseline.at), this.model.utcNow)}, ${answer.baseline.standing}, taken by ${answer.baseline.by === 'automatic' ? 'the service itself' : answer.baseline.by}.`,
    ].filter(Boolean).join(' ');
  }

  /** New readings have come. */
  take(changed) {
    for (const channel of changed) this.trends?.get(channel.definition.id)?.take();
  }

  drawTrends() {
    for (const trend of this.trends?.values() ?? []) trend.draw();
  }

  card(head) {
    const trend = new Trend(this.model, this.model.byId.get(head.channel));
    this.trends.set(head.channel, trend);
    const fact = (name, label) => make('div', {}, make('dt', { textContent: label }), make('dd', { className: name }));
    return make('li', {},
      make('h3', {}, aboutButton(head.label, () => explain.open(this.model.bench.id, head.channel, head.label))),
      make('p', { className: 'level' }, make('span', { className: 'number' }), ' ', make('span', { className: 'unit', textContent: 'dB' })),
      make('div', { className: 'scale', ariaHidden: 'true' }, make('i', { className: 'zero' }), make('b')),
      trend.root,
      make('dl', {}, fact('baseline', 'from baseline'), fact('others', 'from the others'), fact('trend', 'trend'), fact('limits', 'limits')),
      make('p', { className: 'standing' }));
  }

  fill(card, head, odd) {
    const text = (selector, value) => {
      const part = card.querySelector(selector);
      if (part.textContent !== value) part.textContent = value;
    };
    card.dataset.standing = head.standing;
    text('.number', level(head.levelDb));
    text('.baseline', head.fromBaselineDb === null ? '—' : `${db(head.fromBaselineDb)} dB`);
    text('.others', head.fromOthersDb === null ? '—' : `${db(head.fromOthersDb)} dB`);
    text('.trend', words.minus(head.trend.says));
    const known = head.limits.filter(l => l.atDb !== null);
    text('.limits', head.limits.length === 0 ? 'none' : known.length === 0 ? 'wait for a baseline'
      : known.map(l => `${l.side === 'low' ? 'below' : 'above'} ${level(l.atDb)} ${l.severity}`).join(', '));
    text('.standing', `${signs[head.standing]} ${odd ? 'Apart from the others; ' : ''}${words.minus(head.says)}`);
    const scale = card.querySelector('.scale');
    scale.hidden = head.fromBaselineDb === null;
    if (scale.hidden) return;
    const x = value => 100 * (Math.min(reachDb[1], Math.max(reachDb[0], value)) - reachDb[0]) / (reachDb[1] - reachDb[0]);
    const bar = scale.querySelector('b'), from = x(Math.min(0, head.fromBaselineDb)), to = x(Math.max(0, head.fromBaselineDb));
    Object.assign(bar.style, { left: `${from}%`, width: `${Math.max(0.6, to - from)}%` });
    scale.querySelector('.zero').style.left = `${x(0)}%`;
    scale.querySelectorAll('.limit').forEach(l => l.remove());
    for (const limit of known) {
      const line = make('i', { className: 'limit', data: { severity: limit.severity } });
      line.style.left = `${x(limit.atDb - head.baselineDb)}%`;
      scale.append(line);
    }
  }
}
