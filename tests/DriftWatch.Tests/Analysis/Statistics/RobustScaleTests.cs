using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Statistics;

public sealed class RobustScaleTests
{
    private static readonly JsonElement Reference = Golden.Json("statistics/robust");

    [Fact]
    public void Median_mad_qn_and_sn_agree_with_robustbase_at_every_small_and_several_large_sizes()
    {
        foreach (JsonElement row in Reference.GetProperty("lehmer").EnumerateArray())
        {
            Holds(row, Series.Lehmer((int)row.Number("n")));
        }
    }

    [Fact]
    public void Median_mad_qn_and_sn_agree_with_robustbase_where_everything_is_tied() =>
        Holds(Reference.GetProperty("ties"), [.. Series.Lehmer(200).Select(v => Math.Floor(10 * v))]);

    [Theory]
    [InlineData("morley")]
    [InlineData("LakeHuron")]
    [InlineData("Nile")]
    [InlineData("lh")]
    [InlineData("airmiles")]
    public void Median_mad_qn_and_sn_agree_with_robustbase_on(string set)
    {
        // Where differences are tied but for rounding robustbase compares them in single precision: its own error is 3e-8.
        Holds(Reference.GetProperty("sets").GetProperty(set), Golden.DataSet(set), qnTolerance: 6e-8);
    }

    [Fact]
    public void Qn_is_the_order_statistic_of_all_pairs_that_its_definition_names() =>
        Gen.Select(Gen.Double[-100, 100].Array[2, 60], Gen.Bool).Sample((values, coarse) =>
        {
            double[] sorted = [.. values.Select(v => coarse ? Math.Round(v / 20) : v).Order()];
            var all = new List<double>();
            for (int i = 0; i < sorted.Length; i++)
            {
                for (int j = i + 1; j < sorted.Length; j++)
                {
                    all.Add(sorted[j] - sorted[i]);
                }
            }

            all.Sort();
            int h = (sorted.Length / 2) + 1;
            Assert.Equal(all[(h * (h - 1) / 2) - 1], RobustScale.QnOfSorted(sorted));
            for (int k = 1; k <= all.Count; k++)
            {
                Assert.Equal(all[k - 1], PairwiseDifferences.Nth(sorted, k));
            }
        });

    /// <summary>
    /// What the tests of statsmodels quote from robustbase without the correction for small samples: 13.3148 for 0 … 39, and 8.87656, 2.21914 and
    /// 4.43828 for the columns air flow, water temperature and acid of the stack-loss data (Brownlee 1965). The factor is 1/(√2·Φ⁻¹(5/8)).
    /// </summary>
    [Fact]
    public void Qn_has_the_values_quoted_for_a_row_of_numbers_and_the_stack_loss_data()
    {
        double factor = 1 / (Math.Sqrt(2) * MathNet.Numerics.Distributions.Normal.InvCDF(0, 1, 5.0 / 8));
        double[] air = [80, 80, 75, 62, 62, 62, 62, 62, 58, 58, 58, 58, 58, 58, 50, 50, 50, 50, 50, 56, 70];
        double[] water = [27, 27, 25, 24, 22, 23, 24, 24, 23, 18, 18, 17, 18, 19, 18, 18, 19, 19, 20, 20, 20];
        double[] acid = [89, 88, 90, 87, 87, 87, 93, 93, 87, 80, 89, 88, 82, 93, 89, 86, 72, 79, 80, 82, 91];
        double[] loss = [42, 37, 37, 28, 18, 18, 19, 20, 15, 14, 14, 13, 11, 12, 8, 7, 8, 8, 9, 15, 15];
        foreach ((double[] values, double quoted) in ((double[], double)[])[([.. Enumerable.Range(0, 40).Select(i => (double)i)], 13.3148), (loss, 8.87656), (air, 8.87656), (water, 2.21914), (acid, 4.43828)])
        {
            Assert.Equal(quoted, factor * RobustScale.QnOfSorted([.. values.Order()]), 1e-4);
        }
    }

    /// <summary>Croux and Rousseeuw, 'Time-efficient algorithms for two highly robust estimators of scale' (1992): factors for 2 … 9 values, from memory, as robustbase has those of Sn too.</summary>
    [Fact]
    public void Sn_of_few_values_has_the_printed_factors()
    {
        double[] printed = [0.743, 1.851, 0.954, 1.351, 0.993, 1.198, 1.005, 1.131];
        for (int n = 2; n <= 9; n++)
        {
            // Of 0, 1 … n − 1 the median over i of the high median over j of |i − j|, low median outside, by its definition.
            double[] inner = [.. Enumerable.Range(0, n).Select(i => (double)Enumerable.Range(0, n).Select(j => Math.Abs(i - j)).Order().ElementAt(n / 2)).Order()];
            Assert.Equal(1.1926 * printed[n - 2] * inner[((n + 1) / 2) - 1], RobustScale.Sn([.. Enumerable.Range(0, n).Select(i => (double)i)]).Value, 1e-12);
        }
    }

    [Fact]
    public void Sn_is_the_median_of_medians_that_its_definition_names() =>
        Gen.Select(Gen.Double[-100, 100].Array[10, 60], Gen.Bool).Sample((values, coarse) =>
        {
            double[] x = [.. values.Select(v => coarse ? Math.Round(v / 20) : v)];
            int n = x.Length;
            double[] inner = [.. x.Select(a => x.Select(b => Math.Abs(a - b)).Order().ElementAt(n / 2)).Order()];
            double expected = 1.1926 * (n % 2 == 1 ? n / (n - 0.9) : 1) * inner[((n + 1) / 2) - 1];
            Assert.Equal(expected, RobustScale.Sn(x).Value, 1e-12 * (1 + expected));
        });

