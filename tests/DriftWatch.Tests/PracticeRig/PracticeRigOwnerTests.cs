using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.PracticeRig;

public class PracticeRigOwnerTests
{
    [Fact]
    public void The_owner_posts_each_channel_on_its_own_grid_and_stops_when_asked()
    {
        var time = new FakeTimeProvider();
        var clock = new EngineClock(time, new EngineTime(123_456_789));
        var sink = new CollectingSink();
        ChannelDefinition air = RigBench.Series("air-volts", 1, RigInput.RegulatedAirVolts, "V", 0.1);
        ChannelDefinition room = RigBench.Series("room", 2, RigInput.AmbientTemperature, "degC", 1);
        ChannelDefinition timing = RigBench.TimingFrame("timing", 3, 0.5);
        var owner = new PracticeRigOwner(RigBench.Instrument("tour", 7), [air, room, timing], clock, sink, NullLogger.Instance);
        using var stop = new CancellationTokenSource();
        var thread = new Thread(() => owner.Run(stop.Token));
        thread.Start();

        // The fake clock creeps on until the owner has done what is due: no timing of this machine counts.
        Assert.True(SpinWait.SpinUntil(() => sink.Notices.Count > 0, TimeSpan.FromSeconds(20)), "the owner did not start");
        for (int i = 1; i <= 3000 && sink.CountOf(1) < 200; i++)
        {
            int had = sink.CountOf(1);
            time.Advance(TimeSpan.FromMilliseconds(51));
            SpinWait.SpinUntil(() => sink.CountOf(1) > had, TimeSpan.FromMilliseconds(25));
        }

        stop.Cancel();
        Assert.True(thread.Join(TimeSpan.FromSeconds(20)), "the owner did not stop");

        List<Posted> airs = sink.Of(1);
        Assert.InRange(airs.Count, 200, 260);
        Assert.All(airs, p => Assert.Equal(0, p.At.Nanoseconds % 100_000_000));
        Assert.Equal(airs.Select(p => p.At), airs.Select(p => p.At).Distinct().Order());
        Assert.All(airs, p => Assert.True(p.Reading.HasExtremes));
        Assert.InRange(sink.Of(2).Count, 19, 26);
        Assert.InRange(sink.Of(3).Count, 39, 52);
        Assert.All(sink.Of(3), p => Assert.Equal(64, p.Frame!.Count));
        Assert.Contains(airs, p => p.Reading.Raw > 2.3); // the tour opens the valve after three seconds
        Assert.Contains(airs, p => p.Reading.Raw < 0.7);
    }

    [Fact]
    public void A_wrong_script_is_trouble_with_the_instrument_and_names_the_remedy()
    {
        var time = new FakeTimeProvider();
        var clock = new EngineClock(time, default);
        var sink = new CollectingSink();
        ChannelDefinition air = RigBench.Series("air-volts", 1, RigInput.RegulatedAirVolts, "V", 0.1);
        var owner = new PracticeRigOwner(RigBench.Instrument("tuor", 7), [air], clock, sink, NullLogger.Instance);
        using var stop = new CancellationTokenSource();
        var thread = new Thread(() => owner.Run(stop.Token));
        thread.Start();
        for (int i = 0; i < 100 && sink.CountOf(1) == 0; i++)
        {
            SpinWait.SpinUntil(() => sink.Notices.Count > 0, TimeSpan.FromSeconds(20));
            time.Advance(TimeSpan.FromSeconds(1));
            SpinWait.SpinUntil(() => sink.CountOf(1) > 0, TimeSpan.FromMilliseconds(100));
        }

        stop.Cancel();
        Assert.True(thread.Join(TimeSpan.FromSeconds(20)), "the owner did not stop");
        Assert.Contains("tour", sink.Notices[0].Reason);
        Assert.Contains("'tuor'", sink.Notices[0].Reason);
        Assert.All(sink.Of(1), p => Assert.Equal(FaultCode.LineDown, p.Reading.Fault));
        Assert.NotEmpty(sink.Of(1));
    }
}
