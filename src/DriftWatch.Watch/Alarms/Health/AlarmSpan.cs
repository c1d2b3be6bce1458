namespace DriftWatch.Watch.Alarms.Health;

/// <summary>A stretch of UTC, nanoseconds since 1970; the end is not in it.</summary>
public readonly record struct UtcStretch(long FromUtc, long ToUtc)
{
    public long Nanoseconds => Math.Max(0, ToUtc - FromUtc);

    /// <summary>What both have, or an empty stretch.</summary>
    public UtcStretch Within(UtcStretch other) => new(Math.Max(FromUtc, other.FromUtc), Math.Min(ToUtc, other.ToUtc));

    /// <summary>What none of the others covers, in order.</summary>
    /// <param name="others">In any order, overlapping or not.</param>
    public IEnumerable<UtcStretch> Without(IEnumerable<UtcStretch> others)
    {
        UtcStretch whole = this;
        long at = FromUtc;
        foreach (UtcStretch other in others.Select(o => o.Within(whole)).Where(o => o.Nanoseconds > 0).OrderBy(o => o.FromUtc))
        {
            if (other.FromUtc > at)
            {
                yield return new UtcStretch(at, other.FromUtc);
            }

            at = Math.Max(at, other.ToUtc);
        }

        if (at < whole.ToUtc)
        {
            yield return new UtcStretch(at, whole.ToUtc);
        }
    }
}

/// <summary>
/// The span that is measured, and when in it the bench was watched: hours in which no service ran would make any rate look
/// good. Hours in which the machine stood still but was watched do count.
/// </summary>
public sealed class AlarmSpan
{
    /// <summary>A period counts when at least half of it was watched; a restart of a second does not void it. Source: common practice, no source.</summary>
    private const double LeastWatchedShare = 0.5;

    private readonly List<UtcStretch> _watched;
    private readonly List<UtcStretch>? _everWatched;

    /// <param name="whole">The span.</param>
    /// <param name="watched">When it was watched, in any order, cut to the span here; null: throughout.</param>
    /// <exception cref="ArgumentException">The span is empty.</exception>
    public AlarmSpan(UtcStretch whole, IEnumerable<UtcStretch>? watched = null)
    {
        if (whole.FromUtc >= whole.ToUtc)
        {
            throw new ArgumentException("The span ends before it begins.", nameof(whole));
        }

        Whole = whole;
        _everWatched = watched is null ? null : Joined(watched);
        _watched = Joined((_everWatched ?? [whole]).Select(w => w.Within(whole)).Where(w => w.Nanoseconds > 0));
    }

    public UtcStretch Whole { get; }

    /// <summary>In order, without overlap.</summary>
    public IReadOnlyList<UtcStretch> Watched => _watched;

    public double WatchedMinutes => _watched.Sum(w => w.Nanoseconds / 60e9);

    /// <summary>How much of a stretch was watched, before the span as well, nanoseconds.</summary>
    public long WatchedWithin(UtcStretch stretch) => _everWatched is null ? stretch.Nanoseconds : _everWatched.Sum(w => w.Within(stretch).Nanoseconds);

    public bool Has(long utc) => utc >= Whole.FromUtc && utc < Whole.ToUtc;

    /// <summary>The periods, by their numbers since 1970, that lie wholly in the span and of which enough was watched.</summary>
    public IEnumerable<long> Periods()
    {
        long first = Period.Of(Whole.FromUtc + Period.Nanoseconds - 1);
        long end = Period.Of(Whole.ToUtc);
        int at = 0;
        for (long period = first; period < end; period++)
        {
            UtcStretch stretch = Period.Stretch(period);
            while (at < _watched.Count && _watched[at].ToUtc <= stretch.FromUtc)
            {
                at++;
            }

            if (at == _watched.Count)
            {
                yield break;
            }

            long seen = 0;
            for (int i = at; i < _watched.Count && _watched[i].FromUtc < stretch.ToUtc; i++)
            {
                seen += _watched[i].Within(stretch).Nanoseconds;
            }

            if (seen >= LeastWatchedShare * Period.Nanoseconds)
            {
                yield return period;
            }
        }
    }

    private static List<UtcStretch> Joined(IEnumerable<UtcStretch> stretches)
    {
        var joined = new List<UtcStretch>();
        foreach (UtcStretch next in stretches.OrderBy(s => s.FromUtc).ThenBy(s => s.ToUtc))
        {
            if (joined.Count > 0 && next.FromUtc <= joined[^1].ToUtc)
            {
                joined[^1] = joined[^1] with { ToUtc = Math.Max(joined[^1].ToUtc, next.ToUtc) };
            }
            else
            {
                joined.Add(next);
            }
        }

        return joined;
    }
}

/// <summary>Ten minutes that begin at a whole ten minutes of UTC.</summary>
internal static class Period
{
    public const long Nanoseconds = AlarmTargets.PeriodMinutes * 60L * 1_000_000_000L;

    public static long Of(long utc) => (utc - (((utc % Nanoseconds) + Nanoseconds) % Nanoseconds)) / Nanoseconds;

    public static UtcStretch Stretch(long period) => new(period * Nanoseconds, (period + 1) * Nanoseconds);
}