    [Fact]
    public void The_median_is_that_of_the_sorted_values_whatever_their_order() =>
        Gen.Select(Gen.Double[-1e6, 1e6].Array[1, 2000], Gen.Bool).Sample((values, coarse) =>
        {
            double[] x = [.. values.Select(v => coarse ? Math.Round(v / 2e5) : v)];
            double[] sorted = [.. x.Order()];
            Assert.Equal((sorted[(x.Length - 1) / 2] + sorted[x.Length / 2]) / 2, RobustScale.Median(x).Value);
        });

    [Theory]
    [InlineData(10_000, true)]
    [InlineData(10_001, false)]
    public void Sorted_and_reversed_values_have_the_same_median(int count, bool rising)
    {
        double[] x = [.. Enumerable.Range(0, count).Select(i => (double)(rising ? i : count - 1 - i))];
        Assert.Equal((count - 1) / 2.0, RobustScale.Median(x).Value);
    }

    [Fact]
    public void Four_in_ten_wild_values_move_qn_by_less_than_its_breakdown_allows()
    {
        double[] clean = Series.White(new Random(1), 500);
        double[] dirty = [.. clean.Select((v, i) => i % 10 < 4 ? 1e6 + v : v)];
        Assert.InRange(RobustScale.Qn(clean).Value, 0.9, 1.1);
        Assert.InRange(RobustScale.Mad(dirty).Value, 0.5, 8);
        Assert.InRange(RobustScale.Qn(dirty).Value, 0.5, 8);
        Assert.InRange(RobustScale.Sn(dirty).Value, 0.5, 8);
    }

    [Fact]
    public void A_constant_series_has_no_spread()
    {
        double[] x = [.. Enumerable.Repeat(1e9 + 0.1, 50)];
        Assert.Equal(0, RobustScale.Mad(x).Value);
        Assert.Equal(0, RobustScale.Qn(x).Value);
        Assert.Equal(0, RobustScale.Sn(x).Value);
        Assert.Equal(1e9 + 0.1, RobustScale.Median(x).Value);
    }

    [Fact]
    public void One_point_has_a_median_but_no_spread()
    {
        Assert.Equal(7, RobustScale.Median([7]).Value);
        Assert.Equal(new Shortfall("points", 1, 2), RobustScale.Mad([7]).Missing);
        Assert.Equal(new Shortfall("points", 1, 2), RobustScale.Qn([7]).Missing);
        Assert.Equal(new Shortfall("points", 1, 2), RobustScale.Sn([7]).Missing);
    }

    [Fact]
    public void Nothing_but_faults_is_not_enough()
    {
        Assert.Equal(new Shortfall("points", 0, 1), RobustScale.Median([]).Missing);
        Assert.False(RobustScale.Mad([]).IsKnown);
        Assert.False(RobustScale.Qn([]).IsKnown);
        Assert.False(RobustScale.Sn([]).IsKnown);
    }

    [Fact]
    public void A_huge_offset_leaves_a_scale_as_exact_as_the_values_are()
    {
        double[] x = [.. Series.Lehmer(401).Select(v => 1e-3 * v)];
        double[] shifted = [.. x.Select(v => 1e9 + v)];
        double lattice = 2 * Math.BitIncrement(1e9) - (2 * 1e9);
        Assert.Equal(RobustScale.Qn(x).Value, RobustScale.Qn(shifted).Value, 3 * lattice);
        Assert.Equal(RobustScale.Sn(x).Value, RobustScale.Sn(shifted).Value, 3 * lattice);
        Assert.Equal(RobustScale.Mad(x).Value, RobustScale.Mad(shifted).Value, 3 * lattice);
    }

    [Fact]
    public void The_order_of_values_is_of_no_account()
    {
        double[] x = Series.Lehmer(301);
        double[] reversed = [.. x.Reverse()];
        Assert.Equal(RobustScale.Qn(x).Value, RobustScale.Qn(reversed).Value);
        Assert.Equal(RobustScale.Sn(x).Value, RobustScale.Sn(reversed).Value);
        Assert.Equal(RobustScale.Mad(x).Value, RobustScale.Mad(reversed).Value);
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void A_value_that_is_not_finite_is_a_mistake_of_the_programmer(double bad)
    {
        double[] values = [1, 2, bad];
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RobustScale.Median(values)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RobustScale.Mad(values)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RobustScale.Qn(values)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RobustScale.Sn(values)).ParamName);
    }

    private static void Holds(JsonElement row, double[] x, double qnTolerance = 1e-12)
    {
        Assert.Equal(row.Number("n"), x.Length);
        Assert.Equal(row.Number("median"), RobustScale.Median(x).Value, 1e-13 * row.Number("median"));
        Assert.Equal(row.Number("mad"), RobustScale.Mad(x).Value, 1e-12 * row.Number("mad"));
        Assert.Equal(row.Number("qn"), RobustScale.Qn(x).Value, qnTolerance * row.Number("qn"));
        Assert.Equal(row.Number("sn"), RobustScale.Sn(x).Value, 1e-12 * row.Number("sn"));
    }
}
