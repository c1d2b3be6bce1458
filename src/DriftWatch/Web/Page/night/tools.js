// The row of tools over the lanes: spans, steps, comparison, the link.

import { at } from '../dom.js';
import { localTime } from '../local-time.js';
import * as side from './side.js';
import * as span from './span.js';

/** <ask> has view(), show(from, to), pan(share), zoom(times), follow(), compareWith(choice), tellPair(). */
export function setUp(ask) {
  at('presets').replaceChildren(...span.presets.map(([id, label, of]) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.dataset.span = id;
    button.textContent = label;
    button.addEventListener('click', () => ask.show(...of(Date.now())));
    return button;
  }));
  at('chosen').addEventListener('submit', event => {
    event.preventDefault();
    const [from, to] = [localTime(at('from').value), localTime(at('to').value)];
    const asked = 'Write day and time such as 2026-01-15 18:00.';
    at('from').setCustomValidity(Number.isNaN(from) ? asked : '');
    at('to').setCustomValidity(Number.isNaN(to) ? asked : to - from < span.shortest ? 'The end must lie after the begin.' : '');
    if (at('chosen').reportValidity()) ask.show(from, to);
  });
  at('chosen').addEventListener('input', () => [at('from'), at('to')].forEach(input => input.setCustomValidity('')));
  at('back').addEventListener('click', () => ask.pan(-0.5));
  at('forth').addEventListener('click', () => ask.pan(0.5));
  at('closer').addEventListener('click', () => ask.zoom(0.5));
  at('wider').addEventListener('click', () => ask.zoom(2));
  at('live').addEventListener('click', ask.follow);
  at('compare').addEventListener('change', () => ask.compareWith(at('compare').value));
  at('other').addEventListener('change', () => ask.compareWith('chosen'));
  at('picked-close').addEventListener('click', () => side.show(null));
  at('copy').addEventListener('click', async () => {
    history.replaceState(null, '', span.write(ask.view()));
    await navigator.clipboard.writeText(location.href).then(() => { at('copied').textContent = 'Copied.'; }, () => { at('copied').textContent = 'The address bar holds it.'; });
  });
  at('pair').addEventListener('submit', event => {
    event.preventDefault();
    ask.tellPair();
  });
}
