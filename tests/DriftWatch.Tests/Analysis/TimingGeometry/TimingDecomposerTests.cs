using System.Text.Json;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Support;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>The decomposition against the independent simulation, NumPy's least squares and the derived table of errors.</summary>
public class TimingDecomposerTests(ITestOutputHelper output)
{
    private static readonly string[] Heads = ["1", "2", "3", "4"];

    public static TheoryData<TimingModel, string> Models => new()
    {
        { TimingModel.PerHeadSlopes, "expect_modelB" },
        { TimingModel.OncePerRevolution, "expect_modelC" },
        { TimingModel.Everything, "expect_modelA" },
    };

    [Theory]
    [MemberData(nameof(Models))]
    public void Eighteen_simulated_records_give_the_terms_that_numpy_finds_in_them(TimingModel model, string expected)
    {
        TimingDecomposer decomposer = TimingDecomposer.ForAxis(TimingCases.Axis, model).Value;
        double gridMean = TimingCases.Axis.AnglesDegrees.Average(a => Math.Cos(a * Math.PI / 180));
        int count = 0;
        foreach (JsonElement fixture in TimingCases.Fixtures)
        {
            JsonElement expect = fixture.GetProperty(expected);
            TimingTerms terms = decomposer.Decompose(fixture.GetProperty("e_ns").Doubles());
            Assert.Equal(expect.Number("skew"), terms.Skew.Value, 1e-3);
            Assert.Equal(expect.Number("scallop"), terms.Scallop.Value, 1e-3);
            Assert.Equal(expect.Number("resid_rms"), terms.ResidualRmsNs, 1e-3);

            // There the scallop is counted from the grid's own mean cosine, here from that of a whole pass.
            Assert.Equal(expect.Number("mean"), terms.Mean.Value + (terms.Scallop.Value * (gridMean - TimingStandard.MeanCosine)), 1e-3);
            for (int head = 1; head <= 4; head++)
            {
                Assert.Equal(expect.Number("step" + Heads[head - 1]), terms.Step(head).Value.Value, 1e-3);
                if (model != TimingModel.OncePerRevolution)
                {
                    Assert.Equal(expect.Number("dslope" + Heads[head - 1]), terms.Slope(head).Value.Value, 1e-3);
                }
            }

            if (model != TimingModel.PerHeadSlopes)
            {
                Assert.Equal(expect.Number("revsin"), terms.RevolutionSine.Value, 1e-3);
                Assert.Equal(expect.Number("revcos"), terms.RevolutionCosine.Value, 1e-3);
            }

            count++;
        }

        Assert.Equal(18, count);
    }

    /// <summary>What was put into the simulation, which shares no formula with the fit, comes out again. F6, F7 and F9 have other terms.</summary>
    [Fact]
    public void Guide_offsets_and_lags_come_out_as_they_went_into_the_simulation()
    {
        foreach (JsonElement fixture in TimingCases.Fixtures.Where(f => f.GetProperty("id").GetString() is not ("F6" or "F7" or "F9")))
        {
            JsonElement inputs = fixture.GetProperty("inputs");
            TimingDecomposition found = TimingFit.Decompose(TimingCases.Frame(fixture)).Value;
            double p = inputs.TryGetProperty("p", out JsonElement away) ? away.GetDouble() : 0;
            double h = inputs.TryGetProperty("h", out JsonElement along) ? along.GetDouble() : 0;
            Assert.Equal(p, found.PenetrationMil.Value, 1e-5);
            Assert.Equal(h, found.HeightMil.Value, 1e-5);
            double[] lag = inputs.TryGetProperty("lag", out JsonElement lags) ? lags.Doubles() : [0, 0, 0, 0];
            for (int head = 1; head <= 4; head++)
            {
                Assert.Equal(lag[head - 1], found.StepArcMinutes(head).Value.Value, 1e-5);
            }

            Assert.DoesNotContain(found.Notes, n => n.Kind is TimingNoteKind.OncePerRevolutionInstead or TimingNoteKind.Clipped or TimingNoteKind.HeadMissing);
        }
    }

    [Theory]
    [InlineData(TimingModel.PerHeadSlopes, 2.00, 0.125, 0.2165, 0.2937, 0.5087, 1.4338, 0)]
    [InlineData(TimingModel.OncePerRevolution, 6.37, 0.125, 0.4256, 0.2937, 0, 1.4338, 0.4069)]
    [InlineData(TimingModel.Everything, 31.5, 0.125, 1.8390, 0.2937, 2.0905, 1.4338, 2.0276)]
    public void Conditions_and_errors_of_sixteen_points_a_head_are_those_of_the_derived_table(
        TimingModel model, double condition, double mean, double step, double skew, double slope, double scallop, double revolution)
    {
        TimingDecomposer decomposer = TimingDecomposer.ForAxis(TimingCases.Axis, model).Value;
        Assert.Equal(condition, decomposer.Condition, condition > 10 ? 1 : 2);
        TimingTerms errors = decomposer.ErrorsFor(1);
        Assert.Equal(mean, errors.Mean.StandardUncertainty, 3);
        Assert.Equal(skew, errors.Skew.StandardUncertainty, 4);
        Assert.Equal(scallop, errors.Scallop.StandardUncertainty, 4);
        for (int head = 1; head <= 4; head++)
        {
            Assert.Equal(step, errors.Step(head).Value.StandardUncertainty, 4);
            Assert.Equal(slope > 0, errors.Slope(head).IsKnown);
            if (slope > 0)
            {
                Assert.Equal(slope, errors.Slope(head).Value.StandardUncertainty, 1e-4); // 0.508648, which the table rounds twice
            }
        }

        Assert.Equal(revolution, errors.RevolutionSine.StandardUncertainty, 4);
        Assert.Equal(revolution, errors.RevolutionCosine.StandardUncertainty, 4);
        if (model == TimingModel.PerHeadSlopes)
        {
            Assert.Equal(0.00046, errors.PenetrationMil(TimingStandard.Mono525).StandardUncertainty, 5);
            Assert.Equal(0.00223, errors.HeightMil(TimingStandard.Mono525).StandardUncertainty, 5);
        }
    }

