// Alarms by ear: a tone and the sentence, for high priority and, if wanted, for medium. A browser lets a page sound only after a
// person has pressed something, so that it is off until then. It is a help to the ear and no safety device.

import { calls, tagWords } from './alarms.js';

const at = id => document.getElementById(id);
const mediumKey = 'driftwatch.sound.medium';
const againMs = 30_000;

/** Frequencies in Hz and when each begins, in seconds: high climbs three times, medium falls once. */
const tunes = {
  high: [[660, 0], [880, 0.18], [660, 0.5], [880, 0.68], [660, 1], [880, 1.18]],
  medium: [[620, 0], [465, 0.28]],
};

let context = null;
let lastSounded = -Infinity;

// What the bench file says of this page ([page]); what a person has chosen here stands before it.
let rule = { leastPriority: 'high', sound: true, speech: true };

export const isOn = () => context !== null;

/** The browser took the sound away, for a call, a sleep or by its own rules: nothing is heard until a person presses again. */
const isStopped = () => context !== null && context.state !== 'running';

/** Takes what the bench file says: from which priority this page calls, by a tone and by a voice. */
export function follow(page) {
  rule = page;
  at('sound-medium').checked = (localStorage.getItem(mediumKey) ?? (ranks[rule.leastPriority] < ranks.high ? 'yes' : 'no')) === 'yes';
  show();
}

export function setUp() {
  at('sound-medium').checked = localStorage.getItem(mediumKey) === 'yes';
  at('sound-medium').addEventListener('change', event => localStorage.setItem(mediumKey, event.target.checked ? 'yes' : 'no'));
  at('sound').addEventListener('click', toggle);
  show();
}

async function toggle() {
  if (isStopped()) {
    await context.resume().catch(() => {});
    if (!isStopped()) play('medium');
  } else if (context) {
    globalThis.speechSynthesis?.cancel();
    await context.close().catch(() => {});
    context = null;
  } else {
    context = new AudioContext();
    await context.resume().catch(() => {});
    play('medium');
    context.addEventListener('statechange', () => {
      show();
      if (isStopped() && context.state !== 'closed') at('announce').textContent = 'The browser has stopped the sound: no alarm can be heard here.';
    });
  }
  show();
}

function show() {
  const button = at('sound');
  button.setAttribute('aria-pressed', String(isOn() && !isStopped()));
  button.dataset.stopped = String(isStopped());
  const isMute = !rule.sound && !rule.speech;
  button.disabled = isMute && !isOn();
  button.textContent = isMute ? 'No sound, by the bench file' : isStopped() ? 'The browser stopped the sound: turn it on again' : isOn() ? 'Sound is on' : 'Sound is off: turn it on';
}

/** A line of the book: sounds and is spoken if it calls and is important enough. */
export function hear(model, line) {
  if (isOn() && calls(line) && wanted(line.priority)) sound(model, line);
}

/** Once a second: what is of high priority and still waits sounds again every half a minute, and so does that no alarm could be heard here. */
export function tick(model, deaf = null) {
  if (!isOn() || performance.now() - lastSounded < againMs) return;
  const waiting = [...model.alarms.values()].find(a => a.to === 'unacknowledged' && a.priority === 'high');
  if (waiting) sound(model, waiting);
  else if (deaf) call('high', 'deaf', deaf);
}

const ranks = { low: 0, medium: 1, high: 2 };

// The box is about medium priority; low sounds only where the bench file asks for it and the box is not cleared.
const wanted = priority => priority === 'high' || (at('sound-medium').checked && ranks[priority] >= Math.min(ranks.medium, ranks[rule.leastPriority]));

const sound = (model, line) => call(line.priority, line.tag, `${line.priority} alarm. ${tagWords(model, line.tag)}. ${line.text}`);

function call(priority, what, text) {
  lastSounded = performance.now();
  at('sound').dataset.last = what;
  if (rule.sound) play(priority);
  if (!rule.speech || !globalThis.speechSynthesis) return;
  const said = new SpeechSynthesisUtterance(text);
  said.lang = 'en';
  if (priority === 'high') speechSynthesis.cancel(); // what is urgent does not queue behind what is not
  speechSynthesis.speak(said);
}

function play(priority) {
  for (const [frequency, begin] of tunes[priority] ?? tunes.medium) {
    const tone = context.createOscillator(), level = context.createGain();
    const from = context.currentTime + begin;
    tone.frequency.value = frequency;
    level.gain.setValueAtTime(0, from);
    level.gain.linearRampToValueAtTime(0.3, from + 0.02); // no click
    level.gain.linearRampToValueAtTime(0, from + 0.16);
    tone.connect(level).connect(context.destination);
    tone.start(from);
    tone.stop(from + 0.18);
  }
}
