// Whether what comes is stored, what room there is, what became of the files, and whether people can be told.

import { at, facts, make, say } from '../dom.js';
import * as routes from '../routes.js';
import * as words from '../words.js';
import { count } from './instruments.js';

const standings = { good: ['●', 'good'], trouble: ['▲', 'trouble'], unknown: ['—', 'not known'] };
const parts = { fresh: '●', stale: '▲', 'not-yet': '○', trouble: '▲', 'not-set-up': '○' };
let card = null;
let cards = new Map();

export function begin() {
  const standing = make('p', { className: 'standing' }), says = make('p', { className: 'says' });
  const known = facts({
    steps: 'Steps', held: 'Held in memory', lost: 'Lost', late: 'Came too late', inputs: 'Inputs stored', room: 'Room', keeps: 'Keeps', months: 'Months',
    copied: 'Records copied', checked: 'Files verified', aside: 'Set aside', restored: 'Records restored',
  });
  at('kept-card').replaceChildren(standing, says, known.list);
  card = { standing, says, known };
  cards = new Map();
  at('route-list').replaceChildren();
  say(at('routes-said'), '');
}

/** Bytes as a person says them. */
export function bytes(value) {
  const steps = ['bytes', 'kB', 'MB', 'GB', 'TB'];
  const step = Math.min(steps.length - 1, Math.max(0, Math.floor(Math.log10(Math.max(1, value)) / 3)));
  return step === 0 ? `${value} bytes` : `${Number((value / 1000 ** step).toPrecision(3))} ${steps[step]}`;
}

const kept = months => (months === null ? 'for ever' : `${months} months`);
const part = (name, { state, ageSeconds }) => `${parts[state]} ${name} ${ageSeconds === null ? state.replaceAll('-', ' ') : `${state}, ${words.age(ageSeconds)}`}`;

export function show({ kept: store, health }, model) {
  const when = iso => words.instant(Date.parse(iso), model.utcNow);
  const [sign, word] = standings[store.standing];
  at('kept-card').dataset.standing = store.standing;
  say(card.standing, `${sign} ${word}`);
  say(card.says, store.says);
  card.known.fill({
    steps: [['sampling', health.sampling], ['storing', health.storing], ['judging', health.judging], ['noticing', health.noticing]].map(p => part(...p)).join('; '),
    held: `${count(store.readingsHeldInMemory)} readings that are not stored yet`,
    lost: store.droppedReadings === 0 ? 'no reading' : `▲ ${count(store.droppedReadings)} readings`,
    late: store.lateReadings === 0 ? 'no reading' : `${count(store.lateReadings)} readings, stored but not judged`,
    inputs: count(store.lastInput),
    room: store.bytes === null ? '— not known: the folder can’t be looked at'
      : `${bytes(store.bytes)} taken, ${store.freeBytes === null ? 'free room not known' : `${bytes(store.freeBytes)} free`}; below ${bytes(store.floorBytes)} free nothing more is stored`,
    keeps: store.bytes === null ? '' : `every reading ${kept(store.keepsRawMonths)}, minute and hour values ${kept(store.keepsRollupMonths)}, alarms and baselines for ever`,
    months: store.months.length === 0 ? '' : store.months.length === 1 ? store.months[0] : `${store.months.length}, from ${store.months[0]} to ${store.months.at(-1)}`,
    copied: store.recordsCopied ? when(store.recordsCopied) : store.bytes === null ? '' : '▲ no copy yet',
    checked: store.damaged.length > 0 ? `▲ ${when(store.checked)}, damaged: ${store.damaged.join(', ')}` : store.checked ? `${when(store.checked)}, none damaged` : 'not yet since the service began',
    aside: store.setAside.length > 0 ? `▲ ${store.setAside.join(', ')}` : '',
    restored: store.recordsRestored ? `▲ from the copy, because ${store.recordsRestored}` : '',
  });
}

const signs = { trouble: '▲', failing: '▲', working: '●' };

export function showRoutes(answer, model) {
  say(at('routes-said'), answer.routes.length === 0 ? '○ Nobody is told but by the page Now: the bench file names no route ([[notice]]).' : answer.caution);
  for (const route of answer.routes) {
    if (!cards.has(route.id)) {
      const title = make('h3'), standing = make('p', { className: 'standing' }), rule = make('p', { className: 'says' });
      const element = make('li', { className: 'card' }, title, standing, rule);
      at('route-list').append(element);
      cards.set(route.id, { element, title, standing, rule });
    }
    const { element, title, standing, rule } = cards.get(route.id);
    element.dataset.standing = route.state === 'working' ? (route.lastSent ? 'good' : 'unused') : 'trouble';
    say(title, routes.name(route));
    say(standing, `${route.state === 'working' && !route.lastSent ? '○' : signs[route.state]} ${routes.state(model, route)}`);
    say(rule, `${routes.rule(route)}${route.lastSaid ? ` Last answer: ${route.lastSaid}.` : ''}`);
  }
}
