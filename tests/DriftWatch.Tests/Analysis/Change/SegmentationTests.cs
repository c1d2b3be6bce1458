using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Change;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Change;

/// <summary>Segmentation, Pettitt's test and Bai's interval against R and an exact programme written here. CsCheck prints failing seeds.</summary>
public class SegmentationTests
{
    private static readonly JsonElement R = Golden.Json("change/change");
    private static readonly double[] Nile = Golden.DataSet("Nile");
    private static readonly double NileSigma = Math.Sqrt(16000);

    [Theory]
    [InlineData("2", 2)]
    [InlineData("3", 3)]
    public void The_Nile_changes_once_at_28_with_the_cost_of_an_exact_programme_in_R(string name, double logarithms)
    {
        SegmentedRecord found = Segmentation.OfLevel(Nile, NileSigma, logarithms * Math.Log(100)).Value;
        JsonElement expected = R.GetProperty("nileLevel").GetProperty(name);
        Assert.Equal(Changes(expected, "changes"), found.Changes);
        Assert.Equal(expected.Number("cost"), found.Cost, 1e-9);
        Assert.Equal([28], found.Changes);
    }

    [Theory]
    [InlineData("3", 3)]
    [InlineData("4", 4)]
    public void Level_and_noise_in_segments_of_two_cut_falsely_just_as_the_exact_programme_in_R_does(string name, double logarithms)
    {
        SegmentedRecord found = Segmentation.OfLevelAndNoise(Nile, Math.Sqrt(Math.E * 1e-11), logarithms * Math.Log(100), least: 2).Value;
        JsonElement expected = R.GetProperty("nileBoth").GetProperty(name);
        Assert.Equal(Changes(expected, "changes"), found.Changes);
        Assert.Equal(expected.Number("cost"), found.Cost, 1e-7);

        // Segments of ten or more leave the one change that is there.
        Assert.Equal([28], Segmentation.OfLevelAndNoise(Nile, 1, logarithms * Math.Log(100)).Value.Changes);
    }

    [Fact]
    public void Pruning_changes_nothing_an_exact_programme_finds_the_same_cost() =>
        Gen.Select(Gen.Int[0, 4].Array[1, 70], Gen.Int[1, 6], Gen.Double[0.5, 12]).Sample((steps, least, penalty) =>
        {
            // Small whole numbers: ties everywhere, which is where pruning would go wrong.
            double[] values = [.. steps.Select(s => (double)s)];
            Answer<SegmentedRecord> pelt = Segmentation.OfLevel(values, 1, penalty, least);
            if (values.Length < least)
            {
                Assert.Equal(least, pelt.Missing!.Needs);
                return;
            }

            Assert.Equal(ExactCost(values, penalty, least), pelt.Value.Cost, 1e-9);
            Assert.Equal(pelt.Value.Cost, CostOf(values, pelt.Value.Changes, penalty), 1e-9);
        });

    /// <summary>
    /// Killick and Eckley, 'changepoint: An R Package for Changepoint Analysis', Journal of Statistical Software 58(3), 2014, section 4:
    /// cpt.mean by PELT with its penalty of ln n prints 97 192 273 353 362 366 for their made series. Changes and recipe from memory; the
    /// series is R's, and six indices don't come out by chance.
    /// </summary>
    [Fact]
    public void The_made_series_of_the_changepoint_package_is_cut_where_its_paper_prints_it() =>
        Assert.Equal(
            [97, 192, 273, 353, 362, 366],
            Segmentation.OfLevel(R.GetProperty("killick").Doubles(), 1, SegmentPenalty.Schwarz(400) / 2, 1).Value.Changes);

    /// <summary>What strucchange finds for every number of breaks holds the least sum of squares and penalties, and PELT must find it.</summary>
    [Theory]
    [InlineData("Nile")]
    [InlineData("steps")]
    public void Whatever_the_penalty_the_changes_are_strucchange_s_for_their_number(string name)
    {
        JsonElement expected = R.GetProperty("numbers").GetProperty(name);
        double[] values = name == "Nile" ? Nile : R.GetProperty("steps").Doubles();
        double[] rss = expected.GetProperty("rss").Doubles();
        var numbers = new HashSet<int>();
        for (double penalty = (rss[0] - rss[^1]) * 2; penalty > rss[0] / 1e4; penalty /= 1.1)
        {
            int number = Enumerable.Range(0, rss.Length).MinBy(m => rss[m] + (penalty * m));
            if (number == rss.Length - 1)
            {
                break; // more may be better still, and strucchange was not asked for them
            }

            SegmentedRecord found = Segmentation.OfLevel(values, 1, penalty, (int)expected.Number("least")).Value;
            Assert.Equal(1, found.Cost / (rss[number] + (penalty * number)), 1e-12);
            Assert.Equal(number == 0 ? [] : Changes(expected.GetProperty("breaks")[number - 1]), found.Changes);
            numbers.Add(number);
        }

        Assert.True(numbers.Count >= 3, string.Join(' ', numbers));
    }

