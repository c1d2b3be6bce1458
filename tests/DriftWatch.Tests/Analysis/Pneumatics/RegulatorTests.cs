using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Tests.Analysis.Trend;

namespace DriftWatch.Tests.Analysis.Pneumatics;

public sealed class RegulatorTests
{
    [Theory]
    [InlineData(0.02, 0)]
    [InlineData(0.02, 3)]
    [InlineData(-0.015, 0)]
    public void A_regulator_that_follows_its_supply_is_found_with_its_coefficient(double effect, int lag)
    {
        (double[] t, double[] supply, double[] regulated) = Record(effect, lag, creepPerHour: 0, seed: 101);
        SupplyEffect answer = Regulator.Follows(t, supply, regulated).Value;
        Assert.True(answer.IsClaimed);
        double half = (answer.Upper - answer.Lower) / 2;
        Assert.InRange(effect, answer.PsiPerPsi - (1.5 * half), answer.PsiPerPsi + (1.5 * half));
        Assert.InRange(answer.SupplyRangePsi, 18, 22);
        if (lag > 0)
        {
            Assert.True(answer.LagIsTold);
            Assert.Equal(lag, answer.LagSeconds, 0.5);
        }
    }

    [Fact]
    public void A_regulator_that_does_not_follow_is_not_accused()
    {
        (double[] t, double[] supply, double[] regulated) = Record(0, 0, 0, seed: 102);
        Assert.False(Regulator.Follows(t, supply, regulated).Value.IsClaimed);
    }

    [Fact]
    public void Creep_is_found_under_a_supply_that_moves()
    {
        (double[] t, double[] supply, double[] regulated) = Record(0.02, 0, 1.5, seed: 103);
        RegulatorCreep creep = Regulator.Creep(t, regulated, supply, 0.02).Value;
        Assert.True(creep.IsClaimed);
        Assert.True(creep.SupplyTakenOut);
        Assert.InRange(1.5, creep.Lower, creep.Upper);
    }

    [Fact]
    public void A_regulator_that_stands_still_or_sinks_does_not_creep()
    {
        (double[] t, _, double[] regulated) = Record(0, 0, 0, seed: 104);
        Assert.False(Regulator.Creep(t, regulated).Value.IsClaimed);
        (t, _, regulated) = Record(0, 0, -3, seed: 104);
        Assert.False(Regulator.Creep(t, regulated).Value.IsClaimed);
    }

    [Fact]
    public void Too_little_to_go_by_is_said()
    {
        (double[] t, double[] supply, double[] regulated) = Record(0.02, 0, 0, seed: 105);
        Assert.Equal("psi over which the supply moved", Regulator.Follows(t, [.. supply.Select(_ => 90.0)], regulated).Missing!.What);
        Assert.False(Regulator.Follows(t.AsSpan(0, 20), supply.AsSpan(0, 20), regulated.AsSpan(0, 20)).IsKnown);
        Assert.False(Regulator.Creep(t.AsSpan(0, 20), regulated.AsSpan(0, 20)).IsKnown);
        Assert.Throws<ArgumentException>(() => Regulator.Follows(t, supply, regulated.AsSpan(1)));
        Assert.Throws<ArgumentException>(() => Regulator.Creep(t, regulated, supply.AsSpan(1)));
    }

