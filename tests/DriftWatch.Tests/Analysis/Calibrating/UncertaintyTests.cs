using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Calibrating;

public sealed class UncertaintyTests
{
    private static readonly JsonElement Pairs = Golden.Json("calibrating/pairs");

    [Fact]
    public void JCGM_100_example_H_1_combines_to_its_published_uncertainty_and_degrees_of_freedom()
    {
        // Components in nm and degrees of freedom as H.1 tabulates them; ν = 16, k = 2.92 and U₉₉ = 93 nm from memory of H.1.6.
        Uncertain length = Coverage.Combine(50_000_838, (25, 18), (9.7, 25.6), (2.9, 50), (16.6, 2));
        Assert.Equal("32", length.StandardUncertainty.ToString("0"));
        Assert.Equal(31.671, length.StandardUncertainty, 1e-3);
        Assert.Equal(16, Math.Floor(length.Freedom));
        Assert.Equal("2.92", Coverage.Factor(length.Freedom, 0.99).ToString("0.00"));
        Assert.InRange(length.Expanded(0.99), 92, 93.5);
    }

    [Theory]
    [InlineData(1, 0.95, 12.71)]
    [InlineData(9, 0.95, 2.26)]
    [InlineData(16, 0.99, 2.92)]
    [InlineData(50, 0.9545, 2.05)]
    [InlineData(double.PositiveInfinity, 0.95, 1.960)]
    [InlineData(double.PositiveInfinity, 0.9973, 3.000)]
    public void Coverage_factors_are_those_of_JCGM_100_table_G_2(double freedom, double confidence, double k) =>
        Assert.Equal(k, Coverage.Factor(freedom, confidence), 0.0051);

    [Fact]
    public void Degrees_of_freedom_are_cut_down_to_whole_ones_but_not_for_a_rounding_error()
    {
        Assert.Equal(Coverage.Factor(16), Coverage.Factor(16.99));
        Assert.Equal(Coverage.Factor(9), Coverage.Factor(8.9999999999));
        Assert.Equal(Coverage.Factor(1), Coverage.Factor(0.3));
    }

    [Fact]
    public void A_prediction_covers_a_further_observation_as_often_as_it_says()
    {
        // 11 points, 20 000 calibrations: the share is known to 0.15 %.
        (double direct, double inverse, double ignoring) = Cover(20_000, 11);
        Assert.InRange(direct, 0.945, 0.955);
        Assert.InRange(inverse, 0.94, 0.96);
        Assert.True(ignoring > 0.97, $"{ignoring}: without the covariance of offset and slope the interval is far too wide");
    }

    [Fact]
    public void Hysteresis_of_a_known_loop_is_found_and_of_noise_alone_it_is_rarely_claimed()
    {
        double[] up = [0, 2, 4, 6, 8, 10];
        double[] down = [10, 8, 6, 4, 2, 0];
        double[] upValues = [0, 4, 8, 12, 16, 20];
        double[] downValues = [20, 16.1, 12.3, 8.4, 4.2, 0.1];
        HysteresisLoop loop = Hysteresis.Of(up, upValues, down, downValues).Value;
        Assert.Equal(0.4, loop.Largest, 1e-12);
        Assert.Equal(4, loop.AtPoint);
        Assert.Equal(0.02, loop.ShareOfSpan, 1e-12);
        Assert.Equal(0.4 / Math.Sqrt(12), loop.StandardUncertainty, 1e-12);
        Assert.Equal(1.1 / 6, loop.Mean.Value, 1e-12);
        Assert.True(loop.IsSignificant);

        var random = new Random(20260106);
        int claimed = 0;
        for (int round = 0; round < 4000; round++)
        {
            double[] a = [.. up.Select(v => (2 * v) + Series.Normal(random))];
            double[] b = [.. down.Select(v => (2 * v) + Series.Normal(random))];
            claimed += Hysteresis.Of(up, a, down, b).Value.IsSignificant ? 1 : 0;
        }

        Assert.InRange(claimed / 4000.0, 0.03, 0.07);
    }

    [Fact]
    public void Hysteresis_reads_the_downward_run_between_its_points_and_only_where_it_reaches()
    {
        HysteresisLoop loop = Hysteresis.Of([0, 1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5], [4.5, 2.5, 0.5], [4.6, 2.6, 0.6]).Value;
        Assert.Equal(4, loop.Points);
        Assert.Equal(0.1, loop.Mean.Value, 1e-12);
        Assert.Equal(0, loop.Mean.StandardUncertainty, 1e-12);
    }

