using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Running;

/// <summary>What is counted of channels and lines: rates of the last minute, faults by reason, and lines that went and came.</summary>
public class InstrumentCountsTests
{
    [Fact]
    public void The_rate_is_that_of_whole_seconds_gone_by_and_falls_when_nothing_comes()
    {
        ReadingCounts counts = new();
        Assert.Null(counts.At(At(0)).PerSecond);
        Feed(counts, from: 0.5, to: 20.5, perSecond: 10);
        ReadingTally running = counts.At(At(20.45));
        Assert.Equal(10, running.PerSecond!.Value, 9);
        Assert.Equal((19, 200), (running.OverSeconds, running.Values)); // of the first second only half was watched

        Assert.Equal(195.0 / 39, counts.At(At(40)).PerSecond!.Value, 9);
        Assert.Equal(0, counts.At(At(4000)).PerSecond);
    }

    [Fact]
    public void The_rate_forgets_what_lies_more_than_a_minute_back_also_over_a_gap()
    {
        ReadingCounts counts = new();
        Feed(counts, from: 0, to: 100, perSecond: 4);
        Feed(counts, from: 130, to: 140, perSecond: 8);
        ReadingTally tally = counts.At(At(140));
        Assert.Equal(60, tally.OverSeconds);
        Assert.Equal(((20 * 4) + (10 * 8)) / 60.0, tally.PerSecond!.Value, 9);
        counts.Count(Value(82.5)); // a late one, still of the minute
        Assert.Equal(161 / 60.0, counts.At(At(140)).PerSecond!.Value, 9);
        counts.Count(Value(20)); // a late one of long ago
        Assert.Equal(161 / 60.0, counts.At(At(140)).PerSecond!.Value, 9);
    }

    [Fact]
    public void Faults_count_by_reason_and_not_in_the_rate()
    {
        ReadingCounts counts = new();
        Feed(counts, from: 0, to: 10, perSecond: 1);
        counts.Count(EngineInput.OfReading(At(10), 0, Reading.Failed(FaultCode.NoAnswer)));
        counts.Count(EngineInput.OfReading(At(11), 0, Reading.Failed(FaultCode.NoAnswer)));
        counts.Count(EngineInput.OfReading(At(12), 0, Reading.Failed(FaultCode.OverRange)));
        ReadingTally tally = counts.At(At(20));
        Assert.Equal(new Dictionary<FaultCode, long> { [FaultCode.NoAnswer] = 2, [FaultCode.OverRange] = 1 }, tally.Faults);
        Assert.Equal((FaultCode.OverRange, At(12)), tally.LastFault);
        Assert.Equal((10, 9 / 19.0), (tally.Values, tally.PerSecond!.Value));
    }

    [Fact]
    public void A_line_that_goes_and_comes_is_counted_with_its_last_reason()
    {
        double now = 1;
        var intake = new ReadingIntake(10, () => At(now));
        Assert.Null(intake.Link("gauge"));
        Tell(LinkState.Connecting, "opening the line");
        Tell(LinkState.Talking, "lines come");
        Assert.Equal((0, 0, At(2)), (intake.Link("gauge")!.Downs, intake.Link("gauge")!.Reconnects, intake.Link("gauge")!.Since));
        Tell(LinkState.Down, "no answer");
        Tell(LinkState.Down, "the port is gone");
        Assert.Equal((1, "the port is gone", At(3)), (intake.Link("gauge")!.Downs, intake.Link("gauge")!.LastDown, intake.Link("gauge")!.LastDownAt));
        Tell(LinkState.Talking, "lines come");
        LinkTally link = intake.Link("gauge")!;
        Assert.Equal((1, 1, "the port is gone", At(3), At(5)), (link.Downs, link.Reconnects, link.LastDown, link.LastDownAt, link.Since));

        void Tell(LinkState state, string reason)
        {
            intake.Report(new InstrumentNotice("gauge", state, reason));
            now++;
        }
    }

    [Fact]
    public void The_intake_counts_what_it_drops_too_because_the_instrument_brought_it()
    {
        var intake = new ReadingIntake(1);
        intake.SetBench(SampleBench.Create());
        for (int i = 0; i < 20; i++)
        {
            intake.Post(SampleBench.Air, At(i), Reading.Of(i));
        }

        Assert.Equal(20, intake.Tally(SampleBench.Air, At(20)).Values);
        Assert.Equal(0, intake.Tally(999, At(20)).Values);
    }

    private static void Feed(ReadingCounts counts, double from, double to, int perSecond)
    {
        for (int i = 0; i < (to - from) * perSecond; i++)
        {
            counts.Count(Value(from + ((double)i / perSecond)));
        }
    }

    private static EngineInput Value(double seconds) => EngineInput.OfReading(At(seconds), 0, Reading.Of(1));

    private static EngineTime At(double seconds) => EngineTime.FromSeconds(seconds);
}