    [Fact]
    public void A_staircase_is_cut_where_strucchange_cuts_it()
    {
        double[] steps = R.GetProperty("steps").Doubles();
        JsonElement expected = R.GetProperty("strucchange").GetProperty("steps");
        Assert.Equal(Changes(expected, "breakpoints"), Segmentation.OfLevel(steps, 1, SegmentPenalty.Strict(steps.Length), 30).Value.Changes);
        Regimes regimes = RegimeFinder.Find(steps).Value;
        Assert.Equal(Changes(expected, "breakpoints"), regimes.Changes);
        Assert.Equal(4, regimes.Levels.Count);
        StepFinding second = RegimeFinder.Instant(steps, regimes, 1).Value;
        Assert.Equal(102, second.Change);
        Assert.InRange(102, second.From, second.To);
        Assert.InRange(second.To - second.From, 0, 8);
        Assert.Equal("change", Assert.Throws<ArgumentException>(() => RegimeFinder.Instant(steps, regimes, 3)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => RegimeFinder.Instant(steps.AsSpan(0, 80), regimes, 1)).ParamName);
    }

    /// <summary>Pettitt, Applied Statistics 28, 1979, table 1 (Page's made data of 1955): K = 232, change after the 17th, p = 0.0146, as R's wq quotes it.</summary>
    [Fact]
    public void Pettitt_1979_table_1_has_its_printed_results()
    {
        double[] page =
        [
            -1.05, 0.96, 1.22, 0.58, -0.98, -0.03, -1.54, -0.71, -0.35, 0.66, 0.44, 0.91, -0.02, -1.42, 1.26, -1.02, -0.81, 1.66, 1.05, 0.97,
            2.14, 1.22, -0.24, 1.60, 0.72, -0.12, 0.44, 0.03, 0.66, 0.56, 1.37, 1.66, 0.10, 0.80, 1.29, 0.49, -0.07, 1.18, 3.29, 1.84,
        ];
        PettittResult test = Pettitt.Test(page).Value;
        Assert.Equal((17, 232), (test.Change, test.Statistic));
        Assert.Equal(0.0146, test.IndependentPValue, 0.00005);
    }

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("nhtemp")]
    [InlineData("airmiles")]
    [InlineData("lh")]
    public void Pettitt_s_statistic_place_and_p_agree_with_R(string name)
    {
        PettittResult found = Pettitt.Test(Golden.DataSet(name)).Value;
        JsonElement expected = R.GetProperty("pettitt").GetProperty(name);
        Assert.Equal(expected.Number("K"), found.Statistic);
        Assert.Equal(expected.Number("k"), found.Change);
        Assert.Equal(1, found.IndependentPValue / expected.Number("p"), 1e-10);
        Assert.True(found.PValue >= found.IndependentPValue);
    }

    [Fact]
    public void Strucchange_s_interval_for_the_Nile_is_25_to_32() => Assert.Equal((25, 32), BaiInterval.Of(Nile, 28).Value);

    [Theory]
    [InlineData(1e-1)]
    [InlineData(1e-2)]
    [InlineData(1e-3)]
    public void Two_values_that_are_all_but_equal_before_the_cut_still_have_a_Bai_s_interval(double apart)
    {
        // The noise after the cut is up to a million times that before it, and the interval's reach grows with it.
        double[] values = [5, 5 + apart, 8, 9.1, 7.2, 8.4, 6.9, 8.8, 7.7, 8.1];
        (int from, int to) = BaiInterval.Of(values, 2).Value;
        Assert.InRange(from, -20, 2);
        Assert.InRange(to, 2, 3);
        (int mirroredFrom, int mirroredTo) = BaiInterval.Of([.. values.Reverse()], 8).Value;
        Assert.Equal((10 - to, 10 - from), (mirroredFrom, mirroredTo));
    }

    [Theory]
    [InlineData(1e-6)]
    [InlineData(1e-12)]
    public void A_side_without_noise_to_speak_of_has_no_Bai_s_interval(double apart) =>
        Assert.False(BaiInterval.Of([5, 5 + apart, 8, 9.1, 7.2, 8.4, 6.9, 8.8, 7.7, 8.1], 2).IsKnown);

    [Fact]
    public void Bai_s_interval_agrees_with_strucchange_for_every_change_of_two_regimes()
    {
        double[] steps = R.GetProperty("steps").Doubles();
        int[] cuts = [0, 60, 102, 150, 200];
        int[][] expected = [.. R.GetProperty("strucchange").GetProperty("steps").GetProperty("interval").EnumerateArray()
            .Select(row => row.EnumerateArray().Select(c => c.GetInt32()).ToArray())];
        for (int i = 1; i < 4; i++)
        {
            (int from, int to) = BaiInterval.Of(steps.AsSpan(cuts[i - 1]..cuts[i + 1]), cuts[i] - cuts[i - 1]).Value;
            Assert.Equal((expected[i - 1][0], expected[i - 1][2]), (from + cuts[i - 1], to + cuts[i - 1]));
        }
    }

    [Fact]
    public void The_law_of_the_cut_is_a_distribution_and_symmetric_for_equal_noise()
    {
        Assert.Equal(0.5, BaiInterval.Law(0, 1), 1e-12);
        Assert.Equal(1, BaiInterval.Law(7, 1) + BaiInterval.Law(-7, 1), 1e-10);

        foreach (JsonElement row in R.GetProperty("law").EnumerateArray())
        {
            foreach ((double v, double p) in row.GetProperty("at").Doubles().Zip(row.GetProperty("p").Doubles()))
            {
                Assert.Equal(p, BaiInterval.Law(v, row.Number("ratio")), 1e-9);
            }
        }

        // Bai 1997 gives 11 as the 97.5 % point for equal noise (from memory).
        Assert.Equal(0.975, BaiInterval.Law(11, 1), 0.001);
        Assert.Equal(1, BaiInterval.Law(2000, 0.1), 1e-6);

        // Where one side is a hundred times noisier the parts of the law are huge and cancel: it still rises without a jump.
        double last = 0;
        for (double v = -60; v < 60; v += 0.05)
        {
            double law = BaiInterval.Law(v, 0.01);
            Assert.InRange(law, last - 1e-9, Math.Min(1 + 1e-9, last + 0.2));
            last = law;
        }
    }

    [Fact]
    public void LakeHuron_is_cut_to_pieces_by_independent_methods_and_not_by_ours()
    {
        // The negative control: a trend with ρ near 0.8 and no step. BIC with independent noise sees four changes.
        double[] lake = Golden.DataSet("LakeHuron");
        Assert.Equal([14, 48, 68, 82], Changes(R.GetProperty("strucchange").GetProperty("LakeHuron"), "breakpoints"));
        Answer<Regimes> regimes = RegimeFinder.Find(lake);
        Assert.Equal("independent points", regimes.Missing?.What);
        Assert.False(StepFinder.Find(lake) is { IsKnown: true, Value.IsClaimed: true });
        PettittResult pettitt = Pettitt.Test(lake).Value;
        Assert.True(pettitt.IndependentPValue < 1e-5 && pettitt.PValue > 0.01, $"{pettitt}");
    }

    [Fact]
    public void The_Nile_is_two_regimes_of_nearly_white_noise()
    {
        Regimes found = RegimeFinder.Find(Nile).Value;
        Assert.Equal([28], found.Changes);
        Assert.InRange(found.Levels[0], 1072, 1122);
        Assert.InRange(found.Levels[1], 840, 860);
    }

    [Fact]
    public void A_constant_series_is_one_regime_for_known_noise_and_a_shortfall_without()
    {
        double[] constant = [.. Enumerable.Repeat(7.0, 60)];
        Assert.Empty(Segmentation.OfLevel(constant, 1, 5).Value.Changes);
        Assert.Equal("distinct values", RegimeFinder.Find(constant).Missing!.What);
        Assert.Equal("distinct values", Pettitt.Test(constant).Missing!.What);
        Assert.Equal("distinct values on a side", BaiInterval.Of(constant, 30).Missing!.What);
    }

    [Fact]
    public void Ties_everywhere_give_pettitt_midranks()
    {
        double[] ties = [0, 0, 0, 1, 0, 0, 1, 1, 1, 0, 1, 1];
        PettittResult found = Pettitt.Test(ties).Value;
        Assert.Equal(6, found.Change);
        Assert.Equal(24, found.Statistic); // five zeros of midrank 3.5 and a one of 9.5 in the first six: 2·27 − 78
    }

    [Fact]
    public void One_point_and_none_are_not_enough()
    {
        Assert.Equal(new Shortfall("points", 1, 10), Pettitt.Test([1]).Missing);
        Assert.Equal(new Shortfall("points", 0, 10), Pettitt.Test([]).Missing);
        Assert.Equal(new Shortfall("points", 0, 1), Segmentation.OfLevel([], 1, 5).Missing);
        Assert.Equal(new Shortfall("points", 0, 30), RegimeFinder.Find([]).Missing);
        Assert.Empty(Segmentation.OfLevel([3], 1, 5).Value.Changes);
    }

    [Fact]
    public void A_huge_offset_moves_no_change()
    {
        double[] tiny = [.. Nile.Select(x => 1e9 + (x * 1e-3))];
        Assert.Equal([28], Segmentation.OfLevel(tiny, NileSigma * 1e-3, 9.2).Value.Changes);
        Assert.Equal(28, Pettitt.Test(tiny).Value.Change);
        Assert.Equal((25, 32), BaiInterval.Of(tiny, 28).Value);
        Assert.Equal([28], RegimeFinder.Find(tiny).Value.Changes);
    }

    [Fact]
    public void Wrong_arguments_are_named()
    {
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Segmentation.OfLevel([1, double.NaN], 1, 5)).ParamName);
        Assert.Equal("sigma", Assert.Throws<ArgumentException>(() => Segmentation.OfLevel([1, 2], 0, 5)).ParamName);
        Assert.Equal("penalty", Assert.Throws<ArgumentException>(() => Segmentation.OfLevel([1, 2], 1, 0)).ParamName);
        Assert.Equal("least", Assert.Throws<ArgumentException>(() => Segmentation.OfLevel([1, 2], 1, 5, 0)).ParamName);
        Assert.Equal("least", Assert.Throws<ArgumentException>(() => Segmentation.OfLevelAndNoise([1, 2], 1, 5, 1)).ParamName);
        Assert.Equal("leastSigma", Assert.Throws<ArgumentException>(() => Segmentation.OfLevelAndNoise([1, 2], 0, 5)).ParamName);
        Assert.Equal("change", Assert.Throws<ArgumentException>(() => BaiInterval.Of(Nile, 1)).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => BaiInterval.Of(Nile, 28, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Pettitt.Test([double.PositiveInfinity])).ParamName);
        Assert.Equal("count", Assert.Throws<ArgumentException>(() => SegmentPenalty.Schwarz(1)).ParamName);
    }

    private static int[] Changes(JsonElement element, string name) => Changes(element.GetProperty(name));

    private static int[] Changes(JsonElement array) => [.. array.EnumerateArray().Select(c => c.GetInt32())];

    private static double Level(ReadOnlySpan<double> segment)
    {
        double mean = 0, squares = 0;
        foreach (double value in segment)
        {
            mean += value / segment.Length;
        }

        foreach (double value in segment)
        {
            squares += (value - mean) * (value - mean);
        }

        return squares;
    }

    /// <summary>Optimal partitioning without pruning or running sums (Jackson and others, IEEE Signal Processing Letters 12, 2005).</summary>
    private static double ExactCost(double[] values, double penalty, int least)
    {
        double[] best = [-penalty, .. Enumerable.Repeat(double.PositiveInfinity, values.Length)];
        for (int end = least; end <= values.Length; end++)
        {
            for (int start = 0; start <= end - least; start++)
            {
                best[end] = Math.Min(best[end], best[start] + Level(values.AsSpan(start..end)) + penalty);
            }
        }

        return best[^1];
    }

    private static double CostOf(double[] values, IReadOnlyList<int> changes, double penalty)
    {
        int[] cuts = [0, .. changes, values.Length];
        return (penalty * changes.Count) + cuts.Zip(cuts.Skip(1), (a, b) => Level(values.AsSpan(a..b))).Sum();
    }
}
