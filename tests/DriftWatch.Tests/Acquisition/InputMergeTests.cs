using CsCheck;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Acquisition;

public class InputMergeTests
{
    private static readonly TimeSpan Bound = TimeSpan.FromMilliseconds(250);

    [Fact]
    public void Readings_of_two_lines_come_out_in_order_of_time_whatever_the_order_of_arrival()
    {
        InputMerge merge = MergeOf(0, 1);
        merge.Offer(Sample(1, 30));
        merge.Offer(Sample(0, 10));
        merge.Offer(Sample(1, 20));
        merge.Promise(0, Milliseconds(40));
        merge.Promise(1, Milliseconds(40));

        List<EngineInput> released = Release(merge, 50);

        Assert.Equal([10L, 20, 30], released.Select(InMilliseconds));
        Assert.Equal([1L, 2, 3], released.Select(i => i.Number));
        Assert.All(released, i => Assert.False(i.IsLate));
    }

    [Fact]
    public void A_silent_channel_is_waited_for_no_longer_than_the_bound()
    {
        InputMerge merge = MergeOf(0, 1);
        merge.Offer(Sample(0, 10));
        merge.Promise(0, Milliseconds(1000));

        Assert.Empty(Release(merge, 260));
        Assert.Single(Release(merge, 261), i => i.Kind == InputKind.Sample);
    }

    [Fact]
    public void What_comes_after_its_instant_was_released_is_late_numbered_and_flagged()
    {
        InputMerge merge = MergeOf(0, 1);
        merge.Offer(Sample(0, 10));
        _ = Release(merge, 400);

        merge.Offer(Sample(1, 12));
        EngineInput late = Assert.Single(Release(merge, 401), i => i.Kind == InputKind.Sample);

        Assert.True(late.IsLate);
        Assert.Equal(12, InMilliseconds(late));
        Assert.Equal(merge.LastNumber, late.Number);
        Assert.Equal(1, merge.LateCount);
    }

    [Fact]
    public void A_second_reading_of_one_channel_at_one_instant_is_kept_but_not_judged()
    {
        InputMerge merge = MergeOf(0);
        merge.Offer(Sample(0, 10));
        merge.Offer(EngineInput.OfReading(Milliseconds(10), 0, Reading.Failed(FaultCode.Garbled)));

        List<EngineInput> released = Release(merge, 300);

        Assert.Equal([false, true], released.Select(i => i.IsLate));
    }

    [Fact]
    public void Ticks_fall_on_the_grid_after_the_readings_of_their_instant()
    {
        InputMerge merge = MergeOf(0);
        merge.Offer(Sample(0, 100));
        merge.Offer(Sample(0, 150));
        merge.Promise(0, Milliseconds(201));

        List<EngineInput> released = Release(merge, 500);

        Assert.Equal(
            [(100L, InputKind.Sample), (100, InputKind.Tick), (150, InputKind.Sample), (200, InputKind.Tick)],
            released.Take(4).Select(i => (InMilliseconds(i), i.Kind)));
    }

    [Fact]
    public void A_command_entered_behind_the_frontier_happens_at_the_frontier()
    {
        InputMerge merge = MergeOf(0);
        _ = Release(merge, 1000);
        merge.Offer(EngineInput.OfCommand(Milliseconds(100), new MarkCommand { Id = Guid.CreateVersion7(), By = "R. Thrift" }));

        EngineInput command = Assert.Single(Release(merge, 2000), i => i.Kind == InputKind.Command);

        Assert.False(command.IsLate);
        Assert.Equal(750, InMilliseconds(command));
    }

    [Fact]
    public void The_log_goes_on_counting_where_the_last_process_stopped()
    {
        var merge = new InputMerge(41, Milliseconds(5000), Bound);
        merge.SetChannels([0]);
        merge.Offer(Sample(0, 5001));
        Assert.Equal(42, Release(merge, 6000)[0].Number);
    }

    [Fact]
    public void Any_arrival_gives_consecutive_numbers_and_canonical_order_of_all_that_is_judged() =>
        Gen.Select(Gen.Int[0, 3], Gen.Int[0, 2000], Gen.Int[0, 400]).Array[1, 200].Sample(
            arrivals =>
            {
                InputMerge merge = MergeOf(0, 1, 2, 3);
                var released = new List<EngineInput>();
                foreach ((int channel, int time, int delay) in arrivals.OrderBy(a => a.Item2 + a.Item3))
                {
                    merge.Offer(Sample(channel, time));
                    merge.Release(Milliseconds(time + delay), released);
                }

                merge.ReleaseAll(Milliseconds(3000), released);

                Assert.Equal(arrivals.Length, released.Count(i => i.Kind == InputKind.Sample));
                Assert.Equal(Enumerable.Range(1, released.Count).Select(n => (long)n), released.Select(i => i.Number));
                List<EngineInput> judged = released.Where(i => !i.IsLate).ToList();
                for (int i = 1; i < judged.Count; i++)
                {
                    Assert.True(EngineInput.CompareForJudging(judged[i - 1], judged[i]) < 0);
                }
            },
            iter: 300);

    private static InputMerge MergeOf(params int[] channels)
    {
        var merge = new InputMerge(0, default, Bound);
        merge.SetChannels(channels);
        return merge;
    }

    private static List<EngineInput> Release(InputMerge merge, long nowMilliseconds)
    {
        var released = new List<EngineInput>();
        merge.Release(Milliseconds(nowMilliseconds), released);
        return released;
    }

    private static EngineInput Sample(int channel, long milliseconds) =>
        EngineInput.OfReading(Milliseconds(milliseconds), channel, Reading.Of(channel + (milliseconds / 1000.0)));

    private static EngineTime Milliseconds(long milliseconds) => new(milliseconds * EngineTime.NanosecondsPerMillisecond);

    private static long InMilliseconds(EngineInput input) => input.Time.Nanoseconds / EngineTime.NanosecondsPerMillisecond;
}
