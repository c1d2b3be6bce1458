using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>
/// Even columns over a span whose width comes from a ladder and whose edges are whole multiples of it: the same column of a
/// night is the same whatever else is in view, so it can be kept, and the store's rollups fit into it whole.
/// </summary>
/// <param name="Width">Nanoseconds of a column.</param>
/// <param name="First">Number of the first column: it begins at this many widths of engine time.</param>
/// <param name="Count">Columns, at least 1.</param>
internal readonly record struct SpanGrid(long Width, long First, int Count)
{
    private const long Millisecond = EngineTime.NanosecondsPerMillisecond;
    private const long Second = EngineTime.NanosecondsPerSecond;
    private const long Minute = 60 * Second;
    private const long Hour = 60 * Minute;

    /// <summary>Each is a whole number of the rollup that serves it: readings below a second, then seconds, minutes, hours.</summary>
    private static readonly long[] Ladder =
    [
        Millisecond, 2 * Millisecond, 5 * Millisecond, 10 * Millisecond, 20 * Millisecond, 50 * Millisecond,
        100 * Millisecond, 200 * Millisecond, 500 * Millisecond,
        Second, 2 * Second, 5 * Second, 10 * Second, 15 * Second, 20 * Second, 30 * Second,
        Minute, 2 * Minute, 5 * Minute, 10 * Minute, 15 * Minute, 20 * Minute, 30 * Minute,
        Hour, 2 * Hour, 3 * Hour, 4 * Hour, 6 * Hour, 8 * Hour, 12 * Hour, 24 * Hour,
    ];

    public EngineTime From => new(First * Width);

    public EngineTime To => new((First + Count) * Width);

    /// <summary>The finest grid that covers a span with at most so many columns; two more may touch its ends.</summary>
    /// <param name="from">Begin of the span.</param>
    /// <param name="to">Its end, after its begin.</param>
    /// <param name="columns">At least 1.</param>
    /// <param name="least">No column is narrower, so that a channel read less often shows a line and no dots; zero where it does not matter.</param>
    public static SpanGrid Over(EngineTime from, EngineTime to, int columns, TimeSpan least = default)
    {
        long wanted = Math.Max(((to.Nanoseconds - from.Nanoseconds) + columns - 1) / columns, least.Ticks * TimeSpan.NanosecondsPerTick);
        long width = Ladder.FirstOrDefault(step => step >= wanted);
        if (width == 0)
        {
            width = (wanted + Ladder[^1] - 1) / Ladder[^1] * Ladder[^1];
        }

        long first = Floor(from.Nanoseconds, width);
        return new SpanGrid(width, first, (int)(Floor(to.Nanoseconds - 1, width) - first + 1));
    }

    /// <summary>Engine time to UTC over the grid: at its first column, and at every one before which the clock was set.</summary>
    public IReadOnlyList<TimeAnchor> Anchors(IBenchView view)
    {
        var anchors = new List<TimeAnchor>();
        long before = 0;
        for (int i = 0; i < Count; i++)
        {
            var at = new EngineTime((First + i) * Width);
            long utc = view.ToUtcNanoseconds(at);
            if (i == 0 || Math.Abs(utc - before - Width) >= Millisecond)
            {
                anchors.Add(new TimeAnchor(at, utc));
            }

            before = utc;
        }

        return anchors;
    }

    private static long Floor(long value, long width) => (long)Math.Floor((decimal)value / width);
}
