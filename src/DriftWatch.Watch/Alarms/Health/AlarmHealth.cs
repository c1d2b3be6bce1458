using DriftWatch.Analysis;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Alarms.Health;

/// <summary>
/// Measures an alarm system by its book. Lines before the span are taken to know what stood and rang as it began, and are
/// counted in nothing; later ones are passed over. Periods are fixed, from whole ten minutes of UTC; floods are told by these and
/// by a sliding window. Order among the lines does not matter: each carries its place in the book.
/// </summary>
public static class AlarmHealth
{
    private const long ChatterNanoseconds = 60 * EngineTime.NanosecondsPerSecond;
    private const long StaleNanoseconds = AlarmTargets.StaleHours * 3600L * EngineTime.NanosecondsPerSecond;
    private const double MinutesADay = 24 * 60;

    /// <exception cref="ArgumentException">A line stands there twice.</exception>
    public static AlarmHealthReport Of(IEnumerable<AlarmTransition> lines, AlarmSpan span)
    {
        ArgumentNullException.ThrowIfNull(lines);
        ArgumentNullException.ThrowIfNull(span);
        List<AlarmTransition> book = [.. lines.Where(l => l.AtUtc < span.Whole.ToUtc).OrderBy(l => l.Input).ThenBy(l => l.Place).ThenBy(l => l.Id, StringComparer.Ordinal)];
        for (int i = 1; i < book.Count; i++)
        {
            if (book[i].Input == book[i - 1].Input && book[i].Place == book[i - 1].Place && book[i].Id == book[i - 1].Id)
            {
                throw new ArgumentException($"Line {book[i].Place} of input {book[i].Input} stands there twice.", nameof(lines));
            }
        }

        List<AlarmTransition> allCalls = [.. book.Where(l => l.Calls)];
        List<AlarmTransition> calls = [.. allCalls.Where(l => span.Has(l.AtUtc))];
        Dictionary<long, int> inPeriods = calls.GroupBy(l => Period.Of(l.AtUtc)).ToDictionary(g => g.Key, g => g.Count());
        List<int> periods = [.. span.Periods().Select(p => inPeriods.GetValueOrDefault(p))];
        List<TagCount> tags = [.. calls.GroupBy(l => l.Tag, StringComparer.Ordinal)
            .Select(g => new TagCount(g.Key, g.Count(), (double)g.Count() / calls.Count))
            .OrderByDescending(t => t.Calls).ThenBy(t => t.Tag, StringComparer.Ordinal)
            .Take(AlarmTargets.MostFrequent)];
        int over = periods.Count(p => p > AlarmTargets.FloodBegins);
        List<double> waits = Waits(book, span);
        List<AlarmTransition> last = [.. AlarmStory.LatestOfTags(book)];
        Answer<double> perTen = span.WatchedMinutes >= AlarmTargets.PeriodMinutes
            ? calls.Count / (span.WatchedMinutes / AlarmTargets.PeriodMinutes)
            : new Shortfall("min watched", span.WatchedMinutes, AlarmTargets.PeriodMinutes);
        return new AlarmHealthReport
        {
            Span = span.Whole,
            WatchedMinutes = span.WatchedMinutes,
            Calls = calls.Count,
            CallsPerTenMinutes = perTen,
            CallsPerDay = perTen.IsKnown ? perTen.Value * (MinutesADay / AlarmTargets.PeriodMinutes) : perTen.Missing!,
            Periods = periods.Count,
            PeriodsOver = over,
            ShareOver = periods.Count > 0 ? (double)over / periods.Count : new Shortfall("whole periods of ten minutes", 0, 1),
            MostInAPeriod = periods.Count > 0 ? periods.Max() : 0,
            FloodsByPeriods = Touching(AlarmFloods.Fixed([.. allCalls.Select(l => l.AtUtc).Order()], span.Whole.ToUtc), span),
            Floods = Touching(AlarmFloods.Sliding([.. allCalls.Select(l => (l.At.Nanoseconds, l.AtUtc)).Order()], span.Whole.ToUtc), span),
            Chattering = Chatter(book, span),
            Stale = Stale(book, span),
            Standing = last.Where(AlarmStory.Stands).GroupBy(l => l.To).ToDictionary(g => g.Key, g => g.Count()),
            Waiting = last.Count(l => l.To is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged),
            MostFrequent = tags,
            MostFrequentShare = calls.Count > 0 ? (double)tags.Sum(t => t.Calls) / calls.Count : NoCalls,
            Priorities = [.. Enum.GetValues<AlarmPriority>().Select(p => Share(p, calls))],
            Acknowledged = waits.Count,
            MeanSecondsToAcknowledge = waits.Count > 0 ? waits.Average() : NotAcknowledged,
            LongestSecondsToAcknowledge = waits.Count > 0 ? waits.Max() : NotAcknowledged,
        };
    }

