// One card for each bench of a site. The service has put them in order: who waits for a person, then who is silent, then by tolerance used.

import { at, facts, fill, make, say } from '../dom.js';
import * as terms from '../transfers/terms.js';
import * as words from '../words.js';

const near = 0.8; // of a tolerance: worth a look before it is an alarm; source: our own choice
let cards = new Map();

export function begin() {
  cards = new Map();
  at('benches').replaceChildren();
  say(at('said'), '');
}

const percent = share => `${Math.round(share * 100)} %`;
const kindOf = bench => (bench.isSilent ? 'silent' : bench.unanswered > 0 ? 'calls' : bench.alarms > 0 || bench.toleranceUsed >= near ? 'near' : 'good');
const needs = bench => kindOf(bench) !== 'good';

function standing(bench) {
  switch (kindOf(bench)) {
    case 'silent': return `✕ Silent for ${words.duration(bench.ageSeconds)}: nothing is known of it now`;
    case 'calls': return `▲ ${terms.many(bench.unanswered, 'alarm')} ${bench.unanswered === 1 ? 'waits' : 'wait'} for a person`;
    case 'near': return bench.alarms > 0 ? `◇ ${terms.many(bench.alarms, 'alarm')}, all answered` : `◇ Uses ${percent(bench.toleranceUsed)} of a tolerance`;
    default: return '● In order';
  }
}

const drift = ({ of, use, slopePerHour, unit, minutesLeft }) => `${words.kind(of)} uses ${percent(use)} of its tolerance, ${words.change(slopePerHour, unit ?? '')} an hour${minutesLeft === null ? '' : `; at its limit in ${words.minutes(minutesLeft)}`}`;

const pass = ({ tape, number, stage, verdict, since }, now) => `${tape}, pass ${number}: ${verdict ? terms.verdict(verdict) : terms.stage(stage)}, ${words.instant(Date.parse(since), now)}`;

function alarm({ alarm, state, value, limit, unit, since }, now) {
  const said = value === null ? '' : `: ${words.quantity(value, unit ?? '')}${limit === null ? '' : `, limit ${words.quantity(limit, unit ?? '')}`}`;
  const sign = state === 'unacknowledged' || state === 'returned-unacknowledged' ? '▲' : '◇';
  return make('li', { textContent: `${sign} ${words.tag(alarm, () => null)}${said} (${state.replaceAll('-', ' ')}, ${words.instant(Date.parse(since), now)})` });
}

/** Two sites may each have a bench of one name; which of them is this service's own is not known then, and none is linked. */
function cardOf(bench, isHere) {
  const key = `${bench.site ?? ''}/${bench.bench}/${isHere}`;
  if (!cards.has(key)) {
    const parts = {
      title: make('h3'), state: make('p', { className: 'standing' }), open: make('ul', { className: 'open', ariaLabel: `Alarms of ${bench.bench}${bench.site ? `, ${bench.site}` : ''}` }),
      known: facts({ machine: 'Machine', tape: 'Tape', drift: 'Drift', silent: 'Channels', told: 'Told' }),
    };
    // Only a bench of this very service has a page that is known here.
    parts.title.append(isHere ? make('a', { href: `./?${new URLSearchParams({ bench: bench.bench })}`, textContent: bench.bench }) : bench.bench,
      bench.site ? make('small', { textContent: ` ${bench.site}` }) : '');
    parts.element = make('li', { className: 'card', data: { bench: bench.bench, site: bench.site ?? '' } }, parts.title, parts.state, parts.open, parts.known.list);
    cards.set(key, parts);
  }
  return cards.get(key);
}

function sum(benches) {
  const count = kind => benches.filter(b => kindOf(b) === kind).length;
  const parts = [[count('calls'), '▲', 'with alarms that wait for a person'], [count('silent'), '✕', 'silent'], [count('near'), '◇', 'to look at'], [count('good'), '●', 'in order']];
  return `${terms.many(benches.length, 'bench', 'benches')}: ${parts.filter(([n]) => n > 0).map(([n, sign, what]) => `${sign} ${n} ${what}`).join(', ')}.`;
}

export function show({ benches, asked }, here, onlyNeeded) {
  const now = Date.parse(asked);
  say(at('said'), benches.length === 0 ? '○ No bench has told this server anything within the last week.' : sum(benches));
  fill(at('benches'), benches.filter(b => !onlyNeeded || needs(b)).map(bench => {
    const isHere = here.has(bench.bench) && benches.filter(b => b.bench === bench.bench).length === 1;
    const { element, state, open, known } = cardOf(bench, isHere);
    element.dataset.standing = kindOf(bench);
    say(state, standing(bench));
    open.replaceChildren(...(bench.isSilent ? [] : bench.open.map(a => alarm(a, now))));
    known.fill({
      machine: bench.isSilent ? '' : words.stateWords(bench.state).word,
      tape: bench.pass ? pass(bench.pass, now) : '',
      drift: bench.isSilent || !bench.drift ? '' : drift(bench.drift),
      silent: bench.isSilent || bench.silentChannels === 0 ? '' : `${bench.silentChannels} give no value`,
      told: words.age(bench.ageSeconds),
    });
    return element;
  }));
}
