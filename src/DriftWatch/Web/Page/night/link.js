// The link to the service under an open night: when it goes that is said at once, and once it is back what was missed is read.

import { Live } from '../live.js';
import * as words from '../words.js';
import * as head from './head.js';

let live = null;
let lostAt = null;

/** Whether what happens now can be told here. */
export const isLost = () => lostAt !== null;

/** Listens to a bench. <lost> is called as the link goes, <back> as it is there again, <reloaded> when another bench file is in force. */
export function follow({ id, benchHash }, { lost, back, reloaded }) {
  live?.close();
  live = new Live(id, '', {
    hello: event => event.benchHash !== benchHash && reloaded(),
    bench: reloaded,
    link_changed(up) {
      document.body.dataset.link = up ? 'up' : 'lost';
      if (!up && lostAt === null) {
        lostAt = Date.now();
        head.trouble('link', `Connection lost at ${words.clock(lostAt)}. Nothing later is here; the page tries again by itself and then reads what is missing.`);
        lost();
      } else if (up && lostAt !== null) {
        lostAt = null;
        head.trouble('link', null);
        back();
      }
    },
  });
}
