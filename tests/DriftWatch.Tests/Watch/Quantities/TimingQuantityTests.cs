using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Watch.Support;

namespace DriftWatch.Tests.Watch.Quantities;

/// <summary>Timing frames judged live: which quantity, from when, and only where the servos hold the wheel.</summary>
public class TimingQuantityTests
{
    private static readonly string[] Steps = ["head-step-1", "head-step-2", "head-step-3", "head-step-4"];

    private static BenchDefinition Bench(Func<ChannelDefinition, bool>? without = null)
    {
        BenchDefinition bench = TestBench.Full(without);
        return bench with { Quantities = DefaultQuantities.For(bench.Channels) };
    }

    [Fact]
    public void A_frame_with_an_axis_tells_skew_scallop_steps_and_what_does_not_repeat()
    {
        string[] due = ["skew", "scallop", .. Steps, "async-residual"];
        Assert.Equal(due, Bench().Quantities.Select(q => q.Id).Intersect(due));
        Assert.Empty(Bench(c => c.Role == ChannelRole.TimingError).Quantities.Select(q => q.Id).Intersect(due));
        ChannelDefinition coarse = TestBench.AllChannels().Single(c => c.Key == TestBench.Timing) with { Axis = FrameAxis.Even(3) };
        Assert.Empty(DefaultQuantities.For([coarse]));
    }

    /// <summary>0.2 mil of penetration are 181 ns from end to end, 0.4 are 363: beyond 100 after 10 s, beyond 300 after 2 s.</summary>
    [Theory]
    [InlineData(0.2, Severity.Advisory, 70.0, -181.5)]
    [InlineData(-0.2, Severity.Advisory, 70.0, 181.5)]
    [InlineData(0.4, Severity.Alarm, 62.0, -363.0)]
    public void Skew_is_said_with_its_sign_after_the_delay_of_its_severity(double pMil, Severity severity, double raisedAt, double ns)
    {
        Night night = Sound(0, 60).Shows(MachineState.Locked, 60, 75, TestBench.Timing);
        List<FindingLine> lines = Of("skew", Frames(night, 60, 75, pMil, 0));
        FindingLine raised = lines[0];
        Assert.Equal((60.0, raisedAt, severity), (raised.Start.Seconds, raised.RaisedAt.Seconds, raised.Severity));
        Assert.Equal(ns, raised.Value!.Value, 0.5);
        Assert.Equal(ns > 0 ? FindingKinds.AboveLimit : FindingKinds.BelowLimit, raised.Kind);
    }

    [Fact]
    public void Height_is_scallop_and_a_lagging_head_is_a_step_and_neither_is_skew()
    {
        Night night = Sound(0, 60).Shows(MachineState.Locked, 60, 75, TestBench.Timing);
        List<FindingLine> lines = Frames(night, 60, 75, 0, 0.3, [0, 0, 80, 0]).Judge();

        // 0.3 mil are 56 ns of sagitta; a head 80 ns late is 60 late against the mean, the others 20 early.
        Assert.Equal(56.4, Assert.Single(lines, l => l.Channel == "scallop" && l.Phase == FindingPhase.Raised).Value!.Value, 0.5);
        FindingLine step = Assert.Single(lines, l => Steps.Contains(l.Channel) && l.Phase == FindingPhase.Raised);
        Assert.Equal("head-step-3", step.Channel);
        Assert.Equal((60, 70.0, Severity.Advisory), ((int)Math.Round(step.Value!.Value), step.RaisedAt.Seconds, step.Severity));
        Assert.DoesNotContain(lines, l => l.Channel == "skew");
    }

    [Fact]
    public void Frames_of_an_unlocked_wheel_are_not_judged_unless_the_bench_has_no_lock_to_ask()
    {
        Night unlocked = new Night(Bench()).Shows(MachineState.Running, 0, 40, TestBench.Timing);
        Assert.Empty(Of("skew", Frames(unlocked, 0, 40, 0.4, 0)));

        Night noLock = new Night(Bench(c => c.Role == ChannelRole.ServoLock)).Shows(MachineState.Running, 0, 40, TestBench.Timing, TestBench.Lock);
        Assert.Equal(Severity.Alarm, Of("skew", Frames(noLock, 0, 40, 0.4, 0))[0].Severity);
    }

    /// <summary>Against the tape's own baseline: 1.5 times for 30 s, three times for 5 s.</summary>
    [Theory]
    [InlineData(2.0, Severity.Advisory, 30.0)]
    [InlineData(4.0, Severity.Alarm, 5.0)]
    public void Noise_that_does_not_repeat_is_judged_against_the_baseline(double times, Severity severity, double after)
    {
        Night night = Sound(0, 60).Shows(MachineState.Locked, 60, 110, TestBench.Timing);
        FindingLine raised = Of("async-residual", Frames(night, 60, 110, 0, 0, sigmaNs: 3 * times))[0];
        Assert.Equal(severity, raised.Severity);
        Assert.InRange(raised.RaisedAt.Seconds, 60 + after, 60 + after + 2.5);
        Assert.InRange(raised.Value!.Value / 3, 0.75 * times, 1.25 * times);
    }

