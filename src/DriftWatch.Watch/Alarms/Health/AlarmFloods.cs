namespace DriftWatch.Watch.Alarms.Health;

/// <param name="FromUtc">When it began.</param>
/// <param name="ToUtc">When it was over; null while it lasts.</param>
/// <param name="Calls">Calls that belong to it.</param>
public sealed record AlarmFlood(long FromUtc, long? ToUtc, int Calls);

/// <summary>
/// Floods, told in two ways. By fixed periods: ten minutes that begin at a whole ten minutes of UTC; the flood begins with the
/// first that has more than ten calls and ends with the first that has fewer than five. By a sliding window: the flood begins
/// at the call that is the eleventh within ten minutes, and ends at the instant at which fewer than five lie within the last ten.
/// A flood that straddles two periods evenly is seen only by the second; the first is what others count by.
/// </summary>
internal static class AlarmFloods
{
    /// <param name="calls">UTC of the calls, ascending.</param>
    /// <param name="toUtc">Until when is known.</param>
    public static List<AlarmFlood> Fixed(IReadOnlyList<long> calls, long toUtc)
    {
        var floods = new List<AlarmFlood>();
        AlarmFlood? open = null;
        long before = 0;
        foreach (IGrouping<long, long> period in calls.GroupBy(Period.Of).OrderBy(g => g.Key))
        {
            int count = period.Count();
            UtcStretch stretch = Period.Stretch(period.Key);
            if (open is not null && period.Key > before + 1)
            {
                floods.Add(open with { ToUtc = Period.Stretch(before + 1).FromUtc }); // a period without any call lies between
                open = null;
            }

            if (open is not null && count < AlarmTargets.FloodEnds && stretch.ToUtc <= toUtc)
            {
                floods.Add(open with { ToUtc = stretch.FromUtc });
                open = null;
            }
            else if (open is not null)
            {
                open = open with { Calls = open.Calls + count };
            }
            else if (count > AlarmTargets.FloodBegins)
            {
                open = new AlarmFlood(stretch.FromUtc, null, count);
            }

            before = period.Key;
        }

        if (open is not null)
        {
            UtcStretch next = Period.Stretch(before + 1);
            floods.Add(next.ToUtc <= toUtc ? open with { ToUtc = next.FromUtc } : open);
        }

        return floods;
    }

    /// <param name="calls">The calls, ascending by the engine's time, which no step of the wall clock disturbs.</param>
    /// <param name="toUtc">Until when is known.</param>
    public static List<AlarmFlood> Sliding(IReadOnlyList<(long Engine, long Utc)> calls, long toUtc)
    {
        var floods = new List<AlarmFlood>();
        AlarmFlood? open = null;
        int first = 0;
        for (int i = 0; i < calls.Count; i++)
        {
            long now = calls[i].Engine;
            if (open is not null && calls[i - AlarmTargets.FloodEnds].Engine + Period.Nanoseconds < now)
            {
                floods.Add(open with { ToUtc = EndOf(calls, i) });
                open = null;
            }

            while (calls[first].Engine <= now - Period.Nanoseconds)
            {
                first++;
            }

            if (open is not null)
            {
                open = open with { Calls = open.Calls + 1 };
            }
            else if (i - first + 1 > AlarmTargets.FloodBegins)
            {
                open = new AlarmFlood(calls[i].Utc, null, i - first + 1);
            }
        }

        if (open is not null)
        {
            long end = EndOf(calls, calls.Count);
            floods.Add(end < toUtc ? open with { ToUtc = end } : open);
        }

        return floods;
    }

    /// <summary>When only four of the calls before this one still lay in the window: as the fifth last left it.</summary>
    private static long EndOf(IReadOnlyList<(long Engine, long Utc)> calls, int next) =>
        calls[next - AlarmTargets.FloodEnds].Utc + Period.Nanoseconds;
}
