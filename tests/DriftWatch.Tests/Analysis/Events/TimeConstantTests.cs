using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Events;
using DriftWatch.Analysis.Relations;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Events;

public sealed class TimeConstantTests
{
    private static readonly JsonElement FromR = Golden.Json("events/recovery");

    /// <summary>Misra1a and BoxBOD of NIST's Statistical Reference Datasets are recoveries from a known start, b1(1−exp(−b2·x)): certified values.</summary>
    [Theory]
    [InlineData("Misra1a")]
    [InlineData("BoxBOD")]
    public void The_curve_from_a_known_start_has_the_certified_digits_of_nist(string set)
    {
        JsonElement kept = Golden.Json("data/strd").GetProperty("nonlinear").GetProperty(set);
        double[][] rows = [.. kept.GetProperty("data_yx").EnumerateArray().Select(r => r.Doubles()).OrderBy(r => r[1])];
        double[] certified = kept.GetProperty("certified").Doubles();
        double[] errors = kept.GetProperty("certified_sd").Doubles();
        var curve = new RecoveryCurve([.. rows.Select(r => r[1])], [.. rows.Select(r => r[0])], RecoveryTarget.FromStart(0, 0));
        double rate = curve.BestRate(0, TimeConstant.Scan(curve))!.Value;
        Assert.Equal(certified[1], rate, 1e-9 * certified[1]);
        Assert.Equal(certified[0], curve.Coefficients(0, rate).Level, 1e-9 * certified[0]);
        double squares = curve.Squares(0, rate);
        Assert.Equal(kept.Number("RSS"), squares, 1e-9 * kept.Number("RSS"));
        LinearSolution tangent = curve.Tangent(0, rate)!.Value;
        double deviation = Math.Sqrt(squares / (rows.Length - 2));
        Assert.Equal(errors[1], deviation * Math.Sqrt(tangent.UnscaledVariance(1)) / certified[0], 1e-8 * errors[1]);
    }

    [Fact]
    public void With_a_free_level_it_agrees_with_nls_of_r()
    {
        (double[] t, double[] y) = First();
        double[] kept = FromR.GetProperty("free").Doubles();
        (double tau, double error, double level, double amplitude) = AtRho(t, y, RecoveryTarget.Unknown, 0);
        Assert.Equal(kept[0], tau, 1e-6 * kept[0]);
        Assert.Equal(kept[1], error, 1e-5 * kept[1]);
        Assert.Equal(kept[2], level, 1e-6);
        Assert.Equal(kept[3], amplitude, 1e-6);
    }

    [Fact]
    public void With_a_known_level_it_agrees_with_nls_of_r()
    {
        (double[] t, double[] y) = First();
        double[] kept = FromR.GetProperty("level").Doubles();
        (double tau, double error, double level, double amplitude) = AtRho(t, y, RecoveryTarget.ToLevel(5), 0);
        Assert.Equal(kept[0], tau, 1e-6 * kept[0]);
        Assert.Equal(kept[1], error, 1e-5 * kept[1]);
        Assert.Equal(5, level);
        Assert.Equal(kept[2], amplitude, 1e-6);
    }

    [Theory]
    [InlineData("fixed06", false)]
    [InlineData("gappy06", true)]
    public void With_correlated_noise_it_agrees_with_gnls_of_r(string name, bool gappy)
    {
        double[] y = FromR.GetProperty("y2").Doubles();
        int[] kept = [.. Enumerable.Range(0, y.Length).Where(i => !gappy || (i % 7 != 3 && i % 11 != 5))];
        double[] expected = FromR.GetProperty(name).Doubles();
        (double tau, double error, double level, double amplitude) =
            AtRho([.. kept.Select(i => (double)i)], [.. kept.Select(i => y[i])], RecoveryTarget.Unknown, 0.6);
        Assert.Equal(expected[0], tau, 2e-5 * expected[0]);

        // R divides by n−p the residuals' variance at a fixed ρ as well, but by n in what vcov gives after maximum likelihood: √(n/(n−p)) apart at most.
        Assert.InRange(error / expected[1], 0.999, 1.02);
        Assert.Equal(expected[2], level, 1e-4);
        Assert.Equal(expected[3], amplitude, 1e-4);
    }

