using DriftWatch.Measurement.Calibrations;

namespace DriftWatch.Measurement.Channels;

/// <summary>
/// What judgement works out from channels and then treats like one: it has limits, a baseline and a drift, but no
/// instrument and no readings of its own in the store, because it can be worked out again. Append only: slugs stand in
/// bench files and findings.
/// </summary>
public enum QuantityKind
{
    /// <summary>Guide vacuum as it would be at the regulated air's setpoint, in inH2O: the air's part is taken out.</summary>
    NormalisedVacuum,

    /// <summary>What the RF levels of the heads have in common, in dB.</summary>
    RfCommon,

    /// <summary>One head's RF level over that of the other heads, in dB; one quantity a head.</summary>
    RfDifference,

    /// <summary>From the lowest to the highest RF level of the heads, in dB.</summary>
    RfSpread,

    /// <summary>Skew of the timing error from end to end of a pass, in ns, late ends positive: guide in or out.</summary>
    Skew,

    /// <summary>Sagitta of the timing error over a pass, in ns, late middles positive: guide height.</summary>
    Scallop,

    /// <summary>How late one head is against the mean of all, in ns; one quantity a head: quadrature.</summary>
    HeadStep,

    /// <summary>The part of the timing error that differs from revolution to revolution, rms in ns: the bearing's.</summary>
    AsyncResidual,

    /// <summary>Supply over regulated pressure, in psi: what the regulator has to work with.</summary>
    SupplyHeadroom,

    /// <summary>From cut-in to cut-in of the compressor, in seconds; the newest cycle's.</summary>
    CompressorPeriod,

    /// <summary>Share of the time that the compressor works, in percent: the newest cycle's, or more where the one in hand is longer already.</summary>
    CompressorDuty,

    /// <summary>How fast the supply falls while the compressor rests, in psi a minute: what is drawn, leaks included.</summary>
    SupplyFallRate,

    /// <summary>How fast the supply rises while the compressor works, in psi a minute: what is delivered less what is drawn.</summary>
    SupplyRiseRate,

    /// <summary>Until the regulator loses its headroom if the compressor does not come back, in seconds; an hour where that is not to be feared.</summary>
    TimeToSetpoint,

    /// <summary>Rise of the regulated for a rise of the supply pressure, in percent of it; over the last ten minutes.</summary>
    RegulatorEffect,

    /// <summary>Temperature at the venturi's throat over the frost point of its air, in kelvin: below 0 ice is possible.</summary>
    ThroatFrostMargin,

    /// <summary>How restless the regulated air is from second to second, as a standard deviation in psi.</summary>
    RegulatedUnrest,

    /// <summary>How restless the guide vacuum is from second to second, as a standard deviation in inH2O.</summary>
    VacuumUnrest,

    /// <summary>Air drawn while the compressor rests, leaks included, in standard litres (20 °C, 101.325 kPa) a minute: only where the receiver's volume is known.</summary>
    AirUse,

    /// <summary>How deep the control track dips again and again, in dB: from the median of half a minute to its lowest tenth.</summary>
    ControlTrackDips,

    /// <summary>The same of the RF's tilt over the pass, to either side.</summary>
    RfTiltDips,

    /// <summary>By how much faster the supply falls in the upper half of its swing than in the lower, in percent of the fall: a leak before the regulator gives more at more pressure, what is drawn behind it does not. The last eight cycles' median.</summary>
    SupplyFallBend,
}

/// <summary>One derived quantity of a bench, with the limits it is held to.</summary>
public sealed record QuantityDefinition
{
    public required QuantityKind Kind { get; init; }

    /// <summary>The kind's slug, with the head's number behind it where there is one a head: <c>rf-difference-2</c>. Stands in findings as the channel does.</summary>
    public required string Id { get; init; }

    public required string Label { get; init; }

    /// <summary>1 to 4 where there is one a head; null otherwise.</summary>
    public int? Head { get; init; }

    /// <summary>The unit's symbol, fixed by the kind.</summary>
    public required string Unit { get; init; }

    public IReadOnlyList<LimitDefinition> Limits { get; init; } = [];

    /// <summary>Volume of the receiver that a use of air is told by, litres; null for every other quantity. With another volume it is another quantity.</summary>
    public double? ReceiverLitres { get; init; }

    /// <summary>In the dress of a channel, for what judges, sums up or draws one. It has no key and no instrument; its calibration changes nothing.</summary>
    /// <param name="every">How often it is told.</param>
    public ChannelDefinition AsChannel(TimeSpan every) => new()
    {
        Id = Id,
        Key = -1,
        Label = Label,
        Role = ChannelRole.Other,
        Head = Head,
        Unit = Unit,
        RawUnit = Unit,
        Period = every,
        Calibration = LineCalibration.Identity,
        Limits = Limits,
    };
}
