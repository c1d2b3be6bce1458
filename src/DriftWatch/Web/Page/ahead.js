// What a page is sure to ask of the service, asked while its other modules are still on their way. It needs none of them, so it
// runs as soon as it is here; each answer waits for whoever asks for it through api.js.

const freshMs = 5000; // what nobody has taken by then is of another time, and asked anew

export const paths = {
  session: '/session',
  benches: '/benches',
  bench: id => `/benches/${id}`,
  openFindings: id => `/benches/${id}/findings/open`,
  latestFindings: id => `/benches/${id}/findings/latest?limit=200`,
  newestAlarm: id => `/benches/${id}/alarms/latest?limit=1`,
  openAlarms: id => `/benches/${id}/alarms/open`,
};

const asked = new Map(); // path to the answer on its way

/** The answer to a path if it was asked ahead. It is given once: the next question wants the state of its own time. */
export function take(path) {
  const found = asked.get(path);
  asked.delete(path);
  return found && performance.now() - found.at < freshMs ? found.answer : undefined;
}

/** The bench that the address names, else the first. */
export function chosen(benches) {
  const wanted = new URLSearchParams(location.search).get('bench');
  return benches.find(b => b.id === wanted) ?? benches[0];
}

const get = path => fetch('/api/v1' + path);

function begin(path, answer = get(path)) {
  answer.catch(() => {}); // who takes it hears of it
  asked.set(path, { answer, at: performance.now() });
  return answer;
}

/** How much, the page says: the bench, or all of what stands on it now; nothing at the door, where nobody is known. */
async function ask() {
  const { ahead } = document.documentElement.dataset;
  if (!ahead) return;
  begin(paths.session);
  const answer = (await begin(paths.benches)).clone(); // before whoever takes it has read it
  const { id } = answer.ok ? chosen((await answer.json()).items) ?? {} : {};
  if (!id) return;
  begin(paths.bench(id));
  if (ahead !== 'now') return;
  begin(paths.openFindings(id));
  begin(paths.latestFindings(id));
  // The open ones after the place in the book: what comes between is told again.
  begin(paths.openAlarms(id), begin(paths.newestAlarm(id)).then(() => get(paths.openAlarms(id))));
}

ask().catch(problem => console.warn(`Asked ahead: ${problem.message}`));
