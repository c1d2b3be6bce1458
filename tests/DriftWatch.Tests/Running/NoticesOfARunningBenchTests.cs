using System.Collections.Concurrent;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices;
using DriftWatch.Running;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Tests.Running;

/// <summary>How a whole bench, its store and judge with it, brings its alarms and signs of life to a web server.</summary>
public sealed class NoticesOfARunningBenchTests : IAsyncLifetime
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-running-").FullName;
    private readonly ConcurrentQueue<AlarmNotice> _notices = new();
    private readonly WebApplication _server = NewServer();
    private int _beats;

    public Task InitializeAsync()
    {
        _server.MapPost("/notices", async (HttpRequest request) =>
        {
            using var body = new MemoryStream();
            await request.Body.CopyToAsync(body);
            _notices.Enqueue(NoticeJson.Read(body.ToArray()));
        });
        _server.MapGet("/alive", () => Interlocked.Increment(ref _beats));
        return _server.StartAsync();
    }

    public async Task DisposeAsync()
    {
        await _server.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    /// <summary>Of the desk's own turns, one a second, none comes here: only the wake that goes with the line can bring the notice.</summary>
    [Fact]
    public async Task A_judged_line_wakes_who_tells_of_it()
    {
        Write("""
            [[channel.limit]]
            side = "low"
            severity = "alarm"
            value = 1000.0
            on-delay = "2 s"
            [[notice]]
            id = "hook"
            webhook = { url = "SERVER/notices" }
            """);
        await using RunningBench bench = Start(new WithoutTurnsEachSecond());
        IBenchView view = bench;
        await Until(() => view.NoticeRoutes.Count == 1);
        Assert.Empty(view.LatestAlarms(10).Rows); // it is told that routes are in force before there is anything to tell

        await Until(() => !_notices.IsEmpty);
        AlarmNotice told = Assert.Single(_notices);
        AlarmTransition line = Assert.Single(view.LatestAlarms(10).Rows).Line;
        Assert.Equal((NoticeKind.Alarm, line.Id, AlarmStep.Raised), (told.Kind, told.Alarm!.Id, line.Step));
    }

    [Fact]
    public async Task A_bench_whose_store_takes_nothing_gives_no_sign_of_life_until_it_takes_again()
    {
        Write("""
            [heartbeat]
            every = "1 s"
            url = "SERVER/alive"
            """);
        await using RunningBench bench = Start(TimeProvider.System);
        await Until(() => Volatile.Read(ref _beats) > 0);
        string month = Directory.GetFiles(Path.Combine(_folder, "store"), "????-??.db").Single();
        Execute(month, "CREATE TRIGGER refusing BEFORE INSERT ON journal BEGIN SELECT RAISE(ABORT, 'refused'); END");
        await Until(() => bench.Health.StoreTrouble is not null);
        await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System); // one may have been on its way
        int before = Volatile.Read(ref _beats);
        await Task.Delay(TimeSpan.FromSeconds(2.5), TimeProvider.System);
        Assert.Equal(before, Volatile.Read(ref _beats));
        Assert.Null(bench.WhyNotJudging()); // it is the store that holds it back

        Execute(month, "DROP TRIGGER refusing");
        await Until(() => Volatile.Read(ref _beats) > before);
    }

    private RunningBench Start(TimeProvider time) => RunningBench.Start(
        new RunningBenchOptions
        {
            BenchPath = Path.Combine(_folder, "bench.toml"),
            StoreFolder = Path.Combine(_folder, "store"),
            ProfileFolders = ProfileFolders.Default,
            TimeProvider = time,
        },
        NullLoggerFactory.Instance);

    private void Write(string more) => File.WriteAllText(
        Path.Combine(_folder, "bench.toml"),
        """
        [bench]
        id = "small"
        [[instrument]]
        id = "rig"
        profile = "practice-rig"
        practice = { seed = 3 }
        [[channel]]
        id = "v"
        unit = "V"
        instrument = "rig"
        input = "sensor-rail"
        period = "100 ms"

        """ + more.Replace("SERVER", _server.Urls.First(), StringComparison.Ordinal));

    private static WebApplication NewServer()
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseUrls("http://127.0.0.1:0");
        return builder.Build();
    }

    private static async Task Until(Func<bool> condition)
    {
        for (int i = 0; !condition(); i++)
        {
            Assert.True(i < 500, "It did not happen within ten seconds.");
            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }
    }

    private static void Execute(string path, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is the test's.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }

    /// <summary>The real time, of which whoever wants to be called each second is never called.</summary>
    private sealed class WithoutTurnsEachSecond : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
            period == TimeSpan.FromSeconds(1)
                ? base.CreateTimer(callback, state, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan)
                : base.CreateTimer(callback, state, dueTime, period);
    }
}
