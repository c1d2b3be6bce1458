using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Baselines;

public class BaselineTests
{
    private static readonly BenchDefinition Quick = TestBench.Full() with { Judgement = new JudgementSettings { BaselineAfter = TimeSpan.FromSeconds(90) } };

    [Fact]
    public void The_provisional_one_is_replaced_by_the_stable_one_after_the_minutes_of_the_bench_file()
    {
        FindingLine[] taken = Taken(new Night(Quick).Shows(MachineState.Locked, 0, 130));
        Assert.Equal(["provisional", "stable"], taken.Select(l => l.Cause));
        Assert.InRange(taken[0].RaisedAt.Seconds, 35, 38);
        Assert.InRange(taken[1].RaisedAt.Seconds, 94, 107); // 90 s after the servos have settled, looked at every 10 s

        TakenBaseline stable = taken[1].Baseline!;
        Assert.Equal(taken[1].Input, stable.Number);
        Assert.Equal(taken[1].RaisedUtc, stable.UtcNanoseconds);
        Assert.Equal(("automatic", BaselineStanding.Stable, MachineState.Locked, "0123456789abcdef"), (stable.By, stable.Standing, stable.State, stable.BenchHash));
        Assert.Empty(stable.Unwell);
        BaselineValue air = stable.Values.Single(v => v.Channel == "regulated-air");
        Assert.Equal(("psi", 50, 0.0, 1), (air.Unit, air.Value, air.Deviation!.Value, air.CalibrationVersion));
        Assert.InRange(air.Count, 291, 300);
        Assert.Null(air.Correlation); // of what never changes
    }

    [Fact]
    public void The_default_is_five_minutes() => Assert.Equal(TimeSpan.FromMinutes(5), new JudgementSettings().BaselineAfter);

    [Fact]
    public void A_persons_baseline_is_never_replaced_by_the_machine_and_outlives_the_tape()
    {
        FindingLine[] taken = Taken(new Night(Quick).Shows(MachineState.Locked, 0, 130)
            .Shows(MachineState.NoAir, 130, 140).Shows(MachineState.Locked, 140, 260).At(50.05, By("Ada")));
        Assert.Equal(["provisional", "confirmed"], taken.Select(l => l.Cause));
        Assert.Equal("Ada", taken[1].Baseline!.By);
    }

    [Fact]
    public void With_the_tape_the_machines_baseline_goes_and_the_next_tape_has_its_own()
    {
        FindingLine[] taken = Taken(new Night(Quick).Shows(MachineState.Locked, 0, 120)
            .Shows(MachineState.NoAir, 120, 140).Shows(MachineState.Locked, 140, 260));
        Assert.Equal(["provisional", "stable", "provisional", "stable"], taken.Select(l => l.Cause));
    }

    [Fact]
    public void The_machine_waits_with_its_own_until_nothing_is_wrong()
    {
        Night night = new Night(Quick).Shows(MachineState.Locked, 0, 200, TestBench.Supply);
        night.Series(TestBench.Supply, 0, 80, 90).Series(TestBench.Supply, 150, 200, 90);
        FindingLine[] taken = Taken(night);
        Assert.Equal("stable", taken[^1].Cause);
        Assert.InRange(taken[^1].RaisedAt.Seconds, 150, 161);
    }

    [Fact]
    public void A_persons_on_a_sick_machine_is_taken_and_said_to_be_doubtful_with_what_is_wrong()
    {
        Night night = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60, TestBench.Supply, TestBench.Air);
        night.Series(TestBench.Air, 0, 60, 47.2);
        for (double t = 0.1; t < 60; t += 0.5)
        {
            night.Fault(t, TestBench.Supply, FaultCode.OpenLoop);
        }

