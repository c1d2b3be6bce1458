using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Running;

public class ReadingIntakeTests
{
    [Fact]
    public void Beyond_the_bound_readings_are_dropped_and_counted_and_the_newest_is_still_shown()
    {
        ReadingIntake intake = Of(bound: 3);
        for (int i = 1; i <= 5; i++)
        {
            intake.Post(SampleBench.Air, new EngineTime(i), Reading.Of(i));
        }

        Assert.Equal((3, 2L), (intake.Held, intake.Dropped));
        Assert.Equal(5, intake.Newest(SampleBench.Air)!.Value.Reading.Raw);
    }

    [Fact]
    public void What_the_pipeline_holds_counts_towards_the_bound()
    {
        ReadingIntake intake = Of(bound: 3);
        intake.HeldByPipeline = 3;
        intake.Post(SampleBench.Air, new EngineTime(1), Reading.Of(1));
        Assert.Equal(1, intake.Dropped);
    }

    [Fact]
    public void A_promise_is_in_the_merge_only_after_what_was_posted_before_it()
    {
        ReadingIntake intake = Of(bound: 100);
        var merge = new InputMerge(0, default, TimeSpan.FromHours(1));
        merge.SetChannels([SampleBench.Air]);
        intake.Post(SampleBench.Air, new EngineTime(10), Reading.Of(1));
        intake.Promise(SampleBench.Air, new EngineTime(11));

        Assert.Equal(1, intake.DrainInto(merge));
        var released = new List<EngineInput>();
        merge.Release(new EngineTime(1000), released);
        Assert.Equal(10, Assert.Single(released).Time.Nanoseconds);
        Assert.Equal(new EngineTime(11), merge.Frontier);
    }

    [Fact]
    public void A_late_reading_does_not_take_the_newest_ones_place()
    {
        ReadingIntake intake = Of(bound: 100);
        intake.Post(SampleBench.Air, new EngineTime(20), Reading.Of(2));
        intake.Post(SampleBench.Air, new EngineTime(10), Reading.Of(1));
        Assert.Equal(2, intake.Newest(SampleBench.Air)!.Value.Reading.Raw);
    }

    [Fact]
    public void A_channel_that_a_reload_removed_posts_into_nothing()
    {
        ReadingIntake intake = Of(bound: 100);
        intake.Post(99, new EngineTime(1), Reading.Of(1));
        Assert.Equal((0, 0L), (intake.Held, intake.Dropped));
    }

    [Fact]
    public void The_newest_frame_outlives_a_fault_of_its_channel()
    {
        ReadingIntake intake = Of(bound: 100);
        intake.Post(SampleBench.Timing, new EngineTime(1), new Frame(7, 0, new double[64]));
        intake.Post(SampleBench.Timing, new EngineTime(2), Reading.Failed(FaultCode.BadChecksum));
        Assert.Equal(7u, intake.NewestFrame(SampleBench.Timing)!.Value.Frame.Sequence);
        Assert.Equal(InputKind.Fault, intake.Newest(SampleBench.Timing)!.Value.Kind);
    }

    private static ReadingIntake Of(int bound)
    {
        var intake = new ReadingIntake(bound);
        intake.SetBench(SampleBench.Create());
        return intake;
    }
}
