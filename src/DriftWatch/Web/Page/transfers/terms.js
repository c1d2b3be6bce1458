// The words of a transfer: stages, answers, verdicts, proofs, places and signatures.

import * as words from '../words.js';

const stages = {
  preparing: 'being prepared', ready: 'lined up', running: 'running', ended: 'has run, waits for its verdict', judged: 'has its verdict',
  countersigned: 'done, verdict countersigned', 'given-up': 'given up',
};
export const stage = slug => stages[slug] ?? slug;
export const isInHand = slug => slug === 'preparing' || slug === 'ready' || slug === 'running';

export const answers = { done: 'done', 'not-done': 'not done', 'does-not-apply': 'does not apply' };
export const verdicts = { sound: 'Sound', 'sound-with-remarks': 'Sound with remarks', 'run-again': 'Run again' };
const verdictSigns = { sound: '●', 'sound-with-remarks': '◇', 'run-again': '▲' };
export const verdict = slug => `${verdictSigns[slug] ?? ''} ${verdicts[slug] ?? slug}`.trim();

const proofs = { proved: '● proved', contradicted: '▲ contradicted', 'cannot-tell': '○ can’t tell' };
export const proof = ({ standing, text }) => `${proofs[standing] ?? standing}: ${words.sentence(text)}`;

export const bands = {
  unknown: 'not known', 'low-band-monochrome': 'low band, monochrome', 'low-band-colour': 'low band, colour', 'high-band': 'high band', 'super-high-band': 'super high band',
};

export const basis = slug => (slug === 'elapsed-time' ? `${words.basis(slug)}; stops and shuttling are not seen` : words.basis(slug));

export const { place } = words;

/** Who, how he is known, when, and his words; what was written down later says so. */
export function signed({ by, identity, about, entered, note }) {
  if (identity === 'automatic') return `by itself, ${words.instant(Date.parse(about), Date.now())}`;
  const late = Date.parse(entered) - Date.parse(about) > 60_000 ? `, written down ${words.instant(Date.parse(entered), Date.parse(about))}` : '';
  return `${by} (${words.identity(identity)}), ${words.instant(Date.parse(about), Date.now())}${late}${note ? `: ${note}` : ''}`;
}

export const tapeFacts = tape => [
  tape.standard, `${tape.speedInchesPerSecond} in/s`, tape.band === 'unknown' ? null : bands[tape.band] ?? tape.band,
].filter(Boolean).join(', ');

export const many = (n, what, plural = `${what}s`) => `${n} ${n === 1 ? what : plural}`;
