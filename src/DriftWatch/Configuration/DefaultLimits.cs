using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>What a row's value is counted from.</summary>
internal enum LimitBasis
{
    /// <summary>The value itself, in the row's unit.</summary>
    Absolute,

    /// <summary>A fraction of the channel's own setpoint.</summary>
    OfSetpoint,

    /// <summary>Added to the setpoint of the regulated air, in the row's unit: what the regulator needs to work.</summary>
    AboveRegulated,

    /// <summary>Added to this tape's baseline, in the row's unit.</summary>
    Baseline,

    /// <summary>A fraction of this tape's baseline.</summary>
    BaselineFraction,
}

/// <summary>One row of the table of default limits.</summary>
internal sealed record DefaultLimit(ChannelRole Role, LimitSide Side, Severity Severity, LimitBasis Basis, double Value, string Unit, string Source)
{
    /// <summary>In the row's unit, or the fraction.</summary>
    public double Deadband { get; init; }

    public double OnDelaySeconds { get; init; }

    public IReadOnlyList<MachineState> JudgedIn { get; init; } = [];

    /// <summary>Only for machines of this standard; null for all.</summary>
    public string? Standard { get; init; }

    /// <summary>Only for channels whose unit measures this quantity; null for all.</summary>
    public string? Quantity { get; init; }
}

/// <summary>
/// The limits that hold when a bench file writes none. Each row says where its number comes from, and the finding
/// repeats it. Regulated air scales with the setpoint, so that no machine's pressure is built in.
/// </summary>
/// <remarks>
/// Supply and regulated air are judged in every state: the state itself is inferred from the air, and no channel may
/// gate itself off. Vacuum, RF, control track and the corrector mean something only while tape runs.
/// Timing (skew, scallop, steps), head spread and common RF are worked out first and have no row here but in <see cref="DefaultQuantities"/>.
/// </remarks>
internal static class DefaultLimits
{
    private const string Practice = "common practice, no source";
    private const string TripRatio = "derived: 87.5 % of the setpoint, the ratio at which a bearing maker's published advice on air supplies trips the drive (70 of 80 psi)";
    private const string Headroom = "from memory: headroom that a regulator needs over its setpoint";
    private const string HalfAmplitude = "derived: a clogged head loses half its amplitude";
    private const string SyncLevel525 = "common practice, no source; nominal 40 IRE";
    private const string SyncLevel625 = "published nominal of 300 mV in a 1 V signal; tolerance common practice, no source";
    private const string SyncLevel525mV = "published nominal of 286 mV in a 1 V signal; tolerance common practice, no source";
    private const string TrackingPhase = "derived: 5.76° a mil of tracking, at which the heads lose 2 dB (2 mil) and 4.4 dB (4 mil)";
    private const string Icing = "derived: air of this dew point can ice in the throat of the venturi";

    private static readonly MachineState[] TapeRuns = [MachineState.Running, MachineState.Locked];