    private static Shortfall NoCalls => new("calls", 0, 1);

    private static Shortfall NotAcknowledged => new("acknowledgements", 0, 1);

    private static PriorityShare Share(AlarmPriority priority, List<AlarmTransition> calls)
    {
        int count = calls.Count(l => l.Priority == priority);
        return new PriorityShare(priority, count, calls.Count > 0 ? (double)count / calls.Count : NoCalls, AlarmTargets.PriorityShares[(int)priority]);
    }

    private static List<AlarmFlood> Touching(List<AlarmFlood> floods, AlarmSpan span) =>
        [.. floods.Where(f => f.ToUtc is null || f.ToUtc > span.Whole.FromUtc)];

    /// <summary>Raised counts, called or not: what chatters on a shelf chatters still.</summary>
    private static List<ChatteringTag> Chatter(List<AlarmTransition> book, AlarmSpan span)
    {
        var chattering = new List<ChatteringTag>();
        foreach (IGrouping<string, AlarmTransition> tag in book.Where(l => l.Step == AlarmStep.Raised).GroupBy(l => l.Tag, StringComparer.Ordinal))
        {
            List<AlarmTransition> raised = [.. tag];
            ChatteringTag? worst = null;
            int first = 0;
            for (int i = 0; i < raised.Count; i++)
            {
                while (raised[i].At.Nanoseconds - raised[first].At.Nanoseconds > ChatterNanoseconds)
                {
                    first++;
                }

                int within = i - first + 1;
                if (within >= AlarmTargets.ChatterRaised && span.Has(raised[i].AtUtc) && within > (worst?.MostInAMinute ?? 0))
                {
                    worst = new ChatteringTag(tag.Key, within, raised[i].AtUtc);
                }
            }

            if (worst is not null)
            {
                chattering.Add(worst);
            }
        }

        return [.. chattering.OrderByDescending(c => c.MostInAMinute).ThenBy(c => c.Tag, StringComparer.Ordinal)];
    }

    private static List<StaleAlarm> Stale(List<AlarmTransition> book, AlarmSpan span)
    {
        var stale = new List<StaleAlarm>();
        foreach (IGrouping<string, AlarmTransition> alarm in book.GroupBy(l => l.Tag, StringComparer.Ordinal))
        {
            AlarmTransition? since = null;
            foreach (AlarmTransition line in alarm)
            {
                // A new coming ends the last one, whose return may have been lost with a judge's memory.
                bool comesAgain = since is not null && line.Step == AlarmStep.Raised && line.Id != since.Id;
                if (since is not null && (comesAgain || !AlarmStory.Stands(line)))
                {
                    Add(since, line.AtUtc);
                    since = null;
                }

                since = AlarmStory.Stands(line) ? since ?? line : null;
            }

            if (since is not null)
            {
                Add(since, null);
            }
        }

        return [.. stale.OrderBy(s => s.SinceUtc).ThenBy(s => s.Id, StringComparer.Ordinal)];

        void Add(AlarmTransition since, long? until)
        {
            long end = until ?? span.Whole.ToUtc;
            // By the time that was watched: nobody knows what stood in a silent week.
            if (span.WatchedWithin(new UtcStretch(since.RaisedUtc, end)) > StaleNanoseconds && end > span.Whole.FromUtc)
            {
                stale.Add(new StaleAlarm(since.Id, since.Tag, since.RaisedUtc, until));
            }
        }
    }

    /// <summary>
    /// Seconds from the first call of a tag that nobody had answered to the acknowledgement, by the engine's time. Shelving, taking out of
    /// service and suppressing end a wait unanswered: nobody was asked meanwhile.
    /// </summary>
    private static List<double> Waits(List<AlarmTransition> book, AlarmSpan span)
    {
        var waits = new List<double>();
        var since = new Dictionary<string, EngineTime>(StringComparer.Ordinal);
        foreach (AlarmTransition line in book)
        {
            if (line.Calls)
            {
                since.TryAdd(line.Tag, line.At);
            }
            else if (line.Step is AlarmStep.Acknowledged && since.Remove(line.Tag, out EngineTime called) && span.Has(line.AtUtc))
            {
                waits.Add((line.At.Nanoseconds - called.Nanoseconds) / 1e9);
            }
            else if (line.To is AlarmState.Shelved or AlarmState.OutOfService or AlarmState.SuppressedByDesign or AlarmState.Normal)
            {
                since.Remove(line.Tag);
            }
        }

        return waits;
    }
}
