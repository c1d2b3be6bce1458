using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;

namespace DriftWatch.Watch.Alarms;

/// <summary>
/// Priority by consequence and time to respond: a row for what can harm tape or machine within a minute or undo the night's
/// proof, and the rest by severity. Source of the method: from memory (ANSI/ISA-18.2's practice); of the rows: derived from the machine, the
/// regulated air falls through its band in tenths of a second, and tape that is not held is scraped from then on.
/// </summary>
internal static class AlarmPriorities
{
    /// <summary>What happens if nobody acts, and how soon; in the order in which they are looked at.</summary>
    public static IReadOnlyList<PriorityRule> Rules { get; } =
    [
        new(FindingKinds.AirBelowSetpoint, null, "the head wheel's bearing loses its air", "seconds"),
        new(FindingKinds.PressureSag, null, "the head wheel's bearing loses its air", "seconds"),
        new(FindingKinds.BelowLimit, ChannelRole.SupplyAir, "the regulator loses its headroom, then the bearing its air", "a minute"),
        new(FindingKinds.VacuumLoss, null, "tape is not held in the guide and is scraped", "seconds"),
        new(FindingKinds.BelowLimit, ChannelRole.GuideVacuum, "tape is not held in the guide and is scraped", "seconds"),
        new(FindingKinds.AboveLimit, ChannelRole.GuideVacuum, "tape is drawn into the slots", "seconds"),
        new(FindingKinds.BelowLimit, ChannelRole.RfLevel, "a head is clogged: picture is lost, and the tape is scratched by what clogs it", "a minute"),
        new(FindingKinds.Shed, null, "oxide comes off the tape", "a minute"),
        new(FindingKinds.StoreFailing, null, "nothing of this time is kept if the service or its computer stops", "minutes"),
    ];

    /// <param name="line">The finding's line.</param>
    /// <param name="role">The role of its channel, where it has one.</param>
    public static AlarmPriority Of(FindingLine line, ChannelRole? role)
    {
        if (line.Severity != Severity.Alarm)
        {
            // A stretch that nobody watched is over, and what happened in it is not known: that can't wait for the morning. Nor can a
            // mirror: who watches this bench by it sees what was.
            return line.Kind is FindingKinds.NobodyWatching or FindingKinds.Asleep or FindingKinds.MirrorFailing ? AlarmPriority.Medium : AlarmPriority.Low;
        }

        return RuleOf(line, role) is null ? AlarmPriority.Medium : AlarmPriority.High;
    }

    /// <summary>Why it is of high priority; null where it is not.</summary>
    public static PriorityRule? RuleOf(FindingLine line, ChannelRole? role)
    {
        foreach (PriorityRule rule in Rules)
        {
            if (line.Severity == Severity.Alarm && rule.Kind == line.Kind && (rule.Role is null || rule.Role == role))
            {
                return rule;
            }
        }

        return null;
    }
}

/// <summary>Why an alarm of this kind, on a channel of this role or of any, is of high priority.</summary>
internal readonly record struct PriorityRule(string Kind, ChannelRole? Role, string Consequence, string TimeToRespond)
{
    /// <summary>For a person: what happens if nobody acts, and how soon.</summary>
    public string Words => $"{Consequence}, within {TimeToRespond}";
}
