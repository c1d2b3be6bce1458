using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class LimitJudgeTests
{
    private static EngineTime T(double seconds) => EngineTime.FromSeconds(seconds);

    private static List<FindingLine> Air(List<FindingLine> lines) => lines.FindAll(l => l.Kind == FindingKinds.AirBelowSetpoint);

    [Theory]
    [InlineData("psi")]
    [InlineData("bar")]
    [InlineData("kPa")]
    public void Air_at_44_9_psi_is_raised_one_second_after_it_crossed_whatever_the_unit(string unit)
    {
        double In(double psi) => Unit.Parse("psi").Convert(psi, Unit.Parse(unit));
        List<FindingLine> lines = Air(new Night(TestBench.Of(TestBench.AirChannel(unit)))
            .Series(TestBench.Air, 0, 20, In(50)).Series(TestBench.Air, 20, 23, In(44.9)).Series(TestBench.Air, 23, 30, In(50))
            .Judge());

        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Equal(T(20), lines[0].Start);
        Assert.Equal(T(21), lines[0].RaisedAt);
        Assert.Equal(Severity.Alarm, lines[0].Severity);
        Assert.Equal(In(44.9), lines[0].Value);
        Assert.Equal(In(45), lines[0].Limit);
        Assert.Equal(unit, lines[0].Unit);
        Assert.Equal("supply-unknown", lines[0].Cause);
        Assert.Equal(T(23), lines[1].End);
        Assert.Equal(lines[0].Id, lines[1].Id);
    }

    [Fact]
    public void Air_at_44_9_psi_for_less_than_its_delay_is_not_raised() =>
        Assert.Empty(Air(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 20.9, 44.9).Series(TestBench.Air, 20.9, 40, 50)
            .Judge()));

    [Fact]
    public void Air_under_87_5_percent_is_raised_by_the_very_reading()
    {
        FindingLine line = Air(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 20.2, 43.7).Judge())[0];
        Assert.Equal(T(20), line.RaisedAt);
        Assert.Equal(43.75, line.Limit);
    }

    [Fact]
    public void A_minimum_inside_the_period_trips_a_limit_without_delay_but_not_one_with()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50)
            .At(20, EngineInput.OfReading(default, TestBench.Air, Reading.Of(49.5, 43, 50)))
            .Series(TestBench.Air, 20.1, 25, 50);
        FindingLine line = Air(night.Judge())[0];
        Assert.Equal((T(20), 43.0, 43.75), (line.RaisedAt, line.Value!.Value, line.Limit!.Value));

        Night above = new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50);
        for (int i = 0; i < 50; i++)
        {
            above.At(20 + (i * 0.1), EngineInput.OfReading(default, TestBench.Air, Reading.Of(49.5, 44, 50)));
        }

        Assert.Empty(Air(above.Judge()));
    }

    [Fact]
    public void An_advisory_escalates_in_one_finding_and_keeps_its_start()
    {
        List<FindingLine> lines = Air(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 39, 47).Series(TestBench.Air, 39, 45, 44).Series(TestBench.Air, 45, 60, 50)
            .Judge());
        Assert.Equal([(FindingPhase.Raised, Severity.Advisory), (FindingPhase.Updated, Severity.Alarm), (FindingPhase.Ended, Severity.Alarm)], lines.Select(l => (l.Phase, l.Severity)));
        Assert.All(lines, l => Assert.Equal(T(20), l.Start));
        Assert.Equal(T(30), lines[0].RaisedAt);
        Assert.Equal(44.0, lines[2].Value);
        Assert.Equal(T(45), lines[2].End);
    }

    [Fact]
    public void Inside_the_deadband_the_finding_lasts()
    {
        List<FindingLine> lines = Air(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 22, 44.5)
            .Series(TestBench.Air, 22, 60, t => t % 0.4 < 0.2 ? 44.8 : 45.9) // flaps inside the deadband of 1 psi
            .Series(TestBench.Air, 60, 70, 50).Judge());
        Assert.Equal(FindingPhase.Ended, lines[^1].Phase);
        Assert.Equal(T(60), lines[^1].End);
        Assert.Single(lines.Select(l => l.Id).Distinct());
        Assert.True(lines.Count <= 4, $"{lines.Count} lines for one flapping value");
    }

    [Fact]
    public void A_value_that_is_back_must_stay_back_for_the_off_delay_and_then_was_over_when_it_came_back()
    {
        ChannelDefinition channel = TestBench.Series(1, "level", ChannelRole.AudioLevel, "dB") with
        {
            Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = -20, Deadband = 1, OffDelay = TimeSpan.FromSeconds(5), Source = "test" }],
        };

        // Back at 12 s, gone again at 15 s, inside the deadband at 18 s, back for good at 21 s.
        Night Night(double until) => new Night(TestBench.Of(channel))
            .Series(1, 0, 10, -10).Series(1, 10, 12, -25).Series(1, 12, 15, -10).Series(1, 15, 18, -25).Series(1, 18, 21, -19.5).Series(1, 21, until, -10);
        Assert.Equal([FindingPhase.Raised], Limits(25.9).Select(l => l.Phase));
        List<FindingLine> lines = Limits(26.5);
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], lines.Select(l => l.Phase));
        Assert.Equal((T(10), T(21)), (lines[1].Start, lines[1].End));

        List<FindingLine> Limits(double until) => Night(until).Judge().FindAll(l => l.Kind == FindingKinds.BelowLimit);
    }

    [Theory]
    [InlineData(90, "regulator-filter-or-leak")]
    [InlineData(55, "supply-low")]
    public void The_cause_of_low_air_looks_at_the_supply(double supply, string cause)
    {
        FindingLine line = Air(new Night(TestBench.Of(TestBench.AirChannel(), TestBench.SupplyChannel()))
            .Series(TestBench.Supply, 0, 25, supply).Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 25, 43).Judge())[0];
        Assert.Equal(cause, line.Cause);
    }

    [Fact]
    public void A_limit_against_a_baseline_rests_until_there_is_one()
    {
        ChannelDefinition channel = TestBench.Series(1, "level", ChannelRole.AudioLevel, "dB") with
        {
            Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Reference = LimitReference.Baseline, Value = -3, Source = "test" }],
        };
        List<FindingLine> lines = new Night(TestBench.Of(channel))
            .Series(1, 0, 10, -40).Series(1, 10, 50, -10)
            .At(45.05, new BaselineCommand { Id = Guid.Empty, By = "tester" })
            .Series(1, 50, 60, -13.5).Judge();
        FindingLine taken = Assert.Single(lines, l => l.Kind == FindingKinds.BaselineTaken);
        Assert.Equal(-10.0, taken.Details.Single(d => d.Name == "level").Number!.Value, 1e-9);
        FindingLine low = Assert.Single(lines, l => l.Kind == FindingKinds.BelowLimit);
        Assert.Equal((T(50), -13.0), (low.RaisedAt, Math.Round(low.Limit!.Value, 9)));
        Assert.Contains("is −13.5 dB, below the limit of −13.0 dB", low.Text, StringComparison.Ordinal); // a true minus sign, for people
    }

    [Fact]
    public void Silence_ends_no_finding_and_is_said_in_it()
    {
        List<FindingLine> lines = new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 20, 50).Series(TestBench.Air, 20, 22, 43).Until(60).Judge();
        List<FindingLine> air = Air(lines);
        Assert.DoesNotContain(air, l => l.Phase == FindingPhase.Ended);
        Assert.Equal("stale", air[^1].Cause);
        Assert.Contains(lines, l => l.Kind == FindingKinds.Stale && l.Phase == FindingPhase.Raised);
    }
}
