using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;
using DriftWatch.Storage.Months;

namespace DriftWatch.Storage.Queries;

/// <summary>Even buckets over a span; edges are snapped to the grid of the rollup, so that a rollup's bucket never lies in two.</summary>
internal sealed class BucketGrid
{
    private readonly long[] _edges;
    private readonly long[] _watched;
    private readonly SortedDictionary<(int Bucket, int Version), Sums> _sums = [];

    public BucketGrid(EngineTime from, EngineTime to, int count)
    {
        long span = to.Nanoseconds - from.Nanoseconds;
        Level = -1;
        for (int level = 0; level < RollupColumn.Widths.Count; level++)
        {
            // An edge moves by less than a rollup's width: an eighth of a bucket at most, less than a pixel. Or it need not move at all.
            long width = RollupColumn.Widths[level];
            bool fits = from.Nanoseconds % width == 0 && span % count == 0 && span / count % width == 0;
            if (fits || width <= span / count / 8)
            {
                Level = level;
            }
        }

        long grid = Level < 0 ? 1 : RollupColumn.Widths[Level];
        _edges = new long[count + 1];
        for (int i = 0; i <= count; i++)
        {
            long edge = from.Nanoseconds + (long)((Int128)span * i / count);
            _edges[i] = i == count ? -RollupColumn.FloorDivide(-edge, grid) * grid : RollupColumn.FloorDivide(edge, grid) * grid;
        }

        _watched = new long[count];
    }

    /// <summary>The coarsest rollup that serves; −1 raw.</summary>
    public int Level { get; }

    public long From => _edges[0];

    public long To => _edges[^1];

    public void Add(SeriesColumn column)
    {
        int at = 0;
        for (int i = 0; i < column.Count; i++)
        {
            if (!Find(column.Times[i], ref at))
            {
                continue;
            }

            Sums sums = SumsOf(at, column.Version);
            if (column.Marks[i] >= SeriesColumn.Fault)
            {
                sums.Faults++;
                continue;
            }

            bool extremes = column.Marks[i] == SeriesColumn.WithExtremes;
            sums.Add(
                1, extremes ? column.Minimum[i] : column.Raw[i], extremes ? column.Maximum[i] : column.Raw[i], column.Raw[i]);
        }
    }

    public void Add(RollupColumn rollup)
    {
        int at = 0;
        for (int i = 0; i < rollup.Count; i++)
        {
            if (!Find(rollup.Bucket[i] * RollupColumn.Widths[rollup.Level], ref at))
            {
                continue;
            }

            Sums sums = SumsOf(at, rollup.Version);
            sums.Faults += rollup.Faults[i];
            if (rollup.Values[i] > 0)
            {
                sums.Add(rollup.Values[i], rollup.Minimum[i], rollup.Maximum[i], rollup.Sum[i]);
            }
        }
    }

    public void AddLate(StoredReading late)
    {
        int at = 0;
        if (!Find(late.At.Nanoseconds, ref at))
        {
            return;
        }

        Sums sums = SumsOf(at, late.Version);
        sums.Late++;
        if (late.Reading.IsFault)
        {
            sums.Faults++;
        }
        else
        {
            sums.Add(1, late.Reading.Minimum, late.Reading.Maximum, late.Reading.Raw);
        }
    }

    /// <summary>Ticks come every 100 ms while a bench is watched: each stands for the 100 ms before it.</summary>
    public void AddTicks(long first, long last)
    {
        const long Step = EngineTime.TickGridNanoseconds;
        long from = first - Step;
        int bucket = Array.BinarySearch(_edges, from);
        bucket = Math.Max(bucket < 0 ? ~bucket - 1 : bucket, 0);
        for (; bucket < _watched.Length && _edges[bucket] < last; bucket++)
        {
            _watched[bucket] += Math.Max(0, Math.Min(last, _edges[bucket + 1]) - Math.Max(from, _edges[bucket]));
        }
    }

    public List<RawBucket> Result()
    {
        var buckets = new List<RawBucket>(_sums.Count);
        foreach (((int bucket, int version), Sums sums) in _sums)
        {
            long width = _edges[bucket + 1] - _edges[bucket];
            buckets.Add(new RawBucket(
                new EngineTime(_edges[bucket]), new EngineTime(_edges[bucket + 1]), sums.Count, sums.Minimum, sums.Maximum, sums.Sum,
                sums.Faults, sums.Late, version, Math.Min(1.0, (double)_watched[bucket] / width)));
        }

        return buckets;
    }

    private bool Find(long time, ref int at)
    {
        if (time < From || time >= To)
        {
            return false;
        }

        if (time < _edges[at] || time >= _edges[at + 1])
        {
            if (at + 2 < _edges.Length && time >= _edges[at + 1] && time < _edges[at + 2])
            {
                at++;
                return true;
            }

            int found = Array.BinarySearch(_edges, time);
            at = found < 0 ? ~found - 1 : found;
            while (at + 1 < _edges.Length - 1 && _edges[at + 1] <= time)
            {
                at++; // equal edges: an empty bucket
            }
        }

        return true;
    }

    private (int Bucket, int Version) _last = (-1, -1);
    private Sums? _lastSums;

    private Sums SumsOf(int bucket, int version)
    {
        if (_last == (bucket, version))
        {
            return _lastSums!;
        }

        if (!_sums.TryGetValue((bucket, version), out Sums? sums))
        {
            _sums.Add((bucket, version), sums = new Sums());
        }

        _last = (bucket, version);
        _lastSums = sums;
        return sums;
    }

    private sealed class Sums
    {
        public long Count { get; private set; }

        public double Minimum { get; private set; }

        public double Maximum { get; private set; }

        public double Sum { get; private set; }

        public long Faults { get; set; }

        public long Late { get; set; }

        public void Add(long count, double minimum, double maximum, double sum)
        {
            Minimum = Count == 0 ? minimum : Math.Min(Minimum, minimum);
            Maximum = Count == 0 ? maximum : Math.Max(Maximum, maximum);
            Count += count;
            Sum += sum;
        }
    }
}
