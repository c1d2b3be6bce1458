using DriftWatch.Analysis;
using DriftWatch.Analysis.Change;
using DriftWatch.Tests.Support;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace DriftWatch.Tests.Analysis.Change;

/// <summary>The step that the product claims: its place, its interval's coverage and how often it is claimed falsely; seeds are fixed.</summary>
public class StepFinderTests
{
    [Fact]
    public void The_Nile_s_step_is_at_28_and_its_interval_holds_strucchange_s_cut()
    {
        // n(1 − ρ)/(1 + ρ) on the shorter side is below 30: said, not guessed.
        double[] nile = Golden.DataSet("Nile");
        Assert.Equal("independent points on the shorter side of the step", StepFinder.Find(nile).Missing!.What);

        // The same record mirrored on to itself has enough before the step.
        double[] longer = [.. nile[..28].Reverse(), .. nile];
        StepFinding found = StepFinder.Find(longer).Value;
        Assert.Equal(56, found.Change);
        Assert.True(found.IsClaimed);
        Assert.InRange(found.From, 50, 56);
        Assert.InRange(found.To, 56, 62);
    }

    /// <summary>The statistic is what strucchange's sctest prints as sup.F for the Nile, 75.93 (from memory; R gives 75.92976942749).</summary>
    [Fact]
    public void The_statistic_of_the_Nile_is_the_F_that_strucchange_prints()
    {
        var scan = new StepScan(Golden.DataSet("Nile"), 15);
        double explained = scan.Explained(scan.Best);
        Assert.Equal(28, scan.Best);
        Assert.Equal(75.92976942749, 98 * explained / (scan.Squares - explained), 1e-9);
    }

    /// <summary>
    /// Andrews, 'Tests for parameter instability and structural change with unknown change point', Econometrica 61 (1993) and 71 (2003), table I: for
    /// one parameter, with a twentieth cut off at either end, 5 % of the largest statistics lie beyond 9.84. From memory.
    /// </summary>
    [Fact]
    public void White_noise_with_Andrews_s_critical_value_has_a_p_of_5_percent()
    {
        const double critical = 9.84;
        const int n = 1200;
        var random = new Xoshiro256StarStar(7107, threadSafe: false);
        double[] noise = Record(random, 0, n / 2, 0, 0);
        (double low, double high) = (0, 1);
        for (int round = 0; round < 60; round++)
        {
            double step = (low + high) / 2;
            (low, high) = Statistic(Stepped(step)) < critical ? (step, high) : (low, step);
        }

        StepFinding found = StepFinder.Find(Stepped(high), new StepOptions { Simulations = 1999, TakesOutSpikes = false }).Value;
        Assert.InRange(found.Rho, -0.05, 0.05);
        Assert.InRange(found.PValue, 0.03, 0.07);

        double[] Stepped(double step) => [.. noise.Select((v, i) => v + (i < n / 2 ? 0 : step))];

        static double Statistic(double[] values)
        {
            var scan = new StepScan(values, values.Length / 20);
            int[] places = [.. Enumerable.Range(0, values.Length)];
            double[] room = new double[values.Length];
            StepNoise about = StepNoise.About(values, places, scan.Best, scan.MeanBefore(scan.Best), scan.MeanAfter(scan.Best), room);
            return scan.Explained(scan.Best) / about.LongRunVariance;
        }
    }

    /// <summary>
    /// Noise of which half is new at every sample, on top of slow noise: 120 independent values in all. Without allowing for what the lags only
    /// hint at, one claim in eight was false.
    /// </summary>
    [Fact]
    public void White_noise_on_top_of_slow_noise_makes_no_more_false_claims()
    {
        const int runs = 200;
        var random = new Xoshiro256StarStar(7108, threadSafe: false);
        int answered = 0, claimed = 0;
        for (int r = 0; r < runs; r++)
        {
            double[] record = [.. Record(random, 0.7, 200, 0, 0).Select(v => v + Normal.Sample(random, 0, 1))];
            Answer<StepFinding> found = StepFinder.Find(record, new StepOptions { Simulations = 199, Seed = r });
            answered += found.IsKnown ? 1 : 0;
            claimed += found is { IsKnown: true, Value.IsClaimed: true } ? 1 : 0;
        }

        // Some 80 answers leave 2.7 % a standard error.
        Assert.True(answered > 60 && claimed <= 0.12 * answered, $"{claimed} of {answered}");
    }

    [Theory]
    [InlineData(0, 60, 1.5, 0)]
    [InlineData(0.3, 100, 1.5, 0)]
    [InlineData(0.7, 240, 1.5, 0)]
    [InlineData(0, 60, 1.5, 0.1)]
    [InlineData(0.7, 240, 1.5, 0.1)]
    public void The_interval_covers_the_step_about_as_often_as_it_says(double rho, int side, double step, double outliers)
    {
        const int runs = 300;
        var random = new Xoshiro256StarStar(7101, threadSafe: false);
        int answered = 0, covered = 0;
        for (int r = 0; r < runs; r++)
        {
            double[] record = Record(random, rho, side, step, outliers);
            if (StepFinder.Find(record, new StepOptions { Simulations = 199, Seed = r }) is { IsKnown: true, Value: var found })
            {
                answered++;
                covered += found.From <= side && side <= found.To ? 1 : 0;
            }
        }

        // 300 runs leave ±2.5 % (two standard errors) about 92 to 97 %.
        double share = 100.0 * covered / answered;
        Assert.True(answered > 0.9 * runs && share is > 90 and < 99.5, $"{answered} answered, {share:0.0} % covered");
    }

