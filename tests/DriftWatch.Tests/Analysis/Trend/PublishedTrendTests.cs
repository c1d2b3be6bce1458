using System.Text.Json;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Trend;

/// <summary>Trends whose numbers are printed in the literature, to the digits printed.</summary>
public class PublishedTrendTests
{
    private static readonly double[] Industry =
    [
        127.3, 130.0, 132.7, 129.4, 135.0, 137.1, 141.2, 142.8, 145.5, 145.3, 148.3, 146.4, 150.2, 153.1, 157.3, 160.7, 164.2, 165.6, 168.7, 171.7,
    ];

    private static readonly double[] Company =
    [
        20.96, 21.40, 21.96, 21.52, 22.39, 22.76, 23.48, 23.66, 24.10, 24.01, 24.54, 24.30, 25.00, 25.64, 26.36, 26.98, 27.52, 27.78, 28.24, 28.78,
    ];

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
        LineFit plain = LeastSquaresLine.Fit(Industry, Company).Value;
        Assert.Equal(-1.4548, plain.Intercept, 5e-5);
        Assert.Equal(0.17628, plain.Slope, 5e-6);
        Assert.Equal(0.21415, plain.InterceptError, 5e-6);
        Assert.Equal(0.00144, plain.SlopeError, 5e-6);
        Assert.Equal(0.735, plain.DurbinWatson, 5e-4);

        // The industry's sales don't always rise, as the times of the product do: what is checked is the sums beneath.
        double mean = Industry.Average();
        double level = Company.Average();
        var differences = new QuasiDifferences([.. Industry.Select(x => x - mean)], [.. Company.Select(y => y - level)], default);
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

    /// <summary>
    /// The same company and industry as example 2 of Stata's manual for prais has them: Cochrane and Orcutt's rounds, which take some four
    /// hundred, end at rho 0.9588209, slope 0.1605233 (0.0068253), intercept 1.738946 (1.432674), sum of squares 0.071670369. The last digits come
    /// out with the data in single precision, as a data set of Stata's holds them (in double precision rho is 0.9588203).
    /// </summary>
    [Fact]
    public void Cochrane_and_Orcutts_rounds_end_where_the_manual_of_prais_says()
    {
        double[] industry = [.. Industry.Select(v => (double)(float)v)];
        double[] company = [.. Company.Select(v => (double)(float)v)];
        double mean = industry.Average();
        double level = company.Average();
        double[] x = [.. industry.Select(v => v - mean)];
        double[] y = [.. company.Select(v => v - level)];
        var differences = new QuasiDifferences(x, y, default);
        double rho = AutoregressiveLine.Iterate(differences, x, y, first: false);
        Assert.Equal(0.9588209, rho, 5e-8);
        QuasiDifferences.Sums sums = differences.At(rho, first: false);
        double deviation = Math.Sqrt(sums.Residual / (sums.Rows - 2));
        Assert.Equal(0.1605233, sums.Slope, 5e-8);
        Assert.Equal(1.738946, level + sums.Level - (sums.Slope * mean), 2e-6);
        Assert.Equal(0.0068253, deviation * Math.Sqrt(sums.S00 / sums.Determinant), 5e-8);
        Assert.Equal(0.071670369, sums.Residual, 5e-10);
    }