    [Fact]
    public void Runs_that_are_short_constant_or_astray_give_no_loop()
    {
        Assert.Equal(new Shortfall("points common to both runs", 2, 3), Hysteresis.Of([0, 1, 2], [0, 1, 2], [1, 0], [1, 0]).Missing);
        Assert.Equal(new Shortfall("points common to both runs", 0, 3), Hysteresis.Of([0, 1, 2], [0, 1, 2], [], []).Missing);
        Assert.False(Hysteresis.Of([], [], [], []).IsKnown);
        Assert.False(Hysteresis.Of([0, 1, 2], [5, 5, 5], [2, 1, 0], [5, 5, 5]).IsKnown);
        Assert.Equal("rising", Assert.Throws<ArgumentException>(() => Hysteresis.Of([0, 0, 1], [0, 1, 2], [2, 1, 0], [2, 1, 0])).ParamName);
        Assert.Equal("falling", Assert.Throws<ArgumentException>(() => Hysteresis.Of([0, 1, 2], [0, 1, 2], [0, 1, 2], [2, 1, 0])).ParamName);
        Assert.Equal("fallingValues", Assert.Throws<ArgumentException>(() => Hysteresis.Of([0, 1, 2], [0, 1, 2], [2, 1, 0], [2, 1])).ParamName);
    }

    [Fact]
    public void Drift_between_two_calibrations_is_claimed_when_there_and_rarely_when_not()
    {
        double[] x = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
        var random = new Random(20260107);
        int claimed = 0;
        int seen = 0;
        const int Rounds = 4000;
        for (int round = 0; round < Rounds; round++)
        {
            CalibrationCurve older = Made(0);
            claimed += CalibrationDrift.Between(older, Made(0), 1, 5).IsSignificant ? 1 : 0;
            DriftAt drift = CalibrationDrift.Between(older, Made(0.3), 2, 5);
            seen += drift.IsSignificant ? 1 : 0;
            Assert.Equal(drift.Difference.Value / 2, drift.PerYear.Value, 1e-12);
        }

        Assert.InRange(claimed / (double)Rounds, 0.03, 0.07);
        Assert.True(seen > 0.9 * Rounds, $"{seen}");

        CalibrationCurve Made(double moved) =>
            CurveFit.LeastSquares(x, [.. x.Select(v => moved + (2 * v) + (0.2 * Series.Normal(random)))]).Value;
    }

    /// <summary>
    /// The mean of a loop is that of pairs. Student, 'The probable error of a mean', Biometrika 6 (1908): ten patients slept 1.58 h longer by the
    /// second drug than by the first (R's data set sleep, of which R's own help prints t = 4.0621, p = 0.002833).
    /// </summary>
    [Fact]
    public void The_mean_of_a_loop_is_that_of_Students_pairs_and_of_t_test_in_r()
    {
        JsonElement student = Pairs.GetProperty("student");
        double[] x = [.. Enumerable.Range(0, 10).Select(i => (double)i)];
        HysteresisLoop sleep = Hysteresis.Of(x, student.GetProperty("first").Doubles(), [.. x.Reverse()], [.. student.GetProperty("second").Doubles().Reverse()]).Value;
        Assert.Equal(1.58, sleep.Mean.Value, 1e-12);
        Assert.Equal(4.0621, sleep.Mean.Value / sleep.Mean.StandardUncertainty, 5e-5);
        Assert.Equal(9, sleep.Mean.Freedom);
        Assert.False(sleep.Mean.IsSignificant(1 - 0.0028));
        Assert.True(sleep.Mean.IsSignificant(1 - 0.0029));

        JsonElement loop = Pairs.GetProperty("loop");
        HysteresisLoop made = Hysteresis.Of(
            Pairs.GetProperty("up").Doubles(), Pairs.GetProperty("upY").Doubles(), Pairs.GetProperty("down").Doubles(), Pairs.GetProperty("downY").Doubles()).Value;
        Assert.Equal(loop.Number("mean"), made.Mean.Value, 1e-12);
        Assert.Equal(loop.Number("error"), made.Mean.StandardUncertainty, 1e-12);
        Assert.Equal(loop.Number("df"), made.Mean.Freedom);
    }

