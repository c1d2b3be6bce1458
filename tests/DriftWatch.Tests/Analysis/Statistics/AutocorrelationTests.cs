using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Statistics;

public sealed class AutocorrelationTests
{
    private static readonly JsonElement FromR = Golden.Json("statistics/robust").GetProperty("acf");

    [Theory]
    [InlineData("morley")]
    [InlineData("LakeHuron")]
    [InlineData("Nile")]
    [InlineData("lh")]
    [InlineData("airmiles")]
    public void Twenty_lags_agree_with_acf_of_r(string set) => Close(FromR.GetProperty(set).Doubles(), Autocorrelation.UpTo(Golden.DataSet(set), 20).Value, 1e-12);

    [Theory]
    [InlineData("LakeHuron")]
    [InlineData("Nile")]
    [InlineData("nhtemp")]
    [InlineData("AirPassengers")]
    public void The_sum_and_the_transform_agree_with_those_of_statsmodels(string set)
    {
        JsonElement reference = Golden.Json("statistics/acf");
        Close(reference.GetProperty("direct").GetProperty(set).Doubles(), Autocorrelation.Direct(Golden.DataSet(set), 20), 1e-12);
        Close(reference.GetProperty("transform").GetProperty(set).Doubles(), Autocorrelation.ByTransform(Golden.DataSet(set), 20), 1e-12);
    }

    [Fact]
    public void Lag_one_of_Michelso_has_the_certified_digits()
    {
        double certified = 0.535199668621283; // NIST StRD, Michelso
        Assert.Equal(100, Golden.DataSet("morley").Length);
        Assert.Equal(certified, Autocorrelation.AtLag(Golden.DataSet("morley"), 1).Value, 1e-13);
    }

    [Fact]
    public void The_transform_gives_what_the_sum_gives() =>
        Gen.Select(Gen.Double[-10, 10].Array[2, 200], Gen.Int[0, 199]).Sample((values, lag) =>
        {
            if (lag < values.Length && values.Distinct().Count() > 1)
            {
                Close(Autocorrelation.Direct(values, lag), Autocorrelation.ByTransform(values, lag), 1e-11);
            }
        });

    [Theory]
    [InlineData(20_000, 300)]
    [InlineData(9000, 4000)]
    [InlineData(4097, 4096)]
    [InlineData(3796, 100)]
    public void The_transform_gives_what_the_sum_gives_over_many_blocks(int count, int lag)
    {
        double[] x = Series.FirstOrder(new Random(7), count, 0.8);
        Close(Autocorrelation.Direct(x, lag), Autocorrelation.ByTransform(x, lag), 1e-11);
    }

