using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Pneumatics;

/// <summary>Tests are made from amounts of air, n = P·V/(R·T), not from the product's formula.</summary>
public sealed class LeakDownTests
{
    private static readonly LeakDownSettings Receiver24 = new() { VolumeLitres = new Uncertain(24, 0.3) };

    [Fact]
    public void A_leak_of_known_flow_is_found_whatever_the_temperature_does()
    {
        (double[] t, double[] p, double[] c) = Test(slpm: 3.3, minutes: 5, temperature: m => 21 + (0.25 * m), noise: 0.02, seed: 71);
        LeakDownResult result = LeakDown.Measure(t, p, c, Receiver24).Value;
        Assert.Equal(3.3, result.FlowSlpm.Value, 0.03);
        Assert.True(result.IsClaimed);
        Assert.InRange(3.3, result.FlowSlpm.Value - result.ExpandedSlpm, result.FlowSlpm.Value + result.ExpandedSlpm);

        // It warmed by a quarter of a kelvin a minute: 0.36 psi a kelvin hid some 0.09 psi a minute.
        Assert.Equal(-0.25 * (result.MeanPressurePsig + 14.69595) / 294.8, result.TemperatureFallPsiPerMinute, 0.001);
        double[] none = [];
        LeakDownResult blind = LeakDown.Measure(t, p, none, Receiver24 with { TemperatureC = 21 }).Value;
        Assert.True(blind.FlowSlpm.Value < 3.2, $"uncorrected it reads {blind.FlowSlpm.Value}");
        Assert.Contains(blind.Warnings, w => w.StartsWith("Temperature was not measured", StringComparison.Ordinal));
    }

