using DriftWatch.Analysis.Events;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>What counts as a clog.</summary>
public sealed record ClogRule
{
    /// <summary>So far below the others, against the line-up, dB: half of the amplitude. Source: derived from that; the half is common practice.</summary>
    public double DepthDb { get; init; } = 6;

    /// <summary>It is over when so much of the depth has come back, dB. Source: common practice, no source.</summary>
    public double DeadbandDb { get; init; } = 1;

    /// <summary>Shorter ones are dropouts of the tape, seconds. Source: common practice, no source.</summary>
    public double LeastSeconds { get; init; } = 0.5;

    /// <summary>A clog comes within seconds; what takes longer is something else. Source: common practice, no source.</summary>
    public double LongestFallSeconds { get; init; } = 10;

    /// <summary>A longer hole in the readings ends what was known, seconds. Source: common practice, no source.</summary>
    public double LongestGapSeconds { get; init; } = 5;
}

/// <summary>One head that went down while the others stayed. Times in the record's seconds, levels in dB.</summary>
/// <param name="Head">1 to 4.</param>
/// <param name="LastGood">The last reading at which it was still where it used to be; the record's first where it never was.</param>
/// <param name="FirstDown">The first reading beyond the depth.</param>
/// <param name="End">When it came back, or the last reading.</param>
/// <param name="DepthDb">Median while down less what it was at line-up (or usually), negative.</param>
/// <param name="IsSudden">Down within <see cref="ClogRule.LongestFallSeconds"/>: a clog. Else the head sank slowly, or the beginning wasn't seen.</param>
/// <param name="CameBack">It ended within the record.</param>
public readonly record struct ClogEvent(int Head, double LastGood, double FirstDown, double End, double DepthDb, bool IsSudden, bool CameBack);

/// <summary>
/// Clogs of a record: each head's level, less its line-up, against the median of the others (so that nothing all heads do alike counts), as
/// excursions by <see cref="Excursions"/>. With fewer than three heads nobody can be named, and such instants are left out. The live judge
/// of a head's difference raises the same limits; this is the record's account of it.
/// </summary>
public static class HeadClog
{
    /// <param name="record">Levels, dB over any reference.</param>
    /// <param name="lineUpDb">Levels at line-up; a head without one, or null for all: its own median over the record, which holds while it is clogged for less than half of it.</param>
    /// <param name="rule">Null for the defaults.</param>
    /// <returns>In the order of time; a shortfall where no instant has three heads.</returns>
    public static Answer<IReadOnlyList<ClogEvent>> Find(HeadRecord record, FourHeads? lineUpDb = null, ClogRule? rule = null)
    {
        ArgumentNullException.ThrowIfNull(record);
        rule ??= new ClogRule();
        HeadRecord against = AgainstLineUp(record, lineUpDb ?? default);
        var found = new List<ClogEvent>();
        int judged = 0;
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            (double[] times, double[] differences) = against.AgainstOthers(head);
            judged += times.Length;
            found.AddRange(OfHead(head, times, differences, rule));
        }

        return judged == 0
            ? new Shortfall("heads at one instant", record.LevelsDb.Count == 0 ? 0 : record.LevelsDb.Max(l => l.Known), 3)
            : found.OrderBy(e => e.FirstDown).ToArray();
    }

    private static HeadRecord AgainstLineUp(HeadRecord record, FourHeads lineUpDb)
    {
        FourHeads normal = lineUpDb;
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            double[] levels = [.. record.LevelsDb.Where(l => l[head] is not null).Select(l => l[head]!.Value)];
            if (normal[head] is null && levels.Length > 0)
            {
                normal = normal.With(head, RobustScale.Median(levels).Value);
            }
        }

        return new HeadRecord(record.Times, [.. record.LevelsDb.Select(l => l.Less(normal))]);
    }

    private static IEnumerable<ClogEvent> OfHead(int head, double[] times, double[] differences, ClogRule rule)
    {
        var when = new ExcursionRule(ExcursionSide.Below, -rule.DepthDb, rule.DeadbandDb - rule.DepthDb)
        {
            MinDurationSeconds = rule.LeastSeconds,
            LongestGapSeconds = rule.LongestGapSeconds,
        };
        foreach (Excursion away in Excursions.Find(times, differences, when))
        {
            // The crossing lies between two readings: the later one is the first down.
            int down = Array.FindIndex(times, t => t >= away.Start);
            int good = down - 1;

            // A third of the way down it is no longer where it used to be; noise of a dB or two is no fall.
            while (good >= 0 && differences[good] < -rule.DepthDb / 3)
            {
                good--;
            }

            bool seen = good >= 0 && times[down] - times[good] <= rule.LongestGapSeconds + rule.LongestFallSeconds;
            double lastGood = times[Math.Max(good, 0)];
            double[] low = [.. Enumerable.Range(down, times.Length - down).TakeWhile(i => times[i] <= away.End).Select(i => differences[i])];
            yield return new ClogEvent(
                head,
                lastGood,
                times[down],
                away.End,
                low.Length == 0 ? differences[down] : RobustScale.Median(low).Value,
                seen && times[down] - lastGood <= rule.LongestFallSeconds,
                away.Ended == ExcursionEnd.CameBack);
        }
    }
}
