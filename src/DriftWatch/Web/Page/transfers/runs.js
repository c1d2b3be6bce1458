// Runs of tape out of what happened in a span: from tape running to tape stopped, as far as somebody watched.

const splitMs = 10 * 60_000; // unwatched for longer than this, nobody knows that it was the same tape; our own choice
const shortestMs = 2000; // shorter is a state carried over a restart, not tape; a restart looks again within it
const isTape = state => state === 'running' || state === 'locked';
const overlap = (a, b) => Math.max(0, Math.min(a.to, b.to) - Math.max(a.from, b.from));
const span = ({ from, to, ...rest }) => ({ ...rest, from: Date.parse(from), to: Date.parse(to) });

/** Parts of a stretch that were watched, joined where the break is short. */
function watchedParts(stretch, watched) {
  const parts = [];
  for (const w of watched) {
    const from = Math.max(w.from, stretch.from), to = Math.min(w.to, stretch.to);
    if (to <= from) continue;
    const last = parts.at(-1);
    if (last && from - last.to <= splitMs) {
      last.unwatched += from - last.to;
      last.to = to;
    } else {
      parts.push({ from, to, unwatched: 0 });
    }
  }
  return parts;
}

/**
 * The newest first: from, to and unwatched in ms, how long locked, whether it began before the span or goes on, and the alarms, findings,
 * marks and baselines that lie in it.
 */
export function runsOf(events) {
  const states = events.states.map(span), watched = events.watched.map(span).sort((a, b) => a.from - b.from);
  const [begin, now] = [Date.parse(events.from), Math.min(Date.parse(events.now), Date.parse(events.to))];
  const stretches = [];
  for (const s of states.filter(s => isTape(s.state))) {
    const last = stretches.at(-1);
    if (last && last.to === s.from) last.to = s.to;
    else stretches.push({ from: s.from, to: s.to });
  }
  const lasting = (from, to) => ({ from: Date.parse(from), to: to === null ? now : Date.parse(to) });
  const within = (run, { from, to }) => from < run.to && to >= run.from;
  const at = (run, iso) => Date.parse(iso) >= run.from && Date.parse(iso) < run.to;
  return stretches.flatMap(s => watchedParts(s, watched)).filter(run => run.to - run.from >= shortestMs).map(run => ({
    ...run,
    isCut: run.from === begin,
    goesOn: now - run.to < 5000 && isTape(states.at(-1)?.state),
    locked: states.filter(s => s.state === 'locked').reduce((sum, s) => sum + overlap(s, run), 0),
    alarms: events.alarms.filter(a => within(run, lasting(a.start, a.end))),
    findings: events.findings.filter(f => f.severity !== 'note' && within(run, lasting(f.start, f.end))),
    marks: events.marks.filter(m => at(run, m.at)),
    baselines: events.baselines.filter(b => at(run, b.at)),
  })).reverse();
}
