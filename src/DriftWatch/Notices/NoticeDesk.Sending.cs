using System.Data.Common;
using System.Diagnostics.Metrics;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Planning;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;

namespace DriftWatch.Notices;

/// <summary>What goes out and what comes back.</summary>
internal sealed partial class NoticeDesk
{
    private static readonly Meter Meter = new(Running.BenchMetrics.MeterName);
    private static readonly Counter<long> SentCounter = Meter.CreateCounter<long>("driftwatch.notices.sent", "{notice}", "Notices that a route took");
    private static readonly Counter<long> FailedCounter = Meter.CreateCounter<long>("driftwatch.notices.failed", "{try}", "Tries of a route that failed");

    private readonly SemaphoreSlim _testing = new(1, 1);
    private readonly List<(NoticeLane Lane, StoredNotice Row)> _chosen = [];
    private BenchDefinition? _bench;

    /// <summary>How each route stands, in the order of the bench file.</summary>
    public IReadOnlyList<RouteReport> Reports() =>
    [
        .. _lanes.Select(l => new RouteReport(
            l.Settings, (l.Plan?.Waiting ?? 0) + l.EarlyWaiting, l.Plan?.Held ?? 0, l.SentCount, l.LastSentUtc, l.LastSaid, l.FailingSinceUtc, l.LastError,
            (l.Route as LampRoute)?.IsClosed, l.GivenUpCount)),
    ];

    /// <summary>Sends a test by one route or by all, and tells what happened. It passes by the outbox: a test that fails is not tried again.</summary>
    /// <returns>Null where there is no such route.</returns>
    public async Task<IReadOnlyList<RouteTest>?> TestAsync(string? route, string by, CancellationToken cancel)
    {
        NoticeLane[] lanes = [.. _lanes.Where(l => route is null || l.Settings.Id == route)];
        if (route is not null && lanes.Length == 0)
        {
            return null;
        }

        await _testing.WaitAsync(cancel);
        try
        {
            return await Task.WhenAll(lanes.Select(lane => TestOneAsync(lane.Settings, lane.Route, _writer, by, _options.TimeProvider, _options.Logger, cancel)));
        }
        finally
        {
            _testing.Release();
        }
    }

    /// <summary>Tries each route without telling anybody, and logs what a person should put right.</summary>
    public async Task CheckAsync(CancellationToken cancel)
    {
        foreach (FileMistake warning in Settings.Warnings)
        {
            NoticeLog.Check(_options.Logger, $"{warning.File}({warning.Line},{warning.Column})", warning.What, warning.Remedy);
        }

        await Task.WhenAll(_lanes.Where(l => l.Settings.Trouble is null).Select(async lane =>
        {
            RouteAnswer answer = await RouteMaker.TryAsync(lane.Route.CheckAsync, _options.TimeProvider, cancel);
            if (!answer.Done && !Settings.Warnings.Any(w => w.What == answer.Said))
            {
                NoticeLog.Check(_options.Logger, $"{lane.Settings.File}({lane.Settings.Line},1)", $"route {lane.Settings.Id}: {answer.Said}", answer.Remedy ?? "its notices wait until it works");
            }
        }));
    }

    internal static async Task<RouteTest> TestOneAsync(
        RouteSettings settings, INoticeRoute route, NoticeWriter writer, string by, TimeProvider time, ILogger logger, CancellationToken cancel)
    {
        long begun = time.GetTimestamp();
        AlarmNotice test = writer.Test(Guid.NewGuid().ToString("N"), by, settings.Id, UtcText.ToNanoseconds(time.GetUtcNow()));
        RouteAnswer answer = await RouteMaker.TryAsync(token => route.SendAsync(test, 1, token), time, cancel);
        NoticeLog.Tested(logger, settings.Id, by, answer.Said);
        return new RouteTest(settings.Id, settings.Kind, answer.Done, answer.Said, answer.Remedy, time.GetElapsedTime(begun));
    }

    private void UseNow(BenchDefinition bench, NoticeSettings settings, EngineTime now, long utc, TimeOnly local)
    {
        _bench = bench;
        _writer = new NoticeWriter(bench.Id, bench.Label, _options.TimeProvider.LocalTimeZone);
        Settings = settings;
        ILookup<string, StoredNotice> open = _store.OpenNotices().ToLookup(r => r.Route, StringComparer.Ordinal);
        foreach (NoticeLane lane in _lanes)
        {
            _ = lane.Route.DisposeAsync().AsTask();
        }

        _lanes =
        [
            .. settings.Routes.Select(route =>
            {
                IReadOnlyList<StoredNotice> latest = _store.LatestNotices(route.Id, LatestRows);
                var lane = new NoticeLane(
                    route,
                    (_options.MakeRoute ?? (s => RouteMaker.Make(s, bench.Id, _options.TimeProvider)))(route),
                    route.Kind == RouteKind.Lamp ? null : new RoutePlan(route, _writer, open[route.Id], latest));
                StoredNotice? last = latest.Where(r => r.State == NoticeState.Sent).MaxBy(r => r.EndedUtc);
                lane.LastSentUtc = last?.EndedUtc;
                lane.LastSaid = last?.Said;
                lane.GivenUpCount = latest.Count(r => r.State == NoticeState.GivenUp);
                (lane.Route as LampRoute)?.Know(Waited(route, now, local));
                return lane;
            }),
        ];
        HashSet<string> known = [.. settings.Routes.Select(r => r.Id)];
        foreach (StoredNotice row in open.Where(g => !known.Contains(g.Key)).SelectMany(g => g))
        {
            NoticeLog.GivenUp(_options.Logger, row.Key, row.Route, "the bench file has no such route any more");
            _changes.Add(new NoticeChange(row with { State = NoticeState.GivenUp, Ended = now, EndedUtc = utc, Said = "the bench file has no such route any more" }));
        }
    }

