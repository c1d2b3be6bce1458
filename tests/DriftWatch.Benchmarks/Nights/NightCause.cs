using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>How fast a cause comes.</summary>
internal enum NightPace
{
    /// <summary>Within seconds to minutes, as such a thing breaks.</summary>
    AsItBreaks,

    /// <summary>So slowly that the tolerance would be used up in two hours.</summary>
    Drift,

    /// <summary>Over weeks: a little more in each session.</summary>
    Weeks,
}

/// <summary>One cause that judgement can name, and how a night plays it. Times in seconds.</summary>
/// <param name="Slug">What a finding of kind <c>cause</c> must say.</param>
/// <param name="Fault">What the rig plays.</param>
/// <param name="Tolerance">
/// The fault's magnitude at which the machine leaves its tolerance, in the fault's unit, for one rig: the threshold table's
/// advisory limit through the rig's physics, never through the code that judges.
/// </param>
/// <param name="Company">Roles of the channels that it moves: a finding on one of them counts as having found it.</param>
internal sealed record NightCause(string Slug, RigFaultKind Fault, Func<RigParameters, double> Tolerance, params ChannelRole[] Company)
{
    /// <summary>Greatest magnitude as a multiple of the tolerance; from and to.</summary>
    public (double From, double To) Shares { get; init; } = (1.3, 2.5);

    /// <summary>Ramp when it comes as it breaks.</summary>
    public (double From, double To) Ramp { get; init; } = (1, 10);

    /// <summary>How long it lasts; null: until the tape ends and someone mends it.</summary>
    public (double From, double To)? Lasts { get; init; }

    public bool CanDrift { get; init; }

    /// <summary>It shows in the compressor's cycle: visible only once a whole cycle has passed.</summary>
    public bool NeedsCycle { get; init; }

    /// <summary>Magnitude 1, whatever the tolerance.</summary>
    public bool IsAllOrNothing { get; init; }

    /// <summary>
    /// The delay of the limit that stands for the tolerance, seconds; what is told once a cycle has, besides, the cycle in
    /// hand to wait for. Source: the threshold table; for those without a row there, what is said beside them.
    /// </summary>
    public double OwnDelaySeconds { get; init; } = 5;

    /// <summary>
    /// Where machine and tape stand before the fault, in its unit and signed as it is: an absolute limit counts from nothing, so a fault that goes the
    /// other way crosses it that much later. Null where what is judged counts from the baseline or has a side only.
    /// </summary>
    public Func<RigParameters, RigTape, double>? Stands { get; init; }

    public NightPace SlowestPace => Fault == RigFaultKind.HeadWear ? NightPace.Weeks : CanDrift ? NightPace.Drift : NightPace.AsItBreaks;
}

/// <summary>
/// All of them. Tolerances are the advisory limits of the threshold table (2 psi, 10 % of vacuum, 2 dB, 100 ns of skew,
/// 40 ns of scallop, duty + 30 %, asynchronous residual x 1.5, −20 °C); where the table has none, the note says what stands in.
/// </summary>
internal static class NightCauses
{
    /// <summary>Where judgement knows no such role, the bench has them as 'other'.</summary>
    private static readonly ChannelRole PhaseRole = Slugs.TryParse("control-track-phase", out ChannelRole phase) ? phase : ChannelRole.Other;

    private static readonly ChannelRole TiltRole = Slugs.TryParse("rf-tilt", out ChannelRole tilt) ? tilt : ChannelRole.Other;

    private static readonly ChannelRole[] Supply = [ChannelRole.SupplyAir, ChannelRole.CompressorRunning, ChannelRole.RegulatedAir, ChannelRole.GuideVacuum];

    private static readonly ChannelRole[] Air = [.. Supply, ChannelRole.RfLevel, ChannelRole.TimingError, ChannelRole.CorrectorUse];

    private static readonly ChannelRole[] Tape =
        [ChannelRole.GuideVacuum, ChannelRole.RfLevel, ChannelRole.ControlTrack, ChannelRole.TimingError, ChannelRole.CorrectorUse, ChannelRole.ServoLock, ChannelRole.SyncLevel];

    private static readonly ChannelRole[] Timing = [ChannelRole.TimingError, ChannelRole.CorrectorUse];

    public const string Sound = "sound";

    public const string SensorFault = "sensor-fault";

