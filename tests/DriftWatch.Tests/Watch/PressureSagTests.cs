using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class PressureSagTests
{
    private static double? Number(FindingLine line, string name) => line.Details.Single(d => d.Name == name).Number;

    private static List<FindingLine> Sags(Night night) => night.Judge().FindAll(l => l.Kind == FindingKinds.PressureSag);

    [Theory]
    [InlineData(0.8, 1)]
    [InlineData(2.2, 2)]
    [InlineData(5.0, 3)]
    public void A_dip_with_a_known_recovery_is_measured_within_its_stated_error(double tau, int seed)
    {
        const double depth = 4;
        const double sigma = 0.03; // one code of a 12-bit converter on a 0-100 psi sensor
        var random = new Random(seed);
        double Noise() => sigma * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
        List<FindingLine> lines = Sags(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 30, _ => 50 + Noise())
            .Series(TestBench.Air, 30, 32, _ => 50 - depth + Noise())
            .Series(TestBench.Air, 32, 80, t => 50 - (depth * Math.Exp(-(t - 32) / tau)) + Noise()));

        Assert.True(lines is [{ Phase: FindingPhase.Raised }, .., { Phase: FindingPhase.Ended }], $"seed {seed}: {lines.Count} lines");
        Assert.Single(lines.Select(l => l.Id).Distinct());
        Assert.Equal(EngineTime.FromSeconds(30), lines[0].RaisedAt);
        FindingLine end = lines[^1];
        double error = Number(end, "recoveryErrorSeconds")!.Value;
        Assert.InRange(Number(end, "recoverySeconds")!.Value, tau - (4 * error), tau + (4 * error));
        Assert.InRange(error, 0, 0.1 * tau);
        Assert.InRange(end.Value!.Value, depth - 0.02, depth + 0.15);

        // Back at half the threshold: τ·ln(4/0.25) after the way back began; noise reaches there earlier by its size over the slope.
        double back = 32 + (tau * Math.Log(depth / 0.25));
        Assert.InRange(end.End!.Value.Seconds, back - 0.2 - (3.5 * sigma * tau / 0.25), back + 0.3);

        // Area: the hold, and the exponential up to there.
        double area = (2 * depth) + (depth * tau * (1 - (0.25 / depth)));
        Assert.InRange(Number(end, "areaPsiSeconds")!.Value, area - 0.4, area + 0.2);
    }

    /// <summary>50 ± 1 psi is normal: what stays inside is for the record.</summary>
    [Fact]
    public void A_dip_is_advisory_from_one_psi_on_and_says_so_at_once()
    {
        List<FindingLine> lines = Sags(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 30, 50)
            .Series(TestBench.Air, 30, 32, 49.3).Series(TestBench.Air, 32, 33, 48.9).Series(TestBench.Air, 33, 60, 50));
        Assert.Equal([(30.0, Measurement.Channels.Severity.Note), (32.0, Measurement.Channels.Severity.Advisory)], lines.Take(2).Select(l => (l.Phase == FindingPhase.Raised ? l.RaisedAt.Seconds : 32.0, l.Severity)));
        Assert.All(Sags(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 30, 50).Series(TestBench.Air, 30, 60, 49.4)), l => Assert.Equal(Measurement.Channels.Severity.Note, l.Severity));
    }

    [Fact]
    public void A_dip_inside_one_period_shows_in_the_minimum()
    {
        Night night = new(TestBench.Of(TestBench.AirChannel()));
        for (int i = 0; i < 400; i++)
        {
            double low = i == 300 ? 47 : 49.95;
            night.At(i * 0.1, Measurement.Inputs.EngineInput.OfReading(default, TestBench.Air, Measurement.Samples.Reading.Of(50, low, 50.05)));
        }

        List<FindingLine> lines = Sags(night);
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Equal((30.0, 30.1, 3.0), (lines[0].Start.Seconds, lines[1].End!.Value.Seconds, Math.Round(lines[1].Value!.Value, 6)));
        Assert.Null(Number(lines[1], "recoverySeconds"));
    }

    [Fact]
    public void A_level_that_does_not_come_back_is_said_to_be_a_new_one()
    {
        List<FindingLine> lines = Sags(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 30, 50).Series(TestBench.Air, 30, 200, 48.5));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Contains(lines[1].Details, d => d is { Name: "endedBy", Word: "did-not-recover" });
    }

    [Fact]
    public void Air_that_goes_for_good_is_said_once()
    {
        List<FindingLine> lines = Sags(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, 50).Series(TestBench.Air, 60, 200, t => 50 * Math.Exp(-(t - 60) / 3)));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Contains(lines[1].Details, d => d is { Name: "endedBy", Word: "air-gone" });
    }

    [Fact]
    public void A_dip_that_lasts_until_the_wheel_stands_is_not_made_deeper_by_the_hand_at_the_valve()
    {
        Measurement.Channels.ChannelDefinition wheel = TestBench.Series(30, "wheel", Measurement.Channels.ChannelRole.WheelSpeed, "rev/min");
        List<FindingLine> lines = Sags(new Night(TestBench.Of(TestBench.AirChannel(), wheel))
            .Series(30, 0, 75, t => t < 70 ? 15000 : 0)
            .Series(30, 75, 100, 0)
            .Series(TestBench.Air, 0, 60, 50)
            .Series(TestBench.Air, 60, 72, 49.4)
            .Series(TestBench.Air, 72, 100, t => 49.4 * Math.Exp(-(t - 72) / 3)));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.All(lines, l => Assert.Equal(Measurement.Channels.Severity.Note, l.Severity));
        Assert.Contains(lines[1].Details, d => d is { Name: "endedBy", Word: "wheel-stands" });
        Assert.Equal(0.6, lines[1].Value!.Value, 6);
    }

    [Fact]
    public void Ripple_and_a_slow_creep_are_no_sag() =>
        Assert.Empty(Sags(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 600, t => 50 - (t * 0.002) + (0.15 * Math.Sin(2 * Math.PI * t / 7)))));

    [Fact]
    public void Air_that_comes_up_is_no_sag() =>
        Assert.Empty(Sags(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, t => 50 * (1 - Math.Exp(-t / 8)))));
}