    public static IReadOnlyList<DefaultLimit> Table { get; } =
    [
        // 50 psi: ±2 (10 s, deadband 0.5), below 45 or above 56 (1 s, deadband 1), below 43.75 at once.
        new(ChannelRole.RegulatedAir, LimitSide.Low, Severity.Advisory, LimitBasis.OfSetpoint, 0.96, "", Practice) { Deadband = 0.01, OnDelaySeconds = 10 },
        new(ChannelRole.RegulatedAir, LimitSide.High, Severity.Advisory, LimitBasis.OfSetpoint, 1.04, "", Practice) { Deadband = 0.01, OnDelaySeconds = 10 },
        new(ChannelRole.RegulatedAir, LimitSide.Low, Severity.Alarm, LimitBasis.OfSetpoint, 0.90, "", Practice) { Deadband = 0.02, OnDelaySeconds = 1 },
        new(ChannelRole.RegulatedAir, LimitSide.High, Severity.Alarm, LimitBasis.OfSetpoint, 1.12, "", Practice) { Deadband = 0.02, OnDelaySeconds = 1 },
        new(ChannelRole.RegulatedAir, LimitSide.Low, Severity.Alarm, LimitBasis.OfSetpoint, 0.875, "", TripRatio) { Deadband = 0.02 },

        new(ChannelRole.SupplyAir, LimitSide.Low, Severity.Advisory, LimitBasis.AboveRegulated, 15, "psi", Headroom) { Deadband = 2, OnDelaySeconds = 10 },
        new(ChannelRole.SupplyAir, LimitSide.Low, Severity.Alarm, LimitBasis.AboveRegulated, 10, "psi", Headroom) { Deadband = 2, OnDelaySeconds = 2 },

        new(ChannelRole.GuideVacuum, LimitSide.Low, Severity.Advisory, LimitBasis.BaselineFraction, 0.90, "", Practice) { Deadband = 0.03, OnDelaySeconds = 5, JudgedIn = TapeRuns },
        new(ChannelRole.GuideVacuum, LimitSide.Low, Severity.Alarm, LimitBasis.BaselineFraction, 0.75, "", Practice) { Deadband = 0.05, OnDelaySeconds = 1, JudgedIn = TapeRuns },

        new(ChannelRole.RfLevel, LimitSide.Low, Severity.Advisory, LimitBasis.Baseline, -2, "dB", Practice) { Deadband = 0.5, OnDelaySeconds = 5, JudgedIn = TapeRuns },
        new(ChannelRole.RfLevel, LimitSide.Low, Severity.Alarm, LimitBasis.Baseline, -6, "dB", HalfAmplitude) { Deadband = 1, OnDelaySeconds = 0.5, JudgedIn = TapeRuns },

        // The table gives delays for these but no deadband; half the step to the next limit is taken from RF.
        new(ChannelRole.ControlTrack, LimitSide.Low, Severity.Advisory, LimitBasis.Baseline, -3, "dB", Practice) { Deadband = 0.5, OnDelaySeconds = 2, JudgedIn = TapeRuns },
        new(ChannelRole.ControlTrack, LimitSide.Low, Severity.Alarm, LimitBasis.Baseline, -6, "dB", Practice) { Deadband = 1, OnDelaySeconds = 0.5, JudgedIn = TapeRuns },

        new(ChannelRole.CorrectorUse, LimitSide.High, Severity.Advisory, LimitBasis.Absolute, 65, "%", Practice) { Deadband = 5, OnDelaySeconds = 5, JudgedIn = TapeRuns },
        new(ChannelRole.CorrectorUse, LimitSide.High, Severity.Alarm, LimitBasis.Absolute, 80, "%", Practice) { Deadband = 5, OnDelaySeconds = 0.5, JudgedIn = TapeRuns },

        // The table gives the alarm no delay; it takes that of the advisory.
        .. BothSides(ChannelRole.RfTilt, 2, 3, "dB", 0.5, 10, Practice),

        // One mil of tracking, 5.76° of a wavelength of 62.5 mil, costs 0.9 dB; two cost the 2 dB at which the heads are told.
        .. BothSides(ChannelRole.ControlTrackPhase, 11.5, 23, "deg", 2, 5, TrackingPhase),

        // As for the corrector: what is left of a range, on either side of its middle.
        .. GuideServo(Severity.Advisory, 65, 5), .. GuideServo(Severity.Alarm, 80, 0.5),

        .. Around(40, 2, 4, "IRE", "525/60", "video level", SyncLevel525),
        .. Around(286, 15, 30, "mV", "525/60", "voltage", SyncLevel525mV),
        .. Around(300, 15, 30, "mV", "625/50", "voltage", SyncLevel625),

        new(ChannelRole.DewPoint, LimitSide.High, Severity.Advisory, LimitBasis.Absolute, -20, "degC", Icing) { Deadband = 1, OnDelaySeconds = 60 },
        new(ChannelRole.DewPoint, LimitSide.High, Severity.Alarm, LimitBasis.Absolute, 3, "degC", Icing) { Deadband = 1, OnDelaySeconds = 60 },
    ];

    /// <summary>The rows of one channel in its own unit. Rows that need a setpoint nobody gave are left out.</summary>
    /// <param name="channel">With role, unit and setpoint.</param>
    /// <param name="standard">The machine's standard.</param>
    /// <param name="regulated">The bench's regulated air, or null.</param>
    public static IReadOnlyList<LimitDefinition> For(ChannelDefinition channel, string standard, ChannelDefinition? regulated)
    {
        if (channel.Kind != ChannelKind.Series || !Unit.TryParse(channel.Unit, out Unit unit))
        {
            return [];
        }

        return
        [
            .. Table.Where(row => row.Role == channel.Role
                    && (row.Standard is null || row.Standard == standard)
                    && (row.Quantity is null || row.Quantity == unit.Quantity)
                    && (row.Unit.Length == 0 || Unit.Parse(row.Unit).ConvertsTo(unit)))
                .Select(row => Resolve(row, channel, unit, regulated))
                .OfType<LimitDefinition>(),
        ];
    }

