using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using DriftWatch.Watch.Drifts;
using Xunit;

namespace DriftWatch.Tests.Watch.Drifts;

/// <summary>One channel with a limit 2 dB either side of its baseline, read once a second; noise of 0.1 dB unless told.</summary>
public class DriftTests
{
    private const int Key = 30;
    private const double Hour = 3600;
    private const double BaselineAt = 60;

    [Fact]
    public void A_drift_that_uses_the_tolerance_in_two_hours_is_said_before_40_percent_with_its_numbers()
    {
        List<FindingLine> lines = Judge(3 * Hour, Ramp(Hour, 2 * Hour, -2));
        FindingLine said = lines.First(l => l.Kind == FindingKinds.Drift);
        double truth = (said.RaisedAt.Seconds - Hour) / (2 * Hour);
        Assert.InRange(truth, 0.18, 0.4);
        Assert.Equal(FindingPhase.Raised, said.Phase);
        Assert.Equal(Severity.Advisory, said.Severity);
        Assert.Equal("drifts-down", said.Cause);
        Assert.Equal("common practice", said.LimitSource);
        Assert.InRange(Number(said, "baseline"), 9.9, 10.1);
        Assert.Equal(Number(said, "baseline") - 2, said.Limit!.Value, 1e-9);
        Assert.InRange(Number(said, "slopePerHour"), Number(said, "slopeLow"), Number(said, "slopeHigh"));
        Assert.InRange(-1, Number(said, "slopeLow") - 0.3, Number(said, "slopeHigh") + 0.3); // a window may still hold the beginning
        Assert.InRange(Number(said, "usedShare"), 0.2, 0.4);
        double left = (Hour + (2 * Hour) - said.RaisedAt.Seconds) / 60;
        Assert.InRange(Number(said, "minutesLeft"), 0.6 * left, 1.5 * left);
        Assert.InRange(Number(said, "minutesLeft"), Number(said, "minutesLeftLow"), Number(said, "minutesLeftHigh"));
        Assert.Contains("drifts down by", said.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void It_is_said_again_when_the_time_left_has_halved_and_ends_when_the_limit_is_said()
    {
        List<FindingLine> drift = [.. Judge(3.2 * Hour, Ramp(Hour, 2 * Hour, -2.2)).Where(l => l.Kind is FindingKinds.Drift)];
        double[] left = [.. drift.Where(l => l.Phase != FindingPhase.Ended).Select(l => Number(l, "minutesLeft"))];
        Assert.InRange(left.Length, 3, 8);
        Assert.All(left.Skip(1).Zip(left), pair => Assert.InRange(pair.First / pair.Second, 0.2, 0.5));
        Assert.Equal(FindingPhase.Ended, drift[^1].Phase);
        Assert.Equal("limit-took-over", Word(drift[^1], "endedBy"));
        Assert.Single(drift.Select(l => l.Id).Distinct());
    }

    [Fact]
    public void A_drift_that_stops_is_ended_and_one_that_is_no_drift_any_more_is_not_said_again()
    {
        List<FindingLine> drift = [.. Judge(6 * Hour, Ramp(Hour, Hour, -1)).Where(l => l.Kind == FindingKinds.Drift)];
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], drift.Where(l => l.Phase != FindingPhase.Updated).Select(l => l.Phase));
        Assert.Equal("drift-stopped", Word(drift[^1], "endedBy"));
        Assert.InRange(drift[^1].RaisedAt.Seconds, Hour, 2 * Hour);
        Assert.InRange(drift[^1].End!.Value.Seconds, 2 * Hour, 3.2 * Hour);
    }

    [Theory]
    [InlineData("a knob touched", 0.1)]
    [InlineData("a knob touched", 0.01)]
    [InlineData("a knob touched three times", 0.05)]
    [InlineData("a quick sawtooth", 0.02)]
    [InlineData("a slow sawtooth", 0.02)]
    [InlineData("splices", 0.1)]
    [InlineData("a clog of four minutes", 0.1)]
    [InlineData("a slow wave", 0.02)]
    [InlineData("warming up", 0.01)]
    [InlineData("nothing", 0.3)]
    public void What_is_no_drift_is_not_said_as_one(string what, double noise)
    {
        Func<double, double> shape = what switch
        {
            "a knob touched" => t => t > 7000 ? -0.9 : 0,
            "a knob touched three times" => t => -0.35 * ((t > 4000 ? 1 : 0) + (t > 8200 ? 1 : 0) + (t > 10_900 ? 1 : 0)),
            "a quick sawtooth" => t => 1.4 * ((t / 170 % 1) - 0.5),
            "a slow sawtooth" => t => 1.6 * ((t / 1500 % 1) - 0.5),
            "splices" => t => t % 700 is > 2 and < 3 ? -1.9 : 0,
            "a clog of four minutes" => t => t is > 9000 and < 9240 ? -9 : 0,
            "a slow wave" => t => 0.24 * Math.Sin(2 * Math.PI * t / 2700),
            "warming up" => t => 0.4 * (1 - Math.Exp(-t / 1200)),
            _ => _ => 0,
        };
        Assert.DoesNotContain(Judge(8 * Hour, shape, noise), l => l.Kind == FindingKinds.Drift);
    }

