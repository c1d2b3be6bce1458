using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration;

/// <summary>Why the default limits of some roles or quantities have the deadbands and delays they have.</summary>
/// <param name="Subjects">Slugs of roles and quantities.</param>
/// <param name="Follows">What they follow: the standard's starting values, or the machine.</param>
/// <param name="Source">Where that comes from.</param>
internal sealed record DefaultDelay(IReadOnlyList<string> Subjects, string Follows, string Source)
{
    /// <summary>As it is said beside a limit.</summary>
    public string Said => $"{Follows}; {Source}";
}

/// <summary>
/// The sources of every deadband and delay in <see cref="DefaultLimits"/> and <see cref="DefaultQuantities"/>; a test holds
/// that none is without.
/// </summary>
internal static class DefaultDelays
{
    /// <summary>What is said of the delays and deadband of a limit that somebody wrote.</summary>
    public const string BenchFile = "bench file";

    private const string Practice = "common practice, no source";

    public static IReadOnlyList<DefaultDelay> Table { get; } =
    [
        new(
            [Slugs.Of(ChannelRole.RegulatedAir)],
            "the machine: the usual 15 s of a pressure are too long for an air bearing. Alarms wait 1 s, or not at all at the trip ratio; only the advisory waits longer",
            "derived: with its supply gone the regulated air falls from 50 to 45 psi in 0.18 s (0.5 l at 60 l/min)"),
        new(
            [Slugs.Of(ChannelRole.SupplyAir)],
            "deadband 2 % of a range of 100 psi, as of a pressure; delays of the machine: 15 s would take a quarter of the minute that a receiver gives",
            "deadband from memory (ANSI/ISA-18.2); delays derived"),
        new(
            [Slugs.Of(ChannelRole.DewPoint)],
            "delay of a temperature, 60 s, and 1 % of a range of 100 °C",
            "from memory (ANSI/ISA-18.2)"),
        new(
            [Slugs.Of(ChannelRole.GuideVacuum), Slugs.Of(QuantityKind.NormalisedVacuum)],
            "the machine: tape that is not held is scraped from then on",
            Practice),
        new(
            [
                Slugs.Of(ChannelRole.RfLevel), Slugs.Of(ChannelRole.ControlTrack), Slugs.Of(ChannelRole.CorrectorUse), Slugs.Of(ChannelRole.RfTilt),
                Slugs.Of(ChannelRole.ControlTrackPhase), Slugs.Of(ChannelRole.GuideServo), Slugs.Of(ChannelRole.SyncLevel),
                Slugs.Of(QuantityKind.RfCommon), Slugs.Of(QuantityKind.RfSpread),
            ],
            "the picture: half a second for what loses it, seconds for what a splice or a cut does for a moment",
            Practice),
        new(
            [Slugs.Of(QuantityKind.Skew), Slugs.Of(QuantityKind.Scallop), Slugs.Of(QuantityKind.HeadStep), Slugs.Of(QuantityKind.AsyncResidual)],
            "geometry that moves slowly: 5 to 30 s, in which a splice is over",
            Practice),
        new(
            [Slugs.Of(QuantityKind.CompressorDuty), Slugs.Of(QuantityKind.TimeToSetpoint), Slugs.Of(QuantityKind.AirUse)],
            "values that come once a cycle of the compressor, or change no faster: little delay is needed",
            "derived: a cycle is a minute or more"),
        new(
            [
                Slugs.Of(QuantityKind.RegulatorEffect), Slugs.Of(QuantityKind.RegulatedUnrest),
                Slugs.Of(QuantityKind.ControlTrackDips), Slugs.Of(QuantityKind.RfTiltDips),
            ],
            "values that are smoothed over half a minute to ten minutes already",
            "derived"),
    ];

    /// <summary>
    /// Where a limit has its deadband and delays from; null where somebody wrote it, for then they come from where it stands.
    /// A limit is a default one as long as it has that one's source and delay, in whatever unit it is shown.
    /// </summary>
    /// <param name="subject">Slug of the role or quantity.</param>
    /// <param name="limit">One of its limits.</param>
    public static DefaultDelay? Of(string subject, LimitDefinition limit)
    {
        bool isDefault = limit.OffDelay == TimeSpan.Zero && (
            DefaultLimits.Table.Any(r => Slugs.Of(r.Role) == subject && Is(r.Side, r.Severity, r.OnDelaySeconds, r.Source))
            || DefaultQuantities.Table.Any(q => Slugs.Of(q.Kind) == subject && q.Limits.Any(l => Is(l.Side, l.Severity, l.OnDelaySeconds, l.Source))));
        return isDefault ? Table.First(r => r.Subjects.Contains(subject)) : null;

        bool Is(LimitSide side, Severity severity, double onDelay, string source) =>
            (side, severity, source) == (limit.Side, limit.Severity, limit.Source) && TimeSpan.FromSeconds(onDelay) == limit.OnDelay;
    }
}