    [Fact]
    public void A_wider_window_bends_more_so_its_scallop_is_surer()
    {
        TimingTerms errors = TimingDecomposer.ForAxis(FrameAxis.Even(16, 50)).Value.ErrorsFor(1);
        Assert.Equal(1.17, errors.Scallop.StandardUncertainty, 2);
    }

    [Fact]
    public void The_precomputed_way_and_the_factors_agree_on_any_record()
    {
        int seed = Environment.TickCount;
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        foreach (TimingModel model in Enum.GetValues<TimingModel>())
        {
            TimingDecomposer fixedAxis = TimingDecomposer.ForAxis(TimingCases.Axis, model).Value;
            for (int round = 0; round < 50; round++)
            {
                double[] e = TimingCases.Noisy(random, 2 * random.NextDouble(), -random.NextDouble(), [30, -20, 15, -25], 10 * random.NextDouble(), 0.6);
                TimingTerms one = fixedAxis.Decompose(e);
                TimingTerms other = TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e), model).Value.Terms;
                Same(one.Mean, other.Mean);
                Same(one.Skew, other.Skew);
                Same(one.Scallop, other.Scallop);
                Same(one.RevolutionCosine, other.RevolutionCosine);
                for (int head = 1; head <= 4; head++)
                {
                    Same(one.Step(head).Value, other.Step(head).Value);
                }

                Assert.Equal(one.ResidualRmsNs, other.ResidualRmsNs, 1e-8);
                Assert.Equal(e[20], one.At(TimingCases.Axis.Heads[20], TimingCases.Axis.AnglesDegrees[20]) + fixedAxis.ResidualNs[20], 1e-8);
            }
        }

        static void Same(Uncertain one, Uncertain other)
        {
            Assert.Equal(one.Value, other.Value, 1e-8);
            Assert.Equal(one.StandardUncertainty, other.StandardUncertainty, 1e-8);
        }
    }

    [Fact]
    public void A_record_is_taken_apart_without_allocating()
    {
        TimingDecomposer decomposer = TimingDecomposer.ForAxis(TimingCases.Axis).Value;
        double[] e = TimingCases.Noisy(new Random(1), 0.3, 0.2, [0, 0, 0, 0], 5);
        double sum = decomposer.Decompose(e).Skew.Value;
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 100; i++)
        {
            sum += decomposer.Decompose(e).Skew.Value;
        }

        Assert.Equal(before, GC.GetAllocatedBytesForCurrentThread());
        Assert.True(sum < 0);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.5)]
    [InlineData(-0.3)]
    public void Errors_are_as_large_as_the_terms_scatter_whether_the_noise_is_white_or_not(double rho)
    {
        int seed = Environment.TickCount;
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        TimingDecomposer decomposer = TimingDecomposer.ForAxis(TimingCases.Axis).Value;
        const int rounds = 4000;
        int inside = 0, skew = 0, scallop = 0;
        double correlation = 0;
        for (int round = 0; round < rounds; round++)
        {
            TimingTerms terms = decomposer.Decompose(TimingCases.Noisy(random, 0.6, -0.8, [20, -30, 15, -5], 10, rho));
            correlation += terms.Correlation / rounds;
            inside += Math.Abs(terms.Step(2).Value.Value + 30) <= terms.Step(2).Value.StandardUncertainty ? 1 : 0;
            skew += Math.Abs(terms.PenetrationMil(TimingStandard.Mono525).Value - 0.6) <= terms.PenetrationMil(TimingStandard.Mono525).StandardUncertainty ? 1 : 0;
            scallop += Math.Abs(terms.HeightMil(TimingStandard.Mono525).Value + 0.8) <= terms.HeightMil(TimingStandard.Mono525).StandardUncertainty ? 1 : 0;
        }

        // Five binomial deviations of 4000 about what Student's t gives, and what an estimated ρ costs.
        Assert.InRange((double)inside / rounds, 0.63, 0.72);
        Assert.InRange((double)skew / rounds, 0.63, 0.72);
        Assert.InRange((double)scallop / rounds, 0.63, 0.72);
        Assert.Equal(rho, correlation, 0.04);
    }

    /// <summary>F7 is a speed error once a revolution and nothing else.</summary>
    [Fact]
    public void A_speed_error_once_a_revolution_is_named_as_what_the_steps_may_be()
    {
        JsonElement fixture = TimingCases.Fixtures.First(f => f.GetProperty("id").GetString() == "F7");
        TimingDecomposition found = TimingFit.Decompose(TimingCases.Frame(fixture)).Value;
        Assert.Equal(2.9079, found.Terms.ResidualRmsNs, 3);
        Assert.True(found.Alternative!.ExplainsAsWell);
        Assert.Equal(40.0, found.Alternative.SineNs.Value, 0.1);
        Assert.Equal(-25.0, found.Alternative.CosineNs.Value, 0.1);
        Assert.Contains(found.Notes, n => n.Kind == TimingNoteKind.OncePerRevolutionInstead);

        TimingDecomposition all = TimingFit.Decompose(TimingCases.Frame(fixture), TimingModel.Everything).Value;
        Assert.Contains(all.Notes, n => n.Kind == TimingNoteKind.Confounded && n.Text.Contains("31.5", StringComparison.Ordinal));
    }
}
