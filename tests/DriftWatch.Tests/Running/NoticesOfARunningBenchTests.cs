using System.Collections.Concurrent;
using System.IO.Compression;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
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
    private bool _refusesNext;
    private string? _refused;

    public Task InitializeAsync()
    {
        _server.MapPost("/notices", async (HttpRequest request) =>
        {
            using var body = new MemoryStream();
            await request.Body.CopyToAsync(body);
            _notices.Enqueue(NoticeJson.Read(body.ToArray()));
        });
        _server.MapPost("/api/v2/write", TakeLinesAsync);
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

    /// <summary>A server that refuses a line is an alarm of the book like any other; it is over when the next process finds it well, or when it is a mirror no more.</summary>
    [Fact]
    public async Task A_mirror_that_fails_is_booked_and_told_until_it_takes_again_or_is_none_any_more()
    {
        const string hook = """
            [[notice]]
            id = "hook"
            webhook = { url = "SERVER/notices" }

            """;
        Write(hook + """
            [[mirror]]
            id = "annex"
            url = "SERVER"
            """);
        RefuseOneLine();
        AlarmNotice told;
        await using (RunningBench bench = Start(TimeProvider.System))
        {
            await Until(() => !_notices.IsEmpty);
            told = Assert.Single(_notices);
            Assert.Equal(("mirror-failing.annex", AlarmPriority.Medium, "lines-refused"), (told.Alarm!.Tag, told.Priority, told.Alarm.Cause));
            Assert.Contains("field type conflict", told.Text, StringComparison.Ordinal);
            Assert.Equal(AlarmState.Unacknowledged, Assert.Single(((IBenchView)bench).OpenAlarms).To);
        }

        Volatile.Write(ref _refused, null); // somebody mended the server
        await using (RunningBench bench = Start(TimeProvider.System))
        {
            Assert.Equal(told.Alarm!.Id, Assert.Single(bench.OpenAlarms).Id);
            await Until(() => EndedBy(bench) == "mirror-takes");

            RefuseOneLine();
            await Until(() => bench.OpenFindings.Count == 1);
            Write(hook);
            Assert.Empty(await bench.ReloadAsync(CancellationToken.None));
            await Until(() => EndedBy(bench) == "mirror-removed");
            Assert.Empty(bench.OpenFindings);
        }

        Assert.Single(_notices); // it came again within the minute: the same trouble

        static string? EndedBy(RunningBench bench) => bench.LatestFindings(20).Rows.Select(r => r.Line)
            .LastOrDefault(l => l is { Kind: FindingKinds.MirrorFailing, Phase: FindingPhase.Ended })?.Details.First(d => d.Name == "endedBy").Word;
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

    private void RefuseOneLine() => Volatile.Write(ref _refusesNext, true);

    /// <summary>A server of the line protocol that takes all but one reading, whose field it knows as another kind.</summary>
    private async Task<IResult> TakeLinesAsync(HttpRequest request)
    {
        await using Stream body = request.Headers.ContentEncoding.Contains("gzip") ? new GZipStream(request.Body, CompressionMode.Decompress) : request.Body;
        using var reader = new StreamReader(body);
        string[] lines = (await reader.ReadToEndAsync()).Split('\n', StringSplitOptions.RemoveEmptyEntries);
        lock (_notices)
        {
            if (_refusesNext && lines.FirstOrDefault(l => l.StartsWith("driftwatch_reading", StringComparison.Ordinal)) is { } first)
            {
                (_refusesNext, _refused) = (false, first);
            }

            return lines.Contains(_refused) ? Results.Json(new { message = "field type conflict" }, statusCode: 400) : Results.NoContent();
        }
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
