// The word over the night and the banner above it: neither says anything of another span than the one that is shown.

import { at } from '../dom.js';
import * as side from './side.js';
import * as story from './story.js';

/** What each question could not be answered for: one that is answered again takes only its own complaint away. */
const troubles = new Map();
export function trouble(what, problem) {
  if (problem === null) troubles.delete(what);
  else troubles.set(what, problem.message ?? problem);
  const said = [...new Set(troubles.values())];
  at('lost').hidden = said.length === 0;
  at('lost').textContent = said.join(' ');
}

/** No word of one span stands over another. */
export function unread(word = 'Reading …') {
  at('verdict').dataset.mood = 'unknown';
  at('verdict').textContent = word;
  at('sentence').textContent = '';
  document.title = 'Night · DriftWatch';
  side.unread();
}

export function verdict(events, happened, drifts) {
  if (!events) return;
  const { mood, word, sentence } = story.verdict(events, happened, drifts);
  at('verdict').dataset.mood = mood;
  at('verdict').textContent = word;
  at('sentence').textContent = sentence;
  document.title = `${word} · DriftWatch`;
}

/** Which line is which, in words that name the night. */
export function against(compare) {
  at('against').hidden = compare === null;
  if (compare === 'baseline') at('against').textContent = '– · – baseline; ─ alarm and – – advisory limits';
  else if (compare !== null) at('against').textContent = `– – ${story.dateTime(compare)}, its mean, and faint its least and greatest; under each name this span’s mean less that one’s`;
}