    private static LimitDefinition? Resolve(DefaultLimit row, ChannelDefinition channel, Unit unit, ChannelDefinition? regulated)
    {
        // A setpoint of 0 or less is a mistake said elsewhere; the fractions would cross.
        double? setpoint = channel.Setpoint > 0 ? channel.Setpoint : null;
        Affine toUnit = row.Unit.Length == 0 ? Affine.Identity : Affine.Between(Unit.Parse(row.Unit), unit);
        double? value = row.Basis switch
        {
            LimitBasis.OfSetpoint => setpoint * row.Value,
            LimitBasis.AboveRegulated => RegulatedSetpoint(regulated, unit) + (row.Value * toUnit.Gain),
            LimitBasis.Absolute => toUnit.Apply(row.Value),
            LimitBasis.Baseline => row.Value * toUnit.Gain,
            _ => row.Value,
        };
        if (value is null)
        {
            return null;
        }

        double deadband = row.Basis switch
        {
            LimitBasis.OfSetpoint => setpoint!.Value * row.Deadband,
            LimitBasis.BaselineFraction => row.Deadband,
            _ => row.Deadband * toUnit.Gain,
        };
        return new LimitDefinition
        {
            Side = row.Side,
            Severity = row.Severity,
            Reference = row.Basis switch
            {
                LimitBasis.Baseline => LimitReference.Baseline,
                LimitBasis.BaselineFraction => LimitReference.BaselineFraction,
                _ => LimitReference.Absolute,
            },
            Value = Tidy(value.Value),
            Deadband = Tidy(deadband),
            OnDelay = TimeSpan.FromSeconds(row.OnDelaySeconds),
            JudgedIn = row.JudgedIn,
            Source = row.Source,
        };
    }

    private static double? RegulatedSetpoint(ChannelDefinition? regulated, Unit unit) =>
        regulated?.Setpoint is { } setpoint && setpoint > 0 && Unit.TryParse(regulated.Unit, out Unit own) && own.ConvertsTo(unit)
            ? own.Convert(setpoint, unit)
            : null;

    /// <summary>Ten significant digits: 0.96 · 50 is to read 48, not 47.99999999999999.</summary>
    private static double Tidy(double value) =>
        double.Parse(value.ToString("G10", System.Globalization.CultureInfo.InvariantCulture), System.Globalization.CultureInfo.InvariantCulture);

    /// <summary>Advisory and alarm on both sides of this tape's baseline, judged while tape runs.</summary>
    private static IEnumerable<DefaultLimit> BothSides(ChannelRole role, double advisory, double alarm, string unit, double deadband, double delay, string source)
    {
        foreach ((Severity severity, double value) in ((Severity, double)[])[(Severity.Advisory, advisory), (Severity.Alarm, alarm)])
        {
            foreach ((LimitSide side, int sign) in ((LimitSide, int)[])[(LimitSide.Low, -1), (LimitSide.High, 1)])
            {
                yield return new DefaultLimit(role, side, severity, LimitBasis.Baseline, sign * value, unit, source)
                {
                    Deadband = deadband,
                    OnDelaySeconds = delay,
                    JudgedIn = TapeRuns,
                };
            }
        }
    }

    private static IEnumerable<DefaultLimit> GuideServo(Severity severity, double percent, double seconds) =>
    [
        new(ChannelRole.GuideServo, LimitSide.Low, severity, LimitBasis.Absolute, -percent, "%", Practice) { Deadband = 5, OnDelaySeconds = seconds, JudgedIn = TapeRuns },
        new(ChannelRole.GuideServo, LimitSide.High, severity, LimitBasis.Absolute, percent, "%", Practice) { Deadband = 5, OnDelaySeconds = seconds, JudgedIn = TapeRuns },
    ];

    private static IEnumerable<DefaultLimit> Around(double nominal, double advisory, double alarm, string unit, string standard, string quantity, string source)
    {
        foreach ((Severity severity, double tolerance, double delay) in ((Severity, double, double)[])[(Severity.Advisory, advisory, 10), (Severity.Alarm, alarm, 2)])
        {
            foreach ((LimitSide side, int sign) in ((LimitSide, int)[])[(LimitSide.Low, -1), (LimitSide.High, 1)])
            {
                yield return new DefaultLimit(ChannelRole.SyncLevel, side, severity, LimitBasis.Absolute, nominal + (sign * tolerance), unit, source)
                {
                    Deadband = tolerance / 4,
                    OnDelaySeconds = delay,
                    JudgedIn = TapeRuns,
                    Standard = standard,
                    Quantity = quantity,
                };
            }
        }
    }
}
