using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Support;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Tests.Running;

public sealed class EngineStartTests
{
    /// <summary>The longest stretch leaves one or two inputs before it, which are fewer than what has to be lent.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(50)]
    [InlineData(-3)]
    [InlineData(-2)]
    [InlineData(-1)]
    [InlineData(0)]
    public void A_snapshot_of_another_build_is_replaced_by_judging_the_last_stretch_anew(int stretch)
    {
        var log = new LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero), SampleBench.Create());
        log.Run(default, 20, channels: 2, new Random(3));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. log.Inputs]);
        store.CommitJudged(store.LastNumber, new WatchEngine().Snapshot(), "another build", []);

        WatchEngine engine = EngineStart.CatchUp(
            store, NullLogger.Instance, warmStartInputs: stretch > 0 ? stretch : store.LastNumber + stretch);

        Assert.Equal(store.LastNumber, engine.LastNumber);
        Assert.NotNull(engine.Bench);
        Assert.Equal(BenchPipeline.Build, store.LoadJudged()!.EngineBuild);
    }

    /// <summary>Weeks may lie between the act and the stretch that is judged anew: what a person took out of service must not call again by an update.</summary>
    [Fact]
    public void What_is_out_of_service_stays_so_when_another_build_judges_the_last_stretch_anew()
    {
        var log = new LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero), SampleBench.Create());
        string channel = SampleBench.Create().Channels[0].Id;
        string other = SampleBench.Create().Channels[1].Id;
        log.Add(EngineInput.OfCommand(default, new OutOfServiceCommand { Id = Guid.CreateVersion7(), By = "Ida", Note = "repair", Subject = channel }));
        log.Add(EngineInput.OfCommand(default, new OutOfServiceCommand { Id = Guid.CreateVersion7(), By = "Ida", Note = "repair", Subject = other }));
        log.Add(EngineInput.OfCommand(default, new InServiceCommand { Id = Guid.CreateVersion7(), By = "Ida", Subject = other }));
        log.Run(default, 20, channels: 2, new Random(3));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. log.Inputs]);
        store.CommitJudged(store.LastNumber, new WatchEngine().Snapshot(), "another build", []);

        WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance, warmStartInputs: 50);

        AlarmTransition standing = Assert.Single(engine.OpenAlarms, a => a.To == AlarmState.OutOfService);
        Assert.Equal((channel, "Ida", "repair"), (standing.Tag, standing.By, standing.Why));
        using BenchReader reader = store.OpenReader();
        Assert.DoesNotContain(reader.Alarms(0, 100), a => a.Line.Step == AlarmStep.TakenOutOfService); // it was booked when it was done
    }

    /// <summary>A lamp would wait for ever for an answer to an alarm that the engine knows nothing of.</summary>
    [Fact]
    public void What_stands_in_the_book_and_is_not_open_any_more_is_closed_by_who_judges_anew()
    {
        var log = new LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero), SampleBench.Create());
        string channel = SampleBench.Create().Channels[0].Id;
        log.Add(EngineInput.OfCommand(default, new OutOfServiceCommand { Id = Guid.CreateVersion7(), By = "Ida", Note = "repair", Subject = channel }));
        log.Run(default, 20, channels: 2, new Random(3));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. log.Inputs]);
        AlarmTransition old = AlarmStoreTests.Line(2, 0) with { Id = "old", Tag = "below-limit.old", Step = AlarmStep.Returned, To = AlarmState.ReturnedUnacknowledged, IsActive = false };
        AlarmTransition taken = AlarmStoreTests.Line(3, 0) with { Id = "taken", Tag = channel, Step = AlarmStep.TakenOutOfService, To = AlarmState.OutOfService };
        AlarmTransition gone = AlarmStoreTests.Line(2, 1) with { Id = "gone", Tag = "below-limit.gone", Step = AlarmStep.TakenOutOfService, To = AlarmState.OutOfService, Why = "bench-reloaded" };
        store.CommitJudged(store.LastNumber, new WatchEngine().Snapshot(), "another build", [], [old, taken, gone]);
        Assert.Single(store.UnansweredAlarms(long.MaxValue));

        for (int start = 0; start < 2; start++)
        {
            WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance, warmStartInputs: 50);
            Assert.Equal(AlarmState.OutOfService, Assert.Single(engine.OpenAlarms).To);
            using BenchReader reader = store.OpenReader();
            AlarmTransition closed = Assert.Single(reader.Alarms(3, 100)).Line;
            Assert.Equal(
                (old.Id, AlarmStep.Returned, AlarmState.ReturnedUnacknowledged, AlarmState.Normal, "judged-anew", store.LastNumber),
                (closed.Id, closed.Step, closed.From, closed.To, closed.Why, closed.Input));
            Assert.Empty(store.UnansweredAlarms(long.MaxValue));
        }
    }

    /// <summary>No judge would end it, and it would stand in every report from then on.</summary>
    [Fact]
    public void A_finding_that_lasted_and_is_not_found_again_is_ended_by_who_judges_anew()
    {
        var log = new LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero), SampleBench.Create());
        log.Run(default, 20, channels: 2, new Random(3));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append([.. log.Inputs]);
        store.CommitJudged(
            store.LastNumber, new WatchEngine().Snapshot(), "another build",
            [BenchStoreTests.Line("lasts", FindingPhase.Raised, 3), BenchStoreTests.Line("over", FindingPhase.Raised, 4), BenchStoreTests.Line("over", FindingPhase.Ended, 5)]);

        for (int start = 0; start < 2; start++)
        {
            WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance, warmStartInputs: 50);
            using BenchReader reader = store.OpenReader();
            FindingLine ended = Assert.Single(reader.Findings(3, 100), f => f.Line.Phase == FindingPhase.Ended).Line;
            Assert.Equal(("lasts", store.LastNumber, (EngineTime?)store.LastTime), (ended.Id, ended.Input, ended.End));
            Assert.Equal(store.Anchors.ToUtcNanoseconds(store.LastTime), ended.EndUtc);
            Assert.Contains(ended.Details, d => d is { Name: "endedBy", Word: "judged-anew" });
            Assert.Equal(engine.OpenFindings.Select(f => f.Id), reader.LastingFindings().Select(f => f.Line.Id));
        }
    }

    /// <summary>Hours by which the wall clock moved while nobody watched, and by how many seconds engine time must have gone on.</summary>
    [Theory]
    [InlineData(1.0, 3600.0)]
    [InlineData(0.0, 1e-9)]
    [InlineData(-2.0, 1e-9)]
    [InlineData(-500_000.0, 1e-9)] // a clock without a battery begins in 1970
    [InlineData(200_000.0, 720_000_000.0)]
    public void Engine_time_goes_on_with_the_wall_clock_and_never_back(double hours, double seconds)
    {
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(new DateTimeOffset(2026, 3, 1, 0, 0, 20, TimeSpan.Zero));
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        Assert.Equal(default, EngineStart.TimeOf(store, time));
        var log = new LogMaker();
        log.Start(default, time.GetUtcNow().AddSeconds(-20), SampleBench.Create());
        log.Run(default, 20, channels: 2, new Random(3));
        store.Append([.. log.Inputs]);

        time.AdjustTime(time.GetUtcNow().AddHours(hours));
        Assert.Equal(store.LastTime.Nanoseconds + (long)Math.Round(seconds * 1e9), EngineStart.TimeOf(store, time).Nanoseconds);
    }

    [Theory]
    [InlineData(3.0)]
    [InlineData(-3.0)]
    public void Over_restarts_and_a_clock_that_was_set_the_stored_times_rise_strictly_and_readings_are_not_late(double hours)
    {
        using var bench = new PipelineBench();
        for (int process = 0; process < 4; process++)
        {
            using BenchStore store = bench.Open();
            EngineTime before = store.LastTime;
            BenchPipeline pipeline = bench.Begin(store);
            Assert.True(process == 0 || bench.Clock.Now > before);
            bench.Turn(pipeline, air: 4, times: 15);
            pipeline.Step(final: true);
            bench.Time.AdjustTime(bench.Time.GetUtcNow().AddHours(process % 2 == 0 ? hours : 0.1));
        }

        using BenchStore again = bench.Open();
        List<EngineInput> log = [.. again.ReadInputs(0)];
        Assert.Equal(4, log.Count(i => i.Kind == InputKind.Clock));
        Assert.Equal(60, log.Count(i => i.Kind == InputKind.Sample && !i.IsLate));
        Assert.All(log.Zip(log.Skip(1)), pair => Assert.True(pair.Second.Time >= pair.First.Time, $"{pair.Second} follows {pair.First}"));
        List<EngineTime> samples = [.. log.Where(i => i.Kind == InputKind.Sample).Select(i => i.Time)];
        Assert.All(samples.Zip(samples.Skip(1)), pair => Assert.True(pair.Second > pair.First));
        List<EngineTime> anchors = [.. again.Anchors.Anchors.Select(a => a.Engine)];
        Assert.All(anchors.Zip(anchors.Skip(1)), pair => Assert.True(pair.Second > pair.First));
    }

    /// <summary>Found by the service as a process: a start of more than a tick had the ticks come before it, and the gap told as 0 s.</summary>
    [Theory]
    [InlineData(0)]
    [InlineData(730)]
    public void The_first_input_of_every_process_is_its_start_and_the_time_nobody_watched_is_told_to_the_nanosecond(int slowStartMilliseconds)
    {
        using var bench = new PipelineBench();
        EngineTime last;
        long lastUtc;
        using (BenchStore store = bench.Open())
        {
            BenchPipeline pipeline = bench.Begin(store, slowStart: TimeSpan.FromMilliseconds(slowStartMilliseconds));
            bench.Turn(pipeline, air: 4, times: 35); // and then the power goes
            last = store.LastTime;
            lastUtc = store.Anchors.ToUtcNanoseconds(last);
        }

        bench.Time.Advance(TimeSpan.FromSeconds(61.234));
        bench.Told.Clear();
        using BenchStore again = bench.Open();
        long first = again.LastNumber + 1;
        long startedUtc = UtcText.ToNanoseconds(bench.Time.GetUtcNow());
        BenchPipeline next = bench.Begin(again, slowStart: TimeSpan.FromMilliseconds(slowStartMilliseconds));
        bench.Turn(next, air: 4, times: 12);

        Assert.Equal([InputKind.Clock, InputKind.Bench], again.ReadInputs(first - 1).Take(2).Select(i => i.Kind));
        FindingLine gap = Assert.Single(bench.Told, l => l.Kind == FindingKinds.NobodyWatching);
        Assert.Equal((startedUtc - lastUtc) / 1e9, gap.Value);
        Assert.Equal((last, lastUtc, startedUtc), (gap.Start, gap.StartUtc, gap.EndUtc));
        Assert.Equal("not-stopped-on-purpose", gap.Cause);
        Assert.True(gap.Value > 61.234);
    }
}
