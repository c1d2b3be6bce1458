using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Trend;

public class DriftTests
{
    private static double[] Steps(int n, double step = 1, double origin = 0) => [.. Enumerable.Range(0, n).Select(i => origin + (i * step))];

    /// <summary>
    /// From an effective size of 30 on, the interval of 95 % of those records that are answered must hold the true slope in 92 to 97 %, and
    /// no more than 7 % may claim a drift that isn't there (the slope is 0 here, so that is the same count). Fixed seeds; the
    /// Monte-Carlo error of one row is 0.7 to 1.1 %.
    /// </summary>
    [Theory]
    [InlineData(60, 0.0)]
    [InlineData(112, 0.3)]
    [InlineData(170, 0.7)]
    [InlineData(340, 0.7)]
    [InlineData(570, 0.9)]
    public void The_interval_holds_the_true_slope_as_often_as_it_says(int n, double rho)
    {
        foreach (Wild wild in Enum.GetValues<Wild>())
        {
            var noise = new SeededNoise(4200 + n);
            int answered = 0, held = 0;
            for (int trial = 0; trial < (n < 200 ? 2000 : 800); trial++)
            {
                Answer<DriftEstimate> drift = Drift.Estimate(Steps(n), noise.Next(n, rho, wild));
                answered += drift.IsKnown ? 1 : 0;
                held += drift.IsKnown && !drift.Value.IsClaimed ? 1 : 0;
            }

            double share = 100.0 * held / answered;
            Assert.True(answered > 220, $"{wild}: only {answered} answered");
            Assert.True(share is >= 91.5 and <= 98, $"n {n}, rho {rho}, {wild}: {share:0.0} % of {answered}");
        }
    }

    /// <summary>White noise on slow noise makes neighbours look nearly independent: lag 1 alone would answer 0.45 here and be wrong by four.</summary>
    [Fact]
    public void Slow_noise_under_white_noise_is_not_overlooked()
    {
        var noise = new SeededNoise(77);
        int answered = 0, held = 0;
        for (int trial = 0; trial < 600; trial++)
        {
            double[] y = noise.Next(1000, 0.9, Wild.None);
            for (int i = 0; i < y.Length; i++)
            {
                y[i] += noise.Gauss();
            }

            Answer<DriftEstimate> drift = Drift.Estimate(Steps(1000), y);
            answered += drift.IsKnown ? 1 : 0;
            held += drift.IsKnown && !drift.Value.IsClaimed ? 1 : 0;
        }

        Assert.True(answered > 500, $"{answered}");
        Assert.InRange(100.0 * held / answered, 92, 98);
    }

    [Fact]
    public void A_third_of_the_least_size_is_never_answered_and_a_random_walk_hardly_ever()
    {
        var noise = new SeededNoise(5);
        int walks = 0;
        for (int trial = 0; trial < 200; trial++)
        {
            Answer<DriftEstimate> few = Drift.Estimate(Steps(190), noise.Next(190, 0.9, Wild.None));
            Assert.Equal("independent points", few.Missing!.What);
            Assert.Equal(Drift.LeastEffectiveSize, few.Missing.Needs);
            double[] walk = new double[1000];
            for (int i = 1; i < walk.Length; i++)
            {
                walk[i] = walk[i - 1] + noise.Gauss();
            }

            walks += Drift.Estimate(Steps(1000), walk).IsKnown ? 1 : 0;
        }

        Assert.Equal(0, walks);
    }

    /// <summary>
    /// Lake Huron's fall is what least squares claim with t = −6 and restricted likelihood does not (t = −1.5): too few independent
    /// years. The Nile's is a step, whose two halves are slow noise about a line. New Haven's warming has years enough.
    /// </summary>
    [Fact]
    public void Lake_Huron_and_the_Nile_are_too_short_for_a_claim_and_New_Haven_is_not()
    {
        Answer<DriftEstimate> huron = Drift.Estimate(Steps(98), Golden.DataSet("LakeHuron"));
        Assert.Equal("independent points", huron.Missing!.What);
        Assert.InRange(huron.Missing.Has, 5, 20);
        Assert.InRange(Drift.Estimate(Steps(100), Golden.DataSet("Nile")).Missing!.Has, 20, 30);
        DriftEstimate haven = Drift.Estimate(Steps(60), Golden.DataSet("nhtemp")).Value;
        Assert.True(haven.IsClaimed);
        Assert.InRange(haven.Slope, 0.030, 0.044);
    }

    [Fact]
    public void A_clear_drift_is_claimed_with_its_wild_readings_left_out()
    {
        double[] y = new SeededNoise(11).Next(600, 0.5, Wild.OneSide);
        for (int i = 0; i < y.Length; i++)
        {
            y[i] = 1e9 + (1e-3 * (y[i] + (0.02 * i)));
        }

        DriftEstimate drift = Drift.Estimate(Steps(600, 0.1, 1.8e9), y).Value;
        Assert.True(drift.IsClaimed);
        Assert.InRange(2e-4, drift.Lower, drift.Upper);
        Assert.InRange(drift.LeftOut, 40, 80);
        Assert.Equal(0.1, drift.Step, 1e-6);
        Assert.InRange(drift.Level, 1e9, 1e9 + 0.012);
    }