    public static IReadOnlyList<NightCause> All { get; } =
    [
        new("compressor-worn", RigFaultKind.CompressorFailing, _ => 1 - (1 / 1.3), Supply) { Shares = (1.1, 1.9), Ramp = (30, 1800), CanDrift = true, NeedsCycle = true, OwnDelaySeconds = 0 },
        new("supply-leak", RigFaultKind.SupplyLeak, p => 0.3 * Consumption(p), Supply) { Shares = (1.2, 2.4), CanDrift = true, NeedsCycle = true, OwnDelaySeconds = 0 },
        new("filter-clogged", RigFaultKind.FilterClog, _ => 2.1, Air) { Ramp = (300, 3600), CanDrift = true },
        new("moisture-in-air", RigFaultKind.Moisture, p => ResidualHalfMore / p.Troubles.WhirlPerWetPsi, Air) { Ramp = (60, 1200), OwnDelaySeconds = 30 },
        new("regulator-creep", RigFaultKind.RegulatorCreep, _ => 2, Air) { Ramp = (300, 3600), CanDrift = true },
        new("regulator-sag", RigFaultKind.RegulatorSag, _ => 2, Air) { Ramp = (0.2, 5), CanDrift = true, OwnDelaySeconds = 10 },

        // The table calls up to 0.3 psi of ripple normal and has no limit for it: twice that stands in.
        new("regulator-follows-supply", RigFaultKind.RegulatorFollowsSupply, p => 0.6 / (p.Air.CutOutPsi - p.Air.CutInPsi), Air)
        {
            Shares = (1.5, 3.5), Ramp = (10, 600), CanDrift = true, NeedsCycle = true, OwnDelaySeconds = 60,
        },
        new("leak-downstream", RigFaultKind.LeakDownstream, p => 0.3 * Consumption(p), Supply) { Shares = (1.2, 2.2), CanDrift = true, NeedsCycle = true, OwnDelaySeconds = 0 },
        new("slots-dirty", RigFaultKind.SlotsDirty, SlotsThatCost2Db, Tape) { Shares = (1.2, 1.8), Ramp = (300, 3600), CanDrift = true },
        new("venturi-clogged", RigFaultKind.VenturiClog, _ => 0.1, Tape) { Shares = (1.3, 3.5), Ramp = (60, 1800), CanDrift = true },

        // The flow through uncovered slots takes 0.92 of the vacuum with it.
        new("tape-lifted", RigFaultKind.TapeLift, _ => 0.1 / 0.92, Tape) { Shares = (2.5, 8.5), Ramp = (0.2, 2), Lasts = (8, 90) },
        new("tape-run-out", RigFaultKind.TapeRunOut, _ => 1, [.. Tape, ChannelRole.AudioLevel]) { Ramp = (0, 0), IsAllOrNothing = true, Lasts = (30, 120) },
        new("bearing-distress", RigFaultKind.BearingDistress, p => ResidualHalfMore / p.Troubles.WhirlPerDistress, [.. Timing, ChannelRole.RegulatedAir, ChannelRole.SupplyAir, ChannelRole.CompressorRunning])
        {
            Ramp = (1, 1200), CanDrift = true, OwnDelaySeconds = 30,
        },
        new("head-clogged", RigFaultKind.HeadClog, _ => 2, ChannelRole.RfLevel) { Shares = (3.2, 6), Ramp = (0.5, 4), Lasts = (60, 600) },
        new("oxide-shed", RigFaultKind.OxideShed, _ => 2, ChannelRole.RfLevel) { Shares = (1.5, 3), Ramp = (240, 1500), CanDrift = true },
        new("head-worn", RigFaultKind.HeadWear, _ => 2, ChannelRole.RfLevel) { Shares = (1.3, 2) },
        new("tracking-off", RigFaultKind.TrackingShift, MilThatCost2Db, ChannelRole.RfLevel, PhaseRole) { Shares = (1.4, 2.3), Ramp = (0.2, 30), CanDrift = true },

        // Half of the dip is in the control track, whose advisory limit is 3 dB. Dips are told over half a minute, then 5 s.
        new("edge-damage", RigFaultKind.EdgeDamage, _ => 6, ChannelRole.RfLevel, ChannelRole.ControlTrack, ChannelRole.TimingError, TiltRole) { Shares = (1.3, 2.5), Ramp = (1, 120), OwnDelaySeconds = 35 },
        new("control-track-lost", RigFaultKind.ControlTrackLoss, _ => 3, ChannelRole.ControlTrack, ChannelRole.ServoLock, ChannelRole.CorrectorUse, ChannelRole.SyncLevel)
        {
            Shares = (1.5, 9), Ramp = (0.3, 10), Lasts = (20, 600), OwnDelaySeconds = 2,
        },
        new("guide-height-moved", RigFaultKind.GuideHeightShift, p => 40 / (SagittaPerMil * p.Timing240()), Timing)
        {
            Ramp = (1, 60), CanDrift = true, OwnDelaySeconds = 10, Stands = (p, tape) => p.Timing.HeightMil - tape.HeightMil,
        },
        new("guide-penetration-moved", RigFaultKind.GuidePenetrationShift, p => 100 / (SkewPerMil * p.Timing240()), Timing)
        {
            Ramp = (1, 60), CanDrift = true, OwnDelaySeconds = 10, Stands = (p, tape) => p.Timing.PenetrationMil - tape.PenetrationMil,
        },
        new(SensorFault, RigFaultKind.SensorDead, _ => 1, [.. Slugs.All<ChannelRole>().Select(slug => Slugs.TryParse(slug, out ChannelRole role) ? role : default)])
        {
            Ramp = (0, 0), IsAllOrNothing = true, Lasts = (60, 1200),
        },
        new("dryer-exhausted", RigFaultKind.DryerExhausted, p => -20 - p.DewPointDegC, ChannelRole.DewPoint) { Ramp = (600, 3600), CanDrift = true, OwnDelaySeconds = 10 },
        new("guide-contact", RigFaultKind.GuideContact, _ => 2, ChannelRole.RfLevel, ChannelRole.TimingError, TiltRole) { Ramp = (1, 600), CanDrift = true, OwnDelaySeconds = 10 },
        new("servo-unlocked", RigFaultKind.ServoLoss, _ => 1, ChannelRole.ServoLock, ChannelRole.CorrectorUse, ChannelRole.SyncLevel, ChannelRole.RfLevel, ChannelRole.TimingError, PhaseRole)
        {
            Ramp = (0, 0), IsAllOrNothing = true, Lasts = (5, 60),
        },
    ];

