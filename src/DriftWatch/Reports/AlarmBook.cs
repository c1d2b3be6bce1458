using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports;

/// <summary>A bench's book of alarms, read from its store while a service may go on writing to it.</summary>
internal sealed class AlarmBook
{
    private const int LinesAtOnce = 1000;

    private AlarmBook(IReadOnlyList<AlarmTransition> lines, IReadOnlyList<UtcStretch> watched) => (Lines, Watched) = (lines, watched);

    /// <summary>Every line, in the order in which they were written.</summary>
    public IReadOnlyList<AlarmTransition> Lines { get; }

    /// <summary>When readings were stored at all.</summary>
    public IReadOnlyList<UtcStretch> Watched { get; }

    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    public static AlarmBook Read(string folder)
    {
        using var reader = new BenchReader(folder);
        return new AlarmBook([.. LinesOf(reader)], WatchedIn(reader));
    }

    /// <summary>From the first thing known to the last; null where there is nothing.</summary>
    public UtcStretch? Whole()
    {
        List<long> ends = [.. Watched.Select(w => w.FromUtc), .. Watched.Select(w => w.ToUtc), .. Lines.Select(l => l.AtUtc), .. Lines.Select(l => l.AtUtc + 1)];
        return ends.Count == 0 ? null : new UtcStretch(ends.Min(), ends.Max());
    }

    /// <summary>When readings were stored, by the anchors of the store.</summary>
    /// <remarks>
    /// What is entered while nobody watches is stored with the readings that follow it, maybe weeks later: engine time stood still
    /// meanwhile, so such a span is parted where the wall clock leaps.
    /// </remarks>
    public static IReadOnlyList<UtcStretch> WatchedIn(BenchReader reader)
    {
        AnchorTable anchors = reader.ReadAnchors();
        return anchors.Anchors.Count == 0 ? [] : [.. reader.StoredSpans().SelectMany(s => Parted(s, anchors))];
    }

    private static IEnumerable<UtcStretch> Parted(StoredSpan span, AnchorTable anchors)
    {
        EngineTime begin = span.From;
        for (int i = FirstAfter(anchors.Anchors, span.From); i < anchors.Anchors.Count && anchors.Anchors[i].Engine <= span.To; i++)
        {
            (EngineTime at, long utc) = (anchors.Anchors[i].Engine, anchors.Anchors[i].UtcNanoseconds);
            long before = i == 0 ? utc : anchors.Anchors[i - 1].UtcNanoseconds + (at.Nanoseconds - anchors.Anchors[i - 1].Engine.Nanoseconds);
            if (Math.Abs(utc - before) > EngineTime.NanosecondsPerSecond)
            {
                if (begin < at)
                {
                    yield return new UtcStretch(before - (at.Nanoseconds - begin.Nanoseconds), before);
                }

                begin = at;
            }
        }

        yield return new UtcStretch(anchors.ToUtcNanoseconds(begin), anchors.ToUtcNanoseconds(span.To));
    }

    private static int FirstAfter(IReadOnlyList<TimeAnchor> anchors, EngineTime time)
    {
        (int low, int high) = (0, anchors.Count);
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = anchors[middle].Engine > time ? (low, middle) : (middle + 1, high);
        }

        return low;
    }

    private static IEnumerable<AlarmTransition> LinesOf(BenchReader reader)
    {
        long cursor = 0;
        while (reader.Alarms(cursor, LinesAtOnce) is { Count: > 0 } page)
        {
            foreach (StoredAlarm stored in page)
            {
                cursor = stored.Cursor;
                yield return stored.Line;
            }
        }
    }
}
