using System.Globalization;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Reports.Plots;

/// <summary>A mark of the time axis: engine nanoseconds and its label in 24 h form.</summary>
internal readonly record struct TimeTick(long At, string Label);

/// <summary>Chooses round times of the zone as ticks. The date stands at the first tick and wherever the day changes.</summary>
internal static class TimeTicks
{
    private static readonly long[] StepSeconds =
    [
        1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 2 * 86400, 5 * 86400, 10 * 86400, 30 * 86400,
    ];

    public static IReadOnlyList<TimeTick> For(AnchorTable anchors, long from, long to, int most, TimeZoneInfo zone)
    {
        double span = (to - from) / 1e9;
        long step = StepSeconds.FirstOrDefault(s => span / s <= most, StepSeconds[^1]);
        var ticks = new List<TimeTick>();
        string day = "";
        foreach ((long begin, long end, TimeAnchor anchor) in Stretches(anchors, from, to))
        {
            long utc = anchor.UtcNanoseconds + (begin - anchor.Engine.Nanoseconds);
            long offset = (long)zone.GetUtcOffset(UtcText.ToDateTimeOffset(utc)).TotalSeconds;
            long stepNanoseconds = step * EngineTime.NanosecondsPerSecond;
            long local = utc + (offset * EngineTime.NanosecondsPerSecond);
            long tickLocal = (long)Math.Ceiling(local / (decimal)stepNanoseconds) * stepNanoseconds;
            for (long at = begin + (tickLocal - local); at <= end; at += stepNanoseconds)
            {
                long tickUtc = anchor.UtcNanoseconds + (at - anchor.Engine.Nanoseconds);
                DateTimeOffset shown = TimeZoneInfo.ConvertTime(UtcText.ToDateTimeOffset(tickUtc), zone);
                string time = shown.ToString(step < 60 ? "HH:mm:ss" : "HH:mm", CultureInfo.InvariantCulture);
                string date = shown.ToString("d MMM yyyy", CultureInfo.InvariantCulture);
                ticks.Add(new TimeTick(at, date == day ? time : time + "\n" + date));
                day = date;
            }
        }

        return ticks;
    }

    private static IEnumerable<(long Begin, long End, TimeAnchor Anchor)> Stretches(AnchorTable table, long from, long to)
    {
        IReadOnlyList<TimeAnchor> anchors = table.Anchors;
        for (int i = 0; i < anchors.Count; i++)
        {
            long begin = i == 0 ? from : Math.Max(from, anchors[i].Engine.Nanoseconds);
            long end = i + 1 < anchors.Count ? Math.Min(to, anchors[i + 1].Engine.Nanoseconds - 1) : to;
            if (begin <= end)
            {
                yield return (begin, end, anchors[i]);
            }
        }
    }
}