        List<FindingLine> lines = night.At(50.05, By("Ada")).Judge();
        FindingLine taken = lines.Single(l => l.Kind == FindingKinds.BaselineTaken && l.Cause == "confirmed");
        FindingLine doubtful = Assert.Single(lines, l => l.Kind == FindingKinds.BaselineDoubtful);
        Assert.Equal(Severity.Advisory, doubtful.Severity);
        Assert.Equal(["fault", "limit", "off-setpoint"], taken.Baseline!.Unwell.Order());
        Assert.Contains("regulated-air is 47.2 psi, not 50", doubtful.Text, StringComparison.Ordinal);
        Assert.Contains("supply-air gives no valid readings", doubtful.Text, StringComparison.Ordinal);
        Assert.DoesNotContain(taken.Baseline.Values, v => v.Channel == "supply-air");
    }

    [Fact]
    public void Values_that_are_still_on_their_way_are_said()
    {
        Night night = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 240, TestBench.Air);
        night.Series(TestBench.Air, 0, 240, t => 50 + (0.5 * t / 240) + (0.01 * Math.Sin(t * 17)));
        FindingLine doubtful = Assert.Single(night.At(230.05, By("Ada")).Judge(), l => l.Kind == FindingKinds.BaselineDoubtful);
        Assert.Equal("drifting", doubtful.Cause);
        Assert.Contains("regulated-air is not steady yet", doubtful.Text, StringComparison.Ordinal);

        Night steady = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 240, TestBench.Air);
        steady.Series(TestBench.Air, 0, 240, t => 50 + (0.05 * Math.Sin(t * 17)));
        Assert.DoesNotContain(steady.At(230.05, By("Ada")).Judge(), l => l.Kind == FindingKinds.BaselineDoubtful);
    }

    [Fact]
    public void It_is_tied_to_the_pass_that_is_open()
    {
        Night night = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 90)
            .At(20.05, new PassBeginsCommand { Id = Guid.Empty, By = "Ada", Transfer = "reel 7" }).At(40.05, By("Ada"))
            .At(60.05, new PassEndsCommand { Id = Guid.Empty, By = "Ada", Transfer = "reel 7" }).At(80.05, By("Ada"));
        Assert.Equal(["reel 7", null], Taken(night).Where(l => l.Cause == "confirmed").Select(l => l.Baseline!.Transfer));
    }

    [Fact]
    public void A_bench_that_cannot_tell_whether_tape_runs_has_the_stable_one_only()
    {
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel()) with { Judgement = Quick.Judgement };
        FindingLine taken = Assert.Single(Taken(new Night(bench).Series(TestBench.Air, 0, 400, 50)));
        Assert.Equal("stable", taken.Cause);
        Assert.InRange(taken.RaisedAt.Seconds, 90, 110);
    }

    [Fact]
    public void Deviation_and_correlation_are_those_of_the_noise()
    {
        // First-order noise of 0.8 from second to second: deviation 0.5, 30 s count as a few. Many draws, since one has 29 values.
        var correlations = new List<double>();
        var deviations = new List<double>();
        var sizes = new List<double>();
        for (int seed = 1; seed <= 40; seed++)
        {
            var random = new Random(seed);
            double noise = 0;
            BenchDefinition bench = TestBench.Of(TestBench.AirChannel());
            var night = new Night(bench);
            for (int t = -50; t < 40; t++)
            {
                noise = (0.8 * noise) + (0.3 * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble()));
                if (t >= 0)
                {
                    double held = noise;
                    night.Series(TestBench.Air, t, t + 1, _ => 50 + held, 0.25);
                }
            }

            BaselineValue value = Taken(night.At(35.05, By("Ada")))[0].Baseline!.Values[0];
            correlations.Add(value.Correlation!.Value);
            deviations.Add(value.Deviation!.Value);
            sizes.Add(value.EffectiveSize!.Value);
        }

        Assert.InRange(correlations.Average(), 0.6, 0.95);
        Assert.InRange(deviations.Average(), 0.3, 0.55); // what 29 s show of 0.5 about their own mean
        Assert.InRange(sizes.Order().ElementAt(20), 1, 10);
    }

    private static BaselineCommand By(string who) => new() { Id = Guid.Empty, By = who };

    private static FindingLine[] Taken(Night night) => [.. night.Judge().Where(l => l.Kind == FindingKinds.BaselineTaken)];
}
