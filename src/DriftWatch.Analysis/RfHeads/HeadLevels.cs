namespace DriftWatch.Analysis.RfHeads;

/// <summary>What can be said of heads against each other.</summary>
public enum HeadsTell
{
    /// <summary>One level alone: nothing to hold it against.</summary>
    OneHeadOnly,

    /// <summary>All that are there lie together.</summary>
    Agree,

    /// <summary>All but one lie together: <see cref="HeadPicture.OddHead"/> is the other.</summary>
    OneApart,

    /// <summary>Two heads, and they differ: which of them is off can't be told.</summary>
    EitherOfTwo,

    /// <summary>No majority lies together, or more than one does: no head can be named.</summary>
    Divided,
}

/// <summary>The levels of one instant, split into what all heads have in common and what is each one's own.</summary>
/// <param name="CommonDb">The median of the heads that are there, dB.</param>
/// <param name="SpreadDb">Highest less lowest, dB, 0 or above; 0 of one head alone.</param>
/// <param name="Heads">How many heads were there, 1 to 4.</param>
/// <param name="DifferencesDb">Each head's level less the common part, dB. Of two heads they are ± half the difference and name nobody.</param>
/// <param name="Tells">What may be concluded.</param>
/// <param name="OddHead">The head that lies apart, 1 to 4; 0 where none can be named.</param>
public readonly record struct HeadPicture(
    double CommonDb, double SpreadDb, int Heads, FourHeads DifferencesDb, HeadsTell Tells, int OddHead);

/// <summary>
/// Levels of the heads in decibels as a common part, differences from it and a spread. The common part is the median, which one
/// head of three or four can't carry away (of four it is the mean of the middle two, and moves with one head at most by half
/// the distance of its neighbours). Levels are best given less those of the line-up: heads differ by nature.
/// </summary>
public static class HeadLevels
{
    /// <summary>Heads closer than this lie together, dB: a spread below 2 dB is normal. Source: common practice, no source.</summary>
    public const double AgreeWithinDb = 2;

    /// <param name="levelsDb">Level of each head, dB over any one reference.</param>
    /// <param name="agreeWithinDb">Heads closer than this lie together, above 0.</param>
    /// <returns>A shortfall without any head.</returns>
    public static Answer<HeadPicture> Of(in FourHeads levelsDb, double agreeWithinDb = AgreeWithinDb)
    {
        if (!(agreeWithinDb > 0 && double.IsFinite(agreeWithinDb)))
        {
            throw new ArgumentOutOfRangeException(nameof(agreeWithinDb), agreeWithinDb, "A distance in dB is above zero.");
        }

        Span<double> sorted = stackalloc double[FourHeads.Count];
        Span<int> heads = stackalloc int[FourHeads.Count];
        int n = Sort(levelsDb, sorted, heads);
        if (n == 0)
        {
            return new Shortfall("heads with a level", 0, 1);
        }

        double common = n % 2 == 1 ? sorted[n / 2] : (sorted[(n / 2) - 1] + sorted[n / 2]) / 2;
        var differences = new FourHeads(levelsDb[1] - common, levelsDb[2] - common, levelsDb[3] - common, levelsDb[4] - common);
        (HeadsTell tells, int odd) = Conclude(sorted[..n], heads, agreeWithinDb);
        return new HeadPicture(common, sorted[n - 1] - sorted[0], n, differences, tells, odd);
    }

    private static int Sort(in FourHeads levels, Span<double> sorted, Span<int> heads)
    {
        int n = 0;
        for (int head = 1; head <= FourHeads.Count; head++)
        {
            if (levels[head] is not { } level)
            {
                continue;
            }

            int place = n++;
            for (; place > 0 && sorted[place - 1] > level; place--)
            {
                (sorted[place], heads[place]) = (sorted[place - 1], heads[place - 1]);
            }

            (sorted[place], heads[place]) = (level, head);
        }

        return n;
    }

    private static (HeadsTell Tells, int Odd) Conclude(ReadOnlySpan<double> sorted, ReadOnlySpan<int> heads, double within)
    {
        int n = sorted.Length;
        bool allTogether = sorted[n - 1] - sorted[0] <= within;
        if (n == 1 || allTogether)
        {
            return (n == 1 ? HeadsTell.OneHeadOnly : HeadsTell.Agree, 0);
        }

        if (n == 2)
        {
            return (HeadsTell.EitherOfTwo, 0);
        }

        bool withoutHighest = sorted[n - 2] - sorted[0] <= within;
        bool withoutLowest = sorted[n - 1] - sorted[1] <= within;
        return (withoutHighest, withoutLowest) switch
        {
            (true, false) => (HeadsTell.OneApart, heads[n - 1]),
            (false, true) => (HeadsTell.OneApart, heads[0]),
            _ => (HeadsTell.Divided, 0),
        };
    }
}

