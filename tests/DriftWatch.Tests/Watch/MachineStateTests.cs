using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class MachineStateTests
{
    private static List<(MachineState To, double At)> States(List<FindingLine> lines) =>
        [.. lines.Where(l => l.Kind == FindingKinds.State).Select(l =>
        {
            Assert.True(Slugs.TryParse(l.Cause, out MachineState to));
            return (to, l.RaisedAt.Seconds);
        })];

    [Fact]
    public void A_whole_pass_goes_through_all_states_and_back_with_nothing_raised()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.NoAir, 0, 10).Shows(MachineState.AirUp, 10, 20).Shows(MachineState.TapeOnGuide, 20, 30)
            .Shows(MachineState.Running, 30, 35).Shows(MachineState.Locked, 35, 100)
            .Shows(MachineState.TapeOnGuide, 100, 110).Shows(MachineState.AirUp, 110, 120).Judge();
        Assert.Equal(
            [MachineState.NoAir, MachineState.AirUp, MachineState.TapeOnGuide, MachineState.Running, MachineState.Locked, MachineState.TapeOnGuide, MachineState.AirUp],
            States(lines).Select(s => s.To));
        Assert.Equal([1.1, 11, 21, 31, 35.2, 100.4, 112], States(lines).Select(s => Math.Round(s.At, 3)), new Near(0.11));

        // No air at the beginning is below setpoint, whatever the state: that limit is bound to none.
        Assert.Equal([FindingKinds.AirBelowSetpoint], lines.Where(l => l.Severity > Severity.Note && l.Kind != FindingKinds.Cause).Select(l => l.Kind).Distinct());
        Assert.Single(lines, l => l.Kind == FindingKinds.BaselineTaken && l.Cause == "provisional");
    }

    [Fact]
    public void Vacuum_that_collapses_while_heads_read_changes_no_state_and_is_a_loss()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 90, TestBench.Vacuum).Series(TestBench.Vacuum, 60, 90, 0).Judge();
        Assert.DoesNotContain(States(lines), s => s.At > 60);
        FindingLine loss = lines.First(l => l.Kind == FindingKinds.VacuumLoss);
        Assert.Equal((EngineTime.FromSeconds(60), EngineTime.FromSeconds(61)), (loss.Start, loss.RaisedAt));
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.VacuumLoss && l.Phase == FindingPhase.Ended);
    }

    [Fact]
    public void With_vacuum_and_air_only_a_collapse_can_not_gate_itself_off()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel(), TestBench.VacuumChannel()))
            .Series(TestBench.Air, 0, 90, 50).Series(TestBench.Vacuum, 0, 30, 10).Series(TestBench.Vacuum, 30, 90, 0).Judge();
        Assert.Equal([MachineState.TapeOnGuide, MachineState.Unknown], States(lines).Select(s => s.To));
        FindingLine loss = Assert.Single(lines, l => l.Kind == FindingKinds.VacuumLoss && l.Phase == FindingPhase.Raised);
        Assert.Equal((31.0, "fell-by-itself"), (loss.RaisedAt.Seconds, loss.Cause));
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.VacuumLoss && l.Phase == FindingPhase.Ended);
    }

    [Fact]
    public void With_air_only_a_failure_of_the_air_can_not_gate_itself_off()
    {
        ChannelDefinition air = TestBench.AirChannel();
        air = air with { Limits = [.. air.Limits.Select(l => l with { JudgedIn = [MachineState.AirUp, MachineState.TapeOnGuide, MachineState.Running, MachineState.Locked] })] };
        List<FindingLine> lines = new Night(TestBench.Of(air)).Series(TestBench.Air, 0, 30, 50).Series(TestBench.Air, 30, 60, 0).Judge();
        Assert.Equal([MachineState.AirUp, MachineState.Unknown], States(lines).Select(s => s.To));
        Assert.Contains(lines, l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.AirBelowSetpoint && l.Phase == FindingPhase.Ended);
    }

    [Fact]
    public void One_head_alone_that_loses_its_signal_can_not_gate_itself_off()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.RfChannel(1)))
            .Series(TestBench.Head1, 0, 60, -10).Series(TestBench.Head1, 60, 90, -60).Judge();
        Assert.Equal([MachineState.Running, MachineState.Unknown], States(lines).Select(s => s.To));
        FindingLine low = Assert.Single(lines, l => l.Kind == FindingKinds.BelowLimit && l.Phase == FindingPhase.Raised);
        Assert.Equal(60.5, low.RaisedAt.Seconds);
    }

    [Fact]
    public void A_machine_that_stops_is_not_told_as_four_clogged_heads()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 60).Shows(MachineState.TapeOnGuide, 60, 80).Judge();
        Assert.DoesNotContain(lines, l => l.Severity > Severity.Note);
    }

    [Fact]
    public void Servos_that_report_lock_half_a_second_longer_do_not_hold_the_state()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 60).Shows(MachineState.TapeOnGuide, 60, 80, TestBench.Lock)
            .Series(TestBench.Lock, 60, 60.5, 1).Series(TestBench.Lock, 60.5, 80, 0).Judge();
        Assert.DoesNotContain(lines, l => l.Severity > Severity.Note);
    }

    [Fact]
    public void Air_that_is_off_while_the_wheel_stands_is_a_machine_at_rest_until_the_wheel_turns()
    {
        ChannelDefinition wheel = TestBench.Series(30, "wheel", ChannelRole.WheelSpeed, "rev/min");
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel(), TestBench.VacuumChannel(), wheel))
            .Series(TestBench.Vacuum, 0, 90, 0).Series(30, 0, 60, 0).Series(30, 60, 90, 14_400)
            .Series(TestBench.Air, 0, 10, 0).Series(TestBench.Air, 10, 30, 50).Series(TestBench.Air, 30, 90, t => 50 * Math.Exp(-(t - 30))).Judge();
        List<FindingLine> low = lines.FindAll(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal([(FindingPhase.Raised, Severity.Alarm)], low.Select(l => (l.Phase, l.Severity)));
        Assert.Equal(60.1, low[0].RaisedAt.Seconds, 0.11);
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.PressureSag);
    }

    /// <summary>RF that sinks through its limits for two tenths before it is gone counts its alarm's delay from before the state's.</summary>
    [Fact]
    public void A_tape_that_slows_down_before_it_stops_is_not_told_as_four_clogged_heads()
    {
        int[] all = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3, TestBench.Control];
        Night night = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.TapeOnGuide, 60, 70, all);
        foreach (int channel in all)
        {
            night.Series(channel, 60, 60.2, -20).Series(channel, 60.2, 70, -62);
        }

        Assert.DoesNotContain(night.Judge(), l => l.Severity > Severity.Note);
    }

    [Fact]
    public void A_clogged_head_is_found_against_the_provisional_baseline()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 80, TestBench.Head1 + 2)
            .Series(TestBench.Head1 + 2, 0, 60, -10).Series(TestBench.Head1 + 2, 60, 80, -18).Judge();
        FindingLine clog = Assert.Single(lines, l => l.Severity == Severity.Alarm && l.Phase == FindingPhase.Raised && l.Kind != FindingKinds.Cause);
        Assert.Equal(("rf-3", 60.5), (clog.Channel, clog.RaisedAt.Seconds));
    }

    [Fact]
    public void A_baseline_taken_while_no_tape_ran_does_not_make_a_tape_run_for_ever()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.AirUp, 0, 20).At(15.05, new BaselineCommand { Id = Guid.CreateVersion7(), By = "R. Thrift" })
            .Shows(MachineState.TapeOnGuide, 20, 30).Shows(MachineState.Running, 30, 35).Shows(MachineState.Locked, 35, 60)
            .Shows(MachineState.TapeOnGuide, 60, 70).Shows(MachineState.AirUp, 70, 80).Judge();
        Assert.Equal(
            [MachineState.AirUp, MachineState.TapeOnGuide, MachineState.Running, MachineState.Locked, MachineState.TapeOnGuide, MachineState.AirUp],
            States(lines).Select(s => s.To));
    }

    private sealed class Near(double within) : IEqualityComparer<double>
    {
        public bool Equals(double x, double y) => Math.Abs(x - y) <= within;

        public int GetHashCode(double obj) => 0;
    }
}
