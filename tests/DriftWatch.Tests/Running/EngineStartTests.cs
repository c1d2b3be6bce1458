using DriftWatch.Running;
using DriftWatch.Storage;
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
}
