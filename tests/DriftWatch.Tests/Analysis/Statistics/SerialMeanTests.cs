using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Statistics;

public sealed class SerialMeanTests
{
    [Theory]
    [InlineData(30, 0)]
    [InlineData(30, 0.7)]
    [InlineData(30, 0.9)]
    [InlineData(60, 0)]
    [InlineData(60, 0.3)]
    [InlineData(60, 0.7)]
    [InlineData(60, 0.9)]
    public void The_interval_holds_the_true_mean_as_often_as_it_says_where_the_plain_one_does_not(int independent, double rho)
    {
        // 2000 records: ±0.5 %. Records that answer 'not enough data' do not count.
        int n = (int)Math.Ceiling((independent * (1 + rho) / (1 - rho)) - 1e-9);
        var random = new Random(20260111);
        int held = 0, plain = 0, answered = 0;
        for (int round = 0; round < 2000; round++)
        {
            double[] x = Series.FirstOrder(random, n, rho);
            Answer<MeanEstimate> estimate = SerialMean.Estimate(x);
            if (estimate.IsKnown)
            {
                answered++;
                held += estimate.Value.Low <= 0 && 0 <= estimate.Value.High ? 1 : 0;
                plain += Math.Abs(estimate.Value.Mean) <= 2 * Moments.Of(x).StandardDeviation.Value / Math.Sqrt(n) ? 1 : 0;
            }
        }

        Assert.True(answered > (independent == 30 ? 1000 : 1800), $"{answered}");
        Assert.InRange(held / (double)answered, 0.935, 0.97);
        Assert.True(rho < 0.7 || plain < 0.65 * answered, $"{plain} of {answered}");
    }

    [Fact]
    public void Slow_noise_that_white_noise_hides_is_allowed_for_as_well()
    {
        // rho 0.95 with as much white noise on top: 100 independent values' worth, where the coefficient alone sees four times as many.
        const double Rho = 0.95;
        int n = (int)(100 * (((1 + Rho) / (1 - Rho)) + 1) / 2);
        var random = new Random(20260112);
        int held = 0, answered = 0;
        for (int round = 0; round < 800; round++)
        {
            double[] x = [.. Series.FirstOrder(random, n, Rho).Select(v => v + Series.Normal(random))];
            Answer<MeanEstimate> estimate = SerialMean.Estimate(x);
            answered += estimate.IsKnown ? 1 : 0;
            held += estimate.IsKnown && estimate.Value.Low <= 0 && 0 <= estimate.Value.High ? 1 : 0;
        }

        Assert.True(answered > 750, $"{answered}");
        Assert.InRange(held / (double)answered, 0.905, 0.975);
    }

    [Fact]
    public void Independent_values_get_the_textbook_interval()
    {
        // Lehmer's numbers are uniform and independent; their lag-1 estimate here is below zero and counts as none.
        double[] x = Series.Lehmer(400);
        var moments = Moments.Of(x);
        MeanEstimate estimate = SerialMean.Estimate(x).Value;
        Assert.True(estimate.Rho is > -0.2 and < 0.1, $"{estimate.Rho}");
        Assert.Equal(moments.StandardDeviation.Value / 20, estimate.StandardError, 0.1 * estimate.StandardError);
        Assert.Equal(moments.Mean.Value, estimate.Mean);
    }

    [Fact]
    public void Few_independent_values_one_point_a_constant_and_nothing_but_faults_are_not_enough()
    {
        Shortfall walk = SerialMean.Estimate(Series.Walk(new Random(1), 300)).Missing!;
        Assert.Equal("independent points", walk.What);
        Assert.Equal(20, walk.Needs);
        Assert.False(SerialMean.Estimate([1]).IsKnown);
        Assert.False(SerialMean.Estimate([]).IsKnown);
        Assert.False(SerialMean.Estimate([.. Enumerable.Repeat(1e9 + 0.1, 100)]).IsKnown);
    }

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        double[] x = [.. Series.Lehmer(400).Select(v => 1e9 + (1e-3 * v))];
        Assert.Equal(SerialMean.Estimate([.. x.Select(v => v - 1e9)]).Value.StandardError, SerialMean.Estimate(x).Value.StandardError, 1e-12);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => SerialMean.Estimate([1, double.NaN])).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentOutOfRangeException>(() => SerialMean.Estimate([1, 2], 1)).ParamName);
    }

    /// <summary>
    /// R's help of arima (and Venables and Ripley 2002, chapter 14) prints for the luteinizing hormone a first-order coefficient of 0.5739 (0.1161),
    /// a mean of 2.4133 (0.1466) and innovations of variance 0.1975: a variance of 0.2945 and so 13.7 independent values of 48. From memory.
    /// </summary>
    [Fact]
    public void The_hormone_series_is_worth_about_as_few_points_as_R_s_arima_says_and_gets_no_interval()
    {
        double[] hormone = Golden.DataSet("lh");
        FirstOrderEstimate noise = Autocorrelation.FirstOrder(hormone).Value;
        Assert.Equal(0.576, noise.Uncorrected, 5e-4); // as acf prints it
        Assert.Equal(0.5739, noise.Rho, 0.1161);
        Assert.Equal(0.1161, noise.StandardError, 0.012);
        Shortfall missing = SerialMean.Estimate(hormone).Missing!;
        Assert.Equal("independent points", missing.What);
        Assert.InRange(missing.Has, 0.7 * 13.7, 13.7);
    }
}