    [Fact]
    public void Drift_between_two_calibrations_is_the_difference_of_two_predictions_of_r()
    {
        double[] x = Pairs.GetProperty("x").Doubles();
        CalibrationCurve older = CurveFit.LeastSquares(x, Pairs.GetProperty("older").Doubles()).Value;
        CalibrationCurve newer = CurveFit.LeastSquares(x, Pairs.GetProperty("newer").Doubles()).Value;
        double[] at = Pairs.GetProperty("at").Doubles();
        for (int i = 0; i < at.Length; i++)
        {
            DriftAt drift = CalibrationDrift.Between(older, newer, 2, at[i]);
            Assert.Equal(Pairs.GetProperty("drift").Doubles()[i], drift.Difference.Value, 1e-12);
            Assert.Equal(Pairs.GetProperty("error").Doubles()[i], drift.Difference.StandardUncertainty, 1e-12);
            Assert.Equal(Pairs.GetProperty("df").Doubles()[i], drift.Difference.Freedom, 1e-8);
            Assert.Equal(Pairs.GetProperty("drift").Doubles()[i] / 2, drift.PerYear.Value, 1e-12);
        }
    }

    /// <summary>A detector's line is a line: Norris certified by NIST, and where it meets nothing by R.</summary>
    [Fact]
    public void A_detector_with_the_numbers_of_Norris_has_the_certified_slope_and_the_intercept_of_r()
    {
        JsonElement norris = Golden.Json("data/strd").GetProperty("linear").GetProperty("Norris");
        LogDetector detector = LogDetector.Fit(norris.GetProperty("x").Doubles(), norris.GetProperty("y").Doubles()).Value;
        Assert.Equal(norris.GetProperty("certified").Number("b1"), detector.SlopeVoltsPerDb.Value, 1e-13);
        Assert.Equal(norris.GetProperty("certified").Number("sd_b1"), detector.SlopeVoltsPerDb.StandardUncertainty, 1e-15);
        Assert.Equal(Pairs.Number("nothing"), detector.InterceptDbm.Value, 1e-10);
        Assert.Equal(Pairs.Number("nothingError"), detector.InterceptDbm.StandardUncertainty, 1e-10);
    }

    [Fact]
    public void What_both_calibrations_share_cancels_in_their_drift()
    {
        double[] x = [0, 1, 2, 3];
        double[] u = [0.1, 0.1, 0.1, 0.1];
        CalibrationCurve older = CurveFit.Weighted(x, [0, 1, 2, 3], u).Value.WithCommonUncertainty(1);
        CalibrationCurve newer = CurveFit.Weighted(x, [0.5, 1.5, 2.5, 3.5], u).Value.WithCommonUncertainty(1);
        Assert.False(CalibrationDrift.Between(older, newer, 1, 1.5).IsSignificant);
        DriftAt drift = CalibrationDrift.Between(older, newer, 0.5, 1.5, shared: 1);
        Assert.True(drift.IsSignificant);
        Assert.Equal(0.05 * Math.Sqrt(2), drift.Difference.StandardUncertainty, 1e-12);
        Assert.Equal(1, drift.PerYear.Value, 1e-12);
        Assert.Equal(0.5, CalibrationDrift.Worst(older, newer, 1, shared: 1).Value.Difference.Value, 1e-12);
        Assert.Equal("years", Assert.Throws<ArgumentOutOfRangeException>(() => CalibrationDrift.Between(older, newer, 0, 1)).ParamName);
        Assert.Equal("shared", Assert.Throws<ArgumentOutOfRangeException>(() => CalibrationDrift.Between(older, newer, 1, 1, shared: 2)).ParamName);
    }

    [Fact]
    public void Ranges_that_do_not_meet_have_no_worst_drift()
    {
        CalibrationCurve low = CurveFit.LeastSquares([0, 1, 2], [0, 1, 2.1]).Value;
        CalibrationCurve high = CurveFit.LeastSquares([5, 6, 7], [0, 1, 2.1]).Value;
        Assert.False(CalibrationDrift.Worst(low, high, 1).IsKnown);
    }

