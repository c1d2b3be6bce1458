using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Relations;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Relations;

public sealed class KnownCauseTests
{
    [Fact]
    public void Correlation_slope_and_error_agree_with_gls_of_r_by_reml()
    {
        JsonElement kept = Golden.Json("relations/relations").GetProperty("gls");
        double[] x = kept.GetProperty("x").Doubles();
        double[] y = kept.GetProperty("y").Doubles();
        double[] ones = [.. x.Select(_ => 1.0)];
        double[] centred = [.. x.Select(v => v - x[0])];
        var noise = new CorrelatedNoise([.. x.Select((_, i) => (double)i)]);
        double[] values = [.. y.Select(v => v - 580)];
        double rho = noise.Estimate([ones, centred], values)!.Value;
        LinearSolution solution = noise.Solve(rho, [ones, centred], values)!.Value;
        Assert.Equal(kept.Number("rho"), rho, 1e-4);
        Assert.Equal(kept.Number("slope"), solution.Coefficients[1], 1e-3 * kept.Number("error"));
        Assert.Equal(1, Math.Sqrt(solution.Squares / (x.Length - 2) * solution.UnscaledVariance(1)) / kept.Number("error"), 1e-3);
    }

    /// <summary>
    /// Cowpertwait and Metcalfe, 'Introductory Time Series with R' (2009), section 5.4: slope 3.04 (0.202) and intercept 58.23 (11.92) by gls and
    /// REML. From memory; the series is theirs, made again (Golden/trend/make_textbook-trend.R).
    /// </summary>
    [Fact]
    public void The_likelihood_beneath_gives_the_line_of_Cowpertwait_and_Metcalfe()
    {
        double[] y = Golden.Json("trend/textbook-trend").GetProperty("walk").GetProperty("y").Doubles();
        double[] t = [.. Enumerable.Range(1, y.Length).Select(i => (double)i)];
        double[] ones = [.. t.Select(_ => 1.0)];
        var noise = new CorrelatedNoise(t);
        double rho = noise.Estimate([ones, t], y)!.Value;
        LinearSolution solution = noise.Solve(rho, [ones, t], y)!.Value;
        double variance = solution.Squares / (y.Length - 2);
        Assert.Equal((58.23, 3.04), (Math.Round(solution.Coefficients[0], 2), Math.Round(solution.Coefficients[1], 2)));
        Assert.Equal(0.202, Math.Round(Math.Sqrt(variance * solution.UnscaledVariance(1)), 3));
        Assert.Equal(11.92, Math.Round(Math.Sqrt(variance * solution.UnscaledVariance(0)), 2));
    }

    [Fact]
    public void A_vacuum_that_follows_the_air_pressure_loses_what_the_air_pressure_explains()
    {
        var random = new Random(14);
        const int count = 2000;
        double[] t = [.. Enumerable.Range(0, count).Select(i => 60.0 * i)];
        double[] air = [.. Series.FirstOrder(random, count, 0.98).Select(v => 1013 + (8 * v))];
        double[] noise = Series.FirstOrder(random, count, 0.5);
        double[] vacuum = [.. air.Select((a, i) => -40 + (0.35 * (a - 1013)) + (0.6 * noise[i]) + (random.NextDouble() < 0.05 ? 15 : 0))];
        KnownCauseFit fit = KnownCause.Fit(t, air, vacuum).Value;
        Assert.InRange(0.35, fit.Lower, fit.Upper);
        Assert.InRange(fit.LeftOut, 80, 140);
        Assert.Equal(0.5, fit.Correlation, 0.07);
        Assert.InRange(fit.ExplainedShare, 0.85, 0.99);
        Assert.Equal(0.6 * noise[7], fit.Residual(air[7], -40 + (0.35 * (air[7] - 1013)) + (0.6 * noise[7])), 0.2);
    }