    [Fact]
    public void The_slow_noise_of_eight_nights_is_not_said_as_drift()
    {
        // Slow noise as of a regulator: 3.5 % of the tolerance, ten minutes of memory. The seed is the channel's number.
        for (int seed = 1; seed <= 8; seed++)
        {
            List<EngineInput> inputs = Inputs(12 * Hour, _ => 0, 0.1, seed, slow: 0.07);
            Assert.DoesNotContain(Night.Judge(inputs), l => l.Kind == FindingKinds.Drift);
        }
    }

    [Theory]
    [InlineData(-0.5)]
    [InlineData(0.5)]
    public void A_knob_that_is_touched_meanwhile_does_not_hide_a_drift(double step)
    {
        FindingLine said = Judge(3 * Hour, t => Ramp(Hour, 2 * Hour, -2)(t) + (t > Hour + 1500 ? step : 0), 0.02).First(l => l.Kind == FindingKinds.Drift);
        Assert.InRange(said.RaisedAt.Seconds, Hour + 1200, Hour + (0.62 * 2 * Hour));
        Assert.InRange(Number(said, "slopePerHour"), -1.25, -0.75);
    }

    [Fact]
    public void A_regulator_whose_knob_is_turned_all_night_is_not_said_to_drift_and_one_that_creeps_is_said_before_40_percent()
    {
        // A hand puts the knob anywhere within a sixth of the tolerance every quarter to whole hour. The seed is the night's.
        ChannelDefinition air = Channel() with { Id = "regulated-air", Role = ChannelRole.RegulatedAir, Unit = "psi" };
        int early = 0;
        for (int seed = 1; seed <= 8; seed++)
        {
            Func<double, double> hand = Hand(seed);
            Assert.DoesNotContain(Night.Judge(Inputs(12 * Hour, hand, 0.02, seed, slow: 0.07, channel: air)), l => l.Kind == FindingKinds.Drift);
            Func<double, double> creep = Ramp(Hour, 2 * Hour, 2);
            FindingLine said = Night.Judge(Inputs(3 * Hour, t => hand(t) + creep(t), 0.02, seed, slow: 0.07, channel: air)).First(l => l.Kind == FindingKinds.Drift);
            early += said.RaisedAt.Seconds <= Hour + (0.4 * 2 * Hour) ? 1 : 0;
            Assert.InRange(said.RaisedAt.Seconds, Hour, 3 * Hour);
        }

        Assert.InRange(early, 6, 8);

        static Func<double, double> Hand(int seed)
        {
            var random = new Random(seed);
            var turns = new List<(double At, double Stands)>();
            for (double at = 1200; at < 12 * Hour; at += 900 + (2700 * random.NextDouble()))
            {
                turns.Add((at, 0.7 * (random.NextDouble() - 0.5)));
            }

            return t => turns.LastOrDefault(turn => turn.At <= t).Stands;
        }
    }

    [Fact]
    public void To_an_alarm_it_is_an_alarm_when_five_minutes_are_left()
    {
        ChannelDefinition channel = Channel() with { Limits = [new LimitDefinition { Side = LimitSide.High, Severity = Severity.Alarm, Value = 13, OnDelay = TimeSpan.FromSeconds(5), Source = "test" }] };
        List<FindingLine> drift = [.. Judge(2.4 * Hour, Ramp(Hour, Hour, 3.1), channel: channel).Where(l => l.Kind == FindingKinds.Drift && l.Phase != FindingPhase.Ended)];
        Assert.Equal(Severity.Advisory, drift[0].Severity);
        Assert.Equal("drifts-up", drift[0].Cause);
        FindingLine alarm = drift.First(l => l.Severity == Severity.Alarm);
        Assert.InRange(Number(alarm, "minutesLeft"), 0, 5);
    }

