// The night on paper: every lane, seen or not, as wide as a sheet lying down and in the colours of the day.

import { at } from '../dom.js';
import { forgetSizes } from './draw.js';

/** <derived> is worked out before; <draw> draws all of it at once; <leave> draws what is on the screen again. */
export function setUp({ derived, draw, leave }) {
  const turn = isPaper => {
    document.documentElement.toggleAttribute('data-paper', isPaper);
    forgetSizes();
  };
  addEventListener('beforeprint', () => {
    turn(true);
    draw();
  });
  addEventListener('afterprint', () => {
    turn(false);
    leave();
  });
  at('print').addEventListener('click', async () => {
    at('print').disabled = true;
    await derived.whole();
    at('print').disabled = false;
    print();
  });
}
