using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration;

/// <summary>A default limit of a derived quantity, in the quantity's unit.</summary>
internal sealed record QuantityLimit(LimitSide Side, Severity Severity, LimitReference Reference, double Value, string Source)
{
    public double Deadband { get; init; }

    public double OnDelaySeconds { get; init; }
}

/// <summary>One kind of derived quantity: its words, its unit, the channels it takes, and the limits that hold when the bench file writes none.</summary>
internal sealed record QuantityRow(QuantityKind Kind, string Label, string Unit, string Meaning, string Needs, Func<IReadOnlyList<ChannelDefinition>, bool> IsTold)
{
    /// <summary>One for each of these heads; its label has the head's number behind it. Null where there is one in all.</summary>
    public Func<IReadOnlyList<ChannelDefinition>, IReadOnlyList<int>>? HeadsOf { get; init; }

    public bool IsPerHead => HeadsOf is not null;

    /// <summary>Told only where the bench file has the receiver's volume.</summary>
    public bool NeedsReceiver { get; init; }

    public IReadOnlyList<QuantityLimit> Limits { get; init; } = [];

    public IReadOnlyList<MachineState> JudgedIn { get; init; } = [];
}

/// <summary>
/// The derived quantities of a bench follow from the roles of its channels. Each limit says where its number comes
/// from, and the finding repeats it.
/// </summary>
internal static class DefaultQuantities
{
    private const string Practice = "common practice, no source";
    private const string NeedsTiming = "timing-error as a frame of 4 points a head or more";

    private const string Reserve = "common practice, no source; a receiver of litres holds about a minute (derived)";
    private const string Ripple = "derived: 0.3 psi of ripple, the most that is common practice, in a cycle of 22 psi";

    private static readonly MachineState[] AirIsUp = [MachineState.AirUp, MachineState.TapeOnGuide, MachineState.Running, MachineState.Locked];
    private const string EdgeDips = "derived: the lowest tenth of dips of 3 dB, which is the control track's tolerance, with each turn of the reel";
    private const string UnrestIsWater = "derived: a third more than the 0.3 psi of ripple, peak to peak, that a sound regulator leaves, taken as twice the deviation";

    private static readonly MachineState[] TapeRuns = [MachineState.Running, MachineState.Locked];

