using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.RfHeads;

public sealed class TrackingTests
{
    private static readonly JsonElement Reference = Golden.Json("rf-heads/heads");

    private static readonly double[] Every2Mil = [-4, -2, 0, 2, 4];

    [Theory]
    [InlineData("triangle")]
    [InlineData("flat")]
    public void The_peak_and_its_interval_agree_with_a_brute_search_in_scipy(string name)
    {
        JsonElement expected = Reference.GetProperty(name);
        TrackingPeakFit fit = TrackingPeak.Fit(expected.GetProperty("x").Doubles(), expected.GetProperty("db").Doubles()).Value;
        Assert.Equal(expected.Number("position"), fit.Position, 1e-4);
        Assert.Equal(expected.Number("lower"), fit.Lower, 1e-4);
        Assert.Equal(expected.Number("upper"), fit.Upper, 1e-4);
        Assert.Equal(expected.Number("top_db"), fit.TopDb, 1e-4);
        Assert.Equal(expected.Number("width"), fit.Width, 1e-2);
        Assert.Equal(expected.Number("flat"), fit.FlatHalfWidth, 1e-2);
    }

    [Theory]
    [InlineData(0.3, 10)]
    [InlineData(-0.9, 10)]
    [InlineData(0.3, 12)]
    public void A_sweep_without_noise_gives_the_peak_the_track_and_the_flat_top_back(double peak, double headMil)
    {
        double[] x = [.. Enumerable.Range(0, 13).Select(i => -6 + (double)i)];
        TrackingPeakFit fit = TrackingPeak.Fit(x, [.. x.Select(at => TrackingTriangle.LevelDb(at - peak, headMil) - 7)]).Value;
        Assert.Equal(peak, fit.Position, 1e-4);
        Assert.Equal(10, fit.Width, 1e-3);
        Assert.Equal((headMil - 10) / 2, fit.FlatHalfWidth, 1e-3);
        Assert.Equal(-7, fit.TopDb, 1e-4);
        Assert.Equal(-TrackingTriangle.LevelDb(2, headMil), fit.LossDb(peak + 2), 1e-3);
    }

    [Fact]
    public void Positions_in_divisions_of_a_dial_are_scaled_by_the_flanks()
    {
        double[] dial = [.. Enumerable.Range(0, 11).Select(i => 20 + (10.0 * i))];
        double[] db = [.. dial.Select(d => TrackingTriangle.LevelDb((d - 68) / 10))];
        TrackingPeakFit fit = TrackingPeak.Fit(dial, db, milPerUnit: null).Value;
        Assert.Equal(68, fit.Position, 1e-3);
        Assert.Equal(100, fit.Width, 1e-2);

        // The same levels over a dial that moves the track by half as much are no sweep of 8 mil.
        double[] small = [.. dial.Select(d => TrackingTriangle.LevelDb((d - 68) / 25))];
        Assert.Equal("mil of sweep", TrackingPeak.Fit(dial, small, milPerUnit: null).Missing!.What);
    }

    [Fact]
    public void What_a_sweep_lacks_is_said()
    {
        double[] db = [.. Every2Mil.Select(x => TrackingTriangle.LevelDb(x))];
        Assert.True(TrackingPeak.Fit(Every2Mil, db).IsKnown);
        Assert.Equal(new Shortfall("points of the sweep", 4, 5), TrackingPeak.Fit(Every2Mil.AsSpan(1), db.AsSpan(1)).Missing);
        Assert.Equal(new Shortfall("mil of sweep", 4, 8), TrackingPeak.Fit([-2, -1, 0, 1, 2], db).Missing);
        Assert.Equal(new Shortfall("different positions", 2, 5), TrackingPeak.Fit([-4, -4, -4, 4, 4], db).Missing);

        // All on one flank, and a control that does nothing.
        double[] far = [2, 4, 6, 8, 9, 9.5];
        Assert.Equal("flanks of the peak within the sweep", TrackingPeak.Fit([0, 2, 4, 6, 8, 9], [.. far.Select(x => TrackingTriangle.LevelDb(x))]).Missing!.What);
        Assert.False(TrackingPeak.Fit([-4, -3, -2, -1, 0, 1, 2, 3, 4], [0, .1, 0, -.1, 0, .1, -.1, 0, .1]).IsKnown);
        Assert.False(TrackingPeak.Fit([-4, -3, -2, -1, 0, 1, 2, 3, 4], [0, 0, 0, 0, 0, 0, 0, 0, 0]).IsKnown);
        Assert.Equal("levelsDb", Assert.Throws<ArgumentException>(() => TrackingPeak.Fit([1, 2], [1])).ParamName);
        Assert.Equal("milPerUnit", Assert.Throws<ArgumentOutOfRangeException>(() => TrackingPeak.Fit(Every2Mil, db, 0)).ParamName);
    }

