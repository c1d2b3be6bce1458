// How the alarms do as a whole: each measure with its target and where that comes from.

import * as api from './api.js';
import * as words from './words.js';

const at = id => document.getElementById(id);
const verdicts = { within: 'within', bearable: 'bearable', over: 'over', 'cannot-tell': 'can’t be told', 'no-target': '' };

let of = () => null;

export function setUp(model) {
  of = model;
  at('health-open').addEventListener('click', () => {
    at('health').showModal();
    load();
  });
  at('health-span').addEventListener('change', load);
  at('health-close').addEventListener('click', () => at('health').close());
}

async function load() {
  const model = of();
  const to = model.utcNow, days = Number(at('health-span').value);
  at('health-said').textContent = 'Reading the book…';
  try {
    const answer = await api.alarmHealth(model.bench.id, to - days * 86_400_000, to);
    show(answer, id => model.byId.get(id)?.definition.label);
  } catch (problem) {
    at('health-said').textContent = problem.message;
    at('measures').replaceChildren();
    at('frequent').replaceChildren();
  }
}

/** Shows measures; where a place for the rest is given, what is within its target or has none goes there. <labelOf> has the label of a channel, or nothing. */
export function show(answer, labelOf, rest = null) {
  const calls = answer.calls === 1 ? '1 call' : `${answer.calls} calls`;
  at('health-said').textContent = `${calls} for a person in ${words.duration(answer.watchedMinutes * 60)} of watching. ${answer.caveat}`;
  const isOver = ({ verdict }) => verdict === 'over' || verdict === 'bearable';
  at('measures').replaceChildren(...answer.rows.filter(r => !rest || isOver(r)).map(row));
  rest?.replaceChildren(...answer.rows.filter(r => !isOver(r)).map(row));
  at('frequent-title').hidden = answer.mostFrequent.length === 0;
  at('frequent').replaceChildren(...answer.mostFrequent.map(tag => {
    const item = document.createElement('li');
    item.textContent = `${tag.calls} (${Math.round(tag.share * 1000) / 10} %) ${words.tag(tag.tag, labelOf)}`;
    return item;
  }));
}

function row(measure) {
  const item = document.createElement('li');
  Object.assign(item.dataset, { measure: measure.measure, verdict: measure.verdict });
  const part = (name, text) => {
    const span = document.createElement(name === 'label' ? 'h3' : 'p');
    span.className = name;
    span.textContent = text;
    item.append(span);
  };
  part('label', measure.label);
  part('value', verdicts[measure.verdict] && measure.verdict !== 'cannot-tell' ? `${measure.value} (${verdicts[measure.verdict]})` : measure.value);
  if (measure.target) part('target', `Target: ${measure.target}. Source: ${measure.source}.`);
  return item;
}
