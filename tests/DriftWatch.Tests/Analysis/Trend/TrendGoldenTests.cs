using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Trend;

/// <summary>Against R and Python; see Golden/trend for the scripts.</summary>
public class TrendGoldenTests
{
    private static readonly JsonElement Robust = Golden.Json("trend/robust-trend");
    private static readonly JsonElement Autoregressive = Golden.Json("trend/autoregressive-trend");

    private static double[] Steps(int n) => [.. Enumerable.Range(1, n).Select(i => (double)i)];

    private static void Near(double expected, double actual, double relative) =>
        Assert.True(Math.Abs(actual - expected) <= relative * Math.Max(Math.Abs(expected), 1e-300), $"expected {expected:R}, was {actual:R}");

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("nhtemp")]
    [InlineData("airmiles")]
    [InlineData("lh")]
    public void Theil_Sen_and_Siegel_are_SciPys(string name)
    {
        double[] y = Golden.DataSet(name);
        double[] t = Steps(y.Length);
        double[] sen = Robust.GetProperty(name).GetProperty("sen").Doubles();
        TheilSenFit fit = TheilSen.Fit(t, y).Value;
        Near(sen[0], fit.Slope, 1e-13);
        Near(sen[1], fit.Lower, 1e-13);
        Near(sen[2], fit.Upper, 1e-13);
        Near(Robust.GetProperty(name).Number("senIntercept"), fit.Intercept, 1e-12);
        double[] siegel = Robust.GetProperty(name).GetProperty("siegel").Doubles();
        RepeatedMediansFit repeated = RepeatedMedians.Fit(t, y).Value;
        Near(siegel[0], repeated.Slope, 1e-12);
        Near(siegel[1], repeated.Intercept, 1e-12);
    }

    [Fact]
    public void Limits_of_the_Nile_between_two_ranks_are_those_of_all_its_slopes()
    {
        double[] y = Golden.DataSet("Nile");
        TheilSenFit fit = TheilSen.Fit(Steps(100), y, limits: SenLimits.Interpolated).Value;
        double[] expected = Robust.GetProperty("betweenRanks").Doubles();
        Assert.Equal(expected[0], fit.Lower, 1e-11);
        Assert.Equal(expected[1], fit.Upper, 1e-11);
    }

    [Fact]
    public void Theil_Sen_with_tied_times_and_values_is_SciPys()
    {
        long state = 1234567;
        var t = new List<double>();
        var y = new List<double>();
        for (int i = 0; i < 400; i++)
        {
            state = state * 16807 % 2147483647;
            t.Add(i / 3);
            y.Add((state % 7) + ((i / 3) * 0.01));
        }

        Agrees(Robust.GetProperty("tied"), [.. t], [.. y]);
    }

    /// <summary>Two thousand points of twelve levels: two million pairs, far more than are ever listed, and a tie in every rank.</summary>
    [Fact]
    public void Theil_Sen_of_a_quantised_reading_is_SciPys()
    {
        long state = 7654321;
        double[] y = new double[2000];
        for (int i = 0; i < y.Length; i++)
        {
            state = state * 16807 % 2147483647;
            y[i] = (state % 5) + (i * 7 / 2000);
        }

        Agrees(Robust.GetProperty("quantised"), [.. Enumerable.Range(0, 2000).Select(i => i * 0.5)], y);
    }

    private static void Agrees(JsonElement expected, double[] t, double[] y)
    {
        TheilSenFit fit = TheilSen.Fit(t, y).Value;
        Near(expected.Doubles()[0], fit.Slope, 1e-12);
        Near(expected.Doubles()[1], fit.Lower, 1e-12);
        Near(expected.Doubles()[2], fit.Upper, 1e-12);
    }

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("nhtemp")]
    [InlineData("airmiles")]
    [InlineData("lh")]
    public void Mann_Kendall_and_Hamed_Rao_are_Rs(string name)
    {
        double[] y = Golden.DataSet(name);
        JsonElement expected = Autoregressive.GetProperty(name);
        MannKendallResult plain = MannKendall.Test(y).Value;
        Same(expected.GetProperty("mannKendall"), plain);
        Near(expected.GetProperty("corTest").Doubles()[0], plain.Z, 1e-12);
        Near(expected.GetProperty("corTest").Doubles()[1], plain.P, 1e-10);
        Same(expected.GetProperty("hamedRao"), HamedRao.Test(y).Value);
        Same(expected.GetProperty("hamedRao3"), HamedRao.Test(y, lags: 3).Value);
    }

    /// <summary>Taking the sum's absolute value, as some code does, would make the variance larger here instead of smaller.</summary>
    [Fact]
    public void Negative_autocorrelation_makes_Hamed_and_Raos_variance_smaller()
    {
        double[] y = new double[120];
        long state = 99;
        double noise = 0;
        for (int i = 0; i < y.Length; i++)
        {
            state = state * 16807 % 2147483647;
            noise = (-0.5 * noise) + (state / 2147483647.0) - 0.5;
            y[i] = (0.001 * (i + 1)) + noise;
        }

        JsonElement expected = Autoregressive.GetProperty("negative");
        Same(expected.GetProperty("hamedRao3"), HamedRao.Test(y, lags: 3).Value);
        Same(expected.GetProperty("hamedRao"), HamedRao.Test(y).Value);
        Assert.True(HamedRao.Test(y, lags: 3).Value.Variance < MannKendall.Test(y).Value.Variance);
    }

    [Theory]
    [InlineData("AirPassengers", 12)]
    [InlineData("nottem", 12)]
    public void Seasonal_scores_are_Rs(string name, int seasons) =>
        Same(Autoregressive.GetProperty("seasonal").GetProperty(name), SeasonalMannKendall.Test(Golden.DataSet(name), seasons).Value);

    private static void Same(JsonElement expected, MannKendallResult actual)
    {
        double[] numbers = expected.Doubles();
        Assert.Equal((long)numbers[0], actual.S);
        Near(numbers[1], actual.Variance, 1e-11);
        Near(numbers[2], actual.Z, 1e-11);
        Near(numbers[3], actual.P, 1e-9);
    }

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("nhtemp")]
    public void Least_squares_with_Newey_West_errors_is_statsmodels_and_sandwich(string name)
    {
        double[] y = Golden.DataSet(name);
        double[] t = Steps(y.Length);
        double[] ols = Robust.GetProperty(name).GetProperty("ols").Doubles();
        LineFit fit = LeastSquaresLine.Fit(t, y).Value;
        double[] actual = [fit.Intercept, fit.Slope, fit.InterceptError, fit.SlopeError, fit.ResidualDeviation, fit.DurbinWatson];
        for (int i = 0; i < ols.Length; i++)
        {
            Near(ols[i], actual[i], 1e-11);
        }

        foreach (int lags in (int[])[1, 3, 5, 10])
        {
            (double intercept, double slope) = LeastSquaresLine.NeweyWestErrors(t, y, lags).Value;
            foreach (double[] expected in (double[][])[
                Robust.GetProperty(name).GetProperty("hac").GetProperty($"{lags}").Doubles(),
                Autoregressive.GetProperty(name).GetProperty("neweyWest").GetProperty($"{lags}").Doubles()])
            {
                Near(expected[0], intercept, 1e-10);
                Near(expected[1], slope, 1e-10);
            }
        }

        Near(Robust.GetProperty(name).GetProperty("hacCorrected3").Doubles()[1], LeastSquaresLine.NeweyWestErrors(t, y, 3, smallSample: true).Value.Slope, 1e-10);
    }

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("nhtemp")]
    public void Generalised_least_squares_is_nlmes_and_statsmodels(string name)
    {
        double[] y = Golden.DataSet(name);
        double[] t = Steps(y.Length);
        Same(Autoregressive.GetProperty(name).GetProperty("REML"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.Restricted).Value, 1e-5);
        Same(Autoregressive.GetProperty(name).GetProperty("ML"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.MaximumLikelihood).Value, 1e-5);
        Same(Autoregressive.GetProperty(name).GetProperty("praisWinsten"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.PraisWinsten).Value, 1e-9);
        Same(Robust.GetProperty(name).GetProperty("glsar"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.CochraneOrcutt).Value, 1e-9);
    }

    [Fact]
    public void Generalised_least_squares_of_a_record_with_holes_is_nlmes()
    {
        double[] whole = Golden.DataSet("LakeHuron");
        int[] places = [.. Enumerable.Range(1, 98).Where(i => i is not (5 or 6 or (>= 20 and <= 27) or 50 or (>= 70 and <= 90)))];
        double[] t = [.. places.Select(p => (double)p)];
        double[] y = [.. places.Select(p => whole[p - 1])];
        JsonElement holes = Autoregressive.GetProperty("holes");
        Same(holes.GetProperty("REML"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.Restricted, places).Value, 1e-5);
        Same(holes.GetProperty("ML"), AutoregressiveLine.Fit(t, y, AutoregressiveMethod.MaximumLikelihood, places).Value, 1e-5);
        Assert.Equal("places", Assert.Throws<ArgumentException>(() => AutoregressiveLine.Fit(t, y, AutoregressiveMethod.PraisWinsten, places)).ParamName);
        places[3] = places[2];
        Assert.Equal("places", Assert.Throws<ArgumentException>(() => AutoregressiveLine.Fit(t, y, AutoregressiveMethod.Restricted, places)).ParamName);
    }

    private static void Same(JsonElement expected, AutoregressiveLineFit fit, double relative)
    {
        double[] numbers = expected.Doubles();
        double[] actual = [fit.Intercept, fit.Slope, fit.InterceptError, fit.SlopeError, fit.Correlation];
        for (int i = 0; i < numbers.Length; i++)
        {
            Near(numbers[i], actual[i], relative);
        }
    }
}
