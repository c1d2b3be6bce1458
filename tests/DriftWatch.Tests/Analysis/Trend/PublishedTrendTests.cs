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
}