    /// <summary>What the outbox could not take is not on its way: its route is free for what goes from memory.</summary>
    private void TakeBackChosen()
    {
        foreach ((NoticeLane lane, _) in _chosen)
        {
            lane.Plan!.TakeBack();
        }

        _chosen.Clear();
    }

    private void Choose(EngineTime now, TimeOnly local)
    {
        foreach (NoticeLane lane in _lanes.Where(l => l is { Flying: null, Plan: not null } && l.NextEarly(now) is null))
        {
            if (lane.Plan!.Next(now, local, _changes) is { } row)
            {
                _chosen.Add((lane, row));
            }
        }
    }

    /// <summary>Begins to send what was chosen, once the store has what must outlive a crash.</summary>
    private void SendChosen()
    {
        foreach ((NoticeLane lane, StoredNotice row) in _chosen)
        {
            Send(lane, NoticeJson.Read(row.Json), row.Tries);
        }

        _chosen.Clear();
    }

    private void Send(NoticeLane lane, AlarmNotice notice, int tries)
    {
        lane.Flying = RouteMaker.TryAsync(token => lane.Route.SendAsync(notice, tries, token), _options.TimeProvider, _stop.Token);
        lane.FlyingId = notice.Id;
        _ = lane.Flying.ContinueWith(_ => Wake(), CancellationToken.None, TaskContinuationOptions.ExecuteSynchronously, TaskScheduler.Default);
    }

    /// <summary>Takes note of what became of those that were on their way.</summary>
    private void Land(EngineTime now, long utc)
    {
        foreach (NoticeLane lane in _lanes)
        {
            if (lane.Flying is not { IsCompleted: true } flown)
            {
                continue;
            }

            lane.Flying = null;
            RouteAnswer answer = flown.IsCompletedSuccessfully ? flown.Result : new RouteAnswer(false, "stopped before it was known");
            Report(lane, answer, utc);
            if (lane.FlyingEarly.Count > 0)
            {
                lane.EarlyFailures = answer.Done ? 0 : lane.EarlyFailures + 1;
                lane.EarlyRetryAt = answer.Done ? EngineTime.MinValue : now + BackOff.After(lane.EarlyFailures, _options.Jitter(), answer.RetryAfter);
                if (answer.Done)
                {
                    _toldEarly.UnionWith(lane.FlyingEarly.Select(key => (lane.Settings.Id, key)));
                    lane.ToldEarlyAt = now;
                }

                lane.Early = null;
                lane.FlyingEarly = [];
            }
            else if (answer.Done)
            {
                lane.Plan!.Sent(now, utc, answer.Said, _changes);
            }
            else if (!lane.Plan!.Failed(now, utc, answer.Said, answer.Refused, answer.RetryAfter, _options.Jitter(), _changes))
            {
                lane.GivenUpCount++;
                NoticeLog.GivenUp(_options.Logger, lane.FlyingId, lane.Settings.Id, answer.Said);
            }
        }
    }

    private void Report(NoticeLane lane, RouteAnswer answer, long utc)
    {
        var tags = new System.Diagnostics.TagList { { "bench", _writer.Bench }, { "route", lane.Settings.Id } };
        if (answer.Done)
        {
            NoticeLog.Sent(_options.Logger, lane.FlyingId, lane.Settings.Id, answer.Said);
            SentCounter.Add(1, tags);
            if (lane.FailingSinceUtc is not null)
            {
                NoticeLog.Recovered(_options.Logger, lane.Settings.Id);
            }

            lane.FailingSinceUtc = null;
            lane.SentCount++;
            lane.LastSentUtc = utc;
            lane.LastSaid = answer.Said;
            return;
        }

        FailedCounter.Add(1, tags);
        if (lane.FailingSinceUtc is null || lane.LastError != answer.Said)
        {
            NoticeLog.Failing(_options.Logger, lane.Settings.Id, answer.Said, answer.Remedy ?? "nothing to be done here");
        }

        lane.FailingSinceUtc ??= utc;
        lane.LastError = answer.Said;
    }

    private void SendEarly(EngineTime now)
    {
        foreach (NoticeLane lane in _lanes.Where(l => l.Flying is null))
        {
            if (lane.NextEarly(now) is { } early)
            {
                lane.FlyingEarly = early.Keys;
                Send(lane, early.Notice, lane.EarlyFailures + 1);
            }
        }
    }

    private void LandLast()
    {
        try
        {
            if (_isReady)
            {
                Land(_options.Now(), UtcText.ToNanoseconds(_options.TimeProvider.GetUtcNow()));
                Commit();
            }
        }
        catch (Exception exception) when (exception is StoreException or DbException or ObjectDisposedException)
        {
            NoticeLog.OutboxFailing(_options.Logger, exception.Message);
        }
    }
}
