using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Alarms;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>
/// The priorities against what the machine's own manuals and trade say of each trouble: what harms tape or wheel within a minute is high. The
/// table here is made from that, not from the code's.
/// </summary>
public class AlarmPrioritiesTests
{
    [Theory]
    [InlineData("air-below-setpoint", ChannelRole.RegulatedAir, "air")] // the wheel touches down
    [InlineData("pressure-sag", ChannelRole.RegulatedAir, "air")]
    [InlineData("below-limit", ChannelRole.SupplyAir, "headroom")]
    [InlineData("vacuum-loss", ChannelRole.GuideVacuum, "scraped")] // tape is not cupped against the guide
    [InlineData("below-limit", ChannelRole.GuideVacuum, "scraped")]
    [InlineData("above-limit", ChannelRole.GuideVacuum, "slots")]
    [InlineData("below-limit", ChannelRole.RfLevel, "clogged")]
    [InlineData("shed", null, "oxide")]
    [InlineData("store-failing", null, "kept")]
    public void What_harms_tape_or_machine_or_undoes_the_night_is_high_and_says_why_and_how_soon(string kind, ChannelRole? role, string why)
    {
        FindingLine line = Line(kind, Severity.Alarm);
        Assert.Equal(AlarmPriority.High, AlarmPriorities.Of(line, role));
        string words = AlarmPriorities.RuleOf(line, role)!.Value.Words;
        Assert.Contains(why, words, StringComparison.Ordinal);
        Assert.Contains(", within ", words, StringComparison.Ordinal);
        Assert.Equal(AlarmPriority.Low, AlarmPriorities.Of(Line(kind, Severity.Advisory), role)); // an advisory of the same is for when you can
    }

    [Theory]
    [InlineData("below-limit", ChannelRole.AudioLevel, Severity.Alarm, AlarmPriority.Medium)]
    [InlineData("above-limit", ChannelRole.RfLevel, Severity.Alarm, AlarmPriority.Medium)]
    [InlineData("above-limit", ChannelRole.SupplyAir, Severity.Alarm, AlarmPriority.Medium)]
    [InlineData("stale", ChannelRole.RegulatedAir, Severity.Alarm, AlarmPriority.Medium)]
    [InlineData("instrument-silent", null, Severity.Alarm, AlarmPriority.Medium)]
    [InlineData("nobody-watching", null, Severity.Note, AlarmPriority.Medium)]
    [InlineData("asleep", null, Severity.Note, AlarmPriority.Medium)]
    [InlineData("mirror-failing", null, Severity.Advisory, AlarmPriority.Medium)]
    [InlineData("drift", ChannelRole.RegulatedAir, Severity.Advisory, AlarmPriority.Low)]
    [InlineData("wear", ChannelRole.RfLevel, Severity.Advisory, AlarmPriority.Low)]
    public void What_leaves_minutes_is_medium_and_what_can_wait_is_low(string kind, ChannelRole? role, Severity severity, AlarmPriority priority)
    {
        FindingLine line = Line(kind, severity);
        Assert.Equal(priority, AlarmPriorities.Of(line, role));
        Assert.Null(AlarmPriorities.RuleOf(line, role));
    }

    [Fact]
    public void Each_row_of_the_table_is_of_a_kind_that_exists_and_is_tested_here()
    {
        Assert.Equal(9, AlarmPriorities.Rules.Count);
        Assert.All(AlarmPriorities.Rules, rule => Assert.Contains(FindingKinds.All, k => k.Kind == rule.Kind));
    }

    private static FindingLine Line(string kind, Severity severity) => new()
    {
        Id = $"lab.{kind}.x.1",
        Phase = FindingPhase.Raised,
        Input = 1,
        Bench = "lab",
        BenchHash = "ab",
        Kind = kind,
        Severity = severity,
        Start = default,
        RaisedAt = default,
        StartUtc = 0,
        RaisedUtc = 0,
        Cause = "none",
        State = MachineState.Running,
        Text = "It is so.",
        Details = [],
    };
}
