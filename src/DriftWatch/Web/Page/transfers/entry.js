// Entries of the book, sent so that none is lost and none stands twice: each has its id from here, and one that is sent again after a
// lost answer has it still. What is typed stays in this browser until it has been entered.

import * as acts from '../acts.js';
import * as api from '../api.js';
import { make, say } from '../dom.js';
import { newId } from '../entry-id.js';
import * as when from './when.js';

export function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key) ?? 'null');
  } catch {
    return null; // what can't be read is begun anew
  }
}

// Not signed in for it, or not yet; the request took too long; too early; too many: each can pass (RFC 9110, 15.5; RFC 8470, 5.2; RFC 6585, 4).
const passing = [403, 408, 425, 429];

/** Whether the service may have taken it all the same or may take it later, so that it has to be sent again under the same id. */
export const isOpen = problem => !(problem.status >= 400 && problem.status < 500) || passing.includes(problem.status);

/**
 * Enters under the name that acts, or that acted when it was kept; `what` names the act on this page. It is dated as the fields say, else as
 * is written above all forms, else now.
 */
export async function enter(bench, what, { by = acts.signer(), ...given }, ownId = null) {
  const fields = { ...given, about: given.about ?? when.about() };
  const key = `driftwatch.entry.${bench}.${what}`;
  const sent = JSON.stringify([by, fields]);
  const before = read(key);
  const id = ownId ?? (before?.sent === sent ? before.id : newId());
  localStorage.setItem(key, JSON.stringify({ id, sent }));
  try {
    const answer = await api.enter(bench, { ...fields, id, by });
    localStorage.removeItem(key);
    if (given.about === undefined) when.clear();
    return answer;
  } catch (problem) {
    if (!isOpen(problem)) localStorage.removeItem(key);
    throw problem;
  }
}

/** Keeps what is typed into a field under a key. */
export function keep(field, key) {
  const isNew = !field.dataset.kept;
  field.dataset.kept = `driftwatch.typed.${key}`;
  field.value = localStorage.getItem(field.dataset.kept) ?? field.value;
  if (!isNew) return field;
  field.addEventListener('input', () => {
    if (field.value) localStorage.setItem(field.dataset.kept, field.value);
    else localStorage.removeItem(field.dataset.kept);
  });
  return field;
}

/** It has been entered: fields are empty for the next. */
export function forget(...fields) {
  for (const field of fields) {
    if (field.dataset.kept) localStorage.removeItem(field.dataset.kept);
    field.value = '';
  }
}

/** A line that says why something was not entered. */
export const trouble = () => make('p', { className: 'error', hidden: true, attributes: { role: 'alert' } });

/** Does something by a button under a name, says what went wrong beside it, and gives the answer or null. */
export async function tried(button, error, act) {
  error.hidden = true;
  button.disabled = true;
  try {
    return (await acts.withName(act)) || null;
  } catch (problem) {
    say(error, problem.message);
    error.hidden = false;
    return null;
  } finally {
    button.disabled = false;
    if (!error.hidden) button.focus();
  }
}

let made = 0;

/** A field under its label. */
export function field(label, input, className = '') {
  input.id ||= `field-${++made}`;
  return make('p', { className: `field ${className}`.trim() }, make('label', { htmlFor: input.id, textContent: label }), input);
}

export const textInput = (parts = {}) => make('input', { autocomplete: 'off', maxLength: 2000, ...parts });
export const numberInput = (parts = {}) => make('input', { autocomplete: 'off', inputMode: 'decimal', size: 9, ...parts });

/** What stands in a number's field: undefined for nothing; what is no number is said. */
export function numberOf(input, what) {
  const text = input.value.trim().replace(',', '.').replace('−', '-');
  if (text === '') return undefined;
  if (!Number.isFinite(Number(text))) throw new Error(`${what}: '${input.value.trim()}' is no number. Write one such as 7.5.`);
  return Number(text);
}

export const textOf = input => input.value.trim() || undefined;
