using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Units;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class VacuumLossTests
{
    private static string? Word(FindingLine line, string name) => line.Details.Single(d => d.Name == name).Word;

    private static List<FindingLine> Losses(Night night) => night.Judge().FindAll(l => l.Kind == FindingKinds.VacuumLoss);

    [Fact]
    public void Vacuum_that_falls_with_its_air_is_said_to()
    {
        // 6 psi less air leave 88.7 % by the law of the choked venturi: past the advisory of 90 % after its 5 s.
        List<FindingLine> lines = Losses(new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 80, TestBench.Vacuum, TestBench.Air)
            .Series(TestBench.Air, 60, 80, 44).Series(TestBench.Vacuum, 60, 80, 8.87));
        Assert.Equal((60.0, 65.0, "fell-with-the-air", Severity.Advisory), (lines[0].Start.Seconds, lines[0].RaisedAt.Seconds, lines[0].Cause, lines[0].Severity));
        Assert.Equal(8.87, lines[0].Details.Single(d => d.Name == "expectedByAir").Number!.Value, 0.01);
    }

    [Theory]
    [InlineData("inH2O")]
    [InlineData("kPa")]
    [InlineData("mbar")]
    public void Vacuum_that_falls_with_sound_air_falls_by_itself_whatever_the_unit(string unit)
    {
        double In(double inches) => Unit.Parse("inH2O").Convert(inches, Unit.Parse(unit));
        DriftWatch.Measurement.Benches.BenchDefinition bench = TestBench.Of([.. TestBench.AllChannels().Select(c => c.Key == TestBench.Vacuum ? TestBench.VacuumChannel(unit) with { Instrument = "board" } : c)]);
        List<FindingLine> lines = Losses(new Night(bench)
            .Shows(MachineState.Locked, 0, 80, TestBench.Vacuum)
            .Series(TestBench.Vacuum, 0, 60, In(10)).Series(TestBench.Vacuum, 60, 70, In(5)).Series(TestBench.Vacuum, 70, 80, In(10)));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Equal((61.0, "fell-by-itself", Severity.Alarm), (lines[0].RaisedAt.Seconds, lines[0].Cause, lines[0].Severity));
        Assert.Equal(In(5), lines[0].Value!.Value, 1e-9);
        Assert.Equal(In(7.5), lines[0].Limit!.Value, 1e-9);
        Assert.Equal("still-read", Word(lines[0], "tape"));
        Assert.Equal(70.0, lines[1].End!.Value.Seconds);
    }

    [Fact]
    public void A_baseline_taken_with_the_guide_open_is_no_vacuum_to_lose() =>
        Assert.Empty(Losses(new Night(TestBench.Full())
            .Shows(MachineState.AirUp, 0, 60, TestBench.Vacuum)
            .Series(TestBench.Vacuum, 0, 40, 0.143).Series(TestBench.Vacuum, 40, 60, -0.067)
            .At(35, new Measurement.Inputs.BaselineCommand { Id = Guid.CreateVersion7(), By = "R. Thrift" })));

    [Fact]
    public void A_leak_that_rising_air_hides_is_found()
    {
        // Air 50 → 60 psi should give 18.8 % more; 9.9 inH2O are then 83 % of what is due.
        List<FindingLine> lines = Losses(new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 80, TestBench.Vacuum, TestBench.Air)
            .Series(TestBench.Air, 60, 80, 60).Series(TestBench.Vacuum, 60, 80, 9.9));
        Assert.Equal((65.0, "fell-by-itself"), (lines[0].RaisedAt.Seconds, lines[0].Cause));
    }

    [Fact]
    public void Without_an_air_channel_the_cause_is_unknown()
    {
        List<FindingLine> lines = Losses(new Night(TestBench.Of(TestBench.VacuumChannel())).Series(TestBench.Vacuum, 0, 20, 10).Series(TestBench.Vacuum, 20, 30, 3));
        Assert.Equal((21.0, "unknown"), (lines[0].RaisedAt.Seconds, lines[0].Cause));
    }

    [Fact]
    public void Tape_that_lifts_loses_heads_and_vacuum_but_not_the_control_track()
    {
        int[] heads = [TestBench.Head1, TestBench.Head1 + 1, TestBench.Head1 + 2, TestBench.Head1 + 3];
        Night night = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60)
            .Shows(MachineState.Locked, 60, 70, [.. heads, TestBench.Vacuum, TestBench.Lock]).Series(TestBench.Lock, 60, 70, 0)
            .Series(TestBench.Vacuum, 60, 70, 0.1);
        foreach (int head in heads)
        {
            night.Series(head, 60, 70, -60);
        }

        FindingLine loss = Losses(night)[0];
        Assert.Equal((61.0, "lifted"), (loss.RaisedAt.Seconds, Word(loss, "tape")));
    }

    [Fact]
    public void Tape_that_runs_out_is_raised_though_the_state_changes_first_and_ends_with_the_state()
    {
        List<FindingLine> lines = Losses(new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.AirUp, 60, 80));
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Equal((61.0, "ran-out-or-stopped", "fell-by-itself"), (lines[0].RaisedAt.Seconds, Word(lines[0], "tape"), lines[0].Cause));
        Assert.Equal("state-left", Word(lines[1], "endedBy"));
    }

    [Fact]
    public void Taking_the_tape_off_a_stopped_machine_is_no_loss() =>
        Assert.Empty(Losses(new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.TapeOnGuide, 60, 90).Shows(MachineState.AirUp, 90, 120)));
}
