using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Notices;

/// <summary>
/// Alarms while the store takes nothing, that it does so among them. The book can't have them and the outbox can't keep them, so they are told from
/// memory, one digest for each route and minute, which says so. Which were told is remembered: once they are stored they are not told again.
/// </summary>
internal sealed partial class NoticeDesk
{
    /// <summary>The least time between two such digests of a route. Source: as the digest of the top priority.</summary>
    private static readonly TimeSpan UnstoredEvery = Planning.RoutePlan.TopDigestWait;

    private readonly HashSet<(string Route, string Key)> _toldEarly = [];
    private volatile IReadOnlyList<AlarmTransition> _unstored = [];

    private EngineTime? _troubleSince;

    /// <summary>The lines of the alarm book that the store has not taken, oldest first; safe from any thread.</summary>
    public void Hold(IReadOnlyList<AlarmTransition> unstored)
    {
        _unstored = unstored;
        Wake();
    }

    /// <summary>The alarm that the store fails: it goes before all others, because they hang on it.</summary>
    internal static bool IsOfTheStore(AlarmTransition line) => line.Tag.StartsWith(FindingKinds.StoreFailing + ".", StringComparison.Ordinal);

    private void WatchStore(EngineTime now) => _troubleSince = _options.StoreTrouble() is null ? null : _troubleSince ?? now;

    /// <summary>The store has taken nothing for longer than a hiccup lasts.</summary>
    private bool IsStoreInTrouble(EngineTime now) => _troubleSince is { } since && now - since >= StoreFailsCommand.WorthSaying;

    /// <summary>Those that call, stand, and are due by a route.</summary>
    private IEnumerable<AlarmTransition> UnstoredCalls(RouteSettings route, EngineTime now, TimeOnly local)
    {
        IReadOnlyList<AlarmTransition> lines = _unstored;
        if (lines.Count == 0 || !IsStoreInTrouble(now))
        {
            return [];
        }

        var newest = new Dictionary<string, AlarmTransition>(StringComparer.Ordinal);
        foreach (AlarmTransition line in lines)
        {
            newest[line.Tag] = line;
        }

        return lines.Where(l => l.Calls && l.Priority >= route.LeastPriority && now - l.At >= route.After
            && (l.Priority == AlarmPriority.High || !route.IsQuiet(local))
            && newest[l.Tag] is { To: AlarmState.Unacknowledged } last && last.Id == l.Id);
    }

    private void GatherUnstored(EngineTime now, TimeOnly local, long utc)
    {
        foreach (NoticeLane lane in _lanes.Where(l => l.Plan is not null && l.FlyingEarly.Count == 0))
        {
            lane.Early = null; // made anew each turn: it says what is so
            AlarmTransition[] calls = [.. UnstoredCalls(lane.Settings, now, local).Where(l => !_toldEarly.Contains((lane.Settings.Id, NoticeWriter.KeyOf(l))))];
            bool isTooSoon = lane.ToldEarlyAt is { } told && now - told < UnstoredEvery && !calls.Any(IsOfTheStore);
            if (calls.Length > 0 && !isTooSoon)
            {
                lane.Early = (_writer.Unstored(calls, lane.Settings.Id, utc), [.. calls.Select(NoticeWriter.KeyOf)]);
            }
        }
    }

    /// <summary>One of them is on its way: what is stored by now may be what it tells, and waits until that is known.</summary>
    private bool IsEarlyFlying => _lanes.Any(l => l.FlyingEarly.Count > 0);

    /// <summary>Gives a line of the book to the plan of a route, unless the route has been told of it from memory.</summary>
    private void Give(NoticeLane lane, AlarmTransition line, EngineTime now, TimeOnly local)
    {
        string key = NoticeWriter.KeyOf(line);
        if (lane.Early is { } early && early.Keys.Contains(key))
        {
            lane.Early = null; // stored before it was told: it goes as any other
        }

        if (_toldEarly.Remove((lane.Settings.Id, key)))
        {
            lane.Plan?.Told(line);
        }
        else
        {
            lane.Plan?.Take(line, now, local, _changes);
        }
    }
}
