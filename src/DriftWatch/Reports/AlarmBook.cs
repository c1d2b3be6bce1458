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
    public static IReadOnlyList<UtcStretch> WatchedIn(BenchReader reader)
    {
        AnchorTable anchors = reader.ReadAnchors();
        return anchors.Anchors.Count == 0
            ? []
            : [.. reader.StoredSpans().Select(s => new UtcStretch(anchors.ToUtcNanoseconds(s.From), anchors.ToUtcNanoseconds(s.To)))];
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