    [Fact]
    public void Another_unit_origin_and_direction_change_the_numbers_alike()
    {
        double[] y = new SeededNoise(12).Next(300, 0.6, Wild.BothSides);
        DriftEstimate plain = Drift.Estimate(Steps(300), y).Value;
        DriftEstimate turned = Drift.Estimate(Steps(300, 2, 100), [.. y.Select((v, i) => 5 - (3 * v) + (0.5 * i))]).Value;
        Assert.Equal((-1.5 * plain.Slope) + 0.25, turned.Slope, 1e-9);
        Assert.Equal((-1.5 * plain.Upper) + 0.25, turned.Lower, 1e-9);
        Assert.Equal(plain.LeftOut, turned.LeftOut);
        Assert.Equal(plain.EffectiveSize, turned.EffectiveSize, 1e-6);
        Assert.Equal(9 * plain.LevelVariance, turned.LevelVariance, 1e-6);
        Assert.Equal(4.5 * plain.Covariance, turned.Covariance, 1e-9);
    }

    [Fact]
    public void Holes_where_faults_were_are_not_taken_for_neighbours()
    {
        double[] y = new SeededNoise(13).Next(2000, 0.9, Wild.None);
        int[] present = [.. Enumerable.Range(0, 2000).Where(i => i % 400 is < 200 or > 320)];
        DriftEstimate whole = Drift.Estimate(Steps(2000), y).Value;
        DriftEstimate holes = Drift.Estimate([.. present.Select(i => (double)i)], [.. present.Select(i => y[i])]).Value;
        Assert.InRange(holes.Correlation, 0.85, 0.95);
        Assert.InRange(holes.EffectiveSize, 0.6 * whole.EffectiveSize, 1.0 * whole.EffectiveSize);
    }

    [Fact]
    public void A_constant_has_drift_nought_and_no_width()
    {
        DriftEstimate drift = Drift.Estimate(Steps(100), [.. Enumerable.Repeat(3.3, 100)]).Value;
        Assert.Equal((0, 0, 0, 3.3), (drift.Slope, drift.Lower, drift.Upper, drift.Level));
        Assert.False(drift.IsClaimed);
    }

    [Fact]
    public void A_line_without_noise_is_found_to_rounding()
    {
        DriftEstimate drift = Drift.Estimate(Steps(100), [.. Steps(100).Select(t => 7 - (0.25 * t))]).Value;
        Assert.Equal(-0.25, drift.Slope, 1e-12);
        Assert.InRange(drift.Upper - drift.Lower, 0, 1e-10);
    }

    /// <summary>More than half of the readings at one level: the MAD is 0, and nothing may be called wild for it.</summary>
    [Fact]
    public void Ties_everywhere_leave_nothing_out()
    {
        var random = new Random(4);
        double[] y = [.. Enumerable.Range(0, 400).Select(_ => random.NextDouble() < 0.2 ? 1.0 : 0.0)];
        DriftEstimate drift = Drift.Estimate(Steps(400), y).Value;
        Assert.Equal(0, drift.LeftOut);
        Assert.InRange(0, drift.Lower, drift.Upper);
        Assert.True(drift.Upper > drift.Lower);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(29)]
    public void Nothing_one_point_or_too_few_are_not_enough(int n) =>
        Assert.Equal(new Shortfall("independent points", n, 30), Drift.Estimate(Steps(n), Steps(n)).Missing);

    [Fact]
    public void Programmers_errors_are_named()
    {
        double[] t = Steps(50);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Drift.Estimate(t, t.AsSpan(1))).ParamName);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => Drift.Estimate([.. t.Reverse()], t)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Drift.Estimate(t, [.. t.Skip(1), double.NaN])).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => Drift.Estimate(t, t, 95)).ParamName);
    }

    /// <summary>Coded in R from its packages: nlme's correlation of the whole record, MASS's generalised least squares through the means of 24 blocks.</summary>
    [Theory]
    [InlineData("quick")]
    [InlineData("slow")]
    public void Slope_and_error_are_those_of_R_through_the_same_blocks(string name)
    {
        JsonElement made = Golden.Json("trend/blocks").GetProperty(name);
        double[] y = made.GetProperty("values").Doubles();
        DriftEstimate drift = Drift.Estimate(Steps(y.Length), y).Value;
        Assert.Equal((0, 1.0, 22), (drift.LeftOut, drift.SlowShare, drift.DegreesOfFreedom));
        Assert.Equal(made.Number("phi"), drift.Correlation, 1e-4);
        double error = made.Number("error");
        Assert.Equal(made.Number("slope"), drift.Slope, 1e-3 * error);
        double widening = Drift.Widening(drift.EffectiveSize);
        Assert.Equal(1, Math.Sqrt(drift.SlopeVariance) / widening / error, 1e-3);
        Assert.Equal(1, (drift.Upper - drift.Slope) / (made.Number("t") * error * widening), 1e-3);
    }

    /// <summary>The covariance of two block means by its definition, over every pair of their readings.</summary>
    [Fact]
    public void Covariance_of_block_means_is_the_sum_over_pairs()
    {
        int[] places = [.. Enumerable.Range(0, 90).Where(i => i % 7 != 3 && i is not (> 40 and < 55))];
        const double phi = 0.8;
        const double share = 0.6;
        var model = new NoiseModel(phi, share, 1);
        var matrix = model.BlockCovariance(places, 5);
        for (int k = 0; k < 5; k++)
        {
            for (int l = 0; l < 5; l++)
            {
                (int a, int b) = Drift.Block(k, 5, places.Length);
                (int c, int d) = Drift.Block(l, 5, places.Length);
                double sum = 0;
                for (int i = a; i < b; i++)
                {
                    for (int j = c; j < d; j++)
                    {
                        sum += i == j ? 1 : share * Math.Pow(phi, Math.Abs(places[i] - places[j]));
                    }
                }

                Assert.Equal(sum / ((b - a) * (d - c)), matrix[k, l], 1e-12);
            }
        }
    }
}
