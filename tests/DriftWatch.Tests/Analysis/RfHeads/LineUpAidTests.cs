using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class LineUpAidTests
{
    private static readonly JsonElement Reference = Golden.Json("rf-heads/heads");

    [Fact]
    public void The_smooth_curve_is_the_penalised_spline_of_scipy()
    {
        JsonElement expected = Reference.GetProperty("spline");
        // The likelihood is flat about its maximum: two searches agree to some 1e-3 of the smoothing, and errors to as much.
        SmoothCurve curve = SmoothCurve.Through(expected.GetProperty("x").Doubles(), expected.GetProperty("y").Doubles());
        double[] at = expected.GetProperty("at").Doubles();
        for (int i = 0; i < at.Length; i++)
        {
            Assert.Equal(expected.GetProperty("value").Doubles()[i], curve.At(at[i]), 1e-4);
            (double slope, double error) = curve.Slope(at[i]);
            Assert.Equal(expected.GetProperty("slope").Doubles()[i], slope, 1e-3);
            Assert.Equal(expected.GetProperty("slope_error").Doubles()[i], error, 3e-4);
        }

        (double rise, double riseError) = curve.Rise(at[0], at[^1]);
        Assert.Equal(expected.Number("rise"), rise, 1e-4);
        Assert.Equal(expected.Number("rise_error"), riseError, 3e-4);
        Assert.Equal(expected.Number("parameters"), curve.EffectiveParameters, 1e-2);
        Assert.Equal(expected.Number("scatter"), curve.Scatter, 1e-4);
    }

    public static TheoryData<SweepShape, string> Shapes() => new()
    {
        { SweepShape.Dip, "dip" },
        { SweepShape.Level, "noise" },
        { SweepShape.OnlyRises, "rises" },
        { SweepShape.OnlyFalls, "falls" },
        { SweepShape.SecondRiseMissing, "dip at the upper edge" },
        { SweepShape.FirstRiseMissing, "dip at the lower edge" },
        { SweepShape.SeveralDips, "two dips" },
    };

    [Theory]
    [MemberData(nameof(Shapes))]
    public void A_sweep_is_called_what_it_is(SweepShape shape, string name)
    {
        Func<double, double> level = name switch
        {
            "dip" => Dip,
            "noise" => _ => 0,
            "rises" => s => 3 * (1 - Math.Exp(-s / 4)),
            "falls" => s => -0.3 * s,
            "dip at the upper edge" => s => Dip(s - 4.5),
            "dip at the lower edge" => s => Dip(s + 4),
            _ => s => 2 * Math.Sin(1.4 * s),
        };
        EqualiserReading reading = EqualiserSweep.Read(Settings, Levels(level, 0.05)).Value;
        Assert.Equal(shape, reading.Shape);
        Assert.Equal(shape == SweepShape.Dip, reading.Dip is not null);
    }

    [Fact]
    public void The_dip_is_found_where_it_is_with_and_without_noise()
    {
        // Dip: derivative 0.8 + 5·(s−5.5)/2·exp(…) = 0 at the bottom, found here by halving.
        double low = 4, high = 5.5;
        for (int i = 0; i < 60; i++)
        {
            double middle = (low + high) / 2;
            double slope = 0.8 + (2.5 * (middle - 5.5) * Math.Exp(-Math.Pow((middle - 5.5) / 2, 2)));
            (low, high) = slope < 0 ? (middle, high) : (low, middle);
        }

        EqualiserDip clean = EqualiserSweep.Read(Settings, [.. Settings.Select(Dip)]).Value.Dip!.Value;
        Assert.Equal(low, clean.Setting, 0.02);
        EqualiserDip noisy = EqualiserSweep.Read(Settings, Levels(Dip, 0.1)).Value.Dip!.Value;
        Assert.True(noisy.Lower < low && low < noisy.Upper, $"{noisy.Lower} to {noisy.Upper}, true {low}");
        Assert.InRange(noisy.Upper - noisy.Lower, 0.05, 0.5);
        Assert.True(noisy.Depth.IsSignificant());
    }

    [Fact]
    public void Too_few_settings_are_a_shortfall_and_wrong_input_is_named()
    {
        Assert.Equal(new Shortfall("different settings", 2, 9), EqualiserSweep.Read([1, 2, 1, 2, 1, 2, 1, 2, 1, 2], new double[10]).Missing);
        Assert.Equal("levels", Assert.Throws<ArgumentException>(() => EqualiserSweep.Read([1, 2], [1])).ParamName);
        Assert.Equal("settings", Assert.Throws<ArgumentException>(() => EqualiserSweep.Read([double.NaN], [1])).ParamName);
        Assert.Equal(SweepShape.Level, EqualiserSweep.Read(Settings, new double[Settings.Length]).Value.Shape);
    }

    [Fact]
    public void Matching_propagates_as_derivatives_by_differences_do()
    {
        JsonElement expected = Reference.GetProperty("matching");
        double[][] readings = [.. expected.GetProperty("readings").EnumerateArray().Select(r => r.Doubles())];
        ChannelMismatch mismatch = ChannelMatching.Compare(
            TwoBars.From(readings[0], readings[1]).Value, TwoBars.From(readings[2], readings[3]).Value, 3).Value;
        double[] values = expected.GetProperty("values").Doubles();
        double[] errors = expected.GetProperty("errors").Doubles();
        Assert.Equal(values[0], mismatch.GainPercent.Value, 1e-9);
        Assert.Equal(errors[0], mismatch.GainPercent.StandardUncertainty, 1e-6);
        Assert.Equal(values[1], mismatch.GainDb.Value, 1e-9);
        Assert.Equal(errors[1], mismatch.GainDb.StandardUncertainty, 1e-6);
        Assert.Equal(values[2], mismatch.Offset.Value, 1e-9);
        Assert.Equal(errors[2], mismatch.Offset.StandardUncertainty, 1e-6);
        Assert.Equal(Turn.Down, mismatch.TurnGain);
    }

    [Fact]
    public void Each_channel_is_told_what_to_turn_and_when_it_is_good()
    {
        TwoBars first = Bars(100, 500);
        ChannelMismatch low = ChannelMatching.Compare(first, Bars(98, 490), 2).Value; // 2 % too small, no offset
        Assert.Equal(-2, low.GainPercent.Value, 1e-9);
        Assert.Equal(20 * Math.Log10(0.98), low.GainDb.Value, 1e-9);
        Assert.Equal((Turn.Up, Turn.Leave), (low.TurnGain, low.TurnOffset));
        ChannelMismatch high = ChannelMatching.Compare(first, Bars(112, 512), 4).Value; // 12 mV too high, same gain
        Assert.Equal((Turn.Leave, Turn.Down), (high.TurnGain, high.TurnOffset));
        Assert.Equal(3, high.OffsetPercent.Value, 1e-9);
        Assert.True(ChannelMatching.Compare(first, Bars(100.5, 502), 2).Value.IsMatched);
        Assert.Equal(Turn.ReadLonger, ChannelMatching.Compare(first, Bars(101, 503, 5), 2).Value.TurnGain);
    }

    [Fact]
    public void Bars_that_are_no_two_bars_say_so()
    {
        Assert.Equal("of a step between the bars, in their unit", ChannelMatching.Compare(Bars(100, 500), Bars(500, 100), 2).Missing!.What);
        Assert.Equal(new Shortfall("readings of a bar", 1, 2), TwoBars.From([1], [2, 3]).Missing);
        Assert.Equal("head", Assert.Throws<ArgumentOutOfRangeException>(() => ChannelMatching.Compare(Bars(1, 2), Bars(1, 2), 1)).ParamName);
    }

    [Fact]
    public void Tilt_and_bow_agree_with_statsmodels()
    {
        JsonElement expected = Reference.GetProperty("flatness");
        PassShape shape = PassFlatness.Of(expected.GetProperty("angles").Doubles(), expected.GetProperty("db").Doubles()).Value;
        Assert.Equal(expected.Number("tilt"), shape.TiltDb.Value, 1e-9);
        Assert.Equal(expected.Number("tilt_error"), shape.TiltDb.StandardUncertainty, 1e-9);
        Assert.Equal(expected.Number("bow"), shape.BowDb.Value, 1e-9);
        Assert.Equal(expected.Number("bow_error"), shape.BowDb.StandardUncertainty, 1e-9);
    }

    [Fact]
    public void A_pass_that_is_hardly_seen_or_another_heads_is_refused()
    {
        Assert.Equal(new Shortfall("degrees of the pass", 30, 60), PassFlatness.Of([-15, -5, 5, 15], [0, 0, 0, 0]).Missing);
        Assert.Equal("anglesDegrees", Assert.Throws<ArgumentException>(() => PassFlatness.Of([-15, 95], [0, 0])).ParamName);
    }

    private static readonly double[] Settings = [.. Enumerable.Range(0, 21).Select(i => i / 2.0)];

    private static double Dip(double s) => (0.8 * s) - (5 * Math.Exp(-Math.Pow((s - 5.5) / 2, 2)));

    private static double[] Levels(Func<double, double> level, double noise)
    {
        var random = new Random(20260604);
        return [.. Settings.Select(s => level(s) + (noise * TrackingTests.Gauss(random)))];
    }

    private static TwoBars Bars(double dark, double bright, double error = 0.2) => new(new(dark, error), new(bright, error));
}
