// The head of the page: state in words and on the way it takes, clock, how long watched, the store.

import * as words from './words.js';

const at = id => document.getElementById(id);

export function buildWay() {
  at('way').replaceChildren(...words.states.map(([slug, word]) => {
    const item = document.createElement('li');
    item.dataset.state = slug;
    item.textContent = word;
    return item;
  }));
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
    ? `trouble: ${health.storeTrouble}${held > 0 ? `; ${held} readings held in memory` : ''}`
    : null;
  const parts = [['sampling', 'sampling'], ['storing', 'storing'], ['judging', 'judging']];
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

export function unknownStore() {
  at('store').textContent = 'not known: connection lost';
  at('store').dataset.sound = 'false';
}
