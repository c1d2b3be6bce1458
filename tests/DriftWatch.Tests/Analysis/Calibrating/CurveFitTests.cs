using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Calibrating;

public sealed class CurveFitTests
{
    /// <summary>JCGM 100:2008, table H.6: thermometer readings in °C and their observed corrections.</summary>
    private static readonly double[] H3Temperatures = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];

    private static readonly double[] H3Corrections = [-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160];

    private static readonly JsonElement FromR = Golden.Json("calibrating/fits");

    private static CalibrationCurve H3 => CurveFit.LeastSquares(H3Temperatures, H3Corrections).Value;

    [Fact]
    public void JCGM_100_example_H_3_has_its_published_results()
    {
        IReadOnlyList<Uncertain> y = H3.Coefficients(20);
        Assert.Equal("-0.1712", y[0].Value.ToString("0.0000"));
        Assert.Equal("0.0029", y[0].StandardUncertainty.ToString("0.0000"));
        Assert.Equal("0.00218", y[1].Value.ToString("0.00000"));
        Assert.Equal("0.00067", y[1].StandardUncertainty.ToString("0.00000"));
        Assert.Equal("-0.930", H3.Correlation(0, 1, 20).ToString("0.000"));
        Assert.Equal("0.0035", H3.ResidualDeviation.ToString("0.0000"));
        Assert.Equal(9, H3.Freedom);
        Uncertain b30 = H3.At(30);
        Assert.Equal("-0.1494", b30.Value.ToString("0.0000"));
        Assert.Equal("0.0041", b30.StandardUncertainty.ToString("0.0000"));
    }

    /// <summary>
    /// The thermometer of H.3 calibrated twice: what moved is as uncertain as two of the printed predictions together, 0.0041 √2 at 30 °C, and a
    /// hundredth of a degree is within that where two hundredths are not (Student's t of 18 degrees: 2.10).
    /// </summary>
    [Fact]
    public void What_the_thermometer_of_H_3_drifts_is_as_uncertain_as_two_of_its_published_predictions()
    {
        CalibrationCurve later = CurveFit.LeastSquares(H3Temperatures, [.. H3Corrections.Select(b => b + 0.02)]).Value;
        DriftAt drift = CalibrationDrift.Between(H3, later, 1, 30);
        Assert.Equal(0.02, drift.Difference.Value, 1e-12);
        Assert.Equal(0.0041 * Math.Sqrt(2), drift.Difference.StandardUncertainty, 0.00005 * Math.Sqrt(2));
        Assert.Equal(18, drift.Difference.Freedom, 1e-9);
        Assert.True(drift.IsSignificant);
        CalibrationCurve nearer = CurveFit.LeastSquares(H3Temperatures, [.. H3Corrections.Select(b => b + 0.01)]).Value;
        Assert.False(CalibrationDrift.Between(H3, nearer, 1, 30).IsSignificant);
    }

    [Fact]
    public void Leaving_the_covariance_of_H_3_out_would_give_another_uncertainty_than_the_published_one()
    {
        IReadOnlyList<Uncertain> y = H3.Coefficients(20);
        double ignoring = Math.Sqrt(Math.Pow(y[0].StandardUncertainty, 2) + Math.Pow(10 * y[1].StandardUncertainty, 2));
        Assert.Equal(0.0072728804, ignoring, 1e-9);
        Assert.Equal(0.00413859575285, H3.At(30).StandardUncertainty, 1e-13);
        Assert.Equal(
            0.00413859575285,
            Math.Sqrt((ignoring * ignoring) + (20 * H3.Covariance(0, 1, 20))), 1e-13);
    }

    [Fact]
    public void A_common_uncertainty_goes_into_the_offset_of_H_3_and_not_into_its_slope()
    {
        // u(common) = 0.005 °C, known: as the documentation of GTC prints it for this example.
        IReadOnlyList<Uncertain> y = H3.WithCommonUncertainty(0.005).Coefficients(20);
        Assert.Equal(0.00576893138292676, y[0].StandardUncertainty, 1e-14);
        Assert.Equal(145.37964721007157, y[0].Freedom, 1e-8);
        Assert.Equal(0.0006679387732278323, y[1].StandardUncertainty, 1e-15);
        Assert.Equal(9, y[1].Freedom, 1e-9);
    }

    [Theory]
    [InlineData("h3", 1, 20)]
    [InlineData("norris", 1, 0)]
    [InlineData("cubic", 3, 0)]
    public void Coefficients_curves_and_intervals_agree_with_lm_and_predict_of_r(string name, int degree, double origin)
    {
        JsonElement expected = FromR.GetProperty(name);
        (double[] x, double[] y) = name switch
        {
            "h3" => (H3Temperatures, H3Corrections),
            "norris" => NorrisPoints,
            _ => (FromR.GetProperty("cubic_x").Doubles(), FromR.GetProperty("cubic_y").Doubles()),
        };
        CalibrationCurve curve = CurveFit.LeastSquares(x, y, degree).Value;
        Agrees(expected, curve, origin);
        Assert.Equal(expected.Number("sigma"), curve.ResidualDeviation, 1e-10 * expected.Number("sigma"));
        double[] at = expected.GetProperty("at").Doubles();
        for (int i = 0; i < at.Length; i++)
        {
            double se = expected.GetProperty("se_fit").Doubles()[i];
            Uncertain observation = curve.Observation(at[i]);
            Assert.Equal(expected.Number("t975") * Math.Sqrt((se * se) + Math.Pow(expected.Number("sigma"), 2)), observation.Expanded(), 1e-9);
        }
    }

    [Fact]
    public void A_weighted_line_agrees_with_lm_of_r_with_the_weights_believed()
    {
        double[] u = FromR.GetProperty("u").Doubles();
        CalibrationCurve curve = CurveFit.Weighted(H3Temperatures, H3Corrections, u).Value;
        Agrees(FromR.GetProperty("weighted"), curve, 20);
        Assert.Equal(FromR.GetProperty("weighted").Number("sigma"), curve.Misfit!.Value, 1e-12);
        Assert.True(double.IsInfinity(curve.Freedom));
        Uncertain scaled = curve.ScaledToScatter().At(25);
        Assert.Equal(curve.At(25).StandardUncertainty * curve.Misfit.Value, scaled.StandardUncertainty, 1e-15);
        Assert.Equal(9, scaled.Freedom, 1e-9);
    }

    [Fact]
    public void Norris_has_the_certified_digits()
    {
        JsonElement certified = Golden.Json("data/strd").GetProperty("linear").GetProperty("Norris").GetProperty("certified");
        (double[] x, double[] y) = NorrisPoints;
        CalibrationCurve curve = CurveFit.LeastSquares(x, y).Value;
        IReadOnlyList<Uncertain> b = curve.Coefficients();
        Digits(12, certified.Number("b0"), b[0].Value);
        Digits(13, certified.Number("b1"), b[1].Value);
        Digits(13, certified.Number("sd_b0"), b[0].StandardUncertainty);
        Digits(13, certified.Number("sd_b1"), b[1].StandardUncertainty);
        Digits(13, certified.Number("s"), curve.ResidualDeviation);
    }

    [Fact]
    public void Pontius_a_quadratic_calibration_of_a_load_cell_has_the_certified_digits()
    {
        // NIST StRD, linear regression, Pontius: data and certified values from memory; that the digits agree confirms both.
        double[] y =
        [
            .11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599, 1.52399,
            1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, .11052, .22018, .32939, .43886, .54798, .65739, .76596, .87474,
            .98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829,
        ];
        double[] x = [.. Enumerable.Range(0, 40).Select(i => 150_000.0 * ((i % 20) + 1))];
        CalibrationCurve curve = CurveFit.LeastSquares(x, y, 2).Value;
        IReadOnlyList<Uncertain> b = curve.Coefficients();
        Digits(10, 0.673565789473684E-03, b[0].Value);
        Digits(12, 0.732059160401003E-06, b[1].Value);
        Digits(11, -0.316081871345029E-14, b[2].Value);
        Digits(11, 0.107938612033077E-03, b[0].StandardUncertainty);
        Digits(11, 0.157817399981659E-09, b[1].StandardUncertainty);
        Digits(11, 0.486652849992036E-16, b[2].StandardUncertainty);
        Digits(11, 0.205177424076185E-03, curve.ResidualDeviation);
    }

    [Theory]
    [InlineData(1, 9)]
    [InlineData(0.1, 11)]
    public void Wampler1_and_Wampler2_of_degree_five_have_their_coefficients_back(double ratio, int digits)
    {
        // NIST StRD: y = Σ rᵏxᵏ for x = 0 … 20, r = 1 and 0.1; the coefficients are exact.
        double[] x = [.. Enumerable.Range(0, 21).Select(i => (double)i)];
        double[] y = [.. x.Select(v => Enumerable.Range(0, 6).Sum(k => Math.Pow(ratio * v, k)))];
        IReadOnlyList<Uncertain> b = CurveFit.LeastSquares(x, y, 5).Value.Coefficients();
        for (int k = 0; k <= 5; k++)
        {
            Digits(digits, Math.Pow(ratio, k), b[k].Value);
        }
    }

    [Fact]
    public void A_line_through_points_uncertain_both_ways_has_the_result_of_York_for_the_data_of_Pearson()
    {
        // Pearson's data with York's weights; the solution as York et al. (2004) and Neri et al. (1989) have it, digits as
        // quoted in the tests of several packages.
        CalibrationCurve line = BothUncertain("pearson_york");
        IReadOnlyList<Uncertain> b = line.Coefficients();
        Assert.Equal(5.47991022403286, b[0].Value, 1e-12);
        Assert.Equal(-0.48053340744620, b[1].Value, 1e-13);
        Assert.Equal(0.29497073549, b[0].StandardUncertainty, 1e-10);
        Assert.Equal(0.05798500900, b[1].StandardUncertainty, 1e-10);
        Assert.Equal(1.483294149, line.Misfit!.Value * line.Misfit.Value, 1e-9);
    }

    [Theory]
    [InlineData("pearson_york")]
    [InlineData("made")]
    public void A_line_through_points_uncertain_both_ways_agrees_with_odr_of_scipy(string name)
    {
        JsonElement expected = Golden.Json("calibrating/both").GetProperty(name);
        CalibrationCurve line = BothUncertain(name);
        Assert.Equal(expected.GetProperty("beta").Doubles()[0], line.Coefficients()[0].Value, 1e-6);
        Assert.Equal(expected.GetProperty("beta").Doubles()[1], line.Coefficients()[1].Value, 1e-6);
        Assert.Equal(expected.Number("misfit2"), Math.Pow(line.Misfit!.Value, 2), 1e-7);
    }

    [Fact]
    public void With_exact_points_York_is_the_weighted_line()
    {
        double[] u = FromR.GetProperty("u").Doubles();
        double[] tiny = [.. Enumerable.Repeat(1e-9, 11)];
        CalibrationCurve york = CurveFit.BothUncertain(H3Temperatures, tiny, H3Corrections, u).Value;
        CalibrationCurve weighted = CurveFit.Weighted(H3Temperatures, H3Corrections, u).Value;
        Assert.Equal(weighted.At(30).Value, york.At(30).Value, 1e-12);
        Assert.Equal(weighted.At(30).StandardUncertainty, york.At(30).StandardUncertainty, 1e-12);
    }

    [Fact]
    public void Uncertainties_twice_too_small_show_in_the_misfit()
    {
        var random = new Random(20260108);
        double[] x = [.. Enumerable.Range(0, 400).Select(i => i / 40.0)];
        double[] y = [.. x.Select(v => 3 + (2 * v) + (0.2 * Statistics.Series.Normal(random)))];
        Assert.InRange(CurveFit.Weighted(x, y, [.. x.Select(_ => 0.2)]).Value.Misfit!.Value, 0.9, 1.1);
        Assert.InRange(CurveFit.Weighted(x, y, [.. x.Select(_ => 0.1)]).Value.Misfit!.Value, 1.8, 2.2);
    }

    [Fact]
    public void Inverse_use_finds_the_point_again_and_corrects_what_is_read() =>
        Gen.Select(Gen.Double[0.2, 3], Gen.Double[-5, 5], Gen.Double[0, 10], Gen.Bool).Sample((slope, offset, at, falls) =>
        {
            double gain = falls ? -slope : slope;
            double[] x = [0, 2, 4, 6, 8, 10];
            double[] y = [.. x.Select(v => offset + (gain * v) + (0.001 * gain * v * v))];
            CalibrationCurve curve = CurveFit.LeastSquares(x, y, 2).Value;
            Uncertain back = curve.Inverse(new Uncertain(curve.At(at).Value, 0.01)).Value;
            Assert.Equal(at, back.Value, 1e-9);
            Assert.Equal(0.01 / Math.Abs(gain + (0.002 * gain * at)), back.StandardUncertainty, 1e-6);
        });

    [Fact]
    public void Inverse_use_of_a_curve_that_turns_or_of_a_reading_outside_is_not_answered()
    {
        double[] x = [0, 1, 2, 3, 4, 5, 6];
        CalibrationCurve turning = CurveFit.LeastSquares(x, [.. x.Select(v => (v - 3) * (v - 3))], 2).Value;
        Assert.False(turning.Inverse(new Uncertain(4, 0.1)).IsKnown);
        CalibrationCurve line = CurveFit.LeastSquares(x, [.. x.Select(v => 2 * v)]).Value;
        Assert.True(line.Inverse(new Uncertain(12.5, 0.1)).IsKnown);
        Assert.False(line.Inverse(new Uncertain(20, 0.1)).IsKnown);
    }

    [Fact]
    public void A_reading_used_directly_carries_its_own_uncertainty_through_the_slope()
    {
        double[] x = [0, 1, 2, 3];
        CalibrationCurve curve = CurveFit.Weighted(x, [1, 3, 5, 7], [0.1, 0.1, 0.1, 0.1]).Value;
        Uncertain corrected = curve.Corrected(new Uncertain(1.5, 0.3, 5));
        Assert.Equal(4, corrected.Value, 1e-12);
        Assert.Equal(Math.Sqrt((0.1 * 0.1 / 4) + (4 * 0.3 * 0.3)), corrected.StandardUncertainty, 1e-12);
        Assert.InRange(corrected.Freedom, 5, 5.1);
        Assert.Throws<InvalidOperationException>(() => curve.Observation(1));
    }

    [Fact]
    public void One_point_few_points_and_the_same_point_again_are_not_enough()
    {
        Assert.Equal(new Shortfall("points", 1, 3), CurveFit.LeastSquares([1], [1]).Missing);
        Assert.Equal(new Shortfall("points", 0, 3), CurveFit.LeastSquares([], []).Missing);
        Assert.Equal(new Shortfall("points", 4, 5), CurveFit.LeastSquares([1, 2, 3, 4], [1, 2, 3, 4], 3).Missing);
        Assert.Equal(new Shortfall("different points", 1, 2), CurveFit.LeastSquares([2, 2, 2], [1, 2, 3]).Missing);
        Assert.False(CurveFit.Weighted([2, 2, 2], [1, 2, 3], [1, 1, 1]).IsKnown);
        Assert.False(CurveFit.BothUncertain([2, 2, 2], [1, 1, 1], [1, 2, 3], [1, 1, 1]).IsKnown);
    }

    [Fact]
    public void A_constant_series_gives_a_level_line_that_is_not_inverted()
    {
        CalibrationCurve curve = CurveFit.LeastSquares([0, 1, 2, 3], [1e9 + 0.1, 1e9 + 0.1, 1e9 + 0.1, 1e9 + 0.1]).Value;
        Assert.Equal(0, curve.Coefficients()[1].Value);
        Assert.Equal(0, curve.At(2).StandardUncertainty);
        Assert.False(curve.Inverse(new Uncertain(1e9, 1)).IsKnown);
    }

    [Fact]
    public void A_huge_offset_in_either_coordinate_costs_only_the_digits_that_the_values_lost()
    {
        double[] y = [.. H3Corrections.Select(v => 1e9 + v)];
        double[] exact = [.. y.Select(v => v - 1e9)];
        Uncertain shifted = CurveFit.LeastSquares(H3Temperatures, y).Value.Coefficients(20)[1];
        Uncertain plain = CurveFit.LeastSquares(H3Temperatures, exact).Value.Coefficients(20)[1];
        Assert.Equal(plain.Value, shifted.Value, 1e-12);
        Assert.Equal(plain.StandardUncertainty, shifted.StandardUncertainty, 1e-12);
        double[] x = [.. H3Temperatures.Select(v => 1e6 + v)];
        Assert.Equal(H3.At(30).StandardUncertainty, CurveFit.LeastSquares(x, H3Corrections).Value.At(1e6 + 30).StandardUncertainty, 1e-10);
    }

    [Fact]
    public void The_order_of_points_is_of_no_account()
    {
        double[] x = [.. H3Temperatures.Reverse()];
        double[] y = [.. H3Corrections.Reverse()];
        Assert.Equal(H3.At(30).Value, CurveFit.LeastSquares(x, y).Value.At(30).Value, 1e-14);
        Assert.Equal(H3.At(30).StandardUncertainty, CurveFit.LeastSquares(x, y).Value.At(30).StandardUncertainty, 1e-14);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        double[] bad = [1, double.NaN, 3];
        double[] good = [1, 2, 3];
        Assert.Equal("x", Assert.Throws<ArgumentException>(() => CurveFit.LeastSquares(bad, good)).ParamName);
        Assert.Equal("y", Assert.Throws<ArgumentException>(() => CurveFit.LeastSquares(good, bad)).ParamName);
        Assert.Equal("y", Assert.Throws<ArgumentException>(() => CurveFit.LeastSquares(good, [1, 2])).ParamName);
        Assert.Equal("degree", Assert.Throws<ArgumentOutOfRangeException>(() => CurveFit.LeastSquares(good, good, 0)).ParamName);
        Assert.Equal("uncertainties", Assert.Throws<ArgumentException>(() => CurveFit.Weighted(good, good, [1, 0, 1])).ParamName);
        Assert.Equal("uncertainties", Assert.Throws<ArgumentException>(() => CurveFit.Weighted(good, good, [1, 1])).ParamName);
        Assert.Equal("xUncertainties", Assert.Throws<ArgumentException>(() => CurveFit.BothUncertain(good, bad, good, good)).ParamName);
        Assert.Equal("x", Assert.Throws<ArgumentException>(() => H3.At(double.NaN)).ParamName);
        Assert.Equal("standardUncertainty", Assert.Throws<ArgumentOutOfRangeException>(() => H3.WithCommonUncertainty(-1)).ParamName);
    }

    private static (double[] X, double[] Y) NorrisPoints
    {
        get
        {
            JsonElement norris = Golden.Json("data/strd").GetProperty("linear").GetProperty("Norris");
            return (norris.GetProperty("x").Doubles(), norris.GetProperty("y").Doubles());
        }
    }

    private static CalibrationCurve BothUncertain(string name)
    {
        JsonElement set = Golden.Json("calibrating/both").GetProperty(name);
        return CurveFit.BothUncertain(
            set.GetProperty("x").Doubles(), set.GetProperty("ux").Doubles(), set.GetProperty("y").Doubles(), set.GetProperty("uy").Doubles()).Value;
    }

    private static void Agrees(JsonElement expected, CalibrationCurve curve, double origin)
    {
        IReadOnlyList<Uncertain> b = curve.Coefficients(origin);
        for (int i = 0; i < b.Count; i++)
        {
            Digits(9, expected.GetProperty("coefficients").Doubles()[i], b[i].Value);
            Digits(9, expected.GetProperty("standard_errors").Doubles()[i], b[i].StandardUncertainty);
        }

        Digits(9, expected.Number("covariance01"), curve.Covariance(0, 1, origin));
        double[] at = expected.GetProperty("at").Doubles();
        for (int i = 0; i < at.Length; i++)
        {
            Uncertain here = curve.At(at[i]);
            Digits(9, expected.GetProperty("fit").Doubles()[i], here.Value);
            Digits(9, expected.GetProperty("se_fit").Doubles()[i], here.StandardUncertainty);
        }
    }

    private static void Digits(int digits, double expected, double actual) =>
        Assert.Equal(expected, actual, Math.Abs(expected) * Math.Pow(10, -digits));
}