    /// <summary>R's interval takes every point as independent; ours estimates ρ, which is near 0 here, and reaches a little further.</summary>
    [Fact]
    public void Its_interval_holds_the_profile_of_r_and_little_more()
    {
        (double[] t, double[] y) = First();
        double[] profile = FromR.GetProperty("profile").Doubles();
        TimeConstantFit fit = TimeConstant.Fit(t, y, screenOutliers: false).Value;
        double size = profile[1] - profile[0];
        Assert.InRange(profile[0] - fit.Lower, 0, 0.15 * size);
        Assert.InRange(fit.Upper - profile[1], 0, 0.15 * size);
    }

    [Fact]
    public void Wild_points_are_left_out_and_it_agrees_with_nlrob_of_r_within_a_third_of_its_error()
    {
        (double[] t, _) = First();
        double[] wild = FromR.GetProperty("wild").Doubles();
        double[] robust = FromR.GetProperty("nlrob").Doubles();
        TimeConstantFit fit = TimeConstant.Fit(t, wild).Value;
        Assert.Equal(12, fit.LeftOut);
        Assert.Equal(robust[0], fit.Seconds, fit.StandardError / 3);
        double spoilt = TimeConstant.Fit(t, wild, screenOutliers: false).Value.StandardError;
        Assert.True(fit.StandardError < spoilt / 3);
    }

    /// <summary>Coverage of 95 % intervals: 300 records each, so that the rate is known to 1.3 %; bounds at about three of these. The tables in the folder's README have more.</summary>
    [Theory]
    [InlineData(60, 0, 0)]
    [InlineData(112, 0.3, 0)]
    [InlineData(340, 0.7, 0)]
    [InlineData(112, 0.3, 0.1)]
    public void The_interval_covers(int points, double rho, double wild)
    {
        const int rounds = 300;
        var random = new Random(71);
        double tau = 0.2 * points;
        int covered = 0, known = 0;
        for (int round = 0; round < rounds; round++)
        {
            double[] noise = Series.FirstOrder(random, points, rho);
            double[] t = [.. Enumerable.Range(0, points).Select(i => (double)i)];
            double[] y = [.. t.Select((x, i) => 7 - (6 * Math.Exp(-x / tau)) + noise[i] + (random.NextDouble() < wild ? 10 * Series.Normal(random) : 0))];
            Answer<TimeConstantFit> answer = TimeConstant.Fit(t, y);
            known += answer.IsKnown ? 1 : 0;
            covered += answer.IsKnown && answer.Value.Lower <= tau && tau <= answer.Value.Upper ? 1 : 0;
        }

        Assert.True(known > 0.85 * rounds, $"known {known}");
        Assert.InRange((double)covered / known, 0.91, 0.985);
    }

    [Fact]
    public void A_recovery_downwards_and_one_upwards_are_the_same()
    {
        (double[] t, double[] y) = First();
        TimeConstantFit up = TimeConstant.Fit(t, y).Value;
        TimeConstantFit down = TimeConstant.Fit(t, [.. y.Select(v => -v)]).Value;
        Assert.Equal(up.Seconds, down.Seconds, 1e-9);
        Assert.Equal(up.Amplitude, -down.Amplitude, 1e-9);
        Assert.True(up.Amplitude < 0);
    }

    [Fact]
    public void Too_few_independent_points_are_a_shortfall()
    {
        double[] noise = Series.FirstOrder(new Random(5), 200, 0.95);
        double[] t = [.. Enumerable.Range(0, 200).Select(i => (double)i)];
        Answer<TimeConstantFit> answer = TimeConstant.Fit(t, [.. t.Select((x, i) => Math.Exp(-x / 30) + (0.1 * noise[i]))]);
        Assert.Equal(("independent points", 30.0), (answer.Missing!.What, answer.Missing.Needs));
    }