    [Fact]
    public void The_effect_as_it_comes_is_that_of_the_record_and_a_touched_knob_moves_it_little()
    {
        (double[] t, double[] supply, double[] regulated) = Record(0.02, 0, creepPerHour: 2, seed: 106);
        var tracker = new SupplyEffectTracker();
        Assert.Equal("steps of the supply", tracker.PsiPerPsi.Missing!.What);
        Assert.Null(tracker.MeanRegulatedPsi);
        for (int i = 0; i < t.Length; i++)
        {
            double knob = i > t.Length - 200 ? 1 : 0;
            tracker.Add(t[i], supply[i], regulated[i] + knob);
        }

        Assert.Equal(0.02, tracker.PsiPerPsi.Value.Value, 0.002);
        (t, supply, regulated) = Record(0.02, 0, creepPerHour: 0, seed: 106); // a creep is slow noise to the whole record
        Assert.Equal(Regulator.Follows(t, supply, regulated).Value.PsiPerPsi, tracker.PsiPerPsi.Value.Value, 0.002);
        tracker.EndCycle();
        Assert.Null(tracker.MeanRegulatedPsi);
        double from = t[^1];
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 1; i < 5000; i++)
        {
            tracker.Add(from + i, 90 + (i % 7) + (i / 10 % 5), 50);
            _ = tracker.PsiPerPsi.IsKnown;
        }

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.Equal(50, tracker.MeanRegulatedPsi!.Value, 9);
        Assert.Throws<ArgumentException>(() => tracker.Add(0, double.NaN, 50));
    }

    [Fact]
    public void The_effects_uncertainty_is_that_of_many_records()
    {
        int within = 0;
        var scores = new List<double>();
        for (int record = 0; record < 200; record++)
        {
            // The regulator wanders slowly by itself, as real ones do; readings scatter besides.
            var random = new Random(4200 + record);
            double Normal() => Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
            var tracker = new SupplyEffectTracker();
            double wander = 0;
            for (int i = 0; i < 800; i++)
            {
                double place = i % 120;
                double supply = place < 40 ? 78 + (place * 0.55) : 100 - ((place - 40) * 0.275);
                wander += (0.004 * Normal()) - (0.01 * wander);
                tracker.Add(i, supply + (0.05 * Normal()), 50 + (0.007 * (supply - 89)) + wander + (0.02 * Normal()));
            }

            double score = (tracker.PsiPerPsi.Value.Value - 0.007) / tracker.PsiPerPsi.Value.StandardUncertainty;
            scores.Add(score);
            within += Math.Abs(score) < 1 ? 1 : 0;
        }

        double deviation = Math.Sqrt(scores.Sum(s => s * s) / scores.Count);
        Assert.InRange(deviation, 0.75, 1.35); // of the scores: 1 where the stated uncertainty is the true one
        Assert.InRange(within, 100, 170); // of 200; two thirds where it is
    }

    [Fact]
    public void What_was_interrupted_or_does_not_move_teaches_nothing()
    {
        var still = new SupplyEffectTracker();
        for (int i = 0; i < 1000; i++)
        {
            still.Add(i, 90, 50);
        }

        Assert.Equal("psi by which the supply moves in ten seconds", still.PsiPerPsi.Missing!.What);

        var interrupted = new SupplyEffectTracker();
        for (int i = 0; i < 1000; i++)
        {
            interrupted.Add(i, 90 + (i % 50), 50 + (0.5 * (i % 50)));
            if (i % 15 == 14)
            {
                interrupted.Interrupt(); // no two means of ten seconds side by side
            }
        }

        Assert.Equal("steps of the supply", interrupted.PsiPerPsi.Missing!.What);
    }

    [Fact]
    public void A_filters_drop_goes_with_the_square_of_the_flow_and_its_growth_is_told_beyond_doubt()
    {
        var rest = new Uncertain(51.2, 0.02, 40);
        FilterDropAnswer clean = FilterDrop.Of(rest, new Uncertain(50.7, 0.02, 40), null, 32);
        Assert.Equal(0.5, clean.DropPsi.Value, 9);
        Assert.Equal(0.5 / (32 * 32), clean.PsiPerSlpmSquared!.Value, 12);
        Assert.Null(clean.GrowthShare);
        Assert.False(clean.IsClogging);

        FilterDropAnswer clogging = FilterDrop.Of(rest, new Uncertain(49.9, 0.02, 40), clean.DropPsi);
        Assert.Equal(2.6, clogging.GrowthShare!.Value.Value, 9);
        Assert.True(clogging.IsClogging);
        Assert.Null(clogging.PsiPerSlpmSquared);

        // A tenth more is no sign, whatever the statistics; twice as much is none where readings are as bad as that.
        Assert.False(FilterDrop.Of(rest, new Uncertain(50.65, 0.001, 40), clean.DropPsi with { StandardUncertainty = 0.001 }).IsClogging);
        Assert.False(FilterDrop.Of(rest with { StandardUncertainty = 0.5 }, new Uncertain(50.2, 0.5, 40), clean.DropPsi).IsClogging);
        Assert.Equal(2.0, FilterDrop.Scaled(clean.DropPsi, 30, 60).Value, 9);
        Assert.Equal("flowSlpm", Assert.Throws<ArgumentException>(() => FilterDrop.Of(rest, rest, null, 0)).ParamName);
    }

    /// <summary>Forty minutes at a reading a second: a supply between 78 and 100 psi in 120 s, a regulated pressure with slow noise.</summary>
    private static (double[] Seconds, double[] Supply, double[] Regulated) Record(double effect, int lag, double creepPerHour, int seed)
    {
        const int N = 2400;
        double[] noise = new SeededNoise(seed).Next(N, 0.6, Wild.None);
        double[] other = new SeededNoise(seed + 1000).Next(N, 0, Wild.None);
        double Saw(int i)
        {
            double phase = (((i % 120) + 120) % 120) / 120.0;
            return phase < 0.4 ? 78 + (22 * phase / 0.4) : 100 - (22 * (phase - 0.4) / 0.6);
        }

        double[] t = [.. Enumerable.Range(0, N).Select(i => (double)i)];
        return (t, [.. t.Select((_, i) => Saw(i) + (0.05 * other[i]))], [.. t.Select((s, i) => 50 + (effect * (Saw(i - lag) - 89)) + (creepPerHour * s / 3600) + (0.03 * noise[i]))]);
    }
}
