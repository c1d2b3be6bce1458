// Signs in with a token, and goes back to where the person was going. The token goes into the body of one request and stays nowhere.

import { Problem, signIn } from './api.js';

const at = id => document.getElementById(id);
const asked = new URLSearchParams(location.search);
const isHere = ['localhost', '127.0.0.1', '[::1]'].includes(location.hostname);

at('ended').hidden = !asked.has('ended');
at('token-clear').hidden = location.protocol === 'https:' || isHere;
at('token').focus();

/** Only ever a page of this service: what else stands in the address may be somebody's lure. */
function wanted() {
  try {
    const target = new URL(asked.get('to') ?? './', location.href);
    if (target.origin === location.origin && target.pathname !== location.pathname) return target.href;
  } catch {
    // No address at all.
  }
  return new URL('./', location.href).href;
}

at('door').addEventListener('submit', async event => {
  event.preventDefault();
  at('said').hidden = true;
  at('enter').disabled = true;
  try {
    const token = at('token').value.trim();
    if (!token) throw new Problem({ detail: 'Paste the token.' }, 0);
    await signIn(token);
    at('token').value = '';
    location.replace(wanted());
  } catch (problem) {
    at('said').textContent = problem.message;
    at('said').hidden = false;
    at('enter').disabled = false;
    at('token').select();
  }
});