    public static IReadOnlyList<QuantityRow> Table { get; } =
    [
        // A fall is the business of the judge of vacuum loss, which knows the air's part. A rise at the same air means that
        // less of the guide's slots is open than at line-up.
        new(QuantityKind.NormalisedVacuum, "Guide vacuum at the air's setpoint", "inH2O", "guide vacuum with the air's part taken out by the law of the choked venturi", "guide-vacuum, regulated-air with a setpoint",
            c => Has(c, ChannelRole.GuideVacuum) && c.Any(x => x is { Role: ChannelRole.RegulatedAir, Setpoint: not null }))
        {
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.BaselineFraction, 1.10, Practice) { Deadband = 0.03, OnDelaySeconds = 5 }],
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.RfCommon, "RF of all heads", "dB", "median of the heads' RF levels", "rf-level of two heads", c => Heads(c).Count >= 2)
        {
            Limits = [new(LimitSide.Low, Severity.Advisory, LimitReference.Baseline, -2, Practice) { Deadband = 0.5, OnDelaySeconds = 5 }],
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.RfDifference, "RF over the other heads, head", "dB", "RF level of one head over the median of the others", "rf-level of three heads", c => Heads(c).Count >= 3) { HeadsOf = Heads },
        new(QuantityKind.RfSpread, "RF spread of the heads", "dB", "from the lowest to the highest RF level of the heads", "rf-level of two heads", c => Heads(c).Count >= 2)
        {
            Limits =
            [
                new(LimitSide.High, Severity.Advisory, LimitReference.Absolute, 3, Practice) { Deadband = 0.5, OnDelaySeconds = 5 },
                new(LimitSide.High, Severity.Alarm, LimitReference.Absolute, 6, Practice) { Deadband = 1, OnDelaySeconds = 0.5 },
            ],
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.Skew, "Timing skew, end to end", "ns", "from start to end of a head's pass, positive where the end is late: guide in or out", NeedsTiming, HasTiming)
        {
            Limits = Around(TimingTolerance.Skew, (10, 20), (2, 30)),
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.Scallop, "Timing scallop, sagitta", "ns", "how much later mid-pass is than the ends of a head's pass: guide height", NeedsTiming, HasTiming)
        {
            Limits = Around(TimingTolerance.Scallop, (10, 8), (5, 10)),
            JudgedIn = TapeRuns,
        },

        // The table gives no delay and no deadband for steps: those of scallop are taken.
        new(QuantityKind.HeadStep, "Timing step, head", "ns", "how late one head is against the mean of all: quadrature", NeedsTiming, HasTiming)
        {
            HeadsOf = c => [.. Timing(c)!.Axis!.Heads.Distinct().Order()],
            Limits = Around(TimingTolerance.Step, (10, 8), (5, 10)),
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.AsyncResidual, "Timing residual that does not repeat", "ns", "rms of what differs from revolution to revolution: the bearing", NeedsTiming, HasTiming)
        {
            Limits =
            [
                new(LimitSide.High, Severity.Advisory, LimitReference.BaselineFraction, 1.5, Practice) { Deadband = 0.1, OnDelaySeconds = 30 },
                new(LimitSide.High, Severity.Alarm, LimitReference.BaselineFraction, 3, Practice) { Deadband = 0.3, OnDelaySeconds = 5 },
            ],
            JudgedIn = TapeRuns,
        },

        // No limits of its own: those of the supply over the setpoint say it (the channel's default limits).
        new(QuantityKind.SupplyHeadroom, "Supply over regulated air", "psi", "supply over regulated pressure", "supply-air, regulated-air",
            c => Has(c, ChannelRole.SupplyAir) && Has(c, ChannelRole.RegulatedAir)),
        new(QuantityKind.CompressorPeriod, "Compressor's period", "s", "from cut-in to cut-in, of the newest cycle", "supply-air", c => Has(c, ChannelRole.SupplyAir)),
        new(QuantityKind.CompressorDuty, "Compressor's duty", "%", "share of the time that the compressor works, of the newest cycle or more where the one in hand is longer already", "supply-air", c => Has(c, ChannelRole.SupplyAir))
        {
            Limits =
            [
                new(LimitSide.High, Severity.Advisory, LimitReference.BaselineFraction, 1.3, Practice) { Deadband = 0.05 },
                new(LimitSide.High, Severity.Alarm, LimitReference.BaselineFraction, 1.6, Practice) { Deadband = 0.05 },
            ],
            JudgedIn = AirIsUp,
        },
        new(QuantityKind.SupplyFallRate, "Fall of the supply at rest", "psi/min", "fall of the supply while the compressor rests: what is drawn, leaks included", "supply-air", c => Has(c, ChannelRole.SupplyAir)),
        new(QuantityKind.SupplyFallBend, "Bend of the supply's fall", "%", "by how much faster the supply falls in the upper half of its swing than in the lower: a leak before the regulator does that, one behind it does not; median of eight cycles", "supply-air", c => Has(c, ChannelRole.SupplyAir)),
        new(QuantityKind.SupplyRiseRate, "Rise of the supply at work", "psi/min", "rise of the supply while the compressor works: what is delivered less what is drawn", "supply-air", c => Has(c, ChannelRole.SupplyAir)),
        new(QuantityKind.TimeToSetpoint, "Time until the setpoint is lost", "s", "until the supply is down to 10 psi over the setpoint, once it falls below where the compressor comes on; else an hour", "supply-air, regulated-air with a setpoint",
            c => Has(c, ChannelRole.SupplyAir) && c.Any(x => x is { Role: ChannelRole.RegulatedAir, Setpoint: not null }))
        {
            Limits =
            [
                new(LimitSide.Low, Severity.Advisory, LimitReference.Absolute, 300, Reserve) { Deadband = 60, OnDelaySeconds = 5 },
                new(LimitSide.Low, Severity.Alarm, LimitReference.Absolute, 60, Reserve) { Deadband = 30, OnDelaySeconds = 2 },
            ],
            JudgedIn = AirIsUp,
        },
        new(QuantityKind.RegulatorEffect, "Regulated air following its supply", "%", "rise of the regulated for a rise of the supply pressure, over ten minutes", "supply-air, regulated-air",
            c => Has(c, ChannelRole.SupplyAir) && Has(c, ChannelRole.RegulatedAir))
        {
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.Absolute, 1.4, Ripple) { Deadband = 0.2, OnDelaySeconds = 60 }],
            JudgedIn = AirIsUp,
        },

        // No limits of its own: those of the dew point, which were derived by it, say it. This says by how much.
        new(QuantityKind.ThroatFrostMargin, "Margin to frost in the venturi", "K", "temperature at the venturi's throat over the frost point there; below 0 ice is possible", "dew-point, regulated-air",
            c => Has(c, ChannelRole.DewPoint) && Has(c, ChannelRole.RegulatedAir)),
        new(QuantityKind.RegulatedUnrest, "Unrest of the regulated air", "psi", "standard deviation that the changes from second to second amount to, over half a minute", "regulated-air", c => Has(c, ChannelRole.RegulatedAir))
        {
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.Absolute, 0.2, UnrestIsWater) { Deadband = 0.05, OnDelaySeconds = 30 }],
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.VacuumUnrest, "Unrest of the guide vacuum", "inH2O", "the same of the guide vacuum, while tape runs", "guide-vacuum", c => Has(c, ChannelRole.GuideVacuum))
        {
            JudgedIn = TapeRuns,
        },

        // The limit is that of the duty, which a leak raises by as much at a compressor that is far from its end.
        new(QuantityKind.AirUse, "Use of air", "l/min", "what is drawn from the receiver while the compressor rests, leaks included, in litres at 20 °C and 101.325 kPa a minute, if the air in it is at 20 °C: 0.34 % a kelvin", "supply-air, and receiver-litres under [machine]",
            c => Has(c, ChannelRole.SupplyAir))
        {
            NeedsReceiver = true,
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.BaselineFraction, 1.3, Practice) { Deadband = 0.05 }],
            JudgedIn = AirIsUp,
        },
        new(QuantityKind.ControlTrackDips, "Dips of the control track", "dB", "from the median of half a minute to its lowest tenth: what dips with each turn of a reel", "control-track", c => Has(c, ChannelRole.ControlTrack))
        {
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.Absolute, 2.4, EdgeDips) { Deadband = 0.5, OnDelaySeconds = 5 }],
            JudgedIn = TapeRuns,
        },
        new(QuantityKind.RfTiltDips, "Dips of the RF's tilt", "dB", "from the median of half a minute to its outermost tenth on either side", "rf-tilt", c => Has(c, ChannelRole.RfTilt))
        {
            Limits = [new(LimitSide.High, Severity.Advisory, LimitReference.Absolute, 2, Practice) { Deadband = 0.5, OnDelaySeconds = 5 }],
            JudgedIn = TapeRuns,
        },
    ];

    /// <summary>The quantities that these channels tell, with their default limits; of a machine of which no more is known where none is given.</summary>
    public static List<QuantityDefinition> For(IReadOnlyList<ChannelDefinition> channels, MachineDefinition? machine = null)
    {
        var quantities = new List<QuantityDefinition>();
        foreach (QuantityRow row in Table.Where(r => r.IsTold(channels) && (!r.NeedsReceiver || machine?.ReceiverLitres is not null)))
        {
            if (row.HeadsOf is { } heads)
            {
                quantities.AddRange(heads(channels).Select(head => Make(row, head, machine)));
            }
            else
            {
                quantities.Add(Make(row, null, machine));
            }
        }

        return quantities;
    }

    private static QuantityDefinition Make(QuantityRow row, int? head, MachineDefinition? machine) => new()
    {
        Kind = row.Kind,
        Id = head is { } h ? $"{Slugs.Of(row.Kind)}-{h}" : Slugs.Of(row.Kind),
        Label = head is { } n ? $"{row.Label} {n}" : row.Label,
        Head = head,
        Unit = row.Unit,
        ReceiverLitres = row.NeedsReceiver ? machine?.ReceiverLitres : null,
        Limits = [.. row.Limits.Select(l => new LimitDefinition
        {
            Side = l.Side,
            Severity = l.Severity,
            Reference = l.Reference,
            Value = l.Value,
            Deadband = l.Deadband,
            OnDelay = TimeSpan.FromSeconds(l.OnDelaySeconds),
            JudgedIn = row.JudgedIn,
            Source = l.Source,
        })],
    };

    private static bool Has(IReadOnlyList<ChannelDefinition> channels, ChannelRole role) =>
        channels.Any(c => c.Role == role && c.Kind == ChannelKind.Series);

    private static bool HasTiming(IReadOnlyList<ChannelDefinition> channels) =>
        Timing(channels)?.Axis is { } axis && axis.Heads.GroupBy(h => h).All(g => g.Count() >= 4);

    private static ChannelDefinition? Timing(IReadOnlyList<ChannelDefinition> channels) =>
        channels.FirstOrDefault(c => c is { Role: ChannelRole.TimingError, Kind: ChannelKind.Frame, Axis: not null });

    /// <summary>Both sides of zero, each with the delay in seconds and the deadband in ns.</summary>
    private static List<QuantityLimit> Around(TimingTolerance tolerance, (double After, double Deadband) advisory, (double After, double Deadband) alarm)
    {
        return [.. OneSide(LimitSide.Low, -1), .. OneSide(LimitSide.High, 1)];

        IEnumerable<QuantityLimit> OneSide(LimitSide side, int sign) =>
        [
            new(side, Severity.Advisory, LimitReference.Absolute, sign * tolerance.AdvisoryNs, tolerance.Source) { Deadband = advisory.Deadband, OnDelaySeconds = advisory.After },
            new(side, Severity.Alarm, LimitReference.Absolute, sign * tolerance.AlarmNs, tolerance.Source) { Deadband = alarm.Deadband, OnDelaySeconds = alarm.After },
        ];
    }

    private static List<int> Heads(IReadOnlyList<ChannelDefinition> channels) =>
        [.. channels.Where(c => c is { Role: ChannelRole.RfLevel, Head: not null }).Select(c => c.Head!.Value).Distinct().Order()];
}
