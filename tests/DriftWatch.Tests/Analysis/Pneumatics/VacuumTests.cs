using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Pneumatics;

public sealed class VacuumTests
{
    private static readonly VacuumLaw Law = VacuumLaw.Derived(50).Value;

    [Theory]
    [InlineData(45)]
    [InlineData(50)]
    [InlineData(56)]
    public void Normalised_vacuum_stands_still_when_only_the_air_moves(double psig)
    {
        double vacuum = 12 * ChokedVenturi.DepressionShare(psig, 50)!.Value;
        Assert.Equal(12, Law.Normalised(vacuum, psig).Value, 1e-9);
        Assert.Equal(vacuum / (1 + (0.0188 * (psig - 50))), Law.Normalised(vacuum, psig).Value, 0.01);
    }

    [Fact]
    public void Far_below_its_range_the_law_says_nothing()
    {
        Assert.False(Law.Normalised(5, 5).IsKnown);
        Assert.False(VacuumLaw.Derived(12).IsKnown);
        Assert.Equal(0, Law.ShareAt(-10));
        Assert.Equal("vacuum", Assert.Throws<ArgumentException>(() => Law.Normalised(double.NaN, 50)).ParamName);
    }

    [Theory]
    [InlineData(0.0188)]
    [InlineData(0.023)]
    public void A_bench_learns_its_own_slope_from_air_that_moves(double truth)
    {
        (double[] t, double[] p, double[] v) = Bench(truth, 2000, 1.5, seed: 91);
        LearnedVacuumLaw learned = LearnedVacuumLaw.Learn(t, p, v, 50).Value;
        Uncertain slope = learned.Law.SharePerPsi;
        Assert.InRange(truth, slope.Value - (1.5 * slope.Expanded()), slope.Value + (1.5 * slope.Expanded()));
        Assert.Equal(LearnedVerdict.UseLearned, learned.Verdict);
        Assert.Equal(VacuumLawSource.Learned, learned.InUse.Source);
    }

    [Fact]
    public void A_slope_still_uncertain_keeps_the_derived_one()
    {
        (double[] t, double[] p, double[] v) = Bench(0.0188, 200, 0.6, seed: 92, noise: 0.9);
        LearnedVacuumLaw learned = LearnedVacuumLaw.Learn(t, p, v, 50).Value;
        Assert.Equal(LearnedVerdict.KeepDerived, learned.Verdict);
        Assert.Equal(learned.Derived, learned.InUse);
    }

    [Fact]
    public void A_slope_that_no_venturi_has_is_not_used()
    {
        (double[] t, double[] p, double[] v) = Bench(0.06, 2000, 1.5, seed: 93);
        LearnedVacuumLaw learned = LearnedVacuumLaw.Learn(t, p, v, 50).Value;
        Assert.Equal(LearnedVerdict.Implausible, learned.Verdict);
        Assert.Equal(VacuumLawSource.Derived, learned.InUse.Source);
    }

    [Fact]
    public void Air_that_stands_still_teaches_nothing()
    {
        (double[] t, double[] p, double[] v) = Bench(0.0188, 300, 0.05, seed: 94);
        Assert.Equal("psi over which the air moved", LearnedVacuumLaw.Learn(t, p, v, 50).Missing!.What);
        Assert.False(LearnedVacuumLaw.Learn(t.AsSpan(0, 10), p.AsSpan(0, 10), v.AsSpan(0, 10), 50).IsKnown);
        Assert.Throws<ArgumentException>(() => LearnedVacuumLaw.Learn(t, p.AsSpan(1), v, 50));
    }