/// <summary>
/// The newest level of each head as they come, one after the other; a head that has not been heard of for a while is missing. Allocates nothing.
/// </summary>
public sealed class HeadLevelTracker
{
    private readonly double _longestAgeSeconds;
    private readonly double[] _times = [double.NegativeInfinity, double.NegativeInfinity, double.NegativeInfinity, double.NegativeInfinity];
    private readonly double[] _levels = new double[FourHeads.Count];

    /// <param name="longestAgeSeconds">A level older than this stands for the present no more; above zero.</param>
    public HeadLevelTracker(double longestAgeSeconds)
    {
        if (!(longestAgeSeconds > 0))
        {
            throw new ArgumentOutOfRangeException(nameof(longestAgeSeconds), longestAgeSeconds, "An age in seconds is above zero.");
        }

        _longestAgeSeconds = longestAgeSeconds;
    }

    /// <param name="time">In seconds, not before the head's last one.</param>
    /// <param name="head">1 to 4.</param>
    /// <param name="levelDb">In dB.</param>
    /// <exception cref="ArgumentException">Time or level is not finite, the head doesn't exist, or its time goes back.</exception>
    public void Add(double time, int head, double levelDb)
    {
        Statistics.Finite.Require(time);
        Statistics.Finite.Require(levelDb);
        FourHeads.RequireHead(head);
        if (time < _times[head - 1])
        {
            throw new ArgumentException($"Times must not fall: {time} s is before {_times[head - 1]} s.", nameof(time));
        }

        (_times[head - 1], _levels[head - 1]) = (time, levelDb);
    }

    /// <summary>The levels that stand for this instant.</summary>
    /// <param name="time">In seconds, not before the last level.</param>
    public FourHeads At(double time)
    {
        Statistics.Finite.Require(time);
        return new FourHeads(At(time, 0), At(time, 1), At(time, 2), At(time, 3));
    }

    private double? At(double time, int index) => time - _times[index] <= _longestAgeSeconds ? _levels[index] : null;
}

/// <summary>Levels of the heads over time: as many instants, rising, as there are sets of levels.</summary>
public sealed class HeadRecord
{
    /// <param name="times">In seconds, rising.</param>
    /// <param name="levelsDb">As many, dB.</param>
    /// <exception cref="ArgumentException">Lengths differ, a time is not finite, or times don't rise.</exception>
    public HeadRecord(IReadOnlyList<double> times, IReadOnlyList<FourHeads> levelsDb)
    {
        ArgumentNullException.ThrowIfNull(times);
        ArgumentNullException.ThrowIfNull(levelsDb);
        if (times.Count != levelsDb.Count)
        {
            throw new ArgumentException($"As many levels as times are needed: {times.Count} times, {levelsDb.Count} levels.", nameof(levelsDb));
        }

        double[] copy = [.. times];
        Statistics.Finite.Require(copy, nameof(times));
        Trend.Points.CheckRising(copy, nameof(times));
        (Times, LevelsDb) = (copy, [.. levelsDb]);
    }

    /// <summary>In seconds, rising.</summary>
    public IReadOnlyList<double> Times { get; }

    /// <summary>In dB.</summary>
    public IReadOnlyList<FourHeads> LevelsDb { get; }

    /// <summary>
    /// The instants at which a common part can be told by at least so many heads, with it. A head that comes and goes would
    /// else make steps in the common part that are none.
    /// </summary>
    /// <param name="fewestHeads">1 to 4.</param>
    public (double[] Times, double[] CommonDb) Common(int fewestHeads = 3)
    {
        FourHeads.RequireHead(fewestHeads);
        var times = new List<double>();
        var levels = new List<double>();
        for (int i = 0; i < Times.Count; i++)
        {
            Answer<HeadPicture> picture = HeadLevels.Of(LevelsDb[i]);
            if (picture.IsKnown && picture.Value.Heads >= fewestHeads)
            {
                times.Add(Times[i]);
                levels.Add(picture.Value.CommonDb);
            }
        }

        return ([.. times], [.. levels]);
    }

    /// <summary>The instants at which a head can be held against at least two others, with its level less the median of the others, dB.</summary>
    /// <param name="head">1 to 4.</param>
    public (double[] Times, double[] DifferencesDb) AgainstOthers(int head)
    {
        FourHeads.RequireHead(head);
        var times = new List<double>();
        var differences = new List<double>();
        for (int i = 0; i < Times.Count; i++)
        {
            if (LevelsDb[i][head] is { } level && LevelsDb[i].With(head, null) is { Known: >= 2 } others)
            {
                times.Add(Times[i]);
                differences.Add(level - HeadLevels.Of(others).Value.CommonDb);
            }
        }

        return ([.. times], [.. differences]);
    }
}