    [Fact]
    public void A_parabola_in_decibels_is_pulled_by_the_longer_side_of_the_sweep_and_the_lines_are_not()
    {
        double[] x = [.. Enumerable.Range(0, 9).Select(i => -2 + (double)i)];
        double[] db = [.. x.Select(at => TrackingTriangle.LevelDb(at + 0.4))];
        double[] parabola = MathNet.Numerics.Fit.Polynomial(x, db, 2);
        double log = -parabola[1] / (2 * parabola[2]);
        Assert.True(log < -0.6, $"the parabola's peak is at {log}");
        Assert.Equal(-0.4, TrackingPeak.Fit(x, db).Value.Position, 1e-4);
    }

    [Fact]
    public void Heads_that_agree_are_averaged_and_heads_that_differ_get_the_setting_of_the_least_worst_loss()
    {
        TrackingSetting together = Sweep([0.5, 0.5, 0.5, 0.5]).Setting.Value;
        Assert.False(together.HeadsDisagree);
        Assert.Equal(0, together.WorstHead);
        Assert.InRange(together.Setting, 0.45, 0.55);

        TrackingSetting apart = Sweep([-1, -0.8, -0.7, 1.5]).Setting.Value;
        Assert.True(apart.HeadsDisagree);
        Assert.InRange(apart.Setting, 0.2, 0.3); // (−1 + 1.5)/2, not the mean of −0.25
        Assert.True(apart.Lower < 0.25 && 0.25 < apart.Upper);
        Assert.Equal(-TrackingTriangle.LevelDb(1.25), apart.LossDb[4]!.Value, 0.1);
        Assert.Equal(-TrackingTriangle.LevelDb(1.05), apart.LossDb[2]!.Value, 0.1);
        Assert.Contains(apart.WorstHead, new[] { 1, 4 });
    }

    [Fact]
    public void A_missing_head_is_left_out_and_said_so()
    {
        TrackingAdvice advice = Sweep([0.5, 0.5, null, 0.5]);
        Assert.Equal(new Shortfall("points of the sweep", 0, 5), advice.Peaks[2].Missing);
        Assert.Equal(3, advice.Setting.Value.Heads);
        Assert.Null(advice.Setting.Value.LossDb[3]);
        Assert.Equal(new Shortfall("heads with a peak", 0, 1), Sweep([null, null, null, null]).Setting.Missing);
        Assert.Equal("levelsDb", Assert.Throws<ArgumentException>(() => TrackingSweep.Read([1, 2], [default])).ParamName);
    }

    [Fact]
    public void The_interval_of_a_peak_holds_it_as_often_as_promised()
    {
        const int Seed = 4711, Rounds = 400;
        var random = new Random(Seed);
        double[] x = [.. Enumerable.Range(0, 11).Select(i => -5 + (double)i)];
        int held = 0;
        for (int round = 0; round < Rounds; round++)
        {
            double peak = (2 * random.NextDouble()) - 1;
            TrackingPeakFit fit = TrackingPeak.Fit(x, [.. x.Select(at => TrackingTriangle.LevelDb(at - peak) + (0.1 * Gauss(random)))]).Value;
            held += fit.Lower <= peak && peak <= fit.Upper ? 1 : 0;
        }

        // 95 % within three standard errors of 400 records.
        Assert.True(held is > 367 and < 394, $"{held} of {Rounds} with seed {Seed}");
    }

    private static TrackingAdvice Sweep(double?[] peaks)
    {
        var random = new Random(20260601);
        double[] x = [.. Enumerable.Range(0, 11).Select(i => -5 + (double)i)];
        FourHeads[] levels = [.. x.Select(at =>
        {
            double?[] db = [.. peaks.Select(p => p is { } peak ? TrackingTriangle.LevelDb(at - peak) + (0.03 * Gauss(random)) : (double?)null)];
            return new FourHeads(db[0], db[1], db[2], db[3]);
        })];
        return TrackingSweep.Read(x, levels);
    }

    internal static double Gauss(Random random) =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
}