    /// <summary>
    /// Inflation on unemployment in the United States, 1948 to 1996: Wooldridge, 'Introductory Econometrics', example 12.5. Least squares 1.42
    /// (1.72) and 0.468 (0.289); Prais and Winsten's rounds 8.30 (2.23) and -0.716 (0.313) at rho 0.781. Data and the errors from memory; the
    /// digits come out.
    /// </summary>
    [Fact]
    public void Prais_and_Winstens_rounds_give_the_textbooks_Phillips_curve()
    {
        double[] unemployment =
        [
            3.8, 5.9, 5.3, 3.3, 3.0, 2.9, 5.5, 4.4, 4.1, 4.3, 6.8, 5.5, 5.5, 6.7, 5.5, 5.7, 5.2, 4.5, 3.8, 3.8, 3.6, 3.5, 4.9, 5.9, 5.6,
            4.9, 5.6, 8.5, 7.7, 7.1, 6.1, 5.8, 7.1, 7.6, 9.7, 9.6, 7.5, 7.2, 7.0, 6.2, 5.5, 5.3, 5.6, 6.8, 7.5, 6.9, 6.1, 5.6, 5.4,
        ];
        double[] inflation =
        [
            8.1, -1.2, 1.3, 7.9, 1.9, 0.8, 0.7, -0.4, 1.5, 3.3, 2.8, 0.7, 1.7, 1.0, 1.0, 1.3, 1.3, 1.6, 2.9, 3.1, 4.2, 5.5, 5.7, 4.4, 3.2,
            6.2, 11.0, 9.1, 5.8, 6.5, 7.6, 11.3, 13.5, 10.3, 6.2, 3.2, 4.3, 3.6, 1.9, 3.6, 4.1, 4.8, 5.4, 4.2, 3.0, 3.0, 2.6, 2.8, 3.0,
        ];
        LineFit plain = LeastSquaresLine.Fit(unemployment, inflation).Value;
        Assert.Equal((1.42, 0.468), (Math.Round(plain.Intercept, 2), Math.Round(plain.Slope, 3)));
        Assert.Equal((1.72, 0.289), (Math.Round(plain.InterceptError, 2), Math.Round(plain.SlopeError, 3)));
        double mean = unemployment.Average();
        double level = inflation.Average();
        double[] x = [.. unemployment.Select(v => v - mean)];
        double[] y = [.. inflation.Select(v => v - level)];
        var differences = new QuasiDifferences(x, y, default);
        double rho = AutoregressiveLine.Iterate(differences, x, y, first: true);
        QuasiDifferences.Sums sums = differences.At(rho);
        double deviation = Math.Sqrt(sums.Residual / (sums.Rows - 2));
        Assert.Equal(0.781, Math.Round(rho, 3));
        Assert.Equal(-0.716, Math.Round(sums.Slope, 3));
        Assert.Equal(8.30, Math.Round(level + sums.Level - (sums.Slope * mean), 2));
        Assert.Equal(0.313, Math.Round(deviation * Math.Sqrt(sums.S00 / sums.Determinant), 3));
    }

    /// <summary>
    /// Hanck, Arnold, Gerber and Schmelzer, 'Introduction to Econometrics with R', section 15.4: a hundred points from set.seed(1), lags 2, small
    /// sample: slope 0.423305 (0.04036208), intercept 0.542310 (0.235423).
    /// </summary>
    [Fact]
    public void Newey_and_Wests_errors_are_those_that_Hanck_and_others_print()
    {
        JsonElement made = Golden.Json("trend/textbook-trend").GetProperty("hac");
        double[] x = made.GetProperty("x").Doubles();
        double[] y = made.GetProperty("y").Doubles();
        LineFit fit = LeastSquaresLine.Fit(x, y).Value;
        Assert.Equal(0.423305, fit.Slope, 5e-7);
        Assert.Equal(0.542310, fit.Intercept, 5e-7);
        (double intercept, double slope) = LeastSquaresLine.NeweyWestErrorsInOrder(x, y, 2, smallSample: true).Value;
        Assert.Equal(0.04036208, slope, 5e-9);
        Assert.Equal(0.235423, intercept, 5e-7);
        double[] sandwich = made.GetProperty("errors").Doubles();
        Assert.Equal(sandwich[0], intercept, 1e-12);
        Assert.Equal(sandwich[1], slope, 1e-12);
    }

    /// <summary>
    /// Cowpertwait and Metcalfe, 'Introductory Time Series with R' (2009), section 5.4: a line under noise of 0.8 from set.seed(1), gls by REML:
    /// 58.23 (11.92) and 3.04 (0.202). From memory; the digits come out.
    /// </summary>
    [Fact]
    public void The_restricted_likelihood_gives_the_line_of_Cowpertwait_and_Metcalfe()
    {
        JsonElement made = Golden.Json("trend/textbook-trend").GetProperty("walk");
        double[] y = made.GetProperty("y").Doubles();
        double[] t = [.. Enumerable.Range(1, y.Length).Select(i => (double)i)];
        AutoregressiveLineFit fit = AutoregressiveLine.Fit(t, y).Value;
        Assert.Equal((58.23, 3.04), (Math.Round(fit.Intercept, 2), Math.Round(fit.Slope, 2)));
        Assert.Equal((11.92, 0.202), (Math.Round(fit.InterceptError, 2), Math.Round(fit.SlopeError, 3)));
        double[] nlme = made.GetProperty("REML").Doubles();
        Assert.Equal(nlme[1], fit.Slope, 1e-6);
        Assert.Equal(nlme[4], fit.Correlation, 1e-5);
        double[] likeliest = made.GetProperty("ML").Doubles();
        AutoregressiveLineFit most = AutoregressiveLine.Fit(t, y, AutoregressiveMethod.MaximumLikelihood).Value;
        Assert.Equal(likeliest[1], most.Slope, 1e-6);
        Assert.Equal(likeliest[4], most.Correlation, 1e-5);
    }
}
