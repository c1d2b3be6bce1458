using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Quantities;

public class DipTests
{
    private const double Turn = 2;

    private static BenchDefinition Bench()
    {
        BenchDefinition bench = TestBench.Full();
        return bench with { Quantities = DefaultQuantities.For(bench.Channels) };
    }

    private static List<FindingLine> Lines(Func<double, double> controlTrack) => new Night(Bench())
        .Shows(MachineState.Locked, 0, 60)
        .Shows(MachineState.Locked, 60, 160, TestBench.Control)
        .Series(TestBench.Control, 60, 160, controlTrack)
        .Judge();

    /// <summary>The fourth power of the positive half of a cosine: below half of its depth for a sixth of the turn.</summary>
    private static double Dip(double t) => -Math.Pow(Math.Max(0, Math.Cos(2 * Math.PI * t / Turn)), 4);

    /// <summary>The lowest tenth of such dips is at cos⁴(18°) of their depth: 0.82. Of 5 dB that is 4.1.</summary>
    [Fact]
    public void Dips_with_each_turn_of_the_reel_are_told_though_the_level_is_within_its_limit_most_of_the_time()
    {
        List<FindingLine> lines = Lines(t => -10 + (5 * Dip(t)));
        FindingLine raised = Assert.Single(lines, l => l is { Channel: "control-track-dips", Phase: FindingPhase.Raised });
        Assert.Equal((FindingKinds.AboveLimit, Severity.Advisory), (raised.Kind, raised.Severity));
        Assert.InRange(raised.RaisedAt.Seconds, 65, 95.5); // half a minute to fill, five seconds of delay
        Assert.Equal("edge-damage", lines.Find(l => l.Kind == FindingKinds.Cause)!.Cause);
        Assert.InRange(raised.Value!.Value, 2.4, 4.2);
    }

    [Fact]
    public void Shallow_dips_a_dropout_and_a_lower_level_are_no_dips()
    {
        Assert.DoesNotContain(Lines(t => -10 + (2 * Dip(t))), l => l.Channel == "control-track-dips");
        Assert.DoesNotContain(Lines(t => t is > 100 and < 102.5 ? -15 : t > 130 ? -12 : -10), l => l.Channel == "control-track-dips");
    }
}
