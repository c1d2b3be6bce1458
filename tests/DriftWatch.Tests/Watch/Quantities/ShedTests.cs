using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Tests.Watch.Support;

namespace DriftWatch.Tests.Watch.Quantities;

public class ShedTests
{
    private static readonly int[] Heads = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3];

    [Fact]
    public void A_common_fall_is_said_within_minutes_with_its_rate_and_the_time_that_is_left()
    {
        // 2 dB in 10 min from 120 s on; lost 6 dB down, at 1920 s.
        List<FindingLine> lines = Shed(900, t => t < 120 ? 0 : -2 * (t - 120) / 600);
        FindingLine raised = lines[0];
        Assert.Equal((FindingPhase.Raised, Severity.Advisory, "rf-common"), (raised.Phase, raised.Severity, raised.Channel));
        Assert.InRange(raised.RaisedAt.Seconds, 360, 720);
        Assert.InRange(raised.Value!.Value, -2.3, -1.0);
        Assert.Equal("watch", raised.Details.Single(d => d.Name == "advice").Word);
        double left = raised.Details.Single(d => d.Name == "secondsLeft").Number!.Value;
        Assert.InRange(raised.RaisedAt.Seconds + left, 1700, 3500);
        Assert.Contains("Plan where to stop and clean.", raised.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_fast_fall_or_a_near_loss_says_stop_and_clean()
    {
        FindingLine fast = Shed(600, t => t < 60 ? 0 : -5 * (t - 60) / 600)[0];
        Assert.Equal(Severity.Alarm, fast.Severity);
        Assert.InRange(fast.RaisedAt.Seconds, 300, 430);
        Assert.EndsWith("Stop and clean while there is still picture.", fast.Text, StringComparison.Ordinal);

        List<FindingLine> slow = Shed(1800, t => t < 60 ? 0 : -2 * (t - 60) / 600);
        FindingLine alarm = slow.First(l => l.Severity == Severity.Alarm);
        Assert.InRange(alarm.RaisedAt.Seconds, 0, 900);
        double at = slow.IndexOf(alarm) > 0 ? alarm.Details.Single(d => d.Name == "secondsLeftEarliest").Number!.Value : 0;
        Assert.InRange(at, 1, 300);
    }

    [Fact]
    public void Steps_single_heads_slow_falls_and_a_level_tape_say_nothing()
    {
        Assert.Empty(Shed(1500, _ => 0));
        Assert.Empty(Shed(1500, t => t < 700 ? 0 : -1.5));
        Assert.Empty(Shed(1500, t => t < 120 ? 0 : -0.4 * (t - 120) / 600));
        Assert.Empty(Shed(1500, t => t < 120 ? 0 : -3 * (t - 120) / 600, onlyHead: 2));
        Assert.Empty(Shed(1500, t => t < 120 ? 0 : 2 * (t - 120) / 600));
    }

    [Fact]
    public void It_ends_when_the_fall_ends_and_when_tape_stops()
    {
        List<FindingLine> stops = Shed(1800, t => t < 60 ? 0 : t < 600 ? -3 * (t - 60) / 600 : -2.7);
        Assert.Equal(FindingPhase.Ended, stops[^1].Phase);
        Assert.Equal("recovered", stops[^1].Details.Single(d => d.Name == "endedBy").Word);

        Night night = Falling(700, t => t < 60 ? 0 : -4 * (t - 60) / 600, 0).Shows(MachineState.AirUp, 700, 760);
        FindingLine left = Of(night)[^1];
        Assert.Equal("state-left", left.Details.Single(d => d.Name == "endedBy").Word);
        Assert.InRange(left.End!.Value.Seconds, 730, 740);
    }

    private static List<FindingLine> Shed(double seconds, Func<double, double> level, int onlyHead = 0) => Of(Falling(seconds, level, onlyHead));

    private static List<FindingLine> Of(Night night) => night.Judge().FindAll(l => l.Kind == FindingKinds.Shed);

    private static Night Falling(double seconds, Func<double, double> level, int onlyHead)
    {
        BenchDefinition bench = TestBench.Full();
        Night night = new Night(bench with { Quantities = DefaultQuantities.For(bench.Channels) })
            .Shows(MachineState.Locked, 0, seconds, Heads);
        var random = new Random(20260605);
        const double start = -10;
        foreach (int head in Heads)
        {
            bool falls = onlyHead == 0 || onlyHead == head - TestBench.Head1 + 1;
            night.Series(head, 0, seconds, t => start + (falls ? level(t) : 0) + (0.2 * (random.NextDouble() - 0.5)));
        }

        return night;
    }
}
