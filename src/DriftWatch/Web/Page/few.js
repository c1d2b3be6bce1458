// On a screen as narrow as a hand holds: the first alarms and the worst channels, and the rest at a press. What is left out is
// never graver than what is shown, because both lists begin with the worst.

import { at, isNarrow, say } from './dom.js';

const most = { alarms: 2, strips: 5 };

/** Has both lists short where the screen is narrow; gives back whether it is. <changed> is called at a press. */
export function setUp(changed) {
  for (const id of Object.keys(most)) {
    at(id).toggleAttribute('data-few', isNarrow());
    at(`${id}-more`).addEventListener('click', () => {
      at(id).toggleAttribute('data-few');
      changed();
    });
  }
  return isNarrow();
}

/** What the buttons say, by what there is now. */
export function show({ alarms, channels, quantities }) {
  const left = alarms.size - most.alarms;
  at('alarms-more').hidden = left <= 0;
  const isFew = id => at(id).hasAttribute('data-few');
  say(at('alarms-more'), isFew('alarms') ? `${left} more ${left === 1 ? 'alarm' : 'alarms'}` : `Only the first ${most.alarms}`);
  say(at('strips-more'), isFew('strips') ? `All ${channels.length + quantities.length} channels` : `Only the worst ${most.strips}`);
}
