using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Running;

/// <summary>
/// A store that does not take what it is given, by its floor of free space or by SQLite itself ('database or disk is
/// full'): what was held is stored once, in order, when room returns, and nobody is told what is not stored.
/// </summary>
public sealed class PipelineTroubleTests
{
    private static readonly Guid Mark = Guid.CreateVersion7();

    [Fact]
    public async Task An_act_on_a_full_disk_is_answered_at_once_and_is_in_the_log_once_when_room_returns()
    {
        using var bench = new PipelineBench();
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        bench.Turn(pipeline, air: 4, times: 12);
        bench.Free = 0;
        Task<long> act = Enter(bench, pipeline);
        bench.Turn(pipeline, air: 4, times: 12);

        IOException refused = await Assert.ThrowsAsync<IOException>(() => act.WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System));
        Assert.Contains("The disk is full", refused.Message, StringComparison.Ordinal);
        Assert.Contains("held in memory", refused.Message, StringComparison.Ordinal);
        Assert.DoesNotContain(store.ReadInputs(0), i => i.Kind == InputKind.Command);
        Assert.Contains("The disk is full", pipeline.StoreTrouble!, StringComparison.Ordinal);

        bench.Turn(pipeline, air: 4, times: 30);
        bench.Free = PipelineBench.Roomy;
        bench.Turn(pipeline, air: 4, times: 12);
        Assert.Null(pipeline.StoreTrouble);
        EngineInput stored = Assert.Single(store.ReadInputs(0), i => i.Kind == InputKind.Command);
        Assert.Equal(Mark, stored.Command.Id);
        using BenchReader reader = store.OpenReader();
        Assert.Equal((stored.Number, Mark), Assert.Single(reader.Commands(0, 10).Select(c => (c.Number, c.Command.Id))));