    [Fact]
    public void Without_a_baseline_there_is_no_drift_and_the_ranking_says_why()
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in Inputs(2 * Hour, Ramp(600, 2 * Hour, -2), 0.1, 1, takesBaseline: false))
        {
            engine.Apply(input, lines);
        }

        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.Drift);
        ChannelDrift drift = Assert.Single(engine.Drifts);
        Assert.Equal("no-baseline", drift.Untold);
        Assert.InRange(drift.SlopePerHour!.Value, -1.2, -0.8);
        Assert.Null(drift.UsedShare);
    }

    [Fact]
    public void The_ranking_puts_the_channel_first_that_uses_its_tolerance_fastest()
    {
        ChannelDefinition slow = Channel() with { Id = "slow", Key = 31 };
        ChannelDefinition mute = Channel() with { Id = "mute", Key = 32 };
        var night = new Night(TestBench.Of(slow, mute, Channel()));
        var random = new Random(5);
        for (int t = 0; t < 2 * Hour; t++)
        {
            night.Sample(t + 0.5, Key, 10 - (0.8 * Math.Max(0, t - 900) / Hour) + (0.1 * Normal(random)));
            night.Sample(t + 0.5, 31, 10 + (0.2 * Math.Max(0, t - 900) / Hour) + (0.1 * Normal(random)));
        }

        night.At(BaselineAt, new BaselineCommand { Id = Guid.Empty, By = "Ada" });
        var engine = new WatchEngine();
        foreach (EngineInput input in night.Inputs())
        {
            engine.Apply(input, []);
        }

        IReadOnlyList<ChannelDrift> drifts = engine.Drifts;
        Assert.Equal(["level", "slow", "mute"], drifts.Select(d => d.Id));
        Assert.InRange(drifts[0].UsedSharePerHour!.Value, 0.35, 0.45);
        Assert.InRange(-0.8, drifts[0].SlopePerHourLow!.Value, drifts[0].SlopePerHourHigh!.Value);
        Assert.InRange(drifts[0].Significance!.Value, 0, 1e-6);
        Assert.InRange(drifts[0].MinutesLeft!.Value, drifts[0].MinutesLeftLow!.Value, drifts[0].MinutesLeftHigh!.Value);
        Assert.Equal("too-little-seen", drifts[2].Untold);
    }

    [Fact]
    public void Restored_again_and_again_a_drifting_night_gives_the_same_lines_and_the_same_ranking()
    {
        List<EngineInput> inputs = Inputs(3 * Hour, Ramp(Hour, 2 * Hour, -2.2), 0.1, 11);
        var whole = new WatchEngine();
        var wholeLines = new List<FindingLine>();
        var cut = new WatchEngine();
        var cutLines = new List<FindingLine>();
        for (int i = 0; i < inputs.Count; i++)
        {
            whole.Apply(inputs[i], wholeLines);
            cut.Apply(inputs[i], cutLines);
            if (i % 997 == 0)
            {
                Assert.True(WatchEngine.TryRestore(cut.Snapshot(), out cut, out string whyNot), whyNot);
            }
        }

        Assert.Contains(wholeLines, l => l.Kind == FindingKinds.Drift);
        Assert.Equal(wholeLines.Select(FindingJson.ToUtf8), cutLines.Select(FindingJson.ToUtf8));
        Assert.Equal(whole.Drifts, cut.Drifts);
        Assert.Equal(whole.Snapshot(), cut.Snapshot());
    }

    private static Func<double, double> Ramp(double from, double takes, double by) => t => by * Math.Clamp((t - from) / takes, 0, 1);

    private static ChannelDefinition Channel() => TestBench.Series(Key, "level", ChannelRole.Other, "dB") with
    {
        Limits =
        [
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Reference = LimitReference.Baseline, Value = -2, OnDelay = TimeSpan.FromSeconds(5), Source = "common practice" },
            new LimitDefinition { Side = LimitSide.High, Severity = Severity.Advisory, Reference = LimitReference.Baseline, Value = 2, OnDelay = TimeSpan.FromSeconds(5), Source = "common practice" },
        ],
    };

    private static List<FindingLine> Judge(double length, Func<double, double> shape, double noise = 0.1, ChannelDefinition? channel = null) =>
        Night.Judge(Inputs(length, shape, noise, 7, channel: channel));

    private static List<EngineInput> Inputs(
        double length, Func<double, double> shape, double noise, int seed, double slow = 0, bool takesBaseline = true, ChannelDefinition? channel = null)
    {
        BenchDefinition bench = TestBench.Of(channel ?? Channel()) with { Judgement = new JudgementSettings { BaselineAfter = TimeSpan.FromHours(24) } };
        var random = new Random(seed);
        double wander = slow * Normal(random);
        var inputs = new List<EngineInput>((int)(2 * length) + 3);
        Add(EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Night.Anchor(0))));
        Add(EngineInput.OfBench(default, bench));
        for (int t = 0; t < length; t++)
        {
            wander += (slow * Math.Sqrt(2 / 600.0) * Normal(random)) - (wander / 600);
            Add(EngineInput.OfReading(EngineTime.FromSeconds(t + 0.5), Key, Reading.Of(10 + shape(t) + wander + (noise * Normal(random)))));
            if (takesBaseline && t == (int)BaselineAt)
            {
                Add(EngineInput.OfCommand(EngineTime.FromSeconds(t + 0.6), new BaselineCommand { Id = Guid.Empty, By = "Ada" }));
            }

            Add(EngineInput.OfTick(EngineTime.FromSeconds(t + 1))); // one a second instead of ten: nothing here is quicker
        }

        return inputs;

        void Add(EngineInput input) => inputs.Add(input with { Number = inputs.Count + 1 });
    }

    private static double Normal(Random random) =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());

    private static double Number(FindingLine line, string name) => line.Details.First(d => d.Name == name).Number!.Value;

    private static string? Word(FindingLine line, string name) => line.Details.First(d => d.Name == name).Word;
}
