// What the tools over the lanes stand at, for the view that is shown.

import { at } from '../dom.js';
import { localText } from '../local-time.js';
import * as data from './data.js';
import * as head from './head.js';
import * as span from './span.js';

/** <saved> holds what goes into files: { channels, quantities, count }; <lanes> how many are shown: { shown, all }. */
export function show(view, bench, saved, lanes) {
  head.against(view.compare);
  at('from').value = localText(view.from);
  at('to').value = localText(view.to);
  const now = Date.now();
  for (const button of at('presets').children) {
    const [from, to] = span.presets.find(p => p[0] === button.dataset.span)[2](now);
    button.setAttribute('aria-pressed', String(Math.abs(from - view.from) < 90_000 && Math.abs(to - view.to) < 90_000));
  }
  const isTime = typeof view.compare === 'number';
  const days = isTime ? [1, 7].find(n => Math.abs(span.daysBefore(view.from, n) - view.compare) < 1000) : null;
  at('compare').value = !isTime ? view.compare ?? '' : days === 1 ? 'day' : days === 7 ? 'week' : 'chosen';
  at('other-box').hidden = at('compare').value !== 'chosen';
  if (isTime) at('other').value = localText(view.compare);
  for (const kind of ['png', 'svg', 'csv', 'columns']) at('save-' + kind).href = data.file(bench, kind, view, saved);
  at('what-if').href = `./?${new URLSearchParams({ bench, 'what-if': `${new Date(view.from).toISOString()}/${new Date(view.to).toISOString()}` })}`;
  at('channels-count').textContent = view.channels ? `(${lanes.shown} of ${lanes.all})` : `(all ${lanes.all})`;
  at('live').setAttribute('aria-pressed', String(view.live));
}