    [Theory]
    [InlineData(-0.5)]
    [InlineData(0)]
    [InlineData(0.3)]
    [InlineData(0.7)]
    [InlineData(0.9)]
    public void The_corrected_coefficient_is_right_on_average_where_the_plain_one_is_low(double rho)
    {
        (double plain, double corrected) = Average(rho, Removed.Mean, robust: false);
        Assert.InRange(corrected, rho - 0.012, rho + 0.012);
        Assert.True(rho <= 0 || plain < rho - 0.015, $"plain {plain}");
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.3)]
    [InlineData(0.7)]
    [InlineData(0.9)]
    public void Residuals_of_a_line_need_the_correction_for_a_line(double rho)
    {
        Assert.InRange(Average(rho, Removed.Line, robust: false).Corrected, rho - 0.02, rho + 0.012);
        Assert.True(Average(rho, Removed.Line, robust: false).Plain < rho - 0.015);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.3)]
    [InlineData(0.7)]
    [InlineData(0.9)]
    public void The_robust_coefficient_holds_with_one_value_in_ten_wild_where_the_plain_one_collapses(double rho)
    {
        double clean = Average(rho, Removed.Mean, robust: true).Corrected;
        Assert.InRange(clean, rho - 0.02, rho + 0.02);
        double robust = Average(rho, Removed.Mean, robust: true, wild: 0.1).Corrected;
        double plain = Average(rho, Removed.Mean, robust: false, wild: 0.1).Corrected;
        Assert.InRange(robust, (0.75 * rho) - 0.03, rho + 0.03);
        Assert.True(plain < (0.1 * rho) + 0.03, $"plain {plain}");
    }

    [Theory]
    [InlineData(100, 0, 100)]
    [InlineData(100, 0.5, 33.333333333333336)]
    [InlineData(100, -0.5, 100)]
    [InlineData(100, 1, 1)]
    [InlineData(100, -1, 100)]
    public void The_effective_sample_size_of_a_first_order_series_is(int count, double rho, double expected) =>
        Assert.Equal(expected, Autocorrelation.EffectiveSampleSize(count, rho), 1e-12);

    [Theory]
    [InlineData(0)]
    [InlineData(0.7)]
    [InlineData(0.95)]
    public void The_initial_monotone_sequence_finds_the_effective_sample_size_of_a_long_series(double rho)
    {
        const int Count = 100_000;
        double found = Autocorrelation.EffectiveSampleSize(Series.FirstOrder(new Random(11), Count, rho)).Value;
        Assert.InRange(found / Autocorrelation.EffectiveSampleSize(Count, rho), 0.85, 1.1);
    }

    [Fact]
    public void A_constant_series_has_no_autocorrelation()
    {
        double[] x = [.. Enumerable.Repeat(1e9 + 0.1, 50)];
        Assert.Equal(new Shortfall("distinct values", 1, 2), Autocorrelation.AtLag(x, 1).Missing);
        Assert.False(Autocorrelation.UpTo(x, 5).IsKnown);
        Assert.False(Autocorrelation.FirstOrder(x).IsKnown);
        Assert.False(Autocorrelation.RobustFirstOrder(x).IsKnown);
        Assert.False(Autocorrelation.EffectiveSampleSize(x).IsKnown);
    }

    [Fact]
    public void Ties_nearly_everywhere_leave_the_plain_estimate_and_stop_the_robust_one()
    {
        double[] x = new double[50];
        x[20] = 1;
        Assert.Equal(-0.0404, Autocorrelation.AtLag(x, 1).Value, 0.025);
        Assert.False(Autocorrelation.RobustFirstOrder(x).IsKnown);
    }

    [Fact]
    public void One_point_is_not_enough() => Assert.Equal(new Shortfall("points", 1, 2), Autocorrelation.AtLag([3], 1).Missing);

    [Fact]
    public void Nothing_but_faults_is_not_enough()
    {
        Assert.False(Autocorrelation.UpTo([], 0).IsKnown);
        Assert.False(Autocorrelation.FirstOrder([]).IsKnown);
        Assert.False(Autocorrelation.RobustFirstOrder([]).IsKnown);
        Assert.False(Autocorrelation.EffectiveSampleSize([]).IsKnown);
    }

    [Fact]
    public void A_lag_as_long_as_the_series_is_not_enough() =>
        Assert.Equal(new Shortfall("points", 10, 11), Autocorrelation.UpTo(Series.Lehmer(10), 10).Missing);

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        double[] x = Series.FirstOrder(new Random(3), 500, 0.6);
        double[] shifted = [.. x.Select(v => 1e9 + (1e-3 * v))];
        Assert.Equal(Autocorrelation.AtLag(x, 1).Value, Autocorrelation.AtLag(shifted, 1).Value, 1e-5);
        double[] exact = [.. shifted.Select(v => v - 1e9)];
        Assert.Equal(Autocorrelation.AtLag(exact, 1).Value, Autocorrelation.AtLag(shifted, 1).Value, 1e-12);
    }

    [Fact]
    public void Values_that_are_not_finite_and_lags_below_nothing_are_mistakes_of_the_programmer()
    {
        double[] values = [1, 2, double.NaN, 4, 5, 6, 7, 8];
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Autocorrelation.AtLag(values, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Autocorrelation.UpTo(values, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Autocorrelation.FirstOrder(values)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Autocorrelation.RobustFirstOrder(values)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Autocorrelation.EffectiveSampleSize(values)).ParamName);
        Assert.Equal("lag", Assert.Throws<ArgumentOutOfRangeException>(() => Autocorrelation.AtLag([1, 2], -1)).ParamName);
        Assert.Equal("rho", Assert.Throws<ArgumentOutOfRangeException>(() => Autocorrelation.EffectiveSampleSize(10, double.NaN)).ParamName);
        Assert.Equal("count", Assert.Throws<ArgumentOutOfRangeException>(() => Autocorrelation.EffectiveSampleSize(0, 0.1)).ParamName);
    }

    private static (double Plain, double Corrected) Average(double rho, Removed removed, bool robust, double wild = 0)
    {
        // Series of 100: the mean of 4000 estimates is known to about 0.0016, that of 1500 robust ones to 0.003.
        const int Count = 100;
        int rounds = robust ? 1500 : 4000;
        var random = new Random(20260101);
        double plain = 0;
        double corrected = 0;
        for (int round = 0; round < rounds; round++)
        {
            double[] x = Series.FirstOrder(random, Count, rho);
            for (int i = 0; i < Count; i++)
            {
                x[i] += random.NextDouble() < wild ? 10 * Series.Normal(random) : 0;
            }

            if (removed == Removed.Line)
            {
                double slope = 0;
                double squares = 0;
                for (int i = 0; i < Count; i++)
                {
                    double t = i - ((Count - 1) / 2.0);
                    slope += t * x[i];
                    squares += t * t;
                }

                for (int i = 0; i < Count; i++)
                {
                    x[i] -= slope / squares * (i - ((Count - 1) / 2.0));
                }
            }

            FirstOrderEstimate estimate = (robust ? Autocorrelation.RobustFirstOrder(x, removed) : Autocorrelation.FirstOrder(x, removed)).Value;
            plain += estimate.Uncorrected;
            corrected += estimate.Rho;
        }

        return (plain / rounds, corrected / rounds);
    }

    private static void Close(double[] expected, double[] actual, double tolerance)
    {
        Assert.Equal(expected.Length, actual.Length);
        for (int i = 0; i < expected.Length; i++)
        {
            Assert.Equal(expected[i], actual[i], tolerance);
        }
    }

    /// <summary>R's mcmc is by the author of the method; what is added here is the allowance for the own mean, which makes the size smaller.</summary>
    [Fact]
    public void The_initial_monotone_sequence_is_that_of_R_s_mcmc_before_the_own_mean_is_allowed_for()
    {
        JsonElement made = Golden.Json("statistics/sequence");
        foreach (string name in (string[])["Nile", "LakeHuron", "lh"])
        {
            Assert.Equal(made.Number(name), Autocorrelation.BySequence(Golden.DataSet(name), allowForOwnMean: false).Value, 1e-9);
            Assert.True(Autocorrelation.EffectiveSampleSize(Golden.DataSet(name)).Value < made.Number(name));
        }

        JsonElement slow = made.GetProperty("slow");
        Assert.Equal(slow.Number("size"), Autocorrelation.BySequence(slow.GetProperty("values").Doubles(), allowForOwnMean: false).Value, 1e-7);
    }
}
