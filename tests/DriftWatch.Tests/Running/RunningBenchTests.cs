using System.Globalization;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Tests.Running;

/// <summary>A whole bench on the practice rig, by the real clock: what a reload and a restart may and may not disturb.</summary>
public sealed class RunningBenchTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-running-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task After_an_edited_calibration_and_a_restart_each_stretch_is_shown_under_its_own()
    {
        int key;
        EngineTime edited;
        Write(gain: 1);
        await using (RunningBench bench = Start())
        {
            key = bench.Bench.Channels[0].Key;
            await Until(() => bench.Channels[0].Value is not null);
            await Task.Delay(TimeSpan.FromMilliseconds(600), TimeProvider.System);
            Write(gain: 1, label: "another label");
            Assert.Empty(await bench.ReloadAsync(default));
            Assert.Equal(1, bench.Bench.Channels[0].Calibration.Version);
            Write(gain: -1000);
            edited = bench.Now;
            Assert.Empty(await bench.ReloadAsync(default));
            Assert.Equal(2, bench.Bench.Channels[0].Calibration.Version);
            await Until(() => bench.Channels[0].At > edited + TimeSpan.FromSeconds(2.5)); // stored once a second
            AssertStretches(bench, edited);
        }

        await using (RunningBench again = Start())
        {
            Assert.Equal((key, 2), (again.Bench.Channels[0].Key, again.Bench.Channels[0].Calibration.Version));
            AssertStretches(again, edited);
        }
    }

    [Fact]
    public async Task A_reload_while_the_store_refuses_is_answered_and_leaves_the_bench_sampling_under_the_new_file()
    {
        Write(gain: 1);
        await using RunningBench bench = Start();
        await Until(() => bench.Store.LastNumber > 10);
        string month = Directory.GetFiles(Path.Combine(_folder, "store"), "????-??.db").Single();
        Execute(month, "CREATE TRIGGER refusing BEFORE INSERT ON journal BEGIN SELECT RAISE(ABORT, 'refused'); END");
        Write(gain: 1, period: "50 ms"); // reaches the instrument, so the lines are restarted

        IOException refused = await Assert.ThrowsAsync<IOException>(() => bench.ReloadAsync(default));
        Assert.Contains("held in memory", refused.Message, StringComparison.Ordinal);
        Assert.Equal(TimeSpan.FromMilliseconds(50), bench.Bench.Channels[0].Period);
        EngineTime now = bench.Now;
        await Until(() => bench.Channels[0].At > now + TimeSpan.FromSeconds(1));
        Assert.True(bench.Health.ReadingsHeldInMemory > 15);

        Execute(month, "DROP TRIGGER refusing");
        await Until(() => bench.Health.StoreTrouble is null);
        Assert.Empty(await bench.ReloadAsync(default));
        using DriftWatch.Storage.Queries.BenchReader reader = bench.Store.OpenReader();
        List<EngineInput> log = [.. reader.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => (long)n), log.Select(i => i.Number));
        Assert.Equal(3, log.Count(i => i.Kind == InputKind.Bench));
        Assert.Contains(log, i => i.Kind == InputKind.Sample && i.Time > now && i.Time < now + TimeSpan.FromSeconds(1));
    }

    [Fact]
    public async Task A_store_that_takes_nothing_is_an_alarm_that_is_listed_from_memory_and_stands_in_the_book_afterwards()
    {
        Write(gain: 1);
        string id;
        await using (RunningBench bench = Start())
        {
            await Until(() => bench.Store.LastNumber > 10);
            string month = Directory.GetFiles(Path.Combine(_folder, "store"), "????-??.db").Single();
            Execute(month, "CREATE TRIGGER refusing BEFORE INSERT ON journal BEGIN SELECT RAISE(ABORT, 'refused'); END");
            await Until(() => bench.OpenAlarms.Count > 0);
            AlarmTransition open = Assert.Single(bench.OpenAlarms);
            id = open.Id;
            Assert.Equal(("store-failing.bench", AlarmState.Unacknowledged, AlarmPriority.High), (open.Tag, open.To, open.Priority));
            Assert.Contains("refused", open.Text, StringComparison.Ordinal);
            Assert.Equal(FindingKinds.StoreFailing, Assert.Single(bench.OpenFindings).Kind);
            Assert.Empty(bench.LatestAlarms(10).Rows);
            await Assert.ThrowsAsync<IOException>(() => bench.EnterAsync(new AcknowledgeCommand { Id = Guid.CreateVersion7(), By = "Ida Wren", Finding = id }, default));
            await Until(() => bench.OpenAlarms.Single().To == AlarmState.Acknowledged);

            Execute(month, "DROP TRIGGER refusing");
            await Until(() => bench.OpenFindings.Count == 0); // and its alarm for a minute more
            Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged], bench.LatestAlarms(10).Rows.Select(r => r.Line.Step));
        }

        await using RunningBench again = Start();
        AlarmTransition kept = Assert.Single(again.OpenAlarms);
        Assert.Equal((id, AlarmState.Acknowledged, "Ida Wren"), (kept.Id, kept.To, kept.By));
    }

    [Fact]
    public async Task A_stop_in_the_middle_of_a_reload_ends_both_and_leaves_no_line_running()
    {
        Write(gain: 1);
        RunningBench bench = Start();
        await using (bench)
        {
            await Until(() => bench.Store.LastNumber > 10);
            Write(gain: 1, period: "50 ms");
            Task<IReadOnlyList<string>> first = bench.ReloadAsync(default);
            Task<IReadOnlyList<string>> second = bench.ReloadAsync(default);
            await bench.StopAsync();
            await Task.WhenAll(first.ContinueWith(_ => { }, TaskScheduler.Default), second.ContinueWith(_ => { }, TaskScheduler.Default))
                .WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System);
            Assert.True(first.IsCompletedSuccessfully || first.Exception?.InnerException is WatchingStoppedException, $"{first.Exception}");
            Assert.True(second.IsCompletedSuccessfully || second.Exception?.InnerException is WatchingStoppedException, $"{second.Exception}");
            Write(gain: 1, period: "200 ms");
            await Assert.ThrowsAsync<WatchingStoppedException>(() => bench.ReloadAsync(default));
            await Assert.ThrowsAsync<WatchingStoppedException>(() => bench.EnterAsync(new MarkCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Note = "leader" }, default)
                .WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System));
            EngineTime? at = bench.Channels[0].At;
            await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System);
            Assert.Equal(at, bench.Channels[0].At);
        }

        using DriftWatch.Storage.Queries.BenchReader reader = new(Path.Combine(_folder, "store"));
        Assert.Equal(ClockEventKind.Stopped, reader.ReadInputs(0).Last(i => i.Kind == InputKind.Clock).ClockEvent.Kind);
    }

    [Fact]
    public async Task An_open_finding_of_an_unchanged_channel_keeps_its_id_over_reloads_and_a_restart()
    {
        const string Limit = "\n[[channel.limit]]\nside = \"low\"\nseverity = \"advisory\"\nvalue = 1000.0\n";
        Write(gain: 1, more: Limit);
        string id;
        await using (RunningBench bench = Start())
        {
            await Until(() => Open(bench) is not null);
            id = Open(bench)!.Id;
            Write(gain: 1, label: "another label", more: Limit);
            Assert.Empty(await bench.ReloadAsync(default));
            EngineTime now = bench.Now;
            await Until(() => bench.Channels[0].At > now + TimeSpan.FromMilliseconds(300));
            Assert.Equal(id, Open(bench)!.Id);
        }

        await using RunningBench again = Start();
        Assert.Equal(id, Open(again)!.Id);
        Assert.Empty(await again.ReloadAsync(default));
        Assert.Equal(id, Open(again)!.Id);
        using DriftWatch.Storage.Queries.BenchReader reader = again.Store.OpenReader();
        Assert.Single(reader.Findings(0, 1000), r => r.Line.Kind == FindingKinds.BelowLimit && r.Line.Phase == FindingPhase.Raised);
    }

    private static FindingLine? Open(RunningBench bench) => bench.OpenFindings.SingleOrDefault(f => f.Kind == FindingKinds.BelowLimit);

    private static void AssertStretches(RunningBench bench, EngineTime edited)
    {
        // The rail and so the reading is between 0 and 6 V; the second calibration makes it thousands below zero.
        IReadOnlyList<Bucket> before = bench.History("v", default, edited, 4);
        IReadOnlyList<Bucket> after = bench.History("v", edited + TimeSpan.FromMilliseconds(500), bench.Now, 4);
        Assert.All(before, bucket => Assert.InRange(bucket.Minimum, -1, 6));
        Assert.All(after, bucket => Assert.InRange(bucket.Minimum, -6000, -1));
        Assert.NotEmpty(before);
        Assert.NotEmpty(after);
        Assert.IsType<LineCalibration>(bench.Bench.Channels[0].Calibration);
    }

    private RunningBench Start() => RunningBench.Start(
        new RunningBenchOptions
        {
            BenchPath = Path.Combine(_folder, "bench.toml"),
            StoreFolder = Path.Combine(_folder, "store"),
            ProfileFolders = ProfileFolders.Default,
        },
        NullLoggerFactory.Instance);

    private void Write(int gain, string label = "rail", string period = "100 ms", string more = "") => File.WriteAllText(
        Path.Combine(_folder, "bench.toml"),
        string.Create(CultureInfo.InvariantCulture, $$"""
            [bench]
            id = "small"
            [[instrument]]
            id = "rig"
            profile = "practice-rig"
            practice = { seed = 3 }
            [[channel]]
            id = "v"
            label = "{{label}}"
            unit = "V"
            instrument = "rig"
            input = "sensor-rail"
            period = "{{period}}"
            calibration = { line = { gain = {{gain}}.0 } }
            {{more}}
            """));

    private static async Task Until(Func<bool> condition)
    {
        for (int i = 0; i < 500; i++)
        {
            if (condition())
            {
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }

        Assert.Fail("It did not happen within ten seconds.");
    }

    private static void Execute(string path, string sql)
    {
        using var connection = new Microsoft.Data.Sqlite.SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using Microsoft.Data.Sqlite.SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is the test's.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }
}
