// When what is entered happened: now, unless somebody writes it down afterwards. The instant that is written here goes with the next
// entry and is then gone, so that none is dated by a box that was forgotten; the same day is taken again by a button.

import { at, say } from '../dom.js';
import { localText, localTime } from '../local-time.js';
import * as words from '../words.js';

let former = ''; // as it was written

/** The instant that is written, in ms; null for now. What is no instant is said. */
export function chosen() {
  const text = at('when').value;
  if (text.trim() === '') return null;
  const ms = localTime(text);
  if (Number.isNaN(ms)) throw new Error(`Happened at: ‘${text.trim()}’ is no day and time. Write it such as ${localText(Date.now())}, or press ‘Now’.`);
  return ms;
}

/** As the service takes it; undefined for now. */
export function about() {
  const ms = chosen();
  return ms === null ? undefined : new Date(ms).toISOString();
}

/** It went with an entry, or nobody wants it. */
export function clear() {
  if (at('when').value) former = at('when').value;
  at('when').value = '';
  show();
}

function show() {
  let ms = null;
  try {
    ms = chosen();
  } catch {
    say(at('when-said'), `Write day and time, such as ${localText(Date.now())}.`); // half of it is typed: no error yet
    say(at('when-title'), '◇ The next entry is to be dated');
    return;
  }
  at('when-box').dataset.set = String(ms !== null);
  say(at('when-title'), ms === null ? 'Write down afterwards' : `◇ The next entry is dated ${words.day(ms)} ${words.clock(ms)}`);
  say(at('when-said'), ms === null ? 'Empty: what you enter happens now.' : `That is ${words.day(ms)} ${words.clockWithZone(ms)}, or ${new Date(ms).toISOString().slice(0, 19)}Z. It goes with the next entry and is then empty again.`);
  at('when-again').hidden = ms !== null || former === '';
  say(at('when-again'), `Take ${former} again`);
}

export function begin() {
  at('when').addEventListener('input', show);
  at('when-now').addEventListener('click', () => {
    clear();
    at('when').focus();
  });
  at('when-again').addEventListener('click', () => {
    at('when').value = former;
    show();
    at('when').focus();
  });
  show();
}