    [Fact]
    public void Noise_alone_and_a_straight_line_bound_no_time_constant()
    {
        double[] t = [.. Enumerable.Range(0, 300).Select(i => (double)i)];
        double[] noise = Series.White(new Random(8), 300);
        Assert.Equal("standard errors in the time constant", TimeConstant.Fit(t, noise).Missing!.What);
        Assert.False(TimeConstant.Fit(t, [.. t.Select((x, i) => (0.1 * x) + noise[i])]).IsKnown);
    }

    [Fact]
    public void A_constant_series_has_no_time_constant() =>
        Assert.Equal("distinct values", TimeConstant.Fit([.. Enumerable.Range(0, 50).Select(i => (double)i)], [.. Enumerable.Repeat(1e9, 50)]).Missing!.What);

    [Fact]
    public void Ties_nearly_everywhere_give_a_shortfall_and_no_exception()
    {
        double[] t = [.. Enumerable.Range(0, 60).Select(i => (double)i)];
        Assert.False(TimeConstant.Fit(t, [.. t.Select(x => x == 30 ? 1.0 : 0)]).IsKnown);
    }

    [Fact]
    public void A_curve_without_noise_is_found_to_all_digits()
    {
        double[] t = [.. Enumerable.Range(0, 60).Select(i => (double)i)];
        TimeConstantFit fit = TimeConstant.Fit(t, [.. t.Select(x => 3 + (2 * Math.Exp(-x / 9)))]).Value;
        Assert.Equal(9, fit.Seconds, 1e-7);
        Assert.InRange(fit.StandardError, 0, 1e-6);
    }

    [Fact]
    public void One_point_and_nothing_but_faults_are_not_enough()
    {
        Assert.Equal(new Shortfall("independent points", 1, 30), TimeConstant.Fit([1], [1]).Missing);
        Assert.Equal(new Shortfall("independent points", 0, 30), TimeConstant.Fit([], []).Missing);
    }

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        (double[] t, double[] y) = First();
        double[] far = [.. y.Select(v => 1e9 + (1e-3 * v))];
        double[] late = [.. t.Select(x => 1.7e9 + x)];
        TimeConstantFit plain = TimeConstant.Fit(t, y).Value;
        Assert.Equal(plain.Seconds, TimeConstant.Fit(late, far).Value.Seconds, 1e-3 * plain.Seconds);
        Assert.Equal(plain.Seconds, TimeConstant.Fit(late, [.. far.Select(v => v - 1e9)]).Value.Seconds, 1e-3 * plain.Seconds);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => TimeConstant.Fit([2, 1], [1, 2])).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => TimeConstant.Fit([1, 2], [1])).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => TimeConstant.Fit([1, 2], [1, double.NaN])).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentException>(() => TimeConstant.Fit([1, 2], [1, 2], confidence: 1)).ParamName);
        Assert.Throws<ArgumentException>(() => RecoveryTarget.ToLevel(double.NaN));
        double[] t = [.. Enumerable.Range(0, 40).Select(i => (double)i)];
        Assert.Equal("target", Assert.Throws<ArgumentException>(() => TimeConstant.Fit(t, Series.Lehmer(40), RecoveryTarget.FromStart(0, 5))).ParamName);
    }

    private static (double[] T, double[] Y) First() => (FromR.GetProperty("t").Doubles(), FromR.GetProperty("y").Doubles());

    private static (double Tau, double Error, double Level, double Amplitude) AtRho(double[] t, double[] y, RecoveryTarget target, double rho)
    {
        var curve = new RecoveryCurve(t, y, target);
        double rate = curve.BestRate(rho, TimeConstant.Scan(curve))!.Value;
        LinearSolution tangent = curve.Tangent(rho, rate)!.Value;
        (double level, double amplitude) = curve.Coefficients(rho, rate);
        int p = tangent.Coefficients.Length;
        double variance = curve.Squares(rho, rate) / (t.Length - p);
        return (1 / rate, Math.Sqrt(variance * tangent.UnscaledVariance(p - 1)) / (rate * rate * Math.Abs(amplitude)), level, amplitude);
    }
}
