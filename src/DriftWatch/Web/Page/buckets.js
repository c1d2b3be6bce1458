// The last ten minutes of a channel in buckets. A bucket without a value is a gap and stays one.

export const spanMs = 600_000;

export class Buckets {
  constructor(periodSeconds) {
    // Two readings a bucket at least, so that a slow channel shows a line and not a row of dots.
    this.widthMs = Math.max(2000, Math.ceil(periodSeconds * 2) * 1000);
    this.map = new Map();
  }

  get count() {
    return Math.ceil(spanMs / this.widthMs);
  }

  add(utcMs, now) {
    const key = Math.floor(utcMs / this.widthMs);
    let bucket = this.map.get(key);
    if (!bucket) {
      bucket = { n: 0, sum: 0, minimum: Infinity, maximum: -Infinity, faults: 0 };
      this.map.set(key, bucket);
    }
    if (now.fault) {
      bucket.faults++;
    } else if (now.value !== null) {
      bucket.n++;
      bucket.sum += now.value;
      bucket.minimum = Math.min(bucket.minimum, now.minimum);
      bucket.maximum = Math.max(bucket.maximum, now.maximum);
    }
  }

  /** The span that history is asked for: whole buckets up to now. */
  wanted(utcNowMs) {
    const end = Math.ceil(utcNowMs / this.widthMs) * this.widthMs;
    return { from: end - this.count * this.widthMs, to: end };
  }

  /** History replaces what is there, but for the newest bucket, which live readings may have filled further. */
  load(history) {
    const newest = Math.max(...this.map.keys());
    const kept = this.map.get(newest);
    this.map.clear();
    for (let i = 0; i < history.start.length; i++) {
      const n = history.count[i];
      if (n === 0 && history.faults[i] === 0) continue;
      const key = Math.floor((Date.parse(history.start[i]) + history.bucketSeconds[i] * 500) / this.widthMs);
      this.map.set(key, {
        n,
        sum: n > 0 ? history.mean[i] * n : 0,
        minimum: n > 0 ? history.minimum[i] : Infinity,
        maximum: n > 0 ? history.maximum[i] : -Infinity,
        faults: history.faults[i],
      });
    }
    if (kept && !((this.map.get(newest)?.n ?? 0) > kept.n)) this.map.set(newest, kept);
  }

  /** Columns of a span, for what has no history of its own; what came meanwhile stays. */
  loadColumns({ starts, columnSeconds, channels }, id) {
    const { minimum, maximum, mean } = channels.find(c => c.id === id);
    mean.forEach((value, i) => {
      const run = starts.findLast(s => s.column <= i);
      const key = Math.floor((Date.parse(run.at) + (i - run.column + 0.5) * columnSeconds * 1000) / this.widthMs);
      if (value === null || this.map.has(key)) return;
      this.map.set(key, { n: 1, sum: value, minimum: minimum[i], maximum: maximum[i], faults: 0 });
    });
  }

  /** Seconds of the longest silence between two values of the columns. */
  longestGap({ data: [, , , mean] }) {
    let longest = 0, before = null;
    mean.forEach((value, i) => {
      if (value === null) return;
      if (before !== null) longest = Math.max(longest, i - before - 1);
      before = i;
    });
    return longest * this.widthMs / 1000;
  }

  /** Columns for the chart, one row a bucket of the span, null where nothing was measured; and the faulty instants. */
  columns(utcNowMs) {
    const last = Math.floor(utcNowMs / this.widthMs);
    const first = last - this.count;
    for (const key of this.map.keys()) if (key < first) this.map.delete(key);
    const x = [], minimum = [], maximum = [], mean = [], faults = [];
    for (let key = first; key <= last; key++) {
      const bucket = this.map.get(key);
      const has = bucket && bucket.n > 0;
      x.push((key + 0.5) * this.widthMs / 1000);
      minimum.push(has ? bucket.minimum : null);
      maximum.push(has ? bucket.maximum : null);
      mean.push(has ? bucket.sum / bucket.n : null);
      if (bucket && bucket.faults > 0) faults.push((key + 0.5) * this.widthMs / 1000);
    }
    return { data: [x, maximum, minimum, mean], faults };
  }
}
