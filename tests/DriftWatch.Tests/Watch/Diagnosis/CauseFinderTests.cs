using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Diagnosis;

public class CauseFinderTests
{
    private static readonly int[] Heads = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3];

    private static BenchDefinition Bench()
    {
        BenchDefinition bench = TestBench.Full();
        return bench with { Quantities = DefaultQuantities.For(bench.Channels) };
    }

    private static List<FindingLine> Causes(Night night) => night.Judge().FindAll(l => l.Kind == FindingKinds.Cause);

    private static double Number(FindingLine line, string name) => line.Details.Single(d => d.Name == name).Number!.Value;

    private static Night Playing(params int[] without) => new Night(Bench()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 90, without);

    [Fact]
    public void One_head_down_at_once_is_one_clog_with_its_head_and_what_to_do()
    {
        List<FindingLine> lines = Causes(Playing(TestBench.Head1 + 2).Series(TestBench.Head1 + 2, 60, 90, -20));
        FindingLine cause = Assert.Single(lines);
        Assert.Equal(("head-clogged", Severity.Alarm, 60.0), (cause.Cause, cause.Severity, cause.Start.Seconds));
        Assert.InRange(cause.RaisedAt.Seconds, 60.5, 61.0); // the alarm's own delay and half a second
        Assert.Equal(3, Number(cause, "head"));
        Assert.Contains("head 3", cause.Text);
        Assert.Contains(cause.Details, d => d.Name == "firstAction" && d.Word!.Contains("clean", StringComparison.Ordinal));
        Assert.Equal(2, Number(cause, "findings")); // the head's own limit and the spread
    }

    [Fact]
    public void All_that_ends_with_the_tape_is_one_cause()
    {
        Night night = Playing([TestBench.Vacuum, TestBench.Control, .. Heads]).Series(TestBench.Vacuum, 60, 90, 0.1).Series(TestBench.Control, 60, 90, -60);
        foreach (int head in Heads)
        {
            night.Series(head, 60, 90, -60);
        }

        Assert.Equal("tape-run-out", Assert.Single(Causes(night), l => l.Phase == FindingPhase.Raised).Cause);
    }

    [Fact]
    public void Two_troubles_at_different_times_are_two_causes()
    {
        Night night = new Night(Bench())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 200, TestBench.Head1, TestBench.Control)
            .Series(TestBench.Head1, 60, 200, -20)
            .Series(TestBench.Control, 60, 150, -10).Series(TestBench.Control, 150, 200, -15);
        Assert.Equal(["head-clogged", "control-track-lost"], Causes(night).Where(l => l.Phase == FindingPhase.Raised).Select(l => l.Cause));
    }

    [Fact]
    public void A_fault_of_a_sensor_is_none_of_the_machine()
    {
        FindingLine cause = Causes(Playing(TestBench.Vacuum).Fault(60, TestBench.Vacuum, FaultCode.OverRange).Fault(70, TestBench.Vacuum, FaultCode.OverRange))[0];
        Assert.Equal("sensor-fault", cause.Cause);
        Assert.InRange(Number(cause, "confidence"), 0.9, 1);
    }

    [Fact]
    public void A_cause_that_is_gone_ends_with_the_last_of_its_findings_and_keeps_its_name()
    {
        List<FindingLine> lines = Causes(new Night(Bench())
            .Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 90, TestBench.Head1)
            .Series(TestBench.Head1, 60, 90, -20).Shows(MachineState.Locked, 90, 180));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.All(lines, l => Assert.Equal("head-clogged", l.Cause));
        Assert.InRange(lines[1].End!.Value.Seconds, 90, 91);
    }

    /// <summary>The air has come back while a later finding of the same trouble lasts: what is left looks like something else.</summary>
    [Fact]
    public void What_is_left_of_a_fault_that_goes_back_does_not_change_its_name()
    {
        List<FindingLine> lines = Causes(new Night(Bench())
            .Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 180, TestBench.Air, TestBench.Vacuum, TestBench.Control)
            .Series(TestBench.Air, 60, 66, 44).Series(TestBench.Air, 66, 180, 50)
            .Series(TestBench.Vacuum, 60, 66, 8.87).Series(TestBench.Vacuum, 66, 180, 10)
            .Series(TestBench.Control, 60, 62, -10).Series(TestBench.Control, 62, 180, -15));
        Assert.Equal("regulator-sag", lines[0].Cause);
        Assert.All(lines.Where(l => l.Id == lines[0].Id), l => Assert.Equal("regulator-sag", l.Cause));
    }

    /// <summary>A sag is over; forty seconds later a head clogs, and another minute later another one while the first is clean.</summary>
    [Fact]
    public void What_comes_soon_after_on_another_channel_is_a_trouble_of_its_own()
    {
        List<FindingLine> lines = Causes(new Night(Bench())
            .Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 260, TestBench.Air, TestBench.Head1, TestBench.Head1 + 2)
            .Series(TestBench.Air, 60, 63, 44).Series(TestBench.Air, 63, 260, 50)
            .Series(TestBench.Head1, 60, 100, -10).Series(TestBench.Head1, 100, 130, -20).Series(TestBench.Head1, 130, 260, -10)
            .Series(TestBench.Head1 + 2, 60, 170, -10).Series(TestBench.Head1 + 2, 170, 200, -20).Series(TestBench.Head1 + 2, 200, 260, -10));
        List<FindingLine> clogs = lines.FindAll(l => l is { Cause: "head-clogged", Phase: FindingPhase.Raised });
        Assert.Equal([(100.0, 1.0), (170.0, 3.0)], clogs.Select(l => (l.Start.Seconds, Number(l, "head"))));
        Assert.All(lines.Where(l => l.Cause == "head-clogged" && l.Phase == FindingPhase.Ended), l => Assert.Contains(l.Text, clogs.Select(c => c.Text)));
    }

    [Fact]
    public void A_bench_of_one_channel_gets_its_finding_and_no_guess()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, 50).Series(TestBench.Air, 60, 90, 44).Judge();
        Assert.Contains(lines, l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.All(lines.Where(l => l.Kind == FindingKinds.Cause), l => Assert.InRange(Number(l, "confidence"), 0, 0.6));
    }

    [Fact]
    public void A_dead_supply_explains_what_hangs_on_the_air()
    {
        Night night = new Night(Bench())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 160, [TestBench.Supply, TestBench.Air, TestBench.Vacuum, .. Heads])
            .Series(TestBench.Supply, 60, 160, t => 90 - (0.6 * (t - 60)))
            .Series(TestBench.Air, 60, 160, t => Math.Min(50, 90 - (0.6 * (t - 60)) - 5))
            .Series(TestBench.Vacuum, 60, 160, t => 10 * Math.Min(1, (90 - (0.6 * (t - 60)) - 5) / 50));
        foreach (int head in Heads)
        {
            night.Series(head, 60, 160, t => t < 140 ? -10 : -18);
        }

        FindingLine cause = Assert.Single(Causes(night), l => l.Phase == FindingPhase.Raised);
        Assert.NotEqual("oxide-shed", cause.Cause);
        Assert.Equal("time-to-setpoint", cause.Details.Single(d => d.Name == "first").Word); // said before the setpoint is lost
    }
}
