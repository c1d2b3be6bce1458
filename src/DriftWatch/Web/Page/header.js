// The head of the page: state in words and on the way it takes, clock, how long watched, the store.

import { at, make } from './dom.js';
import * as words from './words.js';

/** Puts state and facts into the head, before what the page itself has there. */
export function build() {
  const word = make('p', { className: 'state-word' },
    make('span', { className: 'unseen', textContent: 'Machine state: ' }), make('strong', { id: 'state-word', textContent: 'Connecting' }), ' ', make('span', { id: 'state-means' }));
  const way = make('ol', { id: 'way', className: 'way', ariaLabel: 'How far the machine has come' },
    ...words.states.map(([slug, textContent]) => make('li', { textContent, data: { state: slug } })));
  const fact = (name, ...told) => make('div', {}, make('dt', { textContent: name }), ...told);
  const clock = fact('Time', make('dd', {}, make('span', { id: 'local', textContent: '--:--:--' }), ' ', make('span', { id: 'utc' })));
  clock.className = 'clock';
  at('head').prepend(
    make('div', { className: 'state' }, word, way),
    make('dl', { className: 'facts' },
      clock,
      fact('Watched for', make('dd', { id: 'watched', textContent: '–' })),
      fact('Lines', make('dd', { id: 'lines', textContent: '–' })),
      fact('Store', make('dd', { id: 'store', textContent: 'not heard yet' }))));
}

export function showState(slug) {
  const { word, means } = words.stateWords(slug);
  at('state-word').textContent = word;
  at('state-means').textContent = means;
  const here = words.states.findIndex(s => s[0] === slug);
  [...at('way').children].forEach((item, i) => {
    item.classList.toggle('passed', i < here);
    if (i === here) item.setAttribute('aria-current', 'step');
    else item.removeAttribute('aria-current');
  });
}

/** How many stand how, the worst first, and which is nearest to its limit: the bench in a sentence. */
export function showSummary(model) {
  const all = [...model.channels, ...model.quantities].map(channel => ({ channel, mood: model.standing(channel).mood }));
  const count = (...moods) => all.filter(c => moods.includes(c.mood)).length;
  const said = (n, text) => (n > 0 ? `${n} ${text}` : null);
  const bad = [said(count('alarm'), 'in alarm'), said(count('advisory'), 'beyond a limit or drifting'), said(count('fault'), 'faulty'), said(count('stale', 'waiting'), 'without data')].filter(Boolean);
  const used = all.filter(c => c.mood === 'steady' && model.isTrusted(c.channel.definition.id)).map(({ channel }) => ({ channel, share: model.useOf(channel)?.share ?? -1 }));
  const nearest = used.reduce((most, c) => (c.share > most.share ? c : most), { share: 0 });
  const rest = nearest.channel ? `nearest to its limit of the others: ${nearest.channel.definition.label}, ${Math.round(100 * nearest.share)} % used` : 'of no other a share of its tolerance can be told';
  const text = bad.length > 0 ? `${bad.join(', ')}; ${rest}` : `All that is judged is within its limits; ${rest}`.replace(' of the others', '').replace('no other', 'none');
  if (at('summary').textContent !== text) at('summary').textContent = text;
  at('summary').dataset.sound = String(bad.length === 0);
  at('summary').dataset.alarm = String(count('alarm') > 0);
}

export function showClock(model) {
  const now = model.utcNow;
  at('local').textContent = words.clockWithZone(now);
  at('utc').textContent = words.utcClock(now);
  at('watched').textContent = words.duration(model.watchedNow);
}

export function showHealth(health) {
  const store = at('store');
  const held = health.readingsHeldInMemory;
  const trouble = health.storeTrouble
    ? `trouble: ${health.storeTrouble}${held > 0 ? `; ${held} readings held in memory` : ''}; alarms show from memory, and a restart would lose them: watch the machine`
    : null;
  const parts = [['sampling', 'sampling'], ['storing', 'storing'], ['judging', 'judging'], ['noticing', 'notices']];
  const late = parts.filter(([key]) => health[key].state === 'stale').map(([, name]) => name);
  const waiting = parts.filter(([key]) => health[key].state === 'not-yet').map(([, name]) => name);
  const dropped = health.droppedReadings > 0 ? `; ${health.droppedReadings} readings dropped` : '';
  store.dataset.sound = String(!trouble && late.length === 0);
  if (trouble) store.textContent = trouble + dropped;
  else if (late.length > 0) store.textContent = `stale: ${late.join(', ')}${dropped}`;
  else if (waiting.length > 0) store.textContent = `waits for ${waiting.join(', ')}`;
  else store.textContent = `stored ${words.age(health.storing.ageSeconds)}${dropped}`;
}

/** The lines to the instruments: one sentence while all talk, else what is wrong with each. */
export function showLines(model) {
  const all = [...model.instruments.entries()];
  const wrong = all.filter(([, i]) => i.state !== 'talking');
  const said = ([id, i]) => {
    const name = i.label || id;
    if (!i.state) return `${name}: not heard yet`;
    return i.state === 'down' ? `${name} is down: ${i.reason}` : `${name} connects: ${i.reason}`;
  };
  at('lines').textContent = wrong.length === 0 ? 'all talk' : wrong.map(said).join('; ');
  at('lines').dataset.sound = String(!wrong.some(([, i]) => i.state === 'down'));
}

export function showTrouble(text) {
  at('lost').textContent = `${text} The page tries again by itself.`;
  at('lost').hidden = false;
}

export function showLost(since) {
  const banner = at('lost');
  if (since === null) {
    banner.hidden = true;
    banner.textContent = '';
    return;
  }
  banner.textContent = `Connection lost at ${words.clock(since)}. What you see is old; the page tries again by itself.`;
  banner.hidden = false;
}

/** Nothing that was true before the link went is said as if it still held. */
export function unknown() {
  for (const id of ['store', 'lines']) {
    at(id).textContent = 'not known: connection lost';
    at(id).dataset.sound = 'false';
  }
  at('state-word').textContent = 'State not known';
  at('state-means').textContent = 'connection lost';
  for (const item of at('way').children) {
    item.classList.remove('passed');
    item.removeAttribute('aria-current');
  }
}