    [Theory]
    [InlineData(0, 100)]
    [InlineData(0.7, 300)]
    public void Steps_are_claimed_falsely_as_rarely_as_promised(double rho, int side)
    {
        const int runs = 300;
        var random = new Xoshiro256StarStar(7102, threadSafe: false);
        int answered = 0, claimed = 0, regimes = 0, pettitt = 0;
        for (int r = 0; r < runs; r++)
        {
            double[] record = Record(random, rho, side, 0, 0);
            Answer<StepFinding> found = StepFinder.Find(record, new StepOptions { Simulations = 199, Seed = r });
            answered += found.IsKnown ? 1 : 0;
            claimed += found is { IsKnown: true, Value.IsClaimed: true } ? 1 : 0;
            pettitt += Pettitt.Test(record).Value.IndependentPValue < 0.05 ? 1 : 0;
            regimes += r < runs / 5 && RegimeFinder.Find(record) is { IsKnown: true, Value.Changes.Count: > 0 } ? 1 : 0;
        }

        Assert.True(claimed <= 0.07 * runs && claimed <= 0.10 * answered, $"{claimed} of {answered} answered, {runs} in all");
        Assert.True(regimes <= 10, $"{regimes} of {runs / 5} cut");
        Assert.True(rho == 0 ? pettitt <= 0.07 * runs : pettitt > 0.3 * runs, $"Pettitt called {pettitt} of {runs} changed");
    }

    [Fact]
    public void Spikes_do_not_hide_a_step_and_an_edge_is_no_spike()
    {
        var random = new Xoshiro256StarStar(7103, threadSafe: false);
        double[] record = Record(random, 0, 60, 5, 0);
        for (int i = 5; i < record.Length; i += 11)
        {
            record[i] += i % 2 == 0 ? 40 : -40;
        }

        StepFinding found = StepFinder.Find(record).Value;
        Assert.True(found.IsClaimed);
        Assert.InRange(60, found.From, found.To);
        Assert.InRange(found.Spikes, 11, 16);
        Assert.InRange(found.After - found.Before, 4, 6);
        double[] edge = [.. Enumerable.Range(0, 40).Select(i => (i < 20 ? 0.0 : 100) + (0.01 * (i * 7 % 5)))];
        Assert.Equal(40, SpikeFilter.Kept(edge).Length);
    }

    [Fact]
    public void The_same_record_gives_the_same_answer()
    {
        double[] record = Record(new Xoshiro256StarStar(7104, threadSafe: false), 0.3, 100, 1, 0);
        Assert.Equal(StepFinder.Find(record), StepFinder.Find(record));
    }

    [Fact]
    public void A_huge_offset_moves_no_step()
    {
        double[] record = Record(new Xoshiro256StarStar(7105, threadSafe: false), 0, 80, 2, 0);
        StepFinding plain = StepFinder.Find(record).Value;
        StepFinding offset = StepFinder.Find([.. record.Select(x => 1e9 + (x * 1e-3))]).Value;
        Assert.Equal((plain.Change, plain.From, plain.To, plain.Spikes), (offset.Change, offset.From, offset.To, offset.Spikes));
    }

    [Fact]
    public void A_constant_series_has_no_step_but_a_shortfall() =>
        Assert.Equal(new Shortfall("distinct values on a side", 1, 2), StepFinder.Find([.. Enumerable.Repeat(3.0, 100)]).Missing);

    [Fact]
    public void Ties_everywhere_are_no_obstacle()
    {
        // Two readings of an instrument whose resolution is as coarse as the noise.
        var random = new Xoshiro256StarStar(7106, threadSafe: false);
        double[] record = [.. Record(random, 0, 80, 2, 0).Select(x => Math.Round(x))];
        StepFinding found = StepFinder.Find(record).Value;
        Assert.True(found.IsClaimed);
        Assert.InRange(80, found.From, found.To);
    }

    [Fact]
    public void A_step_without_noise_is_a_shortfall_of_noise_not_a_claim() =>
        Assert.Equal("distinct values on a side", StepFinder.Find([.. Enumerable.Range(0, 100).Select(i => i < 50 ? 0.0 : 1)]).Missing!.What);

    [Fact]
    public void Few_points_and_none_are_not_enough()
    {
        Assert.Equal(new Shortfall("points", 0, 60), StepFinder.Find([]).Missing);
        Assert.Equal(new Shortfall("points", 1, 60), StepFinder.Find([1]).Missing);
        Assert.Empty(SpikeFilter.Kept([]));
        Assert.Equal([0], SpikeFilter.Kept([1]));
    }

    [Fact]
    public void Wrong_arguments_are_named()
    {
        double[] record = new double[100];
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => StepFinder.Find([double.NaN])).ParamName);
        Assert.Equal("options", Assert.Throws<ArgumentException>(() => StepFinder.Find(record, new StepOptions { ClaimLevel = 0 })).ParamName);
        Assert.Equal("options", Assert.Throws<ArgumentException>(() => StepFinder.Find(record, new StepOptions { Confidence = 1 })).ParamName);
        Assert.Equal("options", Assert.Throws<ArgumentException>(() => StepFinder.Find(record, new StepOptions { Simulations = 9 })).ParamName);
    }

    /// <summary>First-order autoregressive noise of variance 1 with a step in the middle and outliers of ten standard deviations.</summary>
    private static double[] Record(RandomSource random, double rho, int side, double step, double outliers)
    {
        double[] values = new double[2 * side];
        double noise = 0;
        for (int i = 0; i < values.Length; i++)
        {
            double fresh = Normal.Sample(random, 0, 1);
            noise = i == 0 ? fresh : (rho * noise) + (Math.Sqrt(1 - (rho * rho)) * fresh);
            values[i] = noise + (i < side ? 0 : step);
            if (random.NextDouble() < outliers)
            {
                values[i] += 10 * Normal.Sample(random, 0, 1);
            }
        }

        return values;
    }
}