        Task<long> next = Enter(bench, pipeline);
        bench.Turn(pipeline, air: 4, times: 5);
        Assert.True(await next > stored.Number);
    }

    [Fact]
    public async Task An_act_that_is_journaled_is_done_although_the_records_lag_behind()
    {
        using var bench = new PipelineBench();
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        bench.Turn(pipeline, air: 4, times: 12);
        Task<long> act = Enter(bench, pipeline);
        string records = Path.Combine(bench.Folder, "records.db");
        Execute(records, "CREATE TRIGGER refusing BEFORE INSERT ON finding BEGIN SELECT RAISE(ABORT, 'refused'); END");
        bench.Turn(pipeline, air: 4, times: 3); // its line can't be stored, the act itself is

        long number = await act.WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System);
        Assert.Equal(Mark, store.ReadInputs(number - 1).First().Command.Id);
        Assert.Contains("refused", pipeline.StoreTrouble!, StringComparison.Ordinal);
        Assert.DoesNotContain(bench.Told, l => l.Input >= number);

        Execute(records, "DROP TRIGGER refusing");
        bench.Turn(pipeline, air: 4, times: 12);
        Assert.Null(pipeline.StoreTrouble);
        using BenchReader reader = store.OpenReader();
        Assert.Equal(Mark, Assert.Single(reader.Commands(0, 10)).Command.Id);
        (string[] judged, string[] stored) = PipelineBench.LinesOf(store);
        Assert.Equal(judged, stored);
    }

    [Fact]
    public void After_refused_commits_numbers_go_on_without_gap_or_double_and_the_lines_are_those_of_the_log()
    {
        using var bench = new PipelineBench();
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        for (int round = 0; round < 4; round++)
        {
            bench.Free = round % 2 == 0 ? PipelineBench.Roomy : 0;
            bench.Turn(pipeline, air: 4, times: 17);
            bench.Turn(pipeline, air: 1, times: 9); // below the limit, raised in plenty and in trouble alike
        }

        bench.Free = PipelineBench.Roomy;
        bench.Turn(pipeline, air: 4, times: 12);
        pipeline.Step(final: true);

        List<EngineInput> log = [.. store.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => (long)n), log.Select(i => i.Number));
        Assert.Equal(116, log.Count(i => i.Kind == InputKind.Sample));
        Assert.Equal(0, bench.Intake.Dropped);
        Assert.Equal(0, bench.Intake.Held);
        (string[] judged, string[] stored) = PipelineBench.LinesOf(store);
        Assert.Equal(judged, stored);
        Assert.Equal(stored, bench.Told.Select(PipelineBench.Text));
        Assert.Equal(4, bench.Told.Count(l => l.Kind == FindingKinds.AirBelowSetpoint && l.Phase == FindingPhase.Raised));
    }

    [Fact]
    public async Task That_the_store_fails_is_an_alarm_from_memory_can_be_answered_and_is_in_the_book_with_its_times()
    {
        using var bench = new PipelineBench(heldBound: 300);
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        bench.Turn(pipeline, air: 4, times: 12);
        bench.Free = 0;
        bench.Turn(pipeline, air: 4, times: 12);
        EngineTime refused = bench.Clock.Now;
        bench.Turn(pipeline, air: 4, times: 36);
        Assert.Empty(bench.Engine.OpenAlarms); // no hiccup calls anybody
        bench.Turn(pipeline, air: 4, times: 22);
        AlarmTransition held = Assert.Single(bench.Unstored);
        Assert.Equal(("store-failing.bench", "disk-full", AlarmState.Unacknowledged), (held.Tag, held.Cause, held.To));
        Assert.Contains("The disk is full", held.Text, StringComparison.Ordinal);
        Assert.InRange((refused - EngineTimeOf(held.StartUtc, store)).TotalSeconds, 0, 1.3);
        Assert.Empty(bench.Book);

        Task<long> act = pipeline.EnterAsync(EngineInput.OfCommand(bench.Clock.Now, new AcknowledgeCommand { Id = Mark, By = "Ida Wren", Finding = held.Id }));
        bench.Turn(pipeline, air: 4, times: 220);
        await Assert.ThrowsAsync<IOException>(() => act);
        Assert.Equal(AlarmState.Acknowledged, Assert.Single(bench.Engine.OpenAlarms, a => a.Tag == held.Tag).To);
        Assert.True(bench.Intake.Dropped > 0);
        bench.Free = PipelineBench.Roomy;
        bench.Turn(pipeline, air: 4, times: 12);
        EngineTime took = bench.Clock.Now;
        Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged], Told().Select(a => a.Step));
        bench.Turn(pipeline, air: 4, times: 640);
        Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged, AlarmStep.Returned], Told().Select(a => a.Step));
        Assert.All(Told(), a => Assert.Equal(held.Id, a.Id)); // the id under which it was shown and answered for
        FindingLine ended = Assert.Single(bench.Told, l => l is { Kind: FindingKinds.StoreFailing, Phase: FindingPhase.Ended });
        Assert.InRange((took - ended.End!.Value).TotalSeconds, 0, 1.3);
        Assert.Contains($"{bench.Intake.Dropped} readings are lost", ended.Text, StringComparison.Ordinal);
        pipeline.Step(final: true);
        (string[] judged, string[] stored) = PipelineBench.BookOf(store);
        Assert.Equal(judged, stored);
        Assert.Equal(stored, bench.Book.Select(PipelineBench.Text));

        IEnumerable<AlarmTransition> Told() => bench.Book.Where(a => a.Tag == held.Tag);
    }

    [Fact]
    public void A_crash_while_only_the_records_refuse_keeps_the_alarm_and_the_next_process_ends_it()
    {
        using var bench = new PipelineBench();
        string records = Path.Combine(bench.Folder, "records.db");
        using (BenchStore store = bench.Open())
        {
            BenchPipeline pipeline = bench.Begin(store);
            bench.Turn(pipeline, air: 4, times: 12);
            Execute(records, "CREATE TRIGGER refusing BEFORE INSERT ON finding BEGIN SELECT RAISE(ABORT, 'refused'); END");
            bench.Turn(pipeline, air: 1, times: 80);
            Assert.Contains(bench.Unstored, a => a.Tag == "store-failing.bench");
            Assert.Empty(bench.Book);
        }

        Execute(records, "DROP TRIGGER refusing");
        using BenchStore again = bench.Open();
        BenchPipeline next = bench.Begin(again);
        bench.Turn(next, air: 4, times: 650);
        next.Step(final: true);
        (string[] judged, string[] stored) = PipelineBench.BookOf(again);
        Assert.Equal(judged, stored);
        using BenchReader reader = again.OpenReader();
        Assert.Equal([AlarmStep.Raised, AlarmStep.Returned], reader.Alarms(0, 100).Select(a => a.Line).Where(a => a.Tag == "store-failing.bench").Select(a => a.Step));
    }

    [Fact]
    public void Trouble_that_is_over_within_seconds_is_no_alarm()
    {
        using var bench = new PipelineBench();
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        for (int i = 0; i < 6; i++)
        {
            bench.Free = i % 2 == 0 ? PipelineBench.Roomy : 0;
            bench.Turn(pipeline, air: 4, times: 40);
        }

        bench.Free = PipelineBench.Roomy;
        bench.Turn(pipeline, air: 4, times: 20);
        Assert.DoesNotContain(store.ReadInputs(0), i => i.Kind == InputKind.Command);
        Assert.Empty(bench.Engine.OpenAlarms);
    }

    [Fact]
    public void While_the_store_refuses_nothing_is_told_and_judgement_is_never_stored_ahead_of_the_journal()
    {
        BenchStore? store = null;
        var ahead = new List<string>();
        using var bench = new PipelineBench(onTold: line =>
        {
            using BenchReader reader = store!.OpenReader();
            if (line.Input > store.LastNumber || !reader.LatestFindings(50).Any(r => PipelineBench.Text(r.Line) == PipelineBench.Text(line)))
            {
                ahead.Add(line.Id);
            }
        });
        using (store = bench.Open())
        {
            BenchPipeline pipeline = bench.Begin(store);
            bench.Turn(pipeline, air: 4, times: 12);
            int told = bench.Told.Count;
            bench.Free = 0;
            long journaled = store.LastNumber;
            for (int i = 0; i < 400; i++)
            {
                bench.Turn(pipeline, air: i % 40 < 20 ? 1 : 4); // past the 30 s after which a snapshot is due
                Assert.Equal(told, bench.Told.Count);
                Assert.Equal(journaled, store.LastNumber);
                Assert.True(store.LoadJudged()!.Number <= store.LastNumber);
            }

            Assert.True(bench.Engine.LastNumber > journaled + 400);
            bench.Free = PipelineBench.Roomy;
            bench.Turn(pipeline, air: 4, times: 12);
            Assert.True(bench.Told.Count >= told + 20);
            Assert.Empty(ahead);
        }
    }

    [Fact]
    public void A_power_cut_on_a_full_disk_loses_what_was_held_and_the_next_process_says_and_judges_only_what_is_stored()
    {
        using var bench = new PipelineBench();
        long journaled;
        using (BenchStore store = bench.Open())
        {
            BenchPipeline pipeline = bench.Begin(store);
            bench.Turn(pipeline, air: 4, times: 22);
            bench.Free = 0;
            journaled = store.LastNumber;
            bench.Turn(pipeline, air: 1, times: 50); // judged, held, and gone with the process
        }

        bench.Free = PipelineBench.Roomy;
        using BenchStore again = bench.Open();
        Assert.Equal(journaled, again.LastNumber);
        BenchPipeline next = bench.Begin(again);
        Assert.Equal(journaled, bench.Engine.LastNumber);
        bench.Turn(next, air: 4, times: 22);
        next.Step(final: true);
        List<EngineInput> log = [.. again.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => (long)n), log.Select(i => i.Number));
        (string[] judged, string[] stored) = PipelineBench.LinesOf(again);
        Assert.Equal(judged, stored);
        Assert.DoesNotContain(bench.Told, l => l.Kind == FindingKinds.AirBelowSetpoint);
    }

    [Fact]
    public void Beyond_the_bound_readings_are_dropped_and_counted_and_those_before_it_are_kept()
    {
        const int Bound = 40;
        using var bench = new PipelineBench(heldBound: Bound);
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        bench.Turn(pipeline, air: 4, times: 12);
        bench.Free = 0;
        bench.Turn(pipeline, air: 4, times: 100);
        long dropped = bench.Intake.Dropped;
        Assert.InRange(dropped, 1, 99);
        bench.Turn(pipeline, air: 4, times: 10);
        Assert.Equal(dropped + 10, bench.Intake.Dropped); // full is full, until there is room

        bench.Free = PipelineBench.Roomy;
        bench.Turn(pipeline, air: 4, times: 12);
        pipeline.Step(final: true);
        List<EngineInput> log = [.. store.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => (long)n), log.Select(i => i.Number));
        Assert.Equal(134 - bench.Intake.Dropped, log.Count(i => i.Kind == InputKind.Sample));
        Assert.Equal(0, bench.Intake.Held);
        (string[] judged, string[] stored) = PipelineBench.LinesOf(store);
        Assert.Equal(judged, stored);
    }

    [Fact]
    public void SQLites_own_full_disk_in_the_middle_of_a_log_is_held_and_retried_on_the_same_connection()
    {
        using var bench = new PipelineBench(maximumPages: 24);
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        var random = new Random(8);
        int turns = 0;
        while (pipeline.StoreTrouble is null)
        {
            Assert.True(++turns < 5000, "24 pages were never full.");
            bench.Turn(pipeline, air: 3.5 + random.NextDouble());
        }

        Assert.True(store.IsFull);
        bench.Turn(pipeline, air: 4, times: 25);
        store.AllowPages(100_000);
        bench.Turn(pipeline, air: 4, times: 12);
        pipeline.Step(final: true);

        Assert.Null(pipeline.StoreTrouble);
        List<EngineInput> log = [.. store.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => (long)n), log.Select(i => i.Number));
        Assert.Equal(turns + 37, log.Count(i => i.Kind == InputKind.Sample));
        (string[] judged, string[] stored) = PipelineBench.LinesOf(store);
        Assert.Equal(judged, stored);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void After_a_damaged_month_is_set_aside_numbers_times_and_ids_go_on_from_what_was_ever_given(bool stoppedInOrder)
    {
        using var bench = new PipelineBench();
        long last;
        EngineTime lastTime;
        using (BenchStore store = bench.Open())
        {
            BenchPipeline pipeline = bench.Begin(store);
            bench.Turn(pipeline, air: 4, times: 20);
            bench.Turn(pipeline, air: 1, times: 10);
            bench.Turn(pipeline, air: 4, times: 20);
            if (stoppedInOrder)
            {
                pipeline.Step(final: true);
            }

            // After a power cut the records know the log up to the last finding; of later numbers nothing outlives the month.
            last = stoppedInOrder ? store.LastNumber : store.LoadJudged()!.Number;
            lastTime = stoppedInOrder ? store.LastTime : bench.Told[^1].RaisedAt;
        }

        foreach (string tail in (string[])["", "-wal"])
        {
            string path = Path.Combine(bench.Folder, "2026-11.db" + tail);
            if (File.Exists(path))
            {
                File.WriteAllBytes(path, [.. Enumerable.Repeat((byte)0x5a, 40_000)]);
            }
        }

        List<string> ids = [.. bench.Told.Select(l => l.Id)];
        bench.Told.Clear();
        using BenchStore again = bench.Open();
        Assert.Single(again.SetAsideFiles);
        Assert.True(again.LastNumber >= last);
        Assert.True(again.LastTime >= lastTime);
        long from = again.LastNumber;
        BenchPipeline next = bench.Begin(again);
        Assert.Equal(from, bench.Engine.LastNumber);
        bench.Turn(next, air: 4, times: 12);
        bench.Turn(next, air: 1, times: 12);
        next.Step(final: true);
        List<EngineInput> log = [.. again.ReadInputs(0)];
        Assert.Equal(Enumerable.Range(1, log.Count).Select(n => from + n), log.Select(i => i.Number));
        Assert.Contains(bench.Told, l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Empty(ids.Intersect(bench.Told.Where(l => l.Phase == FindingPhase.Raised).Select(l => l.Id)));
    }

    [Fact]
    public void A_disk_that_can_no_longer_be_asked_for_its_room_is_trouble_and_no_end()
    {
        using var folder = new Tests.Storage.StoreFolder();
        bool gone = false;
        using BenchStore store = folder.Open(new BenchStoreOptions
        {
            BallastBytes = 1 << 16,
            FreeSpace = _ => gone ? throw new DriveNotFoundException("no such drive") : PipelineBench.Roomy,
        });
        var log = new Tests.Storage.LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero));
        log.Run(default, 4, 1, new Random(1));
        EngineInput[][] batches = [.. log.Inputs.Chunk(20)];
        store.Append(batches[0]);
        gone = true;
        Assert.Equal(StoreTrouble.Unreachable, Assert.Throws<StoreException>(() => store.Append(batches[1])).Trouble);
        gone = false;
        foreach (EngineInput[] batch in batches)
        {
            store.Append(batch);
        }

        Tests.Storage.LogAssert.Equal(log.Inputs, [.. store.ReadInputs(0)]);
    }

    /// <summary>The room is asked for before a commit, and after it for the reserve: the commit stands whatever comes of that.</summary>
    [Fact]
    public void A_disk_that_goes_right_after_a_commit_does_not_make_the_commit_happen_twice()
    {
        using var folder = new Tests.Storage.StoreFolder();
        int asked = 0;
        using BenchStore store = folder.Open(new BenchStoreOptions
        {
            BallastBytes = 1 << 16,
            FreeSpace = _ => ++asked == 2 ? throw new DriveNotFoundException("no such drive") : PipelineBench.Roomy,
        });
        var log = new Tests.Storage.LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero));
        log.Run(default, 4, 1, new Random(1));
        foreach (EngineInput[] batch in log.Inputs.Chunk(20))
        {
            store.Append(batch);
            Assert.Equal(batch[^1].Number, store.LastNumber);
        }

        Assert.True(asked > 2);
        Tests.Storage.LogAssert.Equal(log.Inputs, [.. store.ReadInputs(0)]);
    }

    [Fact]
    public void A_lower_floor_in_a_bench_file_that_is_read_again_makes_room()
    {
        using var bench = new PipelineBench();
        using BenchStore store = bench.Open();
        BenchPipeline pipeline = bench.Begin(store);
        bench.Free = 100L << 20;
        store.SetRetention(new() { FreeSpaceFloorBytes = 200L << 20 });
        bench.Turn(pipeline, air: 4, times: 12);
        Assert.Contains("100 MiB are free, the floor is 200 MiB", pipeline.StoreTrouble!, StringComparison.Ordinal);
        store.SetRetention(new() { FreeSpaceFloorBytes = 50L << 20 });
        bench.Turn(pipeline, air: 4, times: 12);
        Assert.Null(pipeline.StoreTrouble);
    }

    private static EngineTime EngineTimeOf(long utc, BenchStore store) => store.Anchors.FromUtcNanoseconds(utc);

    private static Task<long> Enter(PipelineBench bench, BenchPipeline pipeline) => pipeline.EnterAsync(EngineInput.OfCommand(
        bench.Clock.Now, new MarkCommand { Id = Mark, By = "R. Thrift", Note = "leader" }));

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
