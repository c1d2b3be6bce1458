using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Judges;

/// <summary>What can't be told on a bench that has no channel of a role. Said once, when the bench comes into force.</summary>
public static class MissingRoles
{
    /// <summary>Role and what is not known without it. Roles from which nothing is inferred are not listed.</summary>
    public static IReadOnlyList<(ChannelRole Role, string Untold)> All { get; } =
    [
        (ChannelRole.RegulatedAir, "whether the air at the bearing is sufficient, and whether it sags"),
        (ChannelRole.SupplyAir, "whether low air is the supply's fault or the regulator's"),
        (ChannelRole.GuideVacuum, "whether the guide holds the tape"),
        (ChannelRole.RfLevel, "whether the heads read the tape"),
        (ChannelRole.ControlTrack, "whether tape that is lost has lifted or has run out"),
        (ChannelRole.ServoLock, "whether the servos are locked, so that timing can be trusted"),
        (ChannelRole.TimingError, "how the timing error lies over a revolution"),
    ];

    internal static List<FindingDetail> Of(RoleMap roles)
    {
        var missing = new List<FindingDetail>();
        foreach ((ChannelRole role, string untold) in All)
        {
            if (!roles.Has(role))
            {
                missing.Add(new FindingDetail(Slugs.Of(role), null, untold));
            }
        }

        return missing;
    }
}
