using System.Text.Json;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Trend;

/// <summary>Trends whose numbers are printed in the literature, to the digits printed.</summary>
public class PublishedTrendTests
{
    /// <summary>
    /// Sen, Journal of the American Statistical Association 63, 1968, as the tests of SciPy and of R's deming quote it: median slope 4; at
    /// 93 % the limits are the slopes 26/7 and 35/8 (the paper's own list of slopes has mistakes, which deming's tests tell).
    /// </summary>
    [Fact]
    public void Sens_seven_points_have_slope_4_and_the_limits_quoted()
    {
        TheilSenFit fit = TheilSen.Fit([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93).Value;
        Assert.Equal(4, fit.Slope, 1e-14);
        Assert.Equal(26.0 / 7, fit.Lower, 1e-14);
        Assert.Equal(35.0 / 8, fit.Upper, 1e-14);
    }

    /// <summary>The example with ties on page 109 of EPA QA/G-9S, 'Data Quality Assessment: Statistical Methods for Practitioners' (2006), as a maker of its code quotes it.</summary>
    [Fact]
    public void EPA_QA_G_9S_Mann_Kendall_example_with_ties()
    {
        MannKendallResult test = MannKendall.Test([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]).Value;
        Assert.Equal(22, test.S);
        Assert.Equal(155.33, test.Variance, 0.005);
        Assert.Equal(1.685, test.Z, 0.0005);
    }

    [Fact]
    public void Norris_has_the_certified_digits()
    {
        JsonElement norris = Golden.Json("data/strd").GetProperty("linear").GetProperty("Norris");
        JsonElement certified = norris.GetProperty("certified");
        LineFit fit = LeastSquaresLine.Fit(norris.GetProperty("x").Doubles(), norris.GetProperty("y").Doubles()).Value;
        Assert.Equal(certified.Number("b0"), fit.Intercept, 1e-12);
        Assert.Equal(certified.Number("b1"), fit.Slope, 1e-13);
        Assert.Equal(certified.Number("sd_b0"), fit.InterceptError, 1e-12);
        Assert.Equal(certified.Number("sd_b1"), fit.SlopeError, 1e-15);
        Assert.Equal(certified.Number("s"), fit.ResidualDeviation, 1e-12);
    }

    /// <summary>
    /// Hamed and Rao's test as the tests of the Python package pyMannKendall print it for thirty years of monthly rain at Bogra, 1981 to 2010 (seven
    /// months missing and closed up): all lags, and the first three. The sum of the first is negative.
    /// </summary>
    [Fact]
    public void Rain_at_Bogra_has_the_variances_that_pyMannKendalls_tests_print()
    {
        double[] rain =
        [
            32, 20, 25, 189, 240, 193, 379, 278, 301, 0, 0, 82, 0, 4, 121, 234, 360, 262, 120, 30, 11, 1, 7, 3, 31, 31, 355, 102, 248, 274,
            308, 5, 26, 11, 16, 6, 48, 388, 539, 431, 272, 404, 186, 0, 2, 0, 4, 1, 54, 272, 459, 235, 164, 365, 135, 2, 4, 0, 128, 210,
            163, 446, 225, 462, 467, 19, 13, 0, 3, 17, 132, 178, 338, 525, 623, 145, 31, 19, 3, 0, 29, 25, 87, 259, 756, 486, 180, 292, 43, 92,
            1, 0, 16, 2, 0, 130, 253, 594, 111, 273, 30, 0, 4, 0, 27, 24, 41, 292, 378, 499, 265, 320, 227, 4, 0, 4, 14, 8, 48, 416,
            240, 404, 207, 733, 105, 0, 112, 0, 14, 0, 30, 140, 202, 289, 159, 424, 106, 3, 0, 65, 3, 14, 58, 268, 466, 432, 266, 240, 95, 1,
            0, 10, 26, 4, 114, 94, 289, 173, 208, 263, 156, 5, 0, 16, 16, 14, 0, 111, 475, 534, 432, 471, 117, 70, 1, 3, 28, 7, 401, 184,
            283, 338, 171, 335, 176, 0, 0, 10, 11, 9, 140, 102, 208, 298, 245, 220, 29, 2, 27, 10, 13, 26, 84, 143, 367, 749, 563, 283, 353, 10,
            0, 0, 0, 0, 9, 246, 265, 343, 429, 168, 133, 17, 0, 18, 35, 76, 158, 272, 250, 190, 289, 466, 84, 0, 0, 0, 0, 0, 22, 217,
            299, 185, 115, 344, 203, 8, 0, 5, 284, 123, 254, 476, 496, 326, 27, 20, 0, 4, 53, 72, 113, 214, 364, 219, 220, 156, 264, 0, 13, 0,
            0, 45, 90, 137, 638, 529, 261, 206, 251, 0, 0, 5, 9, 58, 72, 138, 130, 471, 328, 356, 523, 0, 1, 0, 0, 12, 143, 193, 184, 192,
            138, 174, 69, 1, 0, 0, 18, 25, 28, 92, 732, 320, 256, 302, 131, 15, 0, 27, 0, 22, 20, 213, 393, 474, 374, 109, 159, 0, 0, 0,
            3, 3, 49, 205, 128, 194, 570, 169, 89, 0, 0, 0, 0, 0, 26, 185, 286, 92, 225, 244, 190, 3, 20,
        ];
        MannKendallResult plain = MannKendall.Test(rain).Value;
        Assert.Equal(-1959, plain.S);
        Assert.Equal(4889800.333333333, plain.Variance, 1e-6);
        Assert.Equal(-0.8854562842589916, plain.Z, 1e-12);
        Assert.Equal(0.37591058740506833, plain.P, 1e-12);
        MannKendallResult all = HamedRao.Test(rain).Value;
        Assert.Equal(257403.38678462413, all.Variance, 1e-5);
        Assert.Equal(-3.859273515045842, all.Z, 1e-10);
        Assert.Equal(0.00011372459883540742, all.P, 1e-13);
        MannKendallResult three = HamedRao.Test(rain, lags: 3).Value;
        Assert.Equal(14226812.425138814, three.Variance, 1e-5);
        Assert.Equal(-0.5191093899188985, three.Z, 1e-12);
    }

    /// <summary>R's trend prints for the monthly temperatures of Nottingham (its vignette's Hirsch-Slack test): S 224, variance 11364, z 2.0919, p 0.03645. From memory.</summary>
    [Fact]
    public void Nottinghams_temperatures_have_the_seasonal_test_that_the_vignette_of_trend_prints()
    {
        MannKendallResult test = SeasonalMannKendall.Test(Golden.DataSet("nottem"), 12).Value;
        Assert.Equal((224, 11364), (test.S, test.Variance));
        Assert.Equal(2.0919, test.Z, 5e-5);
        Assert.Equal(0.03645, test.P, 5e-6);
    }

    /// <summary>
    /// Mangiafico, 'Summary and Analysis of Extension Program Evaluation in R' (2016), chapter on Kendall-Theil regression: calories on sodium
    /// of 45 pupils by R's mblm, slope 1.8562 and intercept -208.5875 (mblm's intercept is a repeated median of its own and the same here).
    /// Table and output from memory; the digits come out.
    /// </summary>
    [Fact]
    public void Repeated_medians_of_calories_on_sodium_are_those_printed()
    {
        double[] sodium =
        [
            1287, 1164, 1177, 1262, 1271, 1222, 1377, 1288, 1284, 1262, 1281, 1305, 1199, 1368, 1340, 1273, 1277, 1329, 1361, 1268, 1380, 1386, 1408,
            1380, 1378, 1413, 1400, 1412, 1422, 1382, 1410, 1410, 1382, 1422, 1388, 1404, 1420, 1405, 1400, 1420, 1379, 1393, 1417, 1414, 1383,
        ];
        double[] calories =
        [
            2069, 1990, 1975, 2116, 2161, 2091, 2236, 2198, 2190, 2134, 2128, 2190, 2070, 2266, 2216, 2203, 2040, 2248, 2265, 2184, 2441, 2234, 2403,
            2438, 2360, 2344, 2351, 2390, 2470, 2280, 2308, 2505, 2409, 2431, 2523, 2315, 2406, 2699, 2571, 2394, 2518, 2379, 2636, 2465, 2479,
        ];
        RepeatedMediansFit fit = RepeatedMedians.Fit(sodium, calories).Value;
        Assert.Equal(1.8562, fit.Slope, 6e-5);
        Assert.Equal(-208.5875, fit.Intercept, 5e-5);
    }

    /// <summary>
    /// The Blaisdell Company's sales and its industry's, twenty quarters: Kutner, Nachtsheim, Neter and Li, 'Applied Linear Statistical Models'
    /// (2005), chapter 12, from memory. Least squares -1.4548 and 0.17628 (0.21415, 0.00144), Durbin-Watson 0.735; quasi-differences at
    /// r = 0.631164 -0.3941 and 0.17376 (0.1672, 0.0030), back in the old units -1.0685 (0.4534); at 0.96, Hildreth and Lu's best, 0.07117 and 0.16045
    /// (0.05798, 0.006840), sum of squares 0.07167.
    /// </summary>
    [Fact]
    public void The_Blaisdell_Company_has_the_lines_of_the_textbook()
    {
        double[] industry =
        [
            127.3, 130.0, 132.7, 129.4, 135.0, 137.1, 141.2, 142.8, 145.5, 145.3, 148.3, 146.4, 150.2, 153.1, 157.3, 160.7, 164.2, 165.6, 168.7, 171.7,
        ];
        double[] company =
        [
            20.96, 21.40, 21.96, 21.52, 22.39, 22.76, 23.48, 23.66, 24.10, 24.01, 24.54, 24.30, 25.00, 25.64, 26.36, 26.98, 27.52, 27.78, 28.24, 28.78,
        ];
        LineFit plain = LeastSquaresLine.Fit(industry, company).Value;
        Assert.Equal(-1.4548, plain.Intercept, 5e-5);
        Assert.Equal(0.17628, plain.Slope, 5e-6);
        Assert.Equal(0.21415, plain.InterceptError, 5e-6);
        Assert.Equal(0.00144, plain.SlopeError, 5e-6);
        Assert.Equal(0.735, plain.DurbinWatson, 5e-4);

        // The industry's sales don't always rise, as the times of the product do: what is checked is the sums beneath.
        double mean = industry.Average();
        double level = company.Average();
        var differences = new QuasiDifferences([.. industry.Select(x => x - mean)], [.. company.Select(y => y - level)], default);
        QuasiDifferences.Sums first = differences.At(0.631164, first: false);
        double deviation = Math.Sqrt(first.Residual / (first.Rows - 2));
        Assert.Equal(0.17376, first.Slope, 5e-6);
        Assert.Equal(-1.0685, level + first.Level - (first.Slope * mean), 5e-5);
        Assert.Equal(0.0030, deviation * Math.Sqrt(first.S00 / first.Determinant), 5e-5);
        QuasiDifferences.Sums best = differences.At(0.96, first: false);
        deviation = Math.Sqrt(best.Residual / (best.Rows - 2));
        Assert.Equal(0.16045, best.Slope, 5e-6);
        Assert.Equal(0.07117, 0.04 * (level + best.Level - (best.Slope * mean)), 5e-6);
        Assert.Equal(0.006840, deviation * Math.Sqrt(best.S00 / best.Determinant), 5e-7);
        Assert.Equal(0.07167, best.Residual, 5e-6);
    }
}
