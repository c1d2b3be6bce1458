using DriftWatch.Cli;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Storage;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Running;

/// <summary>A store whose first months have gone, by retention or with a damaged file: the rest is as good as ever.</summary>
public sealed class ExpiredLogTests : IDisposable
{
    private readonly StoreFolder _folder = new();
    private readonly string _out = Directory.CreateTempSubdirectory("driftwatch-expired-").FullName;

    public void Dispose()
    {
        _folder.Dispose();
        Directory.Delete(_out, recursive: true);
    }

    [Theory]
    [InlineData(12, false)] // rollups of the expired months are there
    [InlineData(1, false)] // the expired months have gone altogether
    [InlineData(null, true)] // the first file has been set aside as damaged
    public async Task What_is_left_is_exported_drawn_judged_and_judged_on(int? rollupMonths, bool damaged)
    {
        using (BenchStore store = Filled(rollupMonths))
        {
            if (rollupMonths is not null)
            {
                Assert.NotEmpty(store.RetainDue());
            }
        }

        if (damaged)
        {
            foreach (string month in (string[])["2026-01.db", "2026-02.db"])
            {
                File.Delete(Path.Combine(_folder.Path, month));
            }
        }

        string csv = Path.Combine(_out, "left.csv");
        string error = await Run("export", _folder.Path, "--out", csv);
        Assert.Contains("readings before 2026-03-10T00:00:00", error, StringComparison.Ordinal);
        string[] rows = await File.ReadAllLinesAsync(csv);
        Assert.StartsWith("2026-03-10T00:00:00.1", rows[1], StringComparison.Ordinal);
        Assert.StartsWith("2026-04-10T00:02:00.0", rows[^1], StringComparison.Ordinal);
        await Run("plot", _folder.Path, "--out", Path.Combine(_out, "left.svg"));

        string log = Path.Combine(_out, "left.dwlog");
        await Run("export", _folder.Path, "--out", log);
        await Run("judge", log, "--out", Path.Combine(_out, "of-log.jsonl"));
        await Run("judge", _folder.Path, "--out", Path.Combine(_out, "of-store.jsonl"));
        string judged = await File.ReadAllTextAsync(Path.Combine(_out, "of-log.jsonl"));
        Assert.Equal(await File.ReadAllTextAsync(Path.Combine(_out, "of-store.jsonl")), judged);
        Assert.Contains("\"start\":\"2026-03-10T00:0", judged, StringComparison.Ordinal);

        string copy = Path.Combine(_out, "copy");
        Assert.Contains("numbered from 1", await Run("import", log, "--store", copy), StringComparison.Ordinal);
        await Run("export", copy, "--out", Path.Combine(_out, "copy.csv"));
        Assert.Equal(rows, await File.ReadAllLinesAsync(Path.Combine(_out, "copy.csv")));

        using BenchStore again = _folder.Open();
        WatchEngine engine = EngineStart.CatchUp(again, NullLogger.Instance);
        Assert.Equal(again.LastNumber, engine.LastNumber);
        Assert.NotNull(engine.Bench);
    }

    [Fact]
    public async Task A_store_with_a_hole_is_exported_judged_and_says_why_there_is_no_exact_log_of_it()
    {
        Filled(null).Dispose();
        File.Delete(Path.Combine(_folder.Path, "2026-02.db"));
        await Run("export", _folder.Path, "--out", Path.Combine(_out, "left.csv"));
        string[] rows = await File.ReadAllLinesAsync(Path.Combine(_out, "left.csv"));
        Assert.Contains(rows, row => row.StartsWith("2026-01-10", StringComparison.Ordinal));
        Assert.DoesNotContain(rows, row => row.StartsWith("2026-02-10", StringComparison.Ordinal));
        Assert.Contains(rows, row => row.StartsWith("2026-03-10", StringComparison.Ordinal));
        await Run("judge", _folder.Path, "--out", Path.Combine(_out, "found.jsonl"));
        (int code, _, string error) = await CommandLineTests.RunAsync("export", _folder.Path, "--out", Path.Combine(_out, "left.dwlog"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("are missing", error, StringComparison.Ordinal);
    }

    /// <summary>Four months of one process that slept in between, so that no later month begins with a clock and a bench of its own.</summary>
    private BenchStore Filled(int? rollupMonths)
    {
        var log = new LogMaker();
        var random = new Random(2);
        for (int month = 1; month <= 4; month++)
        {
            EngineTime at = EngineTime.FromSeconds(10_000 * month);
            log.Start(
                at, new DateTimeOffset(2026, month, 10, 0, 0, 0, TimeSpan.Zero), month == 1 ? LogMaker.Bench(1) : null,
                month == 1 ? ClockEventKind.Started : ClockEventKind.Resumed);
            log.Run(at, 120, 1, random);
        }

        BenchStore store = _folder.Open(new BenchStoreOptions
        {
            BallastBytes = 0,
            TimeProvider = new FakeTimeProvider(new DateTimeOffset(2026, 4, 15, 0, 0, 0, TimeSpan.Zero)),
            Retention = rollupMonths is null ? new() : new() { RawMonths = 1, RollupMonths = rollupMonths.Value },
        });
        store.Append(log.Inputs.ToArray());
        store.MergeDue();
        return store;
    }

    private static async Task<string> Run(params string[] arguments)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(arguments);
        Assert.True(code == ExitCode.Done, error);
        return error;
    }
}
