using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Support;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Running;

/// <summary>The pipeline of a bench over a real store, with a clock turned by hand.</summary>
public sealed class PipelineTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-pipeline-").FullName;
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 11, 3, 20, 0, 0, TimeSpan.Zero));
    private readonly ReadingIntake _intake = new(bound: 10_000);
    private readonly List<FindingLine> _told = [];
    private readonly List<int> _commits = [];

    [Fact]
    public void Readings_are_committed_once_a_second()
    {
        using BenchStore store = Open();
        BenchPipeline pipeline = Begin(store);
        for (int i = 0; i < 30; i++)
        {
            Turn(pipeline, air: 2.5);
        }

        Assert.Equal(4, _commits.Count); // one at once, for the note that the bench is in force, and three for three seconds
        Assert.True(store.LastNumber > 30);
    }

    [Fact]
    public void A_finding_is_committed_at_once_and_told_only_after_it_is_stored()
    {
        using BenchStore store = Open();
        BenchPipeline pipeline = Begin(store);
        for (int i = 0; i < 12; i++)
        {
            Turn(pipeline, air: 2.5);
        }

        _told.Clear();
        int before = _commits.Count;
        for (int i = 0; i < 4 && _told.Count == 0; i++)
        {
            Turn(pipeline, air: 1.0); // 12.5 psi: below every limit, the lowest of which has no delay
        }

        FindingLine line = Assert.Single(_told, l => l.Kind == FindingKinds.BelowLimit || l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(before + 1, _commits.Count);
        using BenchReader reader = store.OpenReader();
        Assert.Contains(reader.LatestFindings(10), r => r.Line.Id == line.Id);
        Assert.Equal(line.Input, Math.Min(line.Input, store.LastNumber));
    }

    [Fact]
    public async Task An_act_is_answered_with_its_number_once_it_is_journaled()
    {
        using BenchStore store = Open();
        BenchPipeline pipeline = Begin(store);
        Turn(pipeline, air: 2.5);
        Task<long> mark = pipeline.EnterAsync(EngineInput.OfCommand(
            new EngineTime(0), new MarkCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Note = "leader" }));
        Assert.False(mark.IsCompleted);
        for (int i = 0; i < 5; i++)
        {
            Turn(pipeline, air: 2.5);
        }

        long number = await mark;
        Assert.Equal(InputKind.Command, store.ReadInputs(number - 1).First().Kind);
    }

    [Fact]
    public void The_last_step_releases_what_still_waits_and_stores_the_snapshot()
    {
        using BenchStore store = Open();
        BenchPipeline pipeline = Begin(store);
        Turn(pipeline, air: 2.5);
        _intake.Post(SampleBench.Air, Clock.Now.FloorToMillisecond(), Reading.Of(2.51));
        pipeline.Step(final: true);

        Assert.Equal(store.LastNumber, store.LoadJudged()!.Number);
        Assert.Contains(store.ReadInputs(0), i => i.Kind == InputKind.Sample && i.Reading.Raw == 2.51);
    }

    [Fact]
    public void After_a_crash_judging_goes_on_from_the_snapshot_and_gives_every_line_once()
    {
        using (BenchStore store = Open())
        {
            BenchPipeline pipeline = Begin(store);
            for (int i = 0; i < 40; i++)
            {
                Turn(pipeline, air: i < 20 ? 2.5 : 1.0);
            }
        }

        using BenchStore again = Open();
        WatchEngine engine = EngineStart.CatchUp(again, NullLogger.Instance);
        Assert.Equal(again.LastNumber, engine.LastNumber);
        var lines = new List<FindingLine>();
        var whole = new WatchEngine();
        foreach (EngineInput input in again.ReadInputs(0))
        {
            whole.Apply(input, lines);
        }

        using BenchReader reader = again.OpenReader();
        Assert.Equal(
            lines.Select(FindingJson.ToUtf8).Select(Convert.ToHexString),
            reader.Findings(0, 1000).Select(r => Convert.ToHexString(FindingJson.ToUtf8(r.Line))));
    }

    [Fact]
    public void A_snapshot_of_another_build_is_dropped_and_the_journal_judged_anew()
    {
        using BenchStore store = Open();
        BenchPipeline pipeline = Begin(store);
        for (int i = 0; i < 12; i++)
        {
            Turn(pipeline, air: 2.5);
        }

        pipeline.Step(final: true);
        store.CommitJudged(store.LastNumber, "not ours"u8, "another build", []);
        WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance);
        Assert.Equal(store.LastNumber, engine.LastNumber);
        Assert.Equal("marram-quad-1", engine.Bench!.Id);
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private EngineClock Clock { get; set; } = null!;

    private static BenchDefinition Bench()
    {
        BenchDefinition bench = SampleBench.Create();
        ChannelDefinition air = bench.Channels[SampleBench.Air] with
        {
            Limits =
            [
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 40, Deadband = 1, Source = "bench file" },
            ],
        };
        return bench with { Channels = [air] };
    }

    private BenchStore Open() => BenchStore.Open(_folder, new BenchStoreOptions { TimeProvider = _time, BallastBytes = 0 });

    private BenchPipeline Begin(BenchStore store)
    {
        BenchDefinition bench = Bench();
        Clock = new EngineClock(_time, default);
        _intake.SetBench(bench);
        var pipeline = new BenchPipeline(store, new WatchEngine(), _intake, Clock, bench.LatenessBound, NullLogger.Instance)
        {
            Told = lines => _told.AddRange(lines),
            Committed = (inputs, _) => _commits.Add(inputs),
        };
        pipeline.SetChannels([SampleBench.Air]);
        TimeAnchor anchor = Clock.ReadAnchor();
        _ = pipeline.EnterAsync(EngineInput.OfClock(anchor.Engine, new ClockEvent(ClockEventKind.Started, anchor)));
        _ = pipeline.EnterAsync(EngineInput.OfBench(anchor.Engine, bench));
        _time.Advance(TimeSpan.FromMilliseconds(1));
        return pipeline;
    }

    private void Turn(BenchPipeline pipeline, double air)
    {
        _time.Advance(TimeSpan.FromMilliseconds(100));
        EngineTime now = Clock.Now.FloorToMillisecond();
        _intake.Post(SampleBench.Air, now, Reading.Of(air));
        _intake.Promise(SampleBench.Air, new EngineTime(now.Nanoseconds + 1));
        pipeline.Step();
    }
}