    /// <summary>
    /// Whirl of 0.48 a revolution, its phase another in every frame, beside a servo that wanders by ten times as much. With noise of 3 ns it
    /// comes to 3.6 times the baseline; about the frames' means it would be 2.8 times, and never an alarm.
    /// </summary>
    [Fact]
    public void Whirl_is_told_in_full_though_the_wander_of_the_servo_is_not()
    {
        FrameAxis axis = FrameAxis.Even(16);
        var random = new Random(9);
        Night night = Sound(0, 60).Shows(MachineState.Locked, 60, 110, TestBench.Timing);
        for (double t = 60; t < 110; t += 0.25)
        {
            double phase = 2 * Math.PI * random.NextDouble();
            double wander = 80 * MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1);
            double[] values = [.. axis.AnglesDegrees.Select((angle, i) => wander
                + (3 * MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1))
                + (10.4 * Math.Sqrt(2) * Math.Sin((0.48 * ((angle * Math.PI / 180) + ((axis.Heads[i] - 1) * Math.PI / 2))) + phase)))];
            night.At(t, EngineInput.OfFrame(default, TestBench.Timing, new Frame((uint)(t * 4), 0, values)));
        }

        Assert.Contains(Of("async-residual", night), l => l.Severity == Severity.Alarm);
    }

    [Fact]
    public void A_geometry_that_changes_at_once_is_no_noise()
    {
        Night night = Sound(0, 60).Shows(MachineState.Locked, 60, 110, TestBench.Timing);
        Frames(night, 60, 85, 0.1, 0.1);
        Assert.Empty(Of("async-residual", Frames(night, 85, 110, 0, 0)));
    }

    [Fact]
    public void A_frame_at_the_converters_end_tells_nothing()
    {
        BenchDefinition bench = Bench();
        bench = bench with { Channels = [.. bench.Channels.Select(c => c.Key == TestBench.Timing ? c with { Faults = new FaultRules { Low = -100, High = 100 } } : c)] };
        Night night = new Night(bench).Shows(MachineState.Locked, 0, 40, TestBench.Timing);
        Assert.Empty(Of("skew", Frames(night, 0, 40, 0.4, 0)));
    }

    [Fact]
    public void Frames_in_microseconds_are_judged_as_what_they_are()
    {
        BenchDefinition bench = Bench();
        bench = bench with { Channels = [.. bench.Channels.Select(c => c.Key == TestBench.Timing ? c with { Unit = "us", RawUnit = "us", Limits = [] } : c)] };
        Night night = new Night(bench).Shows(MachineState.Locked, 0, 40, TestBench.Timing);
        Assert.Equal(-363, Of("skew", Frames(night, 0, 40, 0.4, 0, unitNs: 1000))[0].Value!.Value, 0.5);
    }

    [Fact]
    public void A_guide_servo_near_its_end_is_said_on_either_side()
    {
        ChannelDefinition servo = TestBench.Series(20, "guide-servo", ChannelRole.GuideServo, "%") with { Instrument = "timer" };
        servo = servo with { Limits = DefaultLimits.For(servo, "525/60", null) };
        BenchDefinition bench = TestBench.Of([.. TestBench.AllChannels(), servo]);
        Night night = new Night(bench).Shows(MachineState.Locked, 0, 60).Series(20, 0, 20, 10).Series(20, 20, 40, -70).Series(20, 40, 60, 85);
        List<FindingLine> raised = Of("guide-servo", night).FindAll(l => l.Phase == FindingPhase.Raised);
        Assert.Equal(
            [(FindingKinds.BelowLimit, 25.0, Severity.Advisory), (FindingKinds.AboveLimit, 40.5, Severity.Alarm)],
            raised.Select(l => (l.Kind, l.RaisedAt.Seconds, l.Severity)));
    }

    [Theory]
    [InlineData(1, "a-line-on")]
    [InlineData(-1, "a-line-back")]
    public void A_head_switch_mark_that_slips_by_a_line_is_said_and_its_frames_are_judged_by_nobody(int turned, string cause)
    {
        List<FindingLine> lines = Slipping(40, 60, turned).Judge();
        FindingLine raised = Assert.Single(lines, l => l is { Kind: FindingKinds.MarkSlipped, Phase: FindingPhase.Raised });
        Assert.Equal(("timing", cause, Severity.Advisory, 40.5), (raised.Channel, raised.Cause, raised.Severity, raised.RaisedAt.Seconds));
        FindingLine ended = Assert.Single(lines, l => l is { Kind: FindingKinds.MarkSlipped, Phase: FindingPhase.Ended });
        Assert.Equal((60.5, "recovered"), (ended.End!.Value.Seconds, ended.Details.Single(d => d.Name == "endedBy").Word));

        // Taken for what they seem, they are steps and scallop beyond their limits and a bearing that fails.
        Assert.DoesNotContain(lines, l => l.Channel is "skew" or "scallop" or "async-residual" || Steps.Contains(l.Channel));
    }

    [Fact]
    public void A_slip_ends_when_tape_stops_and_a_single_frame_says_nothing()
    {
        Assert.DoesNotContain(Slipping(40, 40.5, 1).Judge(), l => l.Kind == FindingKinds.MarkSlipped);
        Night night = Slipping(40, 80, 1).Shows(MachineState.TapeOnGuide, 80, 90);
        Assert.Equal("state-left", night.Judge().Last(l => l.Kind == FindingKinds.MarkSlipped).Details.Single(d => d.Name == "endedBy").Word);
    }

    /// <summary>A guide that is turned, a head that is stepped and a bearing that whirls change the shape in place.</summary>
    [Fact]
    public void What_guide_heads_and_bearing_do_is_no_slip()
    {
        Night night = Sound(0, 20).Shows(MachineState.Locked, 20, 120, TestBench.Timing);
        Frames(night, 20, 40, 0.1, 0.1, [0, 20, -20, 0]);
        Frames(night, 40, 60, 0.4, 0.1, [0, 20, -20, 0]);
        Frames(night, 60, 80, -0.4, -0.3, [60, 20, -20, 0]);
        Frames(night, 80, 100, 0, 0, [60, 20, -20, 0], sigmaNs: 30);
        Frames(night, 100, 120, 0.05, 0.3);
        Assert.DoesNotContain(night.Judge(), l => l.Kind == FindingKinds.MarkSlipped);
    }

    [Fact]
    public void An_axis_without_slots_of_a_line_tells_no_slip()
    {
        BenchDefinition bench = Bench();
        bench = bench with { Channels = [.. bench.Channels.Select(c => c.Key == TestBench.Timing ? c with { Axis = FrameAxis.Even(6) } : c)] };
        Night night = new Night(bench).Shows(MachineState.Locked, 0, 40, TestBench.Timing);
        for (double t = 0; t < 40; t += 0.25)
        {
            double[] values = [.. Enumerable.Range(0, 24).Select(i => 40.0 * ((i + (t < 20 ? 0 : 1)) / 6 % 4))];
            night.At(t, EngineInput.OfFrame(default, TestBench.Timing, new Frame((uint)(t * 4), 0, values)));
        }

        Assert.DoesNotContain(night.Judge(), l => l.Kind == FindingKinds.MarkSlipped);
    }

    /// <summary>Skew of 45 ns, steps of 25 ns and noise of 3 ns; between two instants every frame is a slot on or back.</summary>
    private static Night Slipping(double from, double to, int turned)
    {
        FrameAxis axis = FrameAxis.Even(16);
        var random = new Random(20260702);
        var night = new Night(Bench()).Shows(MachineState.Locked, 0, 80, TestBench.Timing);
        double[] steps = [0, 25, -25, 0];
        for (double t = 0; t < 80; t += 0.25)
        {
            int by = t >= from && t < to ? turned : 0;
            double[] values = [.. Enumerable.Range(0, axis.Count).Select(slot =>
            {
                int i = (slot + by + axis.Count) % axis.Count;
                return (-0.05 * Math.Sin(axis.AnglesDegrees[i] * Math.PI / 180) * TimingStandard.Mono525.NsPerMil) + steps[axis.Heads[i] - 1]
                    + (3 * MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1));
            })];
            night.At(t, EngineInput.OfFrame(default, TestBench.Timing, new Frame((uint)(t * 4), 0, values)));
        }

        return night;
    }

    private static List<FindingLine> Of(string quantity, Night night) => night.Judge().FindAll(l => l.Channel == quantity);

    private static Night Sound(double from, double to) =>
        Frames(new Night(Bench()).Shows(MachineState.Locked, from, to, TestBench.Timing), from, to, 0, 0);

    /// <summary>Frames four times a second, white noise of 3 ns.</summary>
    private static Night Frames(
        Night night, double from, double to, double pMil, double hMil, double[]? stepsNs = null, double sigmaNs = 3, double unitNs = 1)
    {
        FrameAxis axis = FrameAxis.Even(16);
        var random = new Random((int)(1000 * from) + 5);
        for (double t = from; t < to - 1e-9; t = Math.Round(t + 0.25, 6))
        {
            var values = new double[axis.Count];
            for (int i = 0; i < values.Length; i++)
            {
                double angle = axis.AnglesDegrees[i] * Math.PI / 180;
                double guide = ((hMil * Math.Cos(angle)) - (pMil * Math.Sin(angle))) * TimingStandard.Mono525.NsPerMil;

                // Sound frames are exact but for the noise that the baseline is of; a geometry is put in without, so that its value is.
                double noise = pMil == 0 && hMil == 0 ? sigmaNs * MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1) : 0;
                values[i] = (guide + (stepsNs?[axis.Heads[i] - 1] ?? 0) + noise) / unitNs;
            }

            night.At(t, EngineInput.OfFrame(default, TestBench.Timing, new Frame((uint)(t * 4), 0, values)));
        }

        return night;
    }
}
