using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Statistics;

public sealed class MomentsTests
{
    private static readonly JsonElement Reference = Golden.Json("statistics/moments").GetProperty("sets");

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("airmiles")]
    [InlineData("morley")]
    [InlineData("AirPassengers")]
    public void Mean_variance_skewness_and_kurtosis_agree_with_scipy_on(string set)
    {
        var moments = Moments.Of(Golden.DataSet(set));
        JsonElement expected = Reference.GetProperty(set);
        Near(expected.Number("mean"), moments.Mean.Value, 1e-14);
        Near(expected.Number("variance"), moments.Variance.Value, 1e-12);
        Near(expected.Number("skewness"), moments.Skewness.Value, 1e-10);
        Near(expected.Number("kurtosis"), moments.ExcessKurtosis.Value, 1e-10);
    }

    [Fact]
    public void Mean_and_deviation_of_Michelso_have_the_certified_digits()
    {
        var moments = Moments.Of(Golden.DataSet("morley"));
        Near(299.8524, moments.Mean.Value, 1e-15); // NIST StRD, Michelso
        Near(0.0790105478190518, moments.StandardDeviation.Value, 2e-13); // 299.85 as a double is good to 3e-14
    }

    [Theory]
    [InlineData(1e6, 9.0)]
    [InlineData(1e7, 8.0)]
    public void The_deviation_of_NumAcc3_and_NumAcc4_is_exact_to_the_digits_their_offsets_leave(double offset, double digits)
    {
        // NIST StRD: offset+0.2, then offset+0.1 and offset+0.3 in turn, 1001 values; mean offset+0.2 and deviation 0.1 exactly
        // (definition and certified values from memory). A double near 10⁷ is good to 1e-9, so 0.1 to some 8 digits.
        var moments = new Moments();
        moments.Add(offset + 0.2);
        for (int i = 0; i < 500; i++)
        {
            moments.Add(offset + 0.1);
            moments.Add(offset + 0.3);
        }

        Near(offset + 0.2, moments.Mean.Value, 1e-15);
        double logRelativeError = -Math.Log10(Math.Abs(moments.StandardDeviation.Value - 0.1) / 0.1);
        Assert.True(logRelativeError >= digits, $"{logRelativeError} digits");
    }

    [Fact]
    public void Parts_merged_give_what_the_whole_gives() =>
        Gen.Select(Gen.Double[-10, 10].Array[0, 60], Gen.Double[-10, 10].Array[0, 60], Gen.Double[-1e6, 1e6]).Sample((first, second, offset) =>
        {
            double[] a = [.. first.Select(v => v + offset)];
            double[] b = [.. second.Select(v => v + offset)];
            var whole = Moments.Of([.. a, .. b]);
            var merged = Moments.Of(a);
            merged.Merge(Moments.Of(b));
            Assert.Equal(whole.Count, merged.Count);
            Same(whole.Mean, merged.Mean, 1e-9 * (1 + Math.Abs(offset)));
            Same(whole.Variance, merged.Variance, 1e-7);
            Same(whole.Least, merged.Least, 0);
            Same(whole.Greatest, merged.Greatest, 0);
            if (whole.Variance.IsKnown && whole.Variance.Value > 1e-3)
            {
                Same(whole.Skewness, merged.Skewness, 1e-5);
                Same(whole.ExcessKurtosis, merged.ExcessKurtosis, 1e-5);
            }
        });

    [Fact]
    public void The_stream_gives_what_two_passes_over_the_batch_give() =>
        Gen.Double[-100, 100].Array[4, 80].Sample(x =>
        {
            var moments = Moments.Of(x);
            double mean = x.Average();
            double m2 = x.Average(v => Math.Pow(v - mean, 2));
            Assert.Equal(mean, moments.Mean.Value, 1e-11);
            Assert.Equal(m2 * x.Length / (x.Length - 1), moments.Variance.Value, 1e-9 * (1 + m2));
            if (m2 > 1e-3)
            {
                Assert.Equal(x.Average(v => Math.Pow(v - mean, 3)) / Math.Pow(m2, 1.5), moments.Skewness.Value, 1e-6);
                Assert.Equal((x.Average(v => Math.Pow(v - mean, 4)) / (m2 * m2)) - 3, moments.ExcessKurtosis.Value, 1e-6);
            }
        });

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        double[] x = [.. Series.Lehmer(1000).Select(v => 1e9 + (1e-3 * v))];
        double[] exact = [.. x.Select(v => v - 1e9)];
        Near(Moments.Of(exact).Variance.Value, Moments.Of(x).Variance.Value, 1e-3);
        Assert.Equal(1e-6 / 12, Moments.Of(x).Variance.Value, 5e-9);
    }

    [Fact]
    public void A_constant_series_varies_by_nothing_and_has_no_shape()
    {
        var moments = Moments.Of([.. Enumerable.Repeat(1e9 + 0.1, 20)]);
        Assert.Equal(0, moments.Variance.Value);
        Assert.Equal(new Shortfall("distinct values", 1, 2), moments.Skewness.Missing);
        Assert.False(moments.ExcessKurtosis.IsKnown);
    }

    [Fact]
    public void One_point_has_a_mean_and_nothing_more()
    {
        var moments = Moments.Of([5]);
        Assert.Equal(5, moments.Mean.Value);
        Assert.Equal(new Shortfall("points", 1, 2), moments.Variance.Missing);
        Assert.False(moments.StandardDeviation.IsKnown);
        Assert.False(moments.Skewness.IsKnown);
    }

    [Fact]
    public void Nothing_but_faults_is_not_enough()
    {
        var moments = new Moments();
        Assert.Equal(new Shortfall("points", 0, 1), moments.Mean.Missing);
        Assert.False(moments.Least.IsKnown);
        Assert.False(moments.Greatest.IsKnown);
    }

    [Fact]
    public void A_value_that_is_not_finite_is_a_mistake_of_the_programmer() =>
        Assert.Equal("value", Assert.Throws<ArgumentException>(() => new Moments().Add(double.NaN)).ParamName);

    private static void Same(Answer<double> expected, Answer<double> actual, double tolerance)
    {
        Assert.Equal(expected.Missing, actual.Missing);
        if (expected.IsKnown)
        {
            Assert.Equal(expected.Value, actual.Value, tolerance);
        }
    }

    private static void Near(double expected, double actual, double relative) => Assert.Equal(expected, actual, Math.Abs(expected) * relative);
}
