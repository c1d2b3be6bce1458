using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class EngineTests
{
    private static EngineTime T(double seconds) => EngineTime.FromSeconds(seconds);

    private static EngineInput Clock(ClockEventKind kind, double at, double ahead = 0, double step = 0) =>
        EngineInput.OfClock(default, new ClockEvent(kind, Night.Anchor(at, ahead)) { StepNanoseconds = T(step).Nanoseconds });

    private static Night LowAir() => new Night(TestBench.Of(TestBench.AirChannel()))
        .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 60, 43);

    private static string LowAirId(Night night) => night.Judge().First(l => l.Kind == FindingKinds.AirBelowSetpoint).Id;

    [Fact]
    public void The_same_log_gives_the_same_bytes_and_ids_that_name_bench_kind_channel_and_input()
    {
        List<EngineInput> inputs = RandomNights.Make(4711);
        string[] Once() => [.. Night.Judge(inputs).Select(l => System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(l)))];
        Assert.Equal(Once(), Once());
        FindingLine low = LowAir().Judge().First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal($"lab.air-below-setpoint.regulated-air.{low.Input}", low.Id);
        List<FindingLine> raised = Night.Judge(inputs).FindAll(l => l.Phase == FindingPhase.Raised);
        Assert.Equal(raised.Count, raised.Select(l => l.Id).Distinct().Count());
    }

    [Theory]
    [InlineData(60, "60.05 s")]
    [InlineData(3600, "60 min 0 s")]
    [InlineData(86400, "24 h 0 min")]
    [InlineData(27148321, "314 d 5 h")]
    public void How_long_nobody_watched_is_said_in_units_a_person_reads(double seconds, string length)
    {
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel());
        Night night = new Night(bench).Series(TestBench.Air, 0, 10, 50);
        night.At(10.05, Clock(ClockEventKind.Started, 10.05, ahead: seconds)).At(10.05, EngineInput.OfBench(default, bench)).Series(TestBench.Air, 10.1, 20, 50);
        FindingLine gap = Assert.Single(night.Judge(), l => l.Kind == FindingKinds.NobodyWatching);
        Assert.StartsWith($"Nobody watched for {length}", gap.Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(true, "stopped-on-purpose")]
    [InlineData(false, "not-stopped-on-purpose")]
    public void After_a_restart_it_is_said_for_how_long_nobody_watched(bool onPurpose, string cause)
    {
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel());
        Night night = new Night(bench).Series(TestBench.Air, 0, 10, 50);
        if (onPurpose)
        {
            night.At(10, Clock(ClockEventKind.Stopped, 10));
        }

        // Engine time goes on where the last process left off; UTC tells that an hour has passed.
        night.At(10.05, Clock(ClockEventKind.Started, 10.05, ahead: 3600)).At(10.05, EngineInput.OfBench(default, bench)).Series(TestBench.Air, 10.1, 20, 50);
        FindingLine gap = Assert.Single(night.Judge(), l => l.Kind == FindingKinds.NobodyWatching);
        Assert.Equal(cause, gap.Cause);

        // Exactly: the last thing seen was the tick at 10.0 s, and the anchor of the start tells its UTC.
        Assert.Equal((3600.05, "s"), (gap.Value!.Value, gap.Unit));
        Assert.Equal((Night.Midnight + T(10).Nanoseconds, Night.Midnight + T(3610.05).Nanoseconds), (gap.StartUtc, gap.EndUtc!.Value));
        Assert.Equal((T(10), T(10.05)), (gap.Start, gap.RaisedAt));
        Assert.StartsWith("Nobody watched for 60 min 0 s", gap.Text, StringComparison.Ordinal);
        Assert.Single(night.Judge(), l => l.Kind == FindingKinds.BenchInForce);
    }

    [Fact]
    public void A_wall_clock_that_was_put_back_while_nobody_watched_leaves_the_length_unknown()
    {
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel());
        Night night = new Night(bench).Series(TestBench.Air, 0, 10, 50)
            .At(10.05, Clock(ClockEventKind.Started, 10.05, ahead: -7200)).At(10.05, EngineInput.OfBench(default, bench)).Series(TestBench.Air, 10.1, 20, 50);
        FindingLine gap = Assert.Single(night.Judge(), l => l.Kind == FindingKinds.NobodyWatching);
        Assert.Null(gap.Value); // 0 s would be a lie
        Assert.Contains("unknown time", gap.Text, StringComparison.Ordinal);
        Assert.Equal((T(10), T(10.05)), (gap.Start, gap.RaisedAt));
    }

    [Fact]
    public void A_delay_does_not_run_while_nobody_watches()
    {
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel());
        List<FindingLine> lines = new Night(bench).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 15, 47)
            .At(15.05, Clock(ClockEventKind.Started, 15.05, ahead: 100)).At(15.05, EngineInput.OfBench(default, bench))
            .Series(TestBench.Air, 15.1, 30, 47).Judge();
        Assert.Equal(T(25.1), lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint).RaisedAt);
    }

    [Fact]
    public void A_wall_step_is_noted_and_moves_no_delay()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 30, 47)
            .At(15, Clock(ClockEventKind.WallStep, 15, ahead: -7200, step: -7200)).Judge();
        FindingLine step = Assert.Single(lines, l => l.Kind == FindingKinds.ClockStep);
        Assert.Equal((-7200.0, "put-back"), (step.Value!.Value, step.Cause));
        FindingLine low = lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(T(20), low.RaisedAt);
        Assert.Equal(Night.Midnight + T(10).Nanoseconds, low.StartUtc);
        Assert.Equal(Night.Midnight + T(20 - 7200).Nanoseconds, low.RaisedUtc);
    }

    [Fact]
    public void Acknowledging_and_shelving_stand_in_the_lines_that_follow()
    {
        string id = LowAirId(LowAir());
        List<FindingLine> lines = LowAir()
            .At(20, new AcknowledgeCommand { Id = Guid.Empty, By = "Ada", Finding = id })
            .At(25, new ShelveCommand { Id = Guid.Empty, By = "Ben", Finding = id, For = TimeSpan.FromSeconds(10) })
            .Series(TestBench.Air, 60, 70, 50).Judge().FindAll(l => l.Id == id);
        Assert.Equal([10.0, 20, 25, 35, 60], lines.Select(l => l.Phase switch { FindingPhase.Raised => l.RaisedAt.Seconds, FindingPhase.Ended => l.End!.Value.Seconds, _ => Time(l) }));
        Assert.Contains(lines[1].Details, d => d is { Name: "acknowledgedBy", Word: "Ada" });
        Assert.Contains(lines[2].Details, d => d is { Name: "shelvedUntil", Word: "2026-03-01T00:00:35.000Z" });
        Assert.DoesNotContain(lines[3].Details, d => d.Name == "shelvedUntil");
        Assert.Contains(lines[4].Details, d => d is { Name: "acknowledgedBy", Word: "Ada" });

        double Time(FindingLine line) => new Dictionary<int, double> { [1] = 20, [2] = 25, [3] = 35 }[lines.IndexOf(line)];
    }

    [Fact]
    public void A_command_for_a_finding_that_does_not_last_is_answered()
    {
        FindingLine note = Assert.Single(
            LowAir().At(20, new AcknowledgeCommand { Id = Guid.Empty, By = "Ada", Finding = "lab.stale.x.1" }).Judge(),
            l => l.Kind == FindingKinds.CommandNotApplied);
        Assert.Contains("lab.stale.x.1", note.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_reload_keeps_what_unchanged_channels_know_and_takes_removed_ones_out_of_service()
    {
        ChannelDefinition air = TestBench.AirChannel();
        Night night = new Night(TestBench.Of(air, TestBench.SupplyChannel()))
            .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 30, 47).Series(TestBench.Supply, 0, 5, 90)
            .At(15, EngineInput.OfBench(default, TestBench.Of(air with { Label = "Air at the bearing" }) with { SourceHash = "second" }));
        List<FindingLine> lines = night.Judge();

        // Crossed at 10, reloaded at 15, raised at 20: the delay was kept.
        FindingLine low = lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal((T(10), T(20), "second"), (low.Start, low.RaisedAt, low.BenchHash));
        Assert.StartsWith("Air at the bearing", low.Text, StringComparison.Ordinal);
        FindingLine gone = Assert.Single(lines, l => l.Kind == FindingKinds.Stale && l.Phase == FindingPhase.Ended);
        Assert.Equal(("supply-air", "out-of-service", T(15)), (gone.Channel, gone.Cause, gone.End));

        // Open already, it stays the same finding over a further reload, and ends under the id it was raised with.
        List<FindingLine> kept = new Night(TestBench.Of(air, TestBench.SupplyChannel()))
            .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 40, 47).Series(TestBench.Air, 40, 50, 50)
            .At(25, EngineInput.OfBench(default, TestBench.Of(air with { Label = "Air at the bearing" }) with { SourceHash = "second" }))
            .Judge().FindAll(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal((FindingPhase.Raised, FindingPhase.Ended), (kept[0].Phase, kept[^1].Phase));
        Assert.Single(kept.Select(l => l.Id).Distinct());
        Assert.Equal((T(20), T(40), T(10)), (kept[0].RaisedAt, kept[^1].End, kept[^1].Start));
        Assert.Equal((kept[0].BenchHash, "second"), ("0123456789abcdef", kept[^1].BenchHash));

        // A changed limit begins anew.
        night.At(22, EngineInput.OfBench(default, TestBench.Of(air with { Limits = [.. air.Limits.Take(1)] }) with { SourceHash = "third" }));
        FindingLine ended = Assert.Single(night.Judge(), l => l.Kind == FindingKinds.AirBelowSetpoint && l.Phase == FindingPhase.Ended);
        Assert.Equal("out-of-service", ended.Cause);
    }

    [Fact]
    public void A_calibration_is_in_force_from_its_input_on()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 30, 50)
            .At(20, EngineInput.OfCalibration(default, TestBench.Air, new LineCalibration(0.8, 0) { Version = 2 })).Judge();
        FindingLine low = lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal((T(20), 40.0), (low.RaisedAt, low.Value!.Value));
        Assert.Contains(lines, l => l.Kind == FindingKinds.Calibration && l.Channel == "regulated-air");
    }

    [Fact]
    public void A_late_input_is_counted_and_not_judged()
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        List<EngineInput> inputs = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 10, 50).Inputs();
        foreach (EngineInput input in inputs)
        {
            engine.Apply(input, lines);
        }

        int before = lines.Count;
        EngineInput late = EngineInput.OfReading(T(5), TestBench.Air, Measurement.Samples.Reading.Of(1)) with { IsLate = true, Number = inputs.Count + 1 };
        engine.Apply(late, lines);
        Assert.Equal((before, 1L, late.Number), (lines.Count, engine.LateInputs, engine.LastNumber));
        Assert.Throws<ArgumentException>(() => engine.Apply(late, lines));
    }

    [Fact]
    public void A_frame_is_judged_by_its_peak_and_one_of_wrong_length_is_a_fault()
    {
        List<FindingLine> lines = new Night(TestBench.Full())
            .Shows(MachineState.Locked, 0, 30, TestBench.Timing)
            .Frames(TestBench.Timing, 0, 20, 50).Frames(TestBench.Timing, 20, 22, 350).Frames(TestBench.Timing, 22, 24, 50)
            .Series(TestBench.Lock, 30, 30, 1)
            .At(24.05, EngineInput.OfFrame(default, TestBench.Timing, new Measurement.Samples.Frame(1, 0, new double[10]))).Judge();
        FindingLine peak = Assert.Single(lines, l => l.Kind == FindingKinds.AboveLimit && l.Phase == FindingPhase.Raised);
        Assert.Equal(("timing", T(20), 350.0), (peak.Channel, peak.RaisedAt, peak.Value!.Value));
        Assert.Contains(lines, l => l is { Kind: FindingKinds.SensorFault, Channel: "timing", Cause: "garbled" });
    }

    [Fact]
    public void When_all_that_tells_running_tape_goes_silent_judgement_goes_on()
    {
        int[] detector = [.. TestBench.AllChannels().Where(c => c.Instrument == "detector").Select(c => c.Key)];
        List<FindingLine> lines = new Night(TestBench.Full()).Shows(MachineState.Locked, 0, 60).Shows(MachineState.Locked, 60, 90, [.. detector, TestBench.Vacuum])
            .Series(TestBench.Vacuum, 60, 75, 10).Series(TestBench.Vacuum, 75, 90, 4).Judge();
        Assert.Contains(lines, l => l.Kind == FindingKinds.State && l.Cause == "unknown");
        Assert.Equal(T(76), lines.First(l => l.Kind == FindingKinds.VacuumLoss).RaisedAt);
        Assert.Contains(lines, l => l is { Kind: FindingKinds.InstrumentSilent, Phase: FindingPhase.Raised });
    }
}
