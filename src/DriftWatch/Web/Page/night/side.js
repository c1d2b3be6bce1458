// Beside the lanes: what was found, how everything drifts, and how two channels go together.

import { fill } from '../dom.js';
import * as words from '../words.js';
import * as units from '../units.js';
import { bothClocks, isBehind, length } from './story.js';

const at = id => document.getElementById(id);

const element = (tag, className, text) => {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
};

const atOnce = 40;
let shown = atOnce;

const order = { high: 0, medium: 1, alarm: 1, low: 2, advisory: 3, mark: 4, note: 5 };

function entry(item, pick) {
  const li = element('li');
  li.dataset.rank = item.rank;
  li.dataset.id = item.id;
  li.dataset.fault = String(item.isFault === true);
  const button = element('button', 'plain-left');
  button.type = 'button';
  const head = element('span', 'head-line');
  head.append(element('span', 'rank', item.word), ' ', element('b', '', item.title));
  const when = element('span', 'at', `${words.instant(item.from, Date.now())}${item.to > item.from ? `, ${item.lasts ? 'lasts' : length((item.to - item.from) / 1000)}` : ''}${item.where ? ` · ${item.where}` : ''}`);
  button.append(head, when);
  button.addEventListener('click', () => pick(item));
  li.append(button);
  return li;
}

/** Made once while it says the same, so that who stands on it stays there as the span moves on. */
const entries = new Map();
function known(item, pick) {
  const key = JSON.stringify(item);
  if (!entries.has(item.id) || entries.get(item.id).key !== key) entries.set(item.id, { key, li: entry(item, pick) });
  return entries.get(item.id).li;
}

/** Another span is asked for: what was found in the last one says nothing of it. */
export function unread() {
  shown = atOnce;
  at('list').replaceChildren();
  at('list-count').textContent = '';
  at('list-none').hidden = at('list-more').hidden = true;
}

/** What happened, the gravest first; an alarm stands for the findings that it tells of. */
export function list(all, pick) {
  const items = all.filter(e => e.lane !== 'state' && !isBehind(e, all)).sort((a, b) => order[a.rank] - order[b.rank] || a.from - b.from);
  for (const id of entries.keys()) if (!all.some(e => e.id === id)) entries.delete(id);
  const kept = items.slice(0, shown);
  fill(at('list'), kept.map(item => known(item, pick)));
  at('list-count').textContent = items.length > 0 ? `(${items.length})` : '';
  at('list-none').hidden = items.length > 0;
  const more = at('list-more');
  more.hidden = kept.length === items.length;
  more.textContent = `Show ${items.length - kept.length} more`;
  more.onclick = () => {
    shown += 200;
    list(all, pick);
  };
}

/** One thing that happened, in full. */
export function show(item) {
  at('picked').hidden = item === null;
  if (item === null) return;
  at('picked').dataset.rank = item.rank ?? '';
  at('picked').dataset.fault = String(item.isFault === true);
  at('chosen-title').textContent = item.word ? `${item.word}: ${item.title}` : item.title;
  const facts = element('dl');
  const say = (term, text) => {
    if (!text) return;
    const box = element('div');
    box.append(element('dt', '', term), element('dd', '', text));
    facts.append(box);
  };
  say('Where', item.where);
  say('On the tape', words.onTape(item.tape));
  say('From', bothClocks(item.from));
  if (item.to > item.from) say('To', item.lasts ? `lasts, ${length((item.to - item.from) / 1000)} so far` : `${bothClocks(item.to)}, after ${length((item.to - item.from) / 1000)}`);
  if (item.value != null && item.unit) say('Worst', item.limit == null ? words.quantity(item.value, item.unit) : `${words.quantity(item.value, item.unit)} against ${words.quantity(item.limit, item.unit)}`);
  say('Cause', item.cause === 'unknown' ? 'can’t be told' : item.cause?.replaceAll('-', ' '));
  say('Stands', item.stands?.replaceAll('-', ' '));
  say('By', item.by && (item.why ? `${item.by}: ${item.why}` : item.by));
  at('picked-body').replaceChildren(element('p', '', words.sentence(item.text)), facts);
}

/** A change in the shown unit. Slopes are small: as many places as show two figures. */
function signed(own, unit) {
  const value = units.convertChange(own, unit);
  const places = value === 0 ? 0 : Math.max(words.decimals(unit), Math.min(6, 1 - Math.floor(Math.log10(Math.abs(value)))));
  return (value > 0 ? '+' : '') + value.toFixed(places).replace('-', '−');
}

const percent = share => `${(100 * share).toPrecision(2).replace(/\.0$/, '').replace('-', '−')} %`.replace(/(\d)e\+?\d+/, m => String(Math.round(Number(m))));

const tolerates = { baseline: 'from its baseline', setpoint: 'from its setpoint', begin: 'from where the span began' };