    [Fact]
    public void A_log_detector_gives_slope_intercept_and_level_with_their_uncertainty()
    {
        // 25 mV/dB meeting zero at −60 dBm, with 1 mV of made scatter.
        double[] dbm = [-50, -45, -40, -35, -30, -25, -20, -15, -10];
        double[] scatter = [1, -1, 0.5, -0.5, 0, 0.5, -0.5, 1, -1];
        double[] volts = [.. dbm.Select((p, i) => (0.025 * (p + 60)) + (1e-3 * scatter[i]))];
        LogDetector detector = LogDetector.Fit(dbm, volts, standardDb: 0.2).Value;
        Assert.Equal(0.025, detector.SlopeVoltsPerDb.Value, 5e-5);
        Assert.Equal(-60, detector.InterceptDbm.Value, 0.1);
        Assert.InRange(detector.ConformanceDb, 0.03, 0.05);
        Uncertain level = detector.LevelDbm(new Uncertain(0.75, 0.001)).Value;
        Assert.Equal(-30, level.Value, 0.03);
        Assert.Equal(Math.Sqrt(0.04 + 0.0016 + Math.Pow(detector.Line.ResidualDeviation / 0.025 / 3, 2)), level.StandardUncertainty, 2e-3);

        Assert.Equal(-30, detector.LevelDbm(0.75).Value.Value, 0.03);

        // Far from the points the slope's uncertainty tells: the intercept is known less well than a level in their middle.
        Assert.True(detector.InterceptDbm.StandardUncertainty > level.StandardUncertainty - 0.01);
    }

    [Fact]
    public void A_detector_that_does_not_answer_to_level_is_not_fitted()
    {
        Assert.False(LogDetector.Fit([-40, -30, -20, -10], [0.5, 0.6, 0.5, 0.6]).IsKnown);
        Assert.False(LogDetector.Fit([-40, -30, -20, -10], [0.5, 0.5, 0.5, 0.5]).IsKnown);
        Assert.False(LogDetector.Fit([], []).IsKnown);
        Assert.Equal("standardDb", Assert.Throws<ArgumentOutOfRangeException>(() => LogDetector.Fit([1, 2, 3], [1, 2, 3], -1)).ParamName);
    }

    [Theory]
    [InlineData(50, 106.9897000434)]
    [InlineData(75, 108.7506126339)]
    public void Zero_dbm_across_a_load_is_in_dbuv(double ohms, double dbuv)
    {
        Assert.Equal(dbuv, Levels.DbmToDbuv(0, ohms), 1e-10);
        Assert.Equal(-33, Levels.DbuvToDbm(Levels.DbmToDbuv(-33, ohms), ohms), 1e-12);
        Assert.Equal("ohms", Assert.Throws<ArgumentOutOfRangeException>(() => Levels.DbmToDbuv(0, 0)).ParamName);
    }

    [Fact]
    public void Components_that_are_no_uncertainties_are_mistakes_of_the_programmer()
    {
        Assert.Equal("components", Assert.Throws<ArgumentException>(() => Coverage.Combine(1, (-1, 5))).ParamName);
        Assert.Equal("components", Assert.Throws<ArgumentException>(() => Coverage.Combine(1, (1, 0))).ParamName);
        Assert.Equal("freedom", Assert.Throws<ArgumentOutOfRangeException>(() => Coverage.Factor(0)).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentOutOfRangeException>(() => Coverage.Factor(5, 1)).ParamName);
    }

    private static (double Direct, double Inverse, double Ignoring) Cover(int rounds, int points)
    {
        var random = new Random(20260109);
        double[] x = [.. Enumerable.Range(0, points).Select(i => 20 + (10.0 * i / (points - 1)))];
        int direct = 0, inverse = 0, ignoring = 0;
        for (int round = 0; round < rounds; round++)
        {
            double[] y = [.. x.Select(v => 1 + (0.5 * v) + (0.05 * Series.Normal(random)))];
            CalibrationCurve curve = CurveFit.LeastSquares(x, y).Value;
            double at = 20 + (10 * random.NextDouble());
            double observed = 1 + (0.5 * at) + (0.05 * Series.Normal(random));
            Uncertain predicted = curve.Observation(at);
            direct += Math.Abs(observed - predicted.Value) <= predicted.Expanded() ? 1 : 0;

            Answer<Uncertain> back = curve.InverseObservation(observed);
            inverse += back.IsKnown && Math.Abs(at - back.Value.Value) <= back.Value.Expanded() ? 1 : 0;
            IReadOnlyList<Uncertain> b = curve.Coefficients();
            double wide = Math.Sqrt(Math.Pow(b[0].StandardUncertainty, 2) + Math.Pow(at * b[1].StandardUncertainty, 2)
                + Math.Pow(curve.ResidualDeviation, 2));
            ignoring += Math.Abs(observed - predicted.Value) <= Coverage.Factor(curve.Freedom) * wide ? 1 : 0;
        }

        return (direct / (double)rounds, inverse / (double)rounds, ignoring / (double)rounds);
    }
}
