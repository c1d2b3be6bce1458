using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Trend;

public class TrendBadInputTests
{
    private static double[] Steps(int n, double step = 1) => [.. Enumerable.Range(0, n).Select(i => i * step)];

    private static double[] Noise(int n, int seed)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, n).Select(_ => random.NextDouble() - 0.5)];
    }

    [Fact]
    public void A_constant_has_slope_nought_and_no_width()
    {
        double[] y = [.. Enumerable.Repeat(7.25, 50)];
        Assert.Equal((0, 0, 0, 7.25), (TheilSen.Fit(Steps(50), y).Value.Slope, TheilSen.Fit(Steps(50), y).Value.Lower, TheilSen.Fit(Steps(50), y).Value.Upper, TheilSen.Fit(Steps(50), y).Value.Intercept));
        Assert.Equal(new RepeatedMediansFit(0, 7.25), RepeatedMedians.Fit(Steps(50), y).Value);
        Assert.Equal(new MannKendallResult(0, 0, 0, 1), MannKendall.Test(y).Value);
        Assert.Equal(new MannKendallResult(0, 0, 0, 1), HamedRao.Test(y).Value);
        Assert.Equal(new MannKendallResult(0, 0, 0, 1), SeasonalMannKendall.Test(y, 5).Value);
        Assert.Equal((0, 0), (LeastSquaresLine.Fit(Steps(50), y).Value.Slope, LeastSquaresLine.Fit(Steps(50), y).Value.SlopeError));
        Assert.Equal((0, 0), LeastSquaresLine.NeweyWestErrors(Steps(50), y).Value);
        foreach (AutoregressiveMethod method in Enum.GetValues<AutoregressiveMethod>())
        {
            AutoregressiveLineFit fit = AutoregressiveLine.Fit(Steps(50), y, method).Value;
            Assert.Equal((0, 0), (fit.Slope, fit.SlopeError));
        }
    }

    [Fact]
    public void Ties_everywhere_are_counted_as_ties()
    {
        // Two levels, the upper one in the second half: of 50·49/2 pairs 625 rise and none falls.
        double[] y = [.. Enumerable.Range(0, 50).Select(i => i < 25 ? 1.0 : 2.0)];
        MannKendallResult test = MannKendall.Test(y).Value;
        Assert.Equal(625, test.S);
        Assert.Equal(((50.0 * 49 * 105) - (2 * 25 * 24 * 55)) / 18, test.Variance, 1e-9);

        // All at two times: only pairs across count.
        double[] t = [.. Enumerable.Range(0, 50).Select(i => (double)(i % 2))];
        TheilSenFit fit = TheilSen.Fit(t, y).Value;
        Assert.Equal(625, fit.Pairs);
        Assert.Equal(0, fit.Slope);
    }

    [Fact]
    public void One_point_is_not_enough()
    {
        Assert.Equal(new Shortfall("points", 1, 4), TheilSen.Fit([1], [1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 3), RepeatedMedians.Fit([1], [1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 10), MannKendall.Test([1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 10), HamedRao.Test([1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 24), SeasonalMannKendall.Test([1], 12).Missing);
        Assert.Equal(new Shortfall("points", 1, 3), LeastSquaresLine.Fit([1], [1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 3), LeastSquaresLine.NeweyWestErrors([1], [1]).Missing);
        Assert.Equal(new Shortfall("points", 1, 8), AutoregressiveLine.Fit([1], [1]).Missing);
    }

    [Fact]
    public void Nothing_but_faults_is_not_enough()
    {
        Assert.Equal(0, TheilSen.Fit([], []).Missing!.Has);
        Assert.Equal(0, RepeatedMedians.Fit([], []).Missing!.Has);
        Assert.Equal(0, MannKendall.Test([]).Missing!.Has);
        Assert.Equal(0, HamedRao.Test([]).Missing!.Has);
        Assert.Equal(0, SeasonalMannKendall.Test([], 12).Missing!.Has);
        Assert.Equal(0, LeastSquaresLine.Fit([], []).Missing!.Has);
        Assert.Equal(0, LeastSquaresLine.NeweyWestErrors([], []).Missing!.Has);
        Assert.Equal(0, AutoregressiveLine.Fit([], []).Missing!.Has);
    }

    [Fact]
    public void Equal_times_make_no_line()
    {
        double[] t = [3, 3, 3, 3, 3];
        double[] y = [1, 2, 3, 4, 5];
        Assert.Equal("different times", TheilSen.Fit(t, y).Missing!.What);
        Assert.Equal("different times", RepeatedMedians.Fit(t, y).Missing!.What);
        Assert.Equal("different times", LeastSquaresLine.Fit(t, y).Missing!.What);
    }

    /// <summary>A signal of a thousandth on a thousand million, at times of this century: the digits left of the signal are 1e-7 of it.</summary>
    [Fact]
    public void A_huge_offset_costs_no_more_than_the_numbers_have_lost_already()
    {
        double[] small = [.. Noise(400, 5).Select((e, i) => (1e-3 * e) + (1e-5 * i))];
        double[] y = [.. small.Select(v => v + 1e9)];
        double[] kept = [.. y.Select(v => v - 1e9)];
        double[] late = [.. Steps(400).Select(t => t + 1.8e9)];
        Assert.Equal(TheilSen.Fit(Steps(400), kept).Value.Slope, TheilSen.Fit(late, y).Value.Slope, 1e-15);
        Assert.Equal(TheilSen.Fit(Steps(400), kept).Value.Lower, TheilSen.Fit(late, y).Value.Lower, 1e-15);
        Assert.Equal(RepeatedMedians.Fit(Steps(400), kept).Value.Slope, RepeatedMedians.Fit(late, y).Value.Slope, 1e-15);
        Assert.Equal(LeastSquaresLine.Fit(Steps(400), kept).Value.SlopeError, LeastSquaresLine.Fit(late, y).Value.SlopeError, 1e-13);
        Assert.Equal(LeastSquaresLine.Fit(Steps(400), kept).Value.Slope, LeastSquaresLine.Fit(late, y).Value.Slope, 1e-13);
        Assert.Equal(AutoregressiveLine.Fit(Steps(400), kept).Value.Slope, AutoregressiveLine.Fit(late, y).Value.Slope, 1e-12);
        Assert.Equal(MannKendall.Test(kept).Value, MannKendall.Test(y).Value);
    }

    [Fact]
    public void Order_matters_only_where_neighbours_do()
    {
        double[] t = Steps(300);
        double[] y = [.. Noise(300, 8).Select((e, i) => e + (0.002 * i))];
        TheilSenFit sorted = TheilSen.Fit(t, y).Value;
        RepeatedMediansFit siegel = RepeatedMedians.Fit(t, y).Value;
        int[] mixed = Enumerable.Range(0, 300).ToArray();
        new Random(3).Shuffle(mixed);
        double[] mixedT = [.. mixed.Select(i => t[i])];
        double[] mixedY = [.. mixed.Select(i => y[i])];
        Assert.Equal(sorted, TheilSen.Fit(mixedT, mixedY).Value);
        Assert.Equal(siegel, RepeatedMedians.Fit(mixedT, mixedY).Value);
        Assert.Equal(LeastSquaresLine.Fit(t, y).Value.Slope, LeastSquaresLine.Fit(mixedT, mixedY).Value.Slope, 1e-14);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => LeastSquaresLine.NeweyWestErrors(mixedT, mixedY)).ParamName);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => AutoregressiveLine.Fit(mixedT, mixedY)).ParamName);
    }

    [Fact]
    public void Mismatched_lengths_are_the_callers_error()
    {
        double[] t = Steps(20);
        double[] y = Steps(19);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => TheilSen.Fit(t, y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RepeatedMedians.Fit(t, y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => LeastSquaresLine.Fit(t, y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => AutoregressiveLine.Fit(t, y)).ParamName);
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void Numbers_that_are_none_are_the_callers_error(double bad)
    {
        double[] t = Steps(20);
        double[] y = [.. Steps(19), bad];
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => TheilSen.Fit(t, y)).ParamName);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => TheilSen.Fit(y, t)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RepeatedMedians.Fit(t, y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => MannKendall.Test(y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => HamedRao.Test(y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => SeasonalMannKendall.Test(y, 2)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => LeastSquaresLine.Fit(t, y)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => AutoregressiveLine.Fit(t, y)).ParamName);
    }

    [Fact]
    public void Settings_that_make_no_sense_are_the_callers_error()
    {
        double[] t = Steps(20);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => TheilSen.Fit(t, t, 1)).ParamName);
        Assert.Equal("lags", Assert.Throws<ArgumentException>(() => HamedRao.Test(t, -1)).ParamName);
        Assert.Equal("lags", Assert.Throws<ArgumentException>(() => LeastSquaresLine.NeweyWestErrors(t, t, -1)).ParamName);
        Assert.Equal("seasons", Assert.Throws<ArgumentException>(() => SeasonalMannKendall.Test(t, 1)).ParamName);
    }
}
