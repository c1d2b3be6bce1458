using DriftWatch.Measurement.Channels;

namespace DriftWatch.Reports.Plots;

/// <summary>One bucket of a trace: what was seen between its instant and the next grid point, in engineering units.</summary>
internal struct TraceBucket
{
    public long Index;
    public double Minimum;
    public double Maximum;
    public double Sum;
    public int Count;

    public readonly double Mean => Sum / Count;
}

/// <summary>
/// A channel's readings of any length of time in bounded memory: least, greatest and mean in buckets that double in
/// width whenever there are too many, so that no dropout is lost in a long night. Times are engine nanoseconds.
/// </summary>
/// <param name="channel">Whose readings they are.</param>
/// <param name="width">Of a bucket at first, nanoseconds: that of what is added, where it was put in buckets before.</param>
internal sealed class Trace(ChannelDefinition channel, long width = 1_000_000)
{
    private const int MostBuckets = 4000;
    private const int MostFaultRuns = 2000;

    private readonly List<TraceBucket> _buckets = [];
    private readonly List<(long From, long To)> _faults = [];

    public ChannelDefinition Channel { get; } = channel;

    /// <summary>Nanoseconds.</summary>
    public long Width { get; private set; } = width;

    public IReadOnlyList<TraceBucket> Buckets => _buckets;

    /// <summary>Spans in which the channel gave faults.</summary>
    public IReadOnlyList<(long From, long To)> Faults => _faults;

    public long Count { get; private set; }

    public long FaultCount { get; private set; }

    public double Minimum { get; private set; } = double.PositiveInfinity;

    public double Maximum { get; private set; } = double.NegativeInfinity;

    public double Sum { get; private set; }

    private long PeriodNanoseconds => Math.Max(1_000_000, Channel.Period.Ticks * TimeSpan.NanosecondsPerTick);

    /// <summary>Takes a reading, or the mean of <paramref name="count"/> of them.</summary>
    public void Add(long time, double value, double minimum, double maximum, int count = 1)
    {
        Count += count;
        Sum += value * count;
        Minimum = Math.Min(Minimum, minimum);
        Maximum = Math.Max(Maximum, maximum);
        var bucket = new TraceBucket { Index = Math.DivRem(time, Width).Quotient, Minimum = minimum, Maximum = maximum, Sum = value * count, Count = count };
        int at = _buckets.Count;
        while (at > 0 && _buckets[at - 1].Index > bucket.Index)
        {
            at--; // only a late reading walks
        }

        if (at > 0 && _buckets[at - 1].Index == bucket.Index)
        {
            _buckets[at - 1] = Join(_buckets[at - 1], bucket);
            return;
        }

        _buckets.Insert(at, bucket);
        if (_buckets.Count > MostBuckets)
        {
            Halve();
        }
    }

    /// <summary>Takes a fault, or as many as there were in <paramref name="length"/> nanoseconds.</summary>
    public void AddFault(long time, int count = 1, long length = 0)
    {
        FaultCount += count;
        long end = time + Math.Max(length, PeriodNanoseconds);
        long slack = Math.Max(PeriodNanoseconds * 3 / 2, _faults.Count < MostFaultRuns ? 0 : Width * 4);
        if (_faults.Count > 0 && time - _faults[^1].To <= slack)
        {
            _faults[^1] = (_faults[^1].From, Math.Max(_faults[^1].To, end));
        }
        else if (_faults.Count < MostFaultRuns)
        {
            _faults.Add((time, end));
        }
    }

    /// <summary>The unbroken pieces: a silence of more than two and a half periods is a gap and stays one.</summary>
    public IEnumerable<TraceBucket[]> Pieces()
    {
        long gap = Math.Max(PeriodNanoseconds * 5 / 2, Width * 3 / 2);
        var piece = new List<TraceBucket>();
        foreach (TraceBucket bucket in _buckets)
        {
            if (piece.Count > 0 && (bucket.Index - piece[^1].Index) * Width > gap)
            {
                yield return [.. piece];
                piece.Clear();
            }

            piece.Add(bucket);
        }

        if (piece.Count > 0)
        {
            yield return [.. piece];
        }
    }

    /// <summary>Width of the buckets that <see cref="Within"/> gives, nanoseconds: a whole number of this trace's own.</summary>
    public long WidthOf(long from, long to, int columns) => Width * Math.Max(1, (to - from) / columns / Width);

    /// <summary>The unbroken pieces between two instants in at most about so many buckets, for a drawing that shows no more.</summary>
    public IEnumerable<TraceBucket[]> Within(long from, long to, int columns)
    {
        long joined = WidthOf(from, to, columns) / Width;
        foreach (TraceBucket[] piece in Pieces())
        {
            var coarse = new List<TraceBucket>();
            foreach (TraceBucket bucket in piece.Where(b => b.Index * Width >= from && b.Index * Width < to))
            {
                TraceBucket here = bucket with { Index = (long)Math.Floor((double)bucket.Index / joined) };
                if (coarse.Count > 0 && coarse[^1].Index == here.Index)
                {
                    coarse[^1] = Join(coarse[^1], here);
                }
                else
                {
                    coarse.Add(here);
                }
            }

            if (coarse.Count > 0)
            {
                yield return [.. coarse];
            }
        }
    }

    private void Halve()
    {
        Width *= 2;
        int write = 0;
        for (int read = 0; read < _buckets.Count; read++)
        {
            TraceBucket bucket = _buckets[read];
            bucket.Index = (long)Math.Floor(bucket.Index / 2.0);
            if (write > 0 && _buckets[write - 1].Index == bucket.Index)
            {
                _buckets[write - 1] = Join(_buckets[write - 1], bucket);
            }
            else
            {
                _buckets[write++] = bucket;
            }
        }

        _buckets.RemoveRange(write, _buckets.Count - write);
    }

    private static TraceBucket Join(TraceBucket left, TraceBucket right) => left with
    {
        Minimum = Math.Min(left.Minimum, right.Minimum),
        Maximum = Math.Max(left.Maximum, right.Maximum),
        Sum = left.Sum + right.Sum,
        Count = left.Count + right.Count,
    };
}
