using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using Xunit;

namespace DriftWatch.Tests.Storage;

public sealed class BenchStoreTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public void A_new_folder_begins_at_zero_and_goes_on_where_it_was_closed()
    {
        using var folder = new StoreFolder();
        var log = new LogMaker();
        log.Start(default, Noon, LogMaker.Bench(3));
        log.Run(default, 5, 3, new Random(1));
        using (BenchStore store = folder.Open())
        {
            Assert.Equal(0, store.LastNumber);
            Assert.Equal(default, store.LastTime);
            Assert.Null(store.CurrentBench);
            Assert.Null(store.LoadJudged());
            store.Append(log.Inputs.ToArray());
        }

        using (BenchStore store = folder.Open())
        {
            Assert.Equal(log.Inputs[^1].Number, store.LastNumber);
            Assert.Equal(log.Inputs[^1].Time, store.LastTime);
            Assert.Equal("west-bench", store.CurrentBench!.Id);
            Assert.Equal(UtcText.ToNanoseconds(Noon), store.Anchors.ToUtcNanoseconds(default));
            LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
            LogAssert.Equal(log.Inputs.Skip(40).ToList(), store.ReadInputs(40).ToList());
        }
    }

    [Fact]
    public void A_channel_keeps_its_key_for_ever()
    {
        using var folder = new StoreFolder();
        int air, vacuum;
        using (BenchStore store = folder.Open())
        {
            air = store.KeyFor("regulated-air");
            vacuum = store.KeyFor("guide-vacuum");
            Assert.NotEqual(air, vacuum);
            Assert.Equal(air, store.KeyFor("regulated-air"));
        }

        using (BenchStore store = folder.Open())
        {
            Assert.Equal(vacuum, store.KeyFor("guide-vacuum"));
            Assert.Equal(air, store.ChannelKeys["regulated-air"]);
        }
    }

    [Fact]
    public void A_gap_in_the_numbers_is_refused_and_a_batch_given_twice_is_stored_once()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        var log = new LogMaker();
        log.Start(default, Noon);
        log.Run(default, 1, 1, new Random(1));
        store.Append(log.Inputs.ToArray());
        store.Append(log.Inputs.ToArray());
        Assert.Equal(log.Inputs.Count, store.ReadInputs(0).Count());
        EngineInput skipped = EngineInput.OfTick(EngineTime.FromSeconds(9)) with { Number = store.LastNumber + 2 };
        Assert.Throws<ArgumentException>(() => store.Append([skipped]));
    }

    [Fact]
    public void Two_writers_are_refused_with_the_pid_of_the_first()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        StoreException refused = Assert.Throws<StoreException>(() => folder.Open());
        Assert.Equal(StoreTrouble.InUse, refused.Trouble);
        Assert.Contains($"pid {Environment.ProcessId}", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Judging_is_committed_with_its_snapshot_and_a_line_is_stored_once()
    {
        using var folder = new StoreFolder();
        FindingLine line = Line("f-1", FindingPhase.Raised, 7);
        using (BenchStore store = folder.Open())
        {
            store.CommitJudged(7, [1, 2, 3], "build-a", [line]);
            store.CommitJudged(9, [4, 5], "build-a", [line, Line("f-1", FindingPhase.Ended, 9)]);
        }

        using (BenchStore store = folder.Open())
        {
            JudgedState judged = store.LoadJudged()!;
            Assert.Equal(9, judged.Number);
            Assert.Equal(new byte[] { 4, 5 }, judged.Snapshot);
            Assert.Equal("build-a", judged.EngineBuild);
        }
    }

    internal static FindingLine Line(string id, FindingPhase phase, long input) => new()
    {
        Id = id,
        Phase = phase,
        Input = input,
        Bench = "west-bench",
        BenchHash = "00ff",
        Kind = "air-below-setpoint",
        Channel = "regulated-air",
        Severity = Severity.Alarm,
        Start = EngineTime.FromSeconds(1),
        RaisedAt = EngineTime.FromSeconds(2),
        StartUtc = UtcText.ToNanoseconds(Noon),
        RaisedUtc = UtcText.ToNanoseconds(Noon.AddSeconds(1)),
        Value = 43.5,
        Limit = 45,
        Unit = "psi",
        Cause = "unknown",
        State = MachineState.AirUp,
        Text = "Air is below its setpoint.",
        Details = [new FindingDetail("depthPsi", 6.5)],
    };
}