function limitWords(d) {
  if (d.limit === null) return 'No limit lies that way.';
  const limit = words.quantity(d.limit, d.unit);
  if (d.isBeyond) return `It stands beyond ${limit}.`;
  if (!d.isDrift) return d.secondsLeftLow === null ? `Nothing is foreseen to reach ${limit}.` : `Nothing is foreseen to reach ${limit}; not before ${length(d.secondsLeftLow)} after the span.`;
  if (d.secondsLeft === null && d.secondsLeftLow === null) return `Going on like this, not at ${limit} within the length of another such span.`;
  const low = d.secondsLeftLow === null ? '' : `, no sooner than ${length(d.secondsLeftLow)}`;
  const high = d.secondsLeftHigh === null ? ', latest not told' : `, by ${length(d.secondsLeftHigh)}`;
  return `Going on like this, at ${limit} ${d.secondsLeft === null ? 'later than the length of this span' : `${length(d.secondsLeft)} after the span`}${low}${high} (95 %).`;
}

function drift(d) {
  const li = element('li');
  li.dataset.drift = String(d.isDrift);
  li.dataset.channel = d.id;
  const unit = words.unitSign(d.unit);
  li.append(element('h3', '', d.label));
  if (d.untold) {
    li.append(element('p', '', `Can’t be told${d.within ? `, ${d.within.map(s => words.stateWords(s).word.toLowerCase()).join(' or ')}` : ''}: ${d.untold}.`));
    return li;
  }
  const slope = `${signed(d.slopePerHour, d.unit)} ${unit} an hour (95 %: ${signed(d.slopePerHourLow, d.unit)} to ${signed(d.slopePerHourHigh, d.unit)})`;
  const uses = d.usedSharePerHour === null ? '' : ` Uses ${percent(d.usedSharePerHour)} of its tolerance an hour, ${tolerates[d.tolerates]}.`;
  li.append(
    element('p', 'slope', d.isDrift ? `Drifts ${slope}.${uses}` : `No drift beyond its noise: ${slope}.`),
    element('p', '', limitWords(d)),
    element('p', 'basis', `From ${d.means} means${d.within ? ` while ${d.within.map(s => words.stateWords(s).word.toLowerCase()).join(' or ')}` : ''}${d.leftOut > 0 ? `, ${d.leftOut} wild left out` : ''}, worth ${Math.round(d.effectiveSize)} independent ones.`));
  return li;
}

/** Those that drift are told at once; the rest, and what can't be told, on demand. */
export function drifts(answer, states) {
  const changes = states.length - 1;
  at('drift-said').textContent = `Straight lines through means of ${length(answer.meanSeconds)}; what is faster is not in them.`
    + (changes > 0 ? ` The machine changed its state ${changes === 1 ? 'once' : `${changes} times`}: a channel whose limits are judged in some states only is told from those, any other from all, and a line over that is no wear.` : '');
  const [drifting, still] = [answer.items.filter(d => d.isDrift), answer.items.filter(d => !d.isDrift)];
  const untold = still.filter(d => d.untold).length;
  at('drift-none').hidden = drifting.length > 0 || untold === answer.items.length;
  at('drifts').replaceChildren(...drifting.map(drift));
  at('drifts-rest').replaceChildren(...still.map(drift));
  at('drift-rest').hidden = still.length === 0;
  at('drift-rest').firstElementChild.textContent = `${still.length - untold} without a drift beyond their noise${untold > 0 ? `, ${untold} that can’t be told` : ''}`;
}

const chance = p => (p < 0.001 ? 'less than one time in 1000' : p < 0.01 ? `${(100 * p).toFixed(1)} times in 100` : `${Math.round(100 * p)} times in 100`);

/** How two channels go together, in one or two sentences. */
export function relation(answer, labelOf) {
  const [a, b] = [labelOf(answer.first), labelOf(answer.second)];
  if (answer.untold) return `Can’t be told for ${a} and ${b}: ${answer.untold}.`;
  const together = answer.correlation >= 0 ? 'the same way' : 'opposite ways';
  const basis = ` Correlation of what is new in each ${answer.correlation.toFixed(2).replace('-', '−')}; unrelated channels show as much ${chance(answer.relationP)}. From ${answer.pairs} means of ${length(answer.stepSeconds)}, lags to ${length(answer.longestLagSeconds)} searched.`;
  const seconds = v => `${Math.abs(v) >= 10 ? Math.abs(v).toFixed(0) : Math.abs(v).toPrecision(2)} s`;
  const interval = (low, high) => `${seconds(Math.min(Math.abs(low), Math.abs(high)))} to ${seconds(Math.max(Math.abs(low), Math.abs(high)))}`;
  switch (answer.verdict) {
    case 'first-leads': return `${a} moves first, ${b} ${together} ${seconds(answer.lagSeconds)} later (95 %: ${interval(answer.lagSecondsLow, answer.lagSecondsHigh)}).${basis}`;
    case 'second-leads': return `${b} moves first, ${a} ${together} ${seconds(answer.lagSeconds)} later (95 %: ${interval(answer.lagSecondsLow, answer.lagSecondsHigh)}).${basis}`;
    default:
  }
  switch (answer.why) {
    case 'no-relation': return `Nothing beyond chance relates ${a} and ${b} in this span.${basis}`;
    case 'too-close-to-tell': return `${a} and ${b} move together, ${together}; which is first can’t be told.${basis}`;
    default: return `${a} and ${b} are related, ${together}, but most strongly at the longest lag searched: which is first can’t be told.${basis}`;
  }
}
