// What a person does here: under the name that is signed in, or at this machine under a name asked once. That one is declared,
// not proved, and the record says so.

import * as api from './api.js';
import { provedName } from './who.js';

const nameKey = 'driftwatch.name';
const at = id => document.getElementById(id);

const declaredName = () => localStorage.getItem(nameKey) ?? '';

/** Whose name signs; empty while nobody has said one. */
export const signer = () => provedName() ?? declaredName();

/** Keeps a name that was written elsewhere on a page, as if it had been asked. */
export const keepName = name => name && localStorage.setItem(nameKey, name);

/** Whether names are declared here, so that a second person can say hers. */
export const isDeclared = () => provedName() === null;

export function showName() {
  const name = declaredName();
  at('act-name').textContent = name ? `You are ${name} (declared)` : 'Say who you are';
}

/** One dialog for all questions. `act` gets the answer, and the number of `more` where that is asked for; what it throws is shown and the dialog stays. Resolves to true when done. */
export function question({ title, text, label, value = '', button, input = true, more = null, act }) {
  const dialog = at('ask'), form = at('ask-form'), field = at('ask-input'), error = at('ask-error');
  at('ask-title').textContent = title;
  at('ask-text').textContent = text;
  at('ask-label').textContent = label ?? '';
  at('ask-label').hidden = !input;
  at('ask-do').textContent = button;
  field.hidden = !input;
  field.value = value;
  error.hidden = true;
  at('ask-more-box').hidden = !more;
  at('ask-more-label').textContent = more?.label ?? '';
  at('ask-more').value = more?.value ?? '';
  return new Promise(resolve => {
    let done = false;
    const end = () => {
      form.onsubmit = null;
      at('ask-cancel').onclick = null;
      dialog.onclose = null;
      resolve(done);
    };
    form.onsubmit = async event => {
      event.preventDefault();
      at('ask-do').disabled = true;
      try {
        await act(field.value.trim(), at('ask-more').valueAsNumber);
        done = true;
        dialog.close();
      } catch (problem) {
        error.textContent = problem.message;
        error.hidden = false;
      } finally {
        at('ask-do').disabled = false;
      }
    };
    at('ask-cancel').onclick = () => dialog.close();
    dialog.onclose = end;
    dialog.showModal();
    if (input) field.focus();
  });
}

export function askName() {
  return question({
    title: 'Who acts?',
    text: 'Your name goes into the record beside what you do, as declared. It is asked once and kept in this browser.',
    label: 'Your name',
    value: declaredName(),
    button: 'That is me',
    act: async name => {
      if (!name) throw new Error('Write a name, so that the record can say who acted.');
      if (name.length > 80) throw new Error('Use at most 80 characters.');
      localStorage.setItem(nameKey, name);
      showName();
    },
  });
}

/** Does what needs a name under it, and asks for one first where nobody has said one; false where it stays unsaid. */
export async function withName(run) {
  if (!signer() && !(await askName())) return false;
  return run(signer());
}

export const acknowledge = (bench, finding) => withName(async by => {
  await api.act(bench, 'acknowledge', { by, finding });
  return by;
});

export const acknowledgeAlarm = (bench, alarm, name) => withName(by => question({
  title: 'Acknowledge',
  text: `${name}. You take it on; the record says so, with your reason if you give one.`,
  label: 'Reason or remark (may stay empty)',
  button: 'Acknowledge',
  act: note => api.act(bench, 'acknowledge', note ? { by, alarm, note } : { by, alarm }),
}));

/** One entry for each: what was answered stays so where one is refused, and the rest is answered by pressing again. */
export const acknowledgeAlarms = (bench, alarms, names) => {
  const left = [...alarms];
  return withName(by => question({
    title: `Acknowledge ${alarms.length} alarms`,
    text: `${names.join('; ')}. You take them on; the record says so of each, with your reason if you give one.`,
    label: 'Reason or remark (may stay empty)',
    button: 'Acknowledge them',
    act: async note => {
      for (; left.length > 0; left.shift()) await api.act(bench, 'acknowledge', note ? { by, alarm: left[0], note } : { by, alarm: left[0] });
    },
  }));
};

const reason = note => {
  if (!note) throw new Error('Write why, so that whoever reads the book in the morning knows.');
  return note;
};

export const shelveAlarm = (bench, alarm, name) => withName(by => question({
  title: 'Shelve for a time',
  text: `${name}. It stays in the book and calls nobody until the time is over or it worsens.`,
  label: 'Reason',
  more: { label: 'Minutes, 1 to 1440', value: '30' },
  button: 'Shelve',
  act: async (note, forMinutes) => {
    if (!(forMinutes >= 1 && forMinutes <= 1440)) throw new Error('Write for how many minutes, from 1 to 1440.');
    await api.act(bench, 'shelve', { by, alarm, note: reason(note), forMinutes });
  },
}));

export const shelveUntilOver = (bench, alarm, name) => withName(by => question({
  title: 'Shelve until it is over',
  text: `${name}. It stays in the book and calls nobody until its trouble is over, it worsens, or a day has passed.`,
  label: 'Reason',
  button: 'Shelve',
  act: note => api.act(bench, 'shelve', { by, alarm, note: reason(note), forMinutes: 1440, untilOver: true }),
}));

export const unshelveAlarm = (bench, alarm, name) => withName(by => question({
  title: 'Unshelve',
  text: `${name}. If its trouble lasts, it calls again.`,
  label: 'Reason or remark (may stay empty)',
  button: 'Unshelve',
  act: note => api.act(bench, 'unshelve', note ? { by, alarm, note } : { by, alarm }),
}));

export const takeOutOfService = (bench, subject, name) => withName(by => question({
  title: 'Take out of service',
  text: `${name}. It calls nobody until somebody puts it back; the machine's own protection is not touched.`,
  label: 'Reason',
  button: 'Take out',
  act: note => api.act(bench, 'out-of-service', { by, subject, note: reason(note) }),
}));

export const putBackInService = (bench, subject, name) => withName(by => question({
  title: 'Put back in service',
  text: `${name}. If its trouble lasts, it calls at once.`,
  label: 'Reason or remark (may stay empty)',
  button: 'Put back',
  act: note => api.act(bench, 'in-service', note ? { by, subject, note } : { by, subject }),
}));

export const mark = bench => withName(by => question({
  title: 'Mark this moment',
  text: 'The remark is tied to the instant at which you send it.',
  label: 'Remark',
  button: 'Mark',
  act: async note => {
    if (!note) throw new Error('Write what there is to remark.');
    await api.act(bench, 'mark', { by, note });
  },
}));

export const baseline = bench => withName(by => question({
  title: 'Take baseline',
  text: 'The present values of every channel become the baseline of this tape. Do it after line-up, with the tape running and locked.',
  button: 'Take it',
  input: false,
  act: () => api.act(bench, 'baseline', { by }),
}));
