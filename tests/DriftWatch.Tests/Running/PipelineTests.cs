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
    private readonly PipelineBench _bench = new();

    [Fact]
    public void Readings_are_committed_once_a_second()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        for (int i = 0; i < 30; i++)
        {
            _bench.Turn(pipeline, air: 2.5);
        }

        Assert.Equal(4, _bench.Commits.Count); // one at once, for the note that the bench is in force, and three for three seconds
        Assert.True(store.LastNumber > 30);
    }

    [Fact]
    public void A_finding_is_committed_at_once_and_told_only_after_it_is_stored()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        for (int i = 0; i < 12; i++)
        {
            _bench.Turn(pipeline, air: 2.5);
        }

        _bench.Told.Clear();
        int before = _bench.Commits.Count;
        for (int i = 0; i < 4 && _bench.Told.Count == 0; i++)
        {
            _bench.Turn(pipeline, air: 1.0); // 12.5 psi: below every limit, the lowest of which has no delay
        }

        FindingLine line = Assert.Single(_bench.Told, l => l.Kind == FindingKinds.BelowLimit || l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(before + 1, _bench.Commits.Count);
        using BenchReader reader = store.OpenReader();
        Assert.Contains(reader.LatestFindings(10), r => r.Line.Id == line.Id);
        Assert.Equal(line.Input, Math.Min(line.Input, store.LastNumber));
    }

    [Fact]
    public async Task An_act_is_answered_with_its_number_once_it_is_journaled()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        _bench.Turn(pipeline, air: 2.5);
        Task<long> mark = pipeline.EnterAsync(EngineInput.OfCommand(
            new EngineTime(0), new MarkCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Note = "leader" }));
        Assert.False(mark.IsCompleted);
        for (int i = 0; i < 5; i++)
        {
            _bench.Turn(pipeline, air: 2.5);
        }

        long number = await mark;
        Assert.Equal(InputKind.Command, store.ReadInputs(number - 1).First().Kind);
    }

    [Fact]
    public void The_last_step_releases_what_still_waits_and_stores_the_snapshot()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        _bench.Turn(pipeline, air: 2.5);
        _bench.Intake.Post(SampleBench.Air, _bench.Clock.Now.FloorToMillisecond(), Reading.Of(2.51));
        pipeline.Step(final: true);

        Assert.Equal(store.LastNumber, store.LoadJudged()!.Number);
        Assert.Contains(store.ReadInputs(0), i => i.Kind == InputKind.Sample && i.Reading.Raw == 2.51);
    }

    [Fact]
    public async Task An_act_that_comes_after_the_end_is_told_so_and_does_not_wait_for_ever()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        _bench.Turn(pipeline, air: 2.5);
        pipeline.Step(final: true);
        Task<long> between = Mark();
        pipeline.Close();
        await Assert.ThrowsAsync<WatchingStoppedException>(() => between.WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System));
        await Assert.ThrowsAsync<WatchingStoppedException>(() => Mark().WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System));
        Assert.DoesNotContain(store.ReadInputs(0), i => i.Kind == InputKind.Command);

        Task<long> Mark() => pipeline.EnterAsync(EngineInput.OfCommand(
            _bench.Clock.Now, new MarkCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Note = "leader" }));
    }

    [Fact]
    public void After_a_crash_judging_goes_on_from_the_snapshot_and_gives_every_line_once()
    {
        using (BenchStore store = _bench.Open())
        {
            BenchPipeline pipeline = _bench.Begin(store);
            for (int i = 0; i < 40; i++)
            {
                _bench.Turn(pipeline, air: i < 20 ? 2.5 : 1.0);
            }
        }

        using BenchStore again = _bench.Open();
        WatchEngine engine = EngineStart.CatchUp(again, NullLogger.Instance);
        Assert.Equal(again.LastNumber, engine.LastNumber);
        (string[] judged, string[] stored) = PipelineBench.LinesOf(again);
        Assert.Equal(judged, stored);
    }

    [Fact]
    public void A_snapshot_of_another_build_is_dropped_and_the_journal_judged_anew()
    {
        using BenchStore store = _bench.Open();
        BenchPipeline pipeline = _bench.Begin(store);
        for (int i = 0; i < 12; i++)
        {
            _bench.Turn(pipeline, air: 2.5);
        }

        pipeline.Step(final: true);
        store.CommitJudged(store.LastNumber, "not ours"u8, "another build", []);
        WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance);
        Assert.Equal(store.LastNumber, engine.LastNumber);
        Assert.Equal("marram-quad-1", engine.Bench!.Id);
    }

    public void Dispose() => _bench.Dispose();
}
