// The API, and its problems in words.

import { paths, take } from './ahead.js';
import { toSignIn } from './who.js';

export class Problem extends Error {
  constructor(body, status) {
    super([body.detail ?? body.title ?? `The service answered ${status}.`, body.remedy].filter(Boolean).join(' '));
    this.body = body;
    this.status = status;
  }
}

const nobody = new Promise(() => {}); // what waits for an answer while the page goes to sign in

export async function ask(path, options) {
  let response;
  try {
    response = await ((!options && take(path)) || fetch('/api/v1' + path, options));
  } catch (failure) {
    if (failure.name === 'AbortError') throw failure;
    throw new Problem({ detail: 'The service does not answer.', remedy: 'Look whether it runs, then try again.' }, 0);
  }
  const body = await response.json().catch(() => ({}));
  if (response.status === 401 && !options?.isSignIn) {
    toSignIn();
    return nobody;
  }
  if (!response.ok) throw new Problem(body, response.status);
  return body;
}

const json = { 'Content-Type': 'application/json' };
export const session = () => ask(paths.session);
export const signIn = token => ask('/session', { method: 'POST', headers: json, body: JSON.stringify({ token }), isSignIn: true });
export const signOut = () => ask('/session', { method: 'DELETE', headers: json });

export const benches = () => ask(paths.benches);
export const bench = id => ask(paths.bench(id));
export const channels = id => ask(`/benches/${id}/channels`);
export const drifts = id => ask(`/benches/${id}/drifts`);
export const baselines = (id, limit) => ask(`/benches/${id}/baselines?limit=${limit}`);
export const openFindings = id => ask(paths.openFindings(id));
export const latestFindings = id => ask(paths.latestFindings(id));
export const latestFrame = (id, channel) => ask(`/benches/${id}/channels/${channel}/frames/latest`);

export const history = (id, channel, fromMs, toMs, buckets) => ask(
  `/benches/${id}/channels/${channel}/history?from=${new Date(fromMs).toISOString()}&to=${new Date(toMs).toISOString()}&buckets=${buckets}`);

/** Derived quantities of a span, worked out as they are asked for. */
export const quantities = (id, fromMs, toMs, columns, ids) => ask(
  `/benches/${id}/span/quantities?from=${new Date(fromMs).toISOString()}&to=${new Date(toMs).toISOString()}&columns=${columns}&quantities=${ids.join(',')}`);

export const openAlarms = id => ask(paths.openAlarms(id));
export const newestAlarm = id => ask(paths.newestAlarm(id));

export const alarmHealth = (id, fromMs, toMs, signal) => ask(
  `/benches/${id}/alarms/health?from=${new Date(fromMs).toISOString()}&to=${new Date(toMs).toISOString()}`, { signal });

export const notices = id => ask(`/benches/${id}/notices`);
export const mirrors = id => ask(`/benches/${id}/mirrors`);
export const site = (id, mirror) => ask(`/benches/${id}/mirrors/${encodeURIComponent(mirror)}/site`);
export const testNotices = (id, body) => ask(`/benches/${id}/notices/test`, {
  method: 'POST',
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
});

export const whatIf = (id, body) => ask(`/benches/${id}/what-if`, {
  method: 'POST',
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
});
export const whatIfJob = (id, job) => ask(`/benches/${id}/what-if/${job}`);
export const cancelWhatIf = (id, job) => ask(`/benches/${id}/what-if/${job}`, { method: 'DELETE', headers: { 'Content-Type': 'application/json' } });

export const heads = id => ask(`/benches/${id}/heads`);
export const instruments = id => ask(`/benches/${id}/instruments`);
export const store = id => ask(`/benches/${id}/store`);
export const health = id => ask(`/benches/${id}/health`);
export const measurements = () => ask('/measure');
export const measure = (what, body) => ask(`/measure/${what}`, { method: 'POST', headers: json, body: JSON.stringify(body) });

export const calibrations = id => ask(`/benches/${id}/calibrations`);
export const calibration = (id, which) => ask(`/benches/${id}/calibrations/${which}`);
export const certificate = (id, which) => `/api/v1/benches/${id}/calibrations/${which}/certificate`;
export const tryCalibration = (id, channel, body, signal) => ask(
  `/benches/${id}/channels/${channel}/calibrations/try`, { method: 'POST', headers: json, body: JSON.stringify(body), signal });
export const calibrate = (id, channel, body) => ask(`/benches/${id}/channels/${channel}/calibrations`, { method: 'POST', headers: json, body: JSON.stringify(body) });

/** The shift for who takes over, as it stands now. */
export const handover = (id, fromMs) => ask(`/benches/${id}/handover?from=${new Date(fromMs).toISOString()}`);

export const transfers = id => ask(`/benches/${id}/transfers`);
export const transfer = (id, which) => ask(`/benches/${id}/transfers/${which}`);
export const tapes = id => ask(`/benches/${id}/tapes`);
/** Of now, or those by which a pass is judged. */
export const procedures = (id, pass) => ask(`/benches/${id}/procedures${pass ? `?pass=${pass}` : ''}`);
export const checksNow = id => ask(`/benches/${id}/check-list/readings`);
export const lineUpNow = id => ask(`/benches/${id}/line-up/readings`);
export const review = (id, which, pass) => ask(`/benches/${id}/transfers/${which}/passes/${pass}/review`);
export const reviewExport = (id, which, pass, format, part) => `/api/v1/benches/${id}/transfers/${which}/passes/${pass}/review/export?format=${format}&part=${part}`;
export const paper = (id, which, what, pass, zone) => `/api/v1/benches/${id}/transfers/${which}/${what}?pass=${pass}&zone=${encodeURIComponent(zone)}`;

/** What weeks and months say of a machine. */
export const maintenance = (id, fromMs) => ask(`/benches/${id}/maintenance?from=${new Date(fromMs).toISOString()}`);

export const enter = (id, body) => ask(`/benches/${id}/entries`, { method: 'POST', headers: json, body: JSON.stringify(body) });

export const act = (id, command, body) => ask(`/benches/${id}/commands/${command}`, {
  method: 'POST',
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
});
