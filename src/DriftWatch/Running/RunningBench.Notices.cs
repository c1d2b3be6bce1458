using DriftWatch.Configuration;
using DriftWatch.Notices;
using DriftWatch.Notices.Alive;

namespace DriftWatch.Running;

/// <summary>Who is told of this bench's alarms, and the signs of life it gives.</summary>
internal sealed partial class RunningBench
{
    NoticeSettings IBenchView.NoticeSettings => _notices.Settings;

    IReadOnlyList<RouteReport> IBenchView.NoticeRoutes => _notices.Reports();

    Task<IReadOnlyList<RouteTest>?> IBenchView.TestNoticesAsync(string? route, string by, CancellationToken cancel) => _notices.TestAsync(route, by, cancel);

    /// <summary>Why judging does not go on; null while it does.</summary>
    public string? WhyNotJudging() => SignsOfLife.WhyNotJudging(Bench.Id, _clock.Now, _pipeline.LastJudged, _pipeline.StartedAt.Engine);

    /// <summary>Why judging or storing does not go on; null while both do.</summary>
    public string? WhyNotAlive() => SignsOfLife.WhyNotStoring(Bench.Id, _pipeline.StoreTrouble) ?? WhyNotJudging();

    private void BeginHeartbeat(LoadedBench loaded)
    {
        if (loaded.Notices.Heartbeat is { } settings)
        {
            _heartbeat = new Heartbeat(settings, loaded.Definition.Id, WhyNotAlive, _options.TimeProvider, _loggers.CreateLogger("DriftWatch.Notices"));
            _heartbeat.Start();
        }
    }

    /// <summary>The notices of a bench file that came into force.</summary>
    private async Task PutNoticesInForceAsync(LoadedBench loaded)
    {
        _notices.Use(loaded.Definition, loaded.Notices);
        if (_heartbeat is { } old)
        {
            _heartbeat = null;
            await old.DisposeAsync();
        }

        BeginHeartbeat(loaded);
    }
}