    /// <summary>Coverage of 95 % intervals: 300 records each, known to 1.3 %. The README has more.</summary>
    [Theory]
    [InlineData(60, 0, 0)]
    [InlineData(112, 0.3, 0.1)]
    [InlineData(340, 0.7, 0)]
    [InlineData(340, 0.7, 0.1)]
    public void The_interval_covers(int points, double rho, double wild)
    {
        const int rounds = 300;
        var random = new Random(44);
        double[] t = [.. Enumerable.Range(0, points).Select(i => (double)i)];
        int covered = 0, known = 0;
        for (int round = 0; round < rounds; round++)
        {
            double[] x = Series.FirstOrder(random, points, 0.9);
            double[] noise = Series.FirstOrder(random, points, rho);
            double[] y = [.. x.Select((v, i) => 1 + (0.5 * v) + noise[i] + (random.NextDouble() < wild ? 10 * Series.Normal(random) : 0))];
            Answer<KnownCauseFit> fit = KnownCause.Fit(t, x, y);
            known += fit.IsKnown ? 1 : 0;
            covered += fit.IsKnown && fit.Value.Lower <= 0.5 && 0.5 <= fit.Value.Upper ? 1 : 0;
        }

        Assert.True(known > 0.9 * rounds, $"known {known}");
        Assert.InRange((double)covered / known, 0.91, 0.99);
    }

    [Fact]
    public void A_dependence_without_noise_is_found_whole()
    {
        double[] t = [.. Enumerable.Range(0, 60).Select(i => (double)i)];
        double[] x = Series.Lehmer(60);
        KnownCauseFit fit = KnownCause.Fit(t, x, [.. x.Select(v => 3 - (2 * v))]).Value;
        Assert.Equal(-2, fit.Slope, 1e-9);
        Assert.Equal(3, fit.Intercept, 1e-9);
        Assert.Equal(1, fit.ExplainedShare, 1e-9);
    }

    [Fact]
    public void A_cause_that_explains_nothing_has_a_slope_whose_interval_holds_nothing_and_no_share()
    {
        var random = new Random(3);
        double[] t = [.. Enumerable.Range(0, 400).Select(i => (double)i)];
        KnownCauseFit fit = KnownCause.Fit(t, Series.White(random, 400), Series.White(random, 400)).Value;
        Assert.InRange(0, fit.Lower, fit.Upper);
        Assert.InRange(fit.ExplainedShare, 0, 0.02);
    }

    [Fact]
    public void Constants_ties_one_point_and_nothing_but_faults_are_shortfalls()
    {
        double[] t = [.. Enumerable.Range(0, 50).Select(i => (double)i)];
        double[] same = [.. t.Select(_ => 5.0)];
        Assert.Equal("different values of the cause", KnownCause.Fit(t, same, Series.Lehmer(50)).Missing!.What);
        Assert.Equal("distinct values", KnownCause.Fit(t, Series.Lehmer(50), same).Missing!.What);
        Assert.Equal(new Shortfall("independent points", 1, 30), KnownCause.Fit([1], [1], [1]).Missing);
        Assert.Equal(new Shortfall("independent points", 0, 30), KnownCause.Fit([], [], []).Missing);
        Answer<KnownCauseFit> tied = KnownCause.Fit(t, Series.Lehmer(50), [.. t.Select(v => v == 20 ? 1.0 : 0)]);
        Assert.True(!tied.IsKnown || Math.Abs(tied.Value.Slope) < 0.5);
    }

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        var random = new Random(6);
        double[] t = [.. Enumerable.Range(0, 200).Select(i => 1.7e9 + i)];
        double[] x = Series.White(random, 200);
        double[] y = [.. x.Select(v => (2 * v) + Series.Normal(random))];
        double near = KnownCause.Fit(t, x, y).Value.Slope;
        Assert.Equal(near, KnownCause.Fit(t, [.. x.Select(v => 1e9 + (1e-3 * v))], [.. y.Select(v => 1e9 + (1e-3 * v))]).Value.Slope, 1e-2);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("causes", Assert.Throws<ArgumentException>(() => KnownCause.Fit([1, 2], [1], [1, 2])).ParamName);
        Assert.Equal("effects", Assert.Throws<ArgumentException>(() => KnownCause.Fit([1, 2], [1, 2], [1])).ParamName);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => KnownCause.Fit([2, 1], [1, 2], [1, 2])).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => KnownCause.Fit([1, 2], [1, 2], [1, 2], 0)).ParamName);
    }
}