    /// <summary>Sagitta of scallop over ±45°, ns a mil at 240 rev/s. Derived.</summary>
    private const double SagittaPerMil = 187.9;

    /// <summary>Skew from end to end, ns a mil at 240 rev/s. Derived.</summary>
    private const double SkewPerMil = 907.4;

    /// <summary>
    /// Whirl rms, as a multiple of the timing noise, that makes the asynchronous residual half as large again: the sound
    /// rest is noise and a whirl of 0.4 of it, so √(1 + (0.4 + w)²) = 1.5·√(1 + 0.4²). Derived from the rig's physics.
    /// </summary>
    private static readonly double ResidualHalfMore = Math.Sqrt((2.25 * 1.16) - 1) - 0.4;

    /// <summary>Standard l/min that the compressor has to make good.</summary>
    private static double Consumption(RigParameters p) => p.Air.BearingLitresPerMinute + p.Air.VenturiLitresPerMinute + p.Air.LeakLitresPerMinute;

    private static double Timing240(this RigParameters p) => 240 / p.RevolutionsPerSecond;

    /// <summary>Where on the triangle 2 dB are lost, counted from where this machine stands.</summary>
    private static double MilThatCost2Db(RigParameters p) =>
        Least(mil => RfHeads.TrackingDb(p.TrackingMil) - RfHeads.TrackingDb(p.TrackingMil + mil), 2, 9);

    /// <summary>Spacing follows the hold: 22 dB at 7.9 MHz with none, by the power of 1.5 (the rig's assumption).</summary>
    private static double SlotsThatCost2Db(RigParameters p)
    {
        double wavelength = p.Heads.WritingSpeedInchesPerSecond / p.Heads.CarrierMHz;
        double vacuum = (1 + (1.268 * (p.Air.SetpointPsi - 50) / 67.3)) * p.VenturiAreaRatio / 0.0054;
        double Loss(double dirt)
        {
            double loose = Math.Clamp(1 - (vacuum * 0.0054 / p.VenturiAreaRatio * (1 - p.GuideDirt) * (1 - dirt)), 0, 1);
            return -RfHeads.SpacingDb(80 * loose * Math.Sqrt(loose), wavelength);
        }

        return Least(dirt => Loss(dirt) - Loss(0), 2, 0.9);
    }

    /// <summary>The least x up to a bound at which a rising function reaches a value.</summary>
    private static double Least(Func<double, double> rising, double value, double bound)
    {
        double low = 0;
        double high = bound;
        for (int i = 0; i < 60; i++)
        {
            double middle = 0.5 * (low + high);
            (low, high) = rising(middle) < value ? (middle, high) : (low, middle);
        }

        return high;
    }
}
