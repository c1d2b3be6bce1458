// Spans of time, and the address that opens a view again.

import { address } from '../page.js';

const hour = 3_600_000;
const day = 24 * hour;

export const shortest = 1000;
export const longest = 20 * 365 * day;

export const presets = [
  ['hour', 'Last hour', now => [now - hour, now]],
  ['night', 'Last night', now => lastNight(now)],
  ['12h', '12 h', now => [now - 12 * hour, now]],
  ['24h', '24 h', now => [now - day, now]],
  ['7d', '7 days', now => [now - 7 * day, now]],
  ['30d', '30 days', now => [now - 30 * day, now]],
  ['year', 'A year', now => [now - 365 * day, now]],
];

/** From 18:00 to 08:00 by this browser's clock: the night that ended this morning, or the one that goes on. */
function lastNight(now) {
  const end = new Date(now);
  end.setHours(8, 0, 0, 0);
  const begin = new Date(end);
  begin.setDate(begin.getDate() - 1);
  begin.setHours(18);
  return [begin.getTime(), end.getTime()];
}

/** The same time of day so many days before, whatever the clock did between. */
export function daysBefore(ms, days) {
  const moved = new Date(ms);
  moved.setDate(moved.getDate() - days);
  return moved.getTime();
}

const time = text => {
  const ms = Date.parse(text ?? '');
  return Number.isFinite(ms) ? ms : null;
};

const list = text => (text ? text.split(',').filter(Boolean) : null);

/** The view that the address asks for; without a span, last night. */
export function read(search, now) {
  const asked = new URLSearchParams(search);
  const preset = presets.find(p => p[0] === asked.get('span'));
  let [from, to] = [time(asked.get('from')), time(asked.get('to'))];
  if (from === null || to === null || to - from < shortest) [from, to] = (preset ?? presets[1])[2](now);
  const compare = asked.get('compare');
  return {
    from,
    to,
    live: asked.get('live') === '1',
    channels: list(asked.get('channels')),
    compare: compare === 'baseline' ? compare : time(compare),
    at: time(asked.get('at')),
    pair: list(asked.get('pair')),
  };
}

const iso = ms => new Date(ms).toISOString().replace('.000Z', 'Z');

/** The address of a view. One that follows now keeps its length and not its ends. */
export const write = view => address({
  from: iso(view.from),
  to: iso(view.to),
  span: null,
  live: view.live ? '1' : null,
  channels: view.channels?.join(','),
  compare: typeof view.compare === 'number' ? iso(view.compare) : view.compare,
  at: view.at === null ? null : iso(view.at),
  pair: view.pair?.join(','),
});
