using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using Xunit;

namespace DriftWatch.Tests.Storage;

public sealed class HeldBatchesTests
{
    [Fact]
    public void What_is_held_through_a_full_disk_is_stored_when_room_returns_and_what_is_dropped_is_counted()
    {
        using var folder = new StoreFolder();
        long free = 0;
        using BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 0, FreeSpace = _ => free });
        var log = new LogMaker();
        log.Start(default, new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero));
        log.Run(default, 3, 2, new Random(1));
        var held = new HeldBatches(most: 60);
        EngineInput[] all = [.. log.Inputs];
        Assert.True(held.Hold(all.AsSpan(0, 40)));
        Assert.Equal(StoreTrouble.DiskFull, Assert.Throws<StoreException>(() => held.StoreInto(store)).Trouble);
        Assert.Equal(40, held.Count);
        Assert.False(held.Hold(all.AsSpan(40, 40)));
        Assert.Equal(20, held.Dropped);
        free = long.MaxValue;
        held.StoreInto(store);
        Assert.Equal(0, held.Count);
        LogAssert.Equal(log.Inputs.Take(60).ToList(), store.ReadInputs(0).ToList());
    }
}
