using CsCheck;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Trend;

/// <summary>Every rank that the selection gives must be the sorted list's, ties or not.</summary>
public class SlopeSelectionTests
{
    private static double[] AllSlopes(double[] t, double[] y)
    {
        var slopes = new List<double>();
        for (int i = 0; i < t.Length; i++)
        {
            for (int j = 0; j < i; j++)
            {
                if (t[i] != t[j])
                {
                    slopes.Add((y[i] - y[j]) / (t[i] - t[j]));
                }
            }
        }

        slopes.Sort();
        return [.. slopes];
    }

    private static double MedianOf(double[] sorted) =>
        sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[(sorted.Length / 2) - 1] + sorted[sorted.Length / 2]) / 2;

    [Fact]
    public void Small_sets_of_any_shape_agree_with_the_list() =>
        Gen.Select(Gen.Int[0, 6].Array[4, 40], Gen.Int[-4, 4].Array[40], Gen.Double[0, 1].Array[40]).Sample((times, levels, parts) =>
        {
            double[] t = [.. times.Select(i => (double)i)];
            double[] y = [.. times.Select((_, i) => levels[i] + (i % 2 == 0 ? parts[i] : 0))];
            double[] all = AllSlopes(t, y);
            return all.Length == 0
                ? !TheilSen.Fit(t, y).IsKnown
                : TheilSen.Fit(t, y).Value is { } fit && fit.Pairs == all.Length && Math.Abs(fit.Slope - MedianOf(all)) <= 1e-12;
        });

    /// <summary>Large enough that ranks are bracketed and narrowed, not listed: 1.1 million pairs and more.</summary>
    [Theory]
    [InlineData("noise")]
    [InlineData("steps")]
    [InlineData("two levels")]
    [InlineData("line")]
    [InlineData("tied times")]
    [InlineData("same point")]
    public void Large_sets_agree_with_the_list(string kind)
    {
        const int n = 1500;
        var random = new Random(17);
        double[] t = [.. Enumerable.Range(0, n).Select(i => kind switch { "tied times" => i / 40, "same point" => i < 1000 ? 5.0 : i, _ => i * 0.1 })];
        double[] y = [.. Enumerable.Range(0, n).Select(i => kind switch
        {
            "noise" => random.NextDouble() + (1e-4 * i),
            "steps" => Math.Round((random.NextDouble() * 5) + (1e-3 * i)) * 0.1,
            "two levels" => random.Next(2),
            "line" => 0.3 * i,
            "same point" => i < 1000 ? 1 : random.NextDouble(),
            _ => random.NextDouble(),
        })];
        double[] all = AllSlopes(t, y);
        foreach (double confidence in (double[])[0.05, 0.5, 0.95, 0.9999999])
        {
            TheilSenFit fit = TheilSen.Fit(t, y, confidence).Value;
            double reach = MathNet.Numerics.Distributions.Normal.InvCDF(0, 1, (1 + confidence) / 2) * Math.Sqrt(SenVariance(t, y));
            Assert.Equal(MedianOf(all), fit.Slope, 1e-11);
            Assert.Equal(all[Math.Max((int)Math.Round((all.Length - reach) / 2) - 1, 0)], fit.Lower, 1e-11);
            Assert.Equal(all[Math.Min((int)Math.Round((all.Length + reach) / 2), all.Length - 1)], fit.Upper, 1e-11);
        }
    }

    private static double SenVariance(double[] t, double[] y)
    {
        static double Cubic(double k) => k * (k - 1) * ((2 * k) + 5);
        static double Ties(double[] v) => v.GroupBy(x => x).Sum(g => Cubic(g.Count()));
        return Math.Max(0, Cubic(t.Length) - Ties(t) - Ties(y)) / 18;
    }

    /// <summary>
    /// Five thousand million pairs: the slope of a rank must have that many below it and no more. Counting by inversions is held against
    /// lists above.
    /// </summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void A_nights_ranks_are_what_counting_says(bool quantised)
    {
        const int n = 100_000;
        var random = new Random(23);
        double[] t = [.. Enumerable.Range(0, n).Select(i => 1.8e9 + (i * 0.125))];
        double[] y = [.. Enumerable.Range(0, n).Select(i => random.NextDouble() + (1e-6 * i)).Select(v => quantised ? Math.Round(v * 8) / 8 : v)];
        var slopes = new PairwiseSlopes(t, y);
        Assert.Equal((long)n * (n - 1) / 2, slopes.Count);
        foreach (double part in (double[])[0.1, 0.4993, 0.5, 0.97])
        {
            long rank = (long)(part * slopes.Count);
            double slope = slopes.Select(rank);
            double slack = 1e-13 * (Math.Abs(slope) + 1e-4);
            Assert.True(slopes.CountUpTo(slope + slack) > rank, $"{part}: too few up to {slope:R}");
            Assert.True(slopes.CountUpTo(slope - slack) <= rank, $"{part}: too many below {slope:R}");
        }
    }

    [Fact]
    public void Mann_Kendalls_score_agrees_with_counting_pairs() =>
        Gen.Int[-5, 5].Array[10, 60].Sample(levels =>
        {
            double[] y = [.. levels.Select(l => l * 0.1)];
            long s = 0;
            for (int i = 0; i < y.Length; i++)
            {
                for (int j = 0; j < i; j++)
                {
                    s += Math.Sign(y[i] - y[j]);
                }
            }

            return MannKendall.Test(y).Value.S == s;
        });
}