    [Fact]
    public void Standard_and_anr_litres_are_the_same_air()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 5, _ => 20, 0.02, 72);
        LeakDownResult result = LeakDown.Measure(t, p, c, Receiver24).Value;
        Assert.Equal(result.FlowSlpm.Value * 1.01325, result.FlowAnr.Value, 12);
    }

    /// <summary>Each line of the budget by hand from its definition; the whole by root sum of squares, k by Student's t.</summary>
    [Fact]
    public void The_budget_is_the_root_sum_of_squares_of_its_lines()
    {
        (double[] t, double[] p, _) = Test(4, 6, _ => 20, 0.02, 73);
        LeakDownResult result = LeakDown.Measure(t, p, [], Receiver24 with { GaugeResolutionPsi = 0.01 }).Value;
        double Line(string name) => result.Budget.Single(b => b.Name == name).StandardUncertaintySlpm;
        Assert.Equal(result.FlowSlpm.Value * 0.3 / 24, Line("volume"), 9);
        Assert.Equal(result.FlowSlpm.Value * 0.005, Line("gauge's scale"), 9);
        Assert.Equal(24 / 14.69595 * (result.MeanPressurePsig + 14.69595) / 293.15 * 0.5 / Math.Sqrt(3) / 6, Line("temperature of the air"), 4);
        Assert.Equal(24 / 14.69595 * 0.01 / Math.Sqrt(6) / 6, Line("gauge's step"), 6);
        Assert.Equal(Math.Sqrt(result.Budget.Sum(b => b.StandardUncertaintySlpm * b.StandardUncertaintySlpm)), result.FlowSlpm.StandardUncertainty, 12);
        Assert.Equal(result.CoverageFactor * result.FlowSlpm.StandardUncertainty, result.ExpandedSlpm, 12);
        Assert.InRange(result.CoverageFactor, 1.95, 2.3);
        Assert.Equal(result.Budget.OrderByDescending(b => b.StandardUncertaintySlpm), result.Budget);
    }

    [Fact]
    public void Wild_readings_are_left_out()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 5, _ => 20, 0.02, 74);
        for (int i = 10; i < p.Length; i += 25)
        {
            p[i] += i % 2 == 0 ? 3 : -4;
        }

        LeakDownResult result = LeakDown.Measure(t, p, c, Receiver24).Value;
        Assert.Equal(3.3, result.FlowSlpm.Value, 0.03);
        Assert.Equal(12, result.LeftOut);
    }

    [Fact]
    public void A_compressor_that_cut_in_is_refused_with_the_minutes_before_it()
    {
        (double[] t, double[] p, double[] c) = Test(6, 6, _ => 20, 0.05, 75);
        for (int i = 0; i < p.Length; i++)
        {
            p[i] += t[i] > 240 ? 0.1 * Math.Min(t[i] - 240, 60) : 0;
        }

        Shortfall missing = LeakDown.Measure(t, p, c, Receiver24).Missing!;
        Assert.Equal(LeakDown.Rose, missing.What);
        Assert.InRange(missing.Has, 3.7, 4.2);
        Assert.Equal(6, missing.Needs, 1);
    }

    [Theory]
    [InlineData(0.5)]
    [InlineData(5.5)]
    public void So_is_one_that_cut_in_at_either_end(double minute)
    {
        (double[] t, double[] p, double[] c) = Test(6, 6, _ => 20, 0.05, 76);
        for (int i = 0; i < p.Length; i++)
        {
            p[i] += t[i] > 60 * minute ? 0.2 * Math.Min(t[i] - (60 * minute), 40) : 0;
        }

        Assert.Equal(LeakDown.Rose, LeakDown.Measure(t, p, c, Receiver24).Missing!.What);
    }

    [Fact]
    public void A_temperature_that_moves_is_refused_with_the_longest_steady_stretch()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 5, m => m < 3 ? 20 : 20 + (2.5 * (m - 3)), 0.02, 77);
        Shortfall missing = LeakDown.Measure(t, p, c, Receiver24).Missing!;
        Assert.Equal(LeakDown.Unsteady, missing.What);
        Assert.InRange(missing.Has, 3, 4);
    }

    [Fact]
    public void Too_short_and_too_little_are_refused()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 1.5, _ => 20, 0.02, 78);
        Shortfall tooShort = LeakDown.Measure(t, p, c, Receiver24).Missing!;
        Assert.Equal((LeakDown.TooShort, 2.0), (tooShort.What, tooShort.Needs));
        Assert.Equal(LeakDown.TooShort, LeakDown.Measure([], [], [], Receiver24).Missing!.What);

        (t, p, c) = Test(0.2, 3, _ => 20, 0.02, 79);
        Shortfall tooLittle = LeakDown.Measure(t, p, c, Receiver24 with { GaugeResolutionPsi = 0.5 }).Missing!;
        Assert.Equal((LeakDown.TooLittle, 1.5), (tooLittle.What, tooLittle.Needs));
    }

    [Fact]
    public void A_tight_receiver_gets_an_upper_bound_and_no_claim()
    {
        (double[] t, double[] p, double[] c) = Test(0, 5, _ => 20, 0.02, 80);
        LeakDownResult result = LeakDown.Measure(t, p, c, Receiver24).Value;
        Assert.False(result.IsClaimed);
        Assert.InRange(result.AtMostSlpm, 0, 0.1);
        Assert.Contains(result.Warnings, w => w.StartsWith("No leak is told from none", StringComparison.Ordinal));
    }

    [Fact]
    public void Steps_finer_than_the_noise_refuse_nothing()
    {
        (double[] t, double[] p, double[] c) = Test(0, 5, _ => 20, 0.02, 85);
        LeakDownResult result = LeakDown.Measure(t, [.. p.Select(v => Math.Round(v, 2))], c, Receiver24).Value;
        Assert.False(result.IsClaimed);
        Assert.DoesNotContain(result.Warnings, w => w.StartsWith("The fall is less than ten steps", StringComparison.Ordinal));
    }

    [Fact]
    public void A_coarse_gauge_is_warned_of_and_its_step_is_in_the_budget()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 3, _ => 20, 0, 81);
        double[] rounded = [.. p.Select(v => Math.Round(v))];
        LeakDownResult result = LeakDown.Measure(t, rounded, c, Receiver24).Value;
        Assert.Contains(result.Warnings, w => w.StartsWith("The fall is less than ten steps", StringComparison.Ordinal));
        Assert.Equal("gauge's step", result.Budget[0].Name);
        Assert.InRange(3.3, result.FlowSlpm.Value - result.ExpandedSlpm, result.FlowSlpm.Value + result.ExpandedSlpm);
    }

    [Fact]
    public void Air_that_still_cools_after_compression_is_warned_of_or_refused()
    {
        // The air cools to the room's temperature with a time constant of two minutes, unmeasured: first from 8 K above it, then from 4 K seen by a noisier gauge.
        (double[] t, double[] p, _) = Test(3.3, 8, m => 20 + (8 * Math.Exp(-m / 2)), 0.02, 82);
        Assert.Equal(LeakDown.NotStraight, LeakDown.Measure(t, p, [], Receiver24).Missing!.What);
        (t, p, _) = Test(3.3, 8, m => 20 + (4 * Math.Exp(-m / 2)), 0.3, 82);
        LeakDownResult result = LeakDown.Measure(t, p, [], Receiver24).Value;
        Assert.Contains(result.Warnings, w => w.StartsWith("The fall gets slower", StringComparison.Ordinal));
        (t, p, _) = Test(3.3, 8, _ => 20, 0.3, 83);
        Assert.DoesNotContain(LeakDown.Measure(t, p, [], Receiver24).Value.Warnings, w => w.StartsWith("The fall gets", StringComparison.Ordinal));
    }

    [Fact]
    public void The_callers_mistakes_are_named()
    {
        (double[] t, double[] p, double[] c) = Test(3.3, 5, _ => 20, 0.02, 84);
        string? Named(Action act) => Assert.Throws<ArgumentException>(act).ParamName;
        Assert.Equal("pressuresPsig", Named(() => LeakDown.Measure(t, p.AsSpan(1), c, Receiver24)));
        Assert.Equal("temperaturesC", Named(() => LeakDown.Measure(t, p, c.AsSpan(1), Receiver24)));
        Assert.Equal("settings", Named(() => LeakDown.Measure(t, p, c, Receiver24 with { VolumeLitres = new Uncertain(0, 0) })));
        Assert.Equal("settings", Named(() => LeakDown.Measure(t, p, c, Receiver24 with { GaugeScaleShare = -1 })));
        Assert.Equal("settings", Named(() => LeakDown.Measure(t, p, c, Receiver24 with { Confidence = 1 })));
        p[3] = double.NaN;
        Assert.Equal("pressuresPsig", Named(() => LeakDown.Measure(t, p, c, Receiver24)));
        p[3] = -20;
        Assert.Equal("pressuresPsig", Named(() => LeakDown.Measure(t, p, c, Receiver24)));
    }

    /// <summary>
    /// A closed volume of 24 l that starts at 90 psig and loses so many standard litres a minute on the mean, through a hole whose flow goes with the
    /// pressure; a reading a second.
    /// </summary>
    private static (double[] Seconds, double[] Psig, double[] Celsius) Test(double slpm, double minutes, Func<double, double> temperature, double noise, int seed)
    {
        const double GasConstant = 8.314462618;
        var random = new SeededNoise(seed);
        double start = (90 + 14.69595) * 6894.757293168361 * 0.024 / (GasConstant * (temperature(0) + 273.15));
        double lost = 101325 * 0.001 / (GasConstant * 293.15) * slpm * minutes;
        double rate = -Math.Log(1 - (lost / start)) / (60 * minutes);
        double[] t = [.. Enumerable.Range(0, (int)(60 * minutes) + 1).Select(i => (double)i)];
        double[] c = [.. t.Select(s => temperature(s / 60))];
        double[] p = [.. t.Select((s, i) =>
            (start * Math.Exp(-rate * s) * GasConstant * (c[i] + 273.15) / 0.024 / 6894.757293168361) - 14.69595 + (noise * random.Gauss()))];
        return (t, p, c);
    }
}
