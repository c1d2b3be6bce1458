// Who is told of alarms besides whoever looks at this page: each route, how it stands, and a test of it that says what happened.

import * as acts from './acts.js';
import * as api from './api.js';
import * as words from './words.js';

const at = id => document.getElementById(id);
const kinds = { 'e-mail': 'e-mail', webhook: 'webhook', mqtt: 'MQTT broker', lamp: 'lamp or horn', desktop: 'desktop' };

let of = () => null;

export function setUp(model) {
  of = model;
  at('told-open').addEventListener('click', () => {
    at('told').showModal();
    load();
  });
  at('told-close').addEventListener('click', () => at('told').close());
}

async function load() {
  const model = of();
  at('told-said').textContent = 'Asking…';
  try {
    const answer = await api.notices(model.bench.id);
    at('told-said').textContent = answer.routes.length > 0
      ? answer.caution
      : `Nobody is told but by this page: the bench file names no route ([[notice]]). ${answer.caution}`;
    at('routes').replaceChildren(...answer.routes.map(route => item(model, route)));
  } catch (problem) {
    at('told-said').textContent = problem.message;
    at('routes').replaceChildren();
  }
}

function item(model, route) {
  const li = document.createElement('li');
  Object.assign(li.dataset, { route: route.id, state: route.state });
  const part = (tag, text, className) => {
    const element = document.createElement(tag);
    element.textContent = text;
    if (className) element.className = className;
    li.append(element);
    return element;
  };
  part('h3', name(route));
  part('p', state(model, route), 'value');
  part('p', rule(route), 'target');
  const said = part('p', '', 'said');
  said.setAttribute('role', 'status');
  const button = part('button', `Test ${route.id}`);
  button.type = 'button';
  button.dataset.act = '';
  button.addEventListener('click', () => test(model, route.id, button, said));
  return li;
}

export const name = route => `${route.id}, ${kinds[route.kind] ?? route.kind}`;

/** When it is used, and what waits for it. */
export const rule = route => [
  `From ${route.leastPriority} priority`,
  route.afterSeconds > 0 ? `after ${words.duration(route.afterSeconds)} in which nobody has answered` : 'at once',
  route.quietFrom ? `quiet from ${route.quietFrom} to ${route.quietTo} but for high priority` : null,
  route.waiting > 0 ? `${route.waiting} waiting` : null,
  route.held > 0 ? `${route.held} held` : null,
  route.givenUp > 0 ? `${route.givenUp} given up: the far end never took ${route.givenUp === 1 ? 'it' : 'them'}` : null,
].filter(Boolean).join(', ') + '.';

export function state(model, route) {
  if (route.state === 'trouble') return `Can’t work as it is written: ${route.error}`;
  if (route.state === 'failing') return `Fails since ${words.instant(Date.parse(route.failingSince), model.utcNow)}: ${route.error}`;
  return route.lastSent ? `Works; last told ${words.instant(Date.parse(route.lastSent), model.utcNow)}` : 'Not used yet';
}

async function test(model, route, button, said) {
  if (!acts.signer() && !(await acts.askName())) return;
  button.disabled = true;
  said.textContent = 'Testing…';
  try {
    const { tests } = await api.testNotices(model.bench.id, { by: acts.signer(), route });
    said.textContent = tests.map(t => [t.done ? `Sent: ${t.said}` : `Not sent: ${t.said}`, t.remedy].filter(Boolean).join(' ')).join(' ');
    said.dataset.done = String(tests.every(t => t.done));
  } catch (problem) {
    said.textContent = problem.message;
    said.dataset.done = 'false';
  } finally {
    button.disabled = false;
  }
}
