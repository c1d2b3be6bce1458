// The servers that this bench's readings are mirrored to: how far each has come, and what is wrong with it.

import { at, facts, make, say } from '../dom.js';
import * as words from '../words.js';
import { count } from './instruments.js';

const standings = { level: ['●', 'good'], 'catching-up': ['○', 'unused'], waiting: ['▲', 'trouble'] };
const ways = { none: 'not asked: lines that it drops would go unnoticed', promql: 'by PromQL', influxql: 'by InfluxQL', flux: 'by Flux' };
let cards = new Map();

export function begin() {
  cards = new Map();
  at('mirror-list').replaceChildren();
  say(at('mirrors-said'), '');
}

function standing(mirror) {
  if (mirror.state === 'waiting') return `waits since ${words.clock(Date.parse(mirror.waitingSince))} and tries again`;
  return mirror.state === 'level' ? `level with the store${mirror.isBinOpen ? `; the last ${mirror.detail}s are still open and go when later readings come` : ''}`
    : mirror.olderInputs > 0 ? `${count(mirror.olderInputs)} inputs of before are still to be sent` : `${words.duration(mirror.behindSeconds)} behind`;
}

const details = { reading: 'every reading', second: 'means of a second', minute: 'means of a minute' };

const compared = mirror => (mirror.detail !== 'reading' ? 'not compared: it gets means'
  : mirror.counts === 'none' ? ways.none
  : mirror.countTrouble ? `▲ can’t be compared: ${mirror.countTrouble}`
  : mirror.compared === 0 ? `${ways[mirror.counts]}; nothing compared yet`
  : `${ways[mirror.counts]}: ${count(mirror.compared)} readings, ${mirror.missing === 0 ? 'none missing' : `▲ ${count(mirror.missing)} missing`}${mirror.doubled > 0 ? `, ▲ ${count(mirror.doubled)} held more than once` : ''}`);

export function show({ mirrors }, model) {
  say(at('mirrors-said'), mirrors.length === 0 ? '○ This bench stands by itself: the bench file names no server ([[mirror]]).' : '');
  at('site-link').hidden = mirrors.every(m => m.counts === 'none');
  for (const mirror of mirrors) {
    if (!cards.has(mirror.id)) {
      const title = make('h3'), state = make('p', { className: 'standing' }), says = make('p', { className: 'says' });
      const known = facts({ detail: 'Gets', taken: 'Taken', last: 'Last taken', compared: 'Counts', refused: 'Refused', expired: 'Never sent', clock: 'Its clock' });
      const element = make('li', { className: 'card' }, title, state, says, known.list);
      at('mirror-list').append(element);
      cards.set(mirror.id, { element, title, state, says, known });
    }
    const { element, title, state, says, known } = cards.get(mirror.id);
    const [sign, kind] = standings[mirror.state];
    element.dataset.standing = mirror.trouble ? 'trouble' : kind;
    say(title, mirror.id);
    say(state, `${mirror.trouble ? '▲' : sign} ${standing(mirror)}`);
    say(says, mirror.trouble ? `${mirror.trouble}. Remedy: ${mirror.remedy}.` : '');
    known.fill({
      detail: details[mirror.detail],
      taken: `${count(mirror.taken)} lines since this service began`,
      last: mirror.lastTaken ? words.instant(Date.parse(mirror.lastTaken), model.utcNow) : 'nothing yet',
      compared: compared(mirror),
      refused: mirror.refused > 0 ? `▲ ${count(mirror.refused)} lines, kept here` : '',
      expired: mirror.expired > 0 ? `▲ ${count(mirror.expired)} inputs that had expired here` : '',
      clock: mirror.clockAheadSeconds !== null && Math.abs(mirror.clockAheadSeconds) > 5 ? `▲ ${words.duration(Math.abs(mirror.clockAheadSeconds))} ${mirror.clockAheadSeconds > 0 ? 'ahead' : 'behind'}` : '',
    });
  }
}
