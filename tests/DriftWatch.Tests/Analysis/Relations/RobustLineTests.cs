using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Relations;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Relations;

public sealed class RobustLineTests
{
    private static readonly JsonElement FromR = Golden.Json("relations/relations");
    private static readonly JsonElement FromPython = Golden.Json("relations/huber");

    [Theory]
    [InlineData("stars")]
    [InlineData("telef")]
    [InlineData("kootenay")]
    public void The_mm_line_agrees_with_lmrob_of_robustbase(string set)
    {
        double[] kept = FromR.GetProperty(set).GetProperty("mm").Doubles();
        RobustLineFit fit = Fit(set, RobustMethod.Mm).Value;
        Assert.Equal(1, fit.Slope / kept[0], 1e-5);
        Assert.Equal(1, fit.Intercept / kept[1], 1e-5);
        Assert.Equal(1, fit.Scale / kept[2], 1e-5);
    }

    [Theory]
    [InlineData("stars")]
    [InlineData("telef")]
    [InlineData("kootenay")]
    public void Hubers_line_agrees_with_rlm_of_statsmodels(string set)
    {
        double[] kept = FromPython.GetProperty(set).Doubles();
        RobustLineFit fit = Fit(set, RobustMethod.Huber).Value;
        Assert.Equal(1, fit.Slope / kept[0], 1e-6);
        Assert.Equal(1, fit.Intercept / kept[1], 1e-6);
        Assert.Equal(1, fit.Scale / kept[2], 1e-6);
    }

    /// <summary>
    /// Belgium's telephone calls as Venables and Ripley print them, 'Modern Applied Statistics with S' (2002), section 6.5, in
    /// millions where R's robustbase has tens of millions: Huber −102.62 and 2.041, scale 9.03; MM −52.4 and 1.1, scale 2.13. From memory.
    /// </summary>
    [Fact]
    public void The_telephone_calls_have_the_lines_of_the_textbook()
    {
        RobustLineFit huber = Fit("telef", RobustMethod.Huber).Value;
        Assert.Equal(2.04, 10 * huber.Slope, 0.005);
        Assert.Equal(-102.6, 10 * huber.Intercept, 0.1);
        Assert.Equal(9.03, 10 * huber.Scale, 0.03);
        RobustLineFit mm = Fit("telef", RobustMethod.Mm).Value;
        Assert.Equal(1.1, 10 * mm.Slope, 0.005);
        Assert.Equal(-52.4, 10 * mm.Intercept, 0.05);
        Assert.Equal(2.13, 10 * mm.Scale, 0.005);
    }

    [Fact]
    public void Four_in_ten_wild_pairs_do_not_move_the_mm_line_where_they_turn_least_squares_over()
    {
        var random = new Random(8);
        double[] x = new double[300], y = new double[300];
        for (int i = 0; i < x.Length; i++)
        {
            bool wild = i % 5 < 2;
            x[i] = wild ? 20 + Series.Normal(random) : 10 * random.NextDouble();
            y[i] = wild ? -30 + Series.Normal(random) : 1 + (2 * x[i]) + (0.5 * Series.Normal(random));
        }

        Assert.Equal(2, RobustLine.Fit(x, y, RobustMethod.Mm).Value.Slope, 0.06);
        Assert.True(RobustLine.Fit(x, y, RobustMethod.Huber).Value.Slope < 0);
    }

    [Theory]
    [InlineData(RobustMethod.Huber)]
    [InlineData(RobustMethod.Mm)]
    public void The_order_of_pairs_does_not_matter(RobustMethod method)
    {
        var random = new Random(1);
        double[] x = Series.White(random, 25);
        double[] y = [.. x.Select(v => (3 * v) + Series.Normal(random))];
        RobustLineFit one = RobustLine.Fit(x, y, method).Value;
        RobustLineFit other = RobustLine.Fit([.. x.Reverse()], [.. y.Reverse()], method).Value;
        Assert.Equal(one.Slope, other.Slope, 1e-8);
        Assert.Equal(one.Scale, other.Scale, 1e-8);
    }

    [Theory]
    [InlineData(RobustMethod.Huber)]
    [InlineData(RobustMethod.Mm)]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost(RobustMethod method)
    {
        var random = new Random(5);
        double[] x = Series.White(random, 60);
        double[] y = [.. x.Select(v => (3 * v) + Series.Normal(random))];
        double[] far = [.. y.Select(v => 1e9 + (1e-3 * v))];
        double plain = RobustLine.Fit(x, y, method).Value.Slope;
        Assert.Equal(plain, 1e3 * RobustLine.Fit([.. x.Select(v => 1e9 + v)], far, method).Value.Slope, 1e-3);
    }

    [Theory]
    [InlineData(RobustMethod.Huber)]
    [InlineData(RobustMethod.Mm)]
    public void A_cause_that_does_not_move_few_points_and_nothing_but_faults_are_shortfalls(RobustMethod method)
    {
        Assert.Equal("different values of the cause", RobustLine.Fit([1, 1, 1, 1, 1, 1], [1, 2, 3, 4, 5, 6], method).Missing!.What);
        Assert.Equal(new Shortfall("points", 1, 5), RobustLine.Fit([1], [1], method).Missing);
        Assert.Equal(new Shortfall("points", 0, 5), RobustLine.Fit([], [], method).Missing);
    }

    [Theory]
    [InlineData(RobustMethod.Huber)]
    [InlineData(RobustMethod.Mm)]
    public void An_effect_that_is_constant_or_tied_nearly_everywhere_has_slope_nothing(RobustMethod method)
    {
        double[] x = [.. Enumerable.Range(0, 40).Select(i => (double)i)];
        Assert.Equal(0, RobustLine.Fit(x, [.. x.Select(_ => 7.0)], method).Value.Slope, 1e-12);
        Assert.Equal(0, RobustLine.Fit(x, [.. x.Select(v => v == 20 ? 9.0 : 7)], method).Value.Slope, 1e-2);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("effects", Assert.Throws<ArgumentException>(() => RobustLine.Fit([1, 2], [1], RobustMethod.Mm)).ParamName);
        Assert.Equal("causes", Assert.Throws<ArgumentException>(() => RobustLine.Fit([1, double.NaN], [1, 2], RobustMethod.Mm)).ParamName);
    }

    private static Answer<RobustLineFit> Fit(string set, RobustMethod method) =>
        RobustLine.Fit(FromR.GetProperty(set).GetProperty("x").Doubles(), FromR.GetProperty(set).GetProperty("y").Doubles(), method);
}
