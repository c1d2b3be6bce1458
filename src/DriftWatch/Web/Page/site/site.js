// 'Site', below 'Bench': all benches that are mirrored to a server, as that server has them.

import * as api from '../api.js';
import { at, say } from '../dom.js';
import { Follower } from '../follow.js';
import * as header from '../header.js';
import * as page from '../page.js';
import { Polled } from '../polled.js';
import * as units from '../units.js';
import * as benches from './benches.js';

const everyMs = 10_000; // benches tell how they stand every 15 s
let here = new Set();

const polled = new Polled(at('site'), everyMs, id => api.site(id, at('server').value), answer => benches.show(answer, here, at('only').checked));
const follower = new Follower({ loaded });

/** Servers that can be asked: those whose language the bench file names. */
async function loaded(model) {
  at('back').href = `bench.html?${new URLSearchParams({ bench: model.bench.id })}`;
  polled.bench = null;
  benches.begin();
  const wanted = new URLSearchParams(location.search).get('server');
  try {
    const [{ mirrors }, { items }] = await Promise.all([api.mirrors(model.bench.id), api.benches()]);
    if (model !== follower.model) return;
    here = new Set(items.map(b => b.id));
    const asked = mirrors.filter(m => m.counts !== 'none');
    at('server').replaceChildren(...asked.map(m => new Option(m.id, m.id)));
    at('server-box').hidden = asked.length < 2;
    if (asked.some(m => m.id === wanted)) at('server').value = wanted;
    if (asked.length > 0) polled.begin(model);
    else {
      at('site').dataset.standing = 'live';
      say(at('said'), mirrors.length === 0
        ? '○ This bench stands by itself: its file names no server ([[mirror]]) that could tell of others.'
        : '○ No mirror of this bench can be asked. Remedy: write counts = "promql", "influxql" or "flux" in its [[mirror]].');
    }
  } catch (problem) {
    say(at('said'), problem.message);
    setTimeout(() => model === follower.model && loaded(model), 3000);
  }
}

at('server').addEventListener('change', () => {
  history.replaceState(null, '', page.address({ server: at('server').value }));
  benches.begin();
  polled.begin(follower.model);
});
at('only').addEventListener('change', () => polled.again());
units.onChange(() => polled.again());

page.begin(id => {
  if (id === null) at('machine').textContent = 'This service watches no bench.';
  else return follower.show(id);
}, text => (text === null ? header.showLost(null) : header.showTrouble(text)));