    [Fact]
    public void A_fall_with_the_air_and_a_fall_by_itself_are_told_apart()
    {
        var air = new Uncertain(50, 0.05);
        var level = new Uncertain(12, 0.05);
        double atFortyFive = 12 * Law.ShareAt(45);

        VacuumFallAnswer withAir = VacuumFall.Split(level, new Uncertain(atFortyFive, 0.05), air, new Uncertain(45, 0.05), Law).Value;
        Assert.Equal(VacuumFallCause.FellWithTheAir, withAir.Cause);
        Assert.Equal(1, withAir.AirShare.Value, 9);
        Assert.Equal(1, withAir.NormalisedShare.Value, 9);

        VacuumFallAnswer byItself = VacuumFall.Split(level, new Uncertain(9, 0.05), air, new Uncertain(50.1, 0.05), Law).Value;
        Assert.Equal(VacuumFallCause.FellByItself, byItself.Cause);
        Assert.Equal(1 - byItself.AirShare.Value, byItself.ItselfShare.Value, 12);
        Assert.Equal(0.25, byItself.FallShare.Value, 12);

        // Half and half: 5 psi take 9.4 %, the guide as much again.
        VacuumFallAnswer both = VacuumFall.Split(level, new Uncertain(12 * (1 - (2 * (1 - Law.ShareAt(45)))), 0.1), air, new Uncertain(45, 0.2), Law).Value;
        Assert.Equal(0.5, both.AirShare.Value, 9);
        Assert.Equal(VacuumFallCause.CannotBeTold, both.Cause);
    }

    [Fact]
    public void No_fall_beyond_its_uncertainty_is_not_split()
    {
        var air = new Uncertain(50, 0.05);
        Assert.Equal("of fall beyond its uncertainty", VacuumFall.Split(new Uncertain(12, 0.2), new Uncertain(11.8, 0.2), air, air, Law).Missing!.What);
        Assert.False(VacuumFall.Split(new Uncertain(12, 0.2), new Uncertain(6, 0.2), air, new Uncertain(-9, 0.1), Law).IsKnown);
        Assert.Throws<ArgumentException>(() => VacuumFall.Split(new Uncertain(0, 0.2), new Uncertain(6, 0.2), air, air, Law));
    }

    /// <summary>The first-order uncertainties against 40,000 draws of readings and law.</summary>
    [Fact]
    public void Uncertainties_of_the_shares_are_those_of_a_simulation()
    {
        var random = new SeededNoise(95);
        (Uncertain before, Uncertain now, Uncertain airBefore, Uncertain airNow) =
            (new Uncertain(12, 0.1), new Uncertain(9.6, 0.12), new Uncertain(50, 0.1), new Uncertain(46, 0.15));
        VacuumFallAnswer answer = VacuumFall.Split(before, now, airBefore, airNow, Law).Value;
        double Draw(Uncertain u) => u.Value + (u.StandardUncertainty * random.Gauss());
        var shares = new List<double>();
        var guides = new List<double>();
        for (int i = 0; i < 40000; i++)
        {
            double slope = Draw(Law.SharePerPsi);
            double byAir = (1 + (slope * (Draw(airNow) - 50))) / (1 + (slope * (Draw(airBefore) - 50)));
            double left = Draw(now) / Draw(before);
            shares.Add((1 - byAir) / (1 - left));
            guides.Add(left / byAir);
        }

        Assert.Equal(Deviation(shares), answer.AirShare.StandardUncertainty, 0.03 * answer.AirShare.StandardUncertainty);
        Assert.Equal(Deviation(guides), answer.NormalisedShare.StandardUncertainty, 0.03 * answer.NormalisedShare.StandardUncertainty);
        Assert.Equal(guides.Average(), answer.NormalisedShare.Value, 1e-3);
    }

    private static double Deviation(List<double> values)
    {
        double mean = values.Average();
        return Math.Sqrt(values.Sum(v => (v - mean) * (v - mean)) / (values.Count - 1));
    }

    /// <summary>Air wandering slowly about 50 psi, a vacuum of 12 that follows it by the slope, with slow noise of its own.</summary>
    private static (double[] Seconds, double[] Psig, double[] Vacuum) Bench(double slope, int n, double wander, int seed, double noise = 0.06)
    {
        var random = new SeededNoise(seed);
        double[] air = random.Next(n, 0.95, Wild.None);
        double[] own = random.Next(n, 0.5, Wild.None);
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        double[] p = [.. air.Select(a => 50 + (wander * a))];
        return (t, p, [.. p.Select((v, i) => (12 * (1 + (slope * (v - 50)))) + (noise * own[i]))]);
    }
}
