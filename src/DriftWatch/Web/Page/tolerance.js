// How much of its tolerance a value uses, and which way it moves. The tolerance runs from home (this tape's baseline, or the
// setpoint where there is no baseline) to the nearest limit on the side where the value lies: 0 at home, 1 at the limit.

import { placeOf } from './chart.js';

// A slope is said to be one when noise alone shows it this seldom: with 40 rows looked at once a minute, a false word about every
// half hour. It is a word on the screen and no finding; the judge of drifts asks for far more.
const sureBelow = 0.001;

/** Slower than this share of the tolerance in an hour is standing still to whoever looks at a bar. */
const leastShareAnHour = 0.02;

/** Limits that are judged in a state of the machine; in an unknown one all of them are. */
export const judgedIn = (limits, state) => limits.filter(l => state === 'unknown' || l.judgedIn.length === 0 || l.judgedIn.includes(state));

/** The nearest limit beyond home on one side, in the channel's unit; null where there is none. */
function nearest(limits, side, baseline, home) {
  const away = side === 'low' ? -1 : 1;
  const places = limits.filter(l => l.side === side).map(l => placeOf(l, baseline)).filter(at => at !== null && away * (at - home) > 0);
  return places.length === 0 ? null : side === 'low' ? Math.max(...places) : Math.min(...places);
}

/** Where nothing says where home is, it is the middle of a tolerance with two fixed ends. */
function homeOf(limits, baseline, setpoint) {
  if (baseline !== null) return baseline;
  if (setpoint !== null) return setpoint;
  const ends = side => limits.filter(l => l.side === side && l.reference === 'absolute').map(l => l.value);
  const low = ends('low'), high = ends('high');
  return low.length > 0 && high.length > 0 ? (Math.max(...low) + Math.min(...high)) / 2 : null;
}

/**
 * What a value uses of its tolerance: `share` (1 at the limit, more beyond it), `side`, the `limit`, and whether there is one on
 * either side; or `untold`, in words, why that can't be said.
 */
export function useOf({ limits, setpoint }, baseline, value, state) {
  if (limits.length === 0) return { untold: 'no limits' };
  const judged = judgedIn(limits, state);
  if (judged.length === 0) return { untold: 'not judged in this state' };
  const home = homeOf(judged, baseline, setpoint);
  if (home === null) return { untold: 'no baseline yet' };
  const low = nearest(judged, 'low', baseline, home), high = nearest(judged, 'high', baseline, home);
  const side = value < home ? 'low' : 'high';
  const limit = side === 'low' ? low : high;
  const ends = { hasLow: low !== null, hasHigh: high !== null };
  if (low === null && high === null) return { untold: 'no limit beyond the baseline' };
  if (limit === null) return { share: 0, side, limit, home, ...ends }; // away from its only limit nothing is used
  return { share: (value - home) / (limit - home), side, limit, home, ...ends };
}

/** What stands still uses, as far as anybody can know, less than this share of its tolerance in an hour: eight hours of it do no harm. */
const mostShareAnHour = 1 / 8;

/**
 * Which way a channel moves: 'rises', 'falls' or 'steady'; null where it can't be told. That no slope is seen for the noise is not
 * standing still: a head that falls fast was once called steady four minutes before its limit.
 */
export function movesOf(drift) {
  if (!drift || drift.slopePerHour === null || drift.significance === null) return null;
  const { slopePerHour: slope, slopePerHourLow: low, slopePerHourHigh: high, usedSharePerHour: used } = drift;
  if (drift.significance <= sureBelow) {
    const slow = used !== null && Math.abs(used) < leastShareAnHour;
    return slow ? 'steady' : slope > 0 ? 'rises' : 'falls';
  }
  if (used === null || slope === 0) return null;
  const most = Math.max(Math.abs(low), Math.abs(high)) * Math.abs(used / slope);
  return most < mostShareAnHour ? 'steady' : null;
}

/** Whether it goes towards a limit that it reaches within the eight hours that the service looks ahead. */
export const leaves = drift => movesOf(drift) !== null && movesOf(drift) !== 'steady' && drift.minutesLeft !== null;

export const arrows = { rises: '↗', falls: '↘', steady: '→' };
