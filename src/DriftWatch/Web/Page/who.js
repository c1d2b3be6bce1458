// Who is here: signed in and then known, or at this very machine and then asked for a name. A reader sees everything and is
// offered nothing to do; why, stands where the name stands.

import * as api from './api.js';

const at = id => document.getElementById(id);
let session = null;

/** The name that signs: proved for who is signed in, else null. */
export const provedName = () => session?.name ?? null;

/** Goes to sign in, and from there back to this very view. */
export function toSignIn() {
  const here = location.pathname + location.search + location.hash;
  const door = new URL('signin.html', location.href);
  door.searchParams.set('to', here);
  if (session) door.searchParams.set('ended', '');
  location.replace(door);
}

/** Asks who is here, once for each page that opens and when the live stream is refused. Who is nobody is sent to sign in. */
export async function look() {
  try {
    session = await api.session();
    show();
  } catch (problem) {
    console.warn(`Who is here: ${problem.message}`); // the page says by itself that the service does not answer
  }
}

/** Stands where the declared name would, or below the names of the pages. */
function show() {
  document.body.dataset.role = session.role;
  if (!session.name) return;
  const declared = at('act-name');
  if (declared) declared.hidden = true;
  at('who-is')?.remove();
  (declared ?? at('pages')).after(card());
}

function card() {
  const said = document.createElement('p');
  said.id = 'who-is';
  said.className = 'who-is';
  said.textContent = `${session.name}, ${session.role}`;
  if (!session.mayAct) said.textContent += ': you see everything and act on nothing, because acts are for operators.';
  if (session.identity !== 'token') return said; // a proxy signs its people in and out itself
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'plain';
  button.textContent = 'Sign out';
  button.addEventListener('click', signOut);
  said.append(' ', button);
  return said;
}

async function signOut() {
  try {
    await api.signOut();
  } finally {
    session = null;
    toSignIn();
  }
}
