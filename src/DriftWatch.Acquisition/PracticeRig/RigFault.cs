namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>What can go wrong on command. The comment gives the unit of the magnitude and, where there is one, the target.</summary>
public enum RigFaultKind
{
    /// <summary>Share of the compressor's delivery that is lost, 0 to 1; a worn compressor is a small share of it.</summary>
    CompressorFailing,

    /// <summary>Rise of the regulated pressure, psi: the regulator's seat leaks.</summary>
    RegulatorCreep,

    /// <summary>Fall of the regulated pressure, psi.</summary>
    RegulatorSag,

    /// <summary>Further drop over the bearing's filter at normal flow, psi.</summary>
    FilterClog,

    /// <summary>Share of the guide's slots that the tape no longer closes, 0 to 1.</summary>
    TapeLift,

    /// <summary>The tape runs out: no tape on guide, heads or control track. Magnitude 1.</summary>
    TapeRunOut,

    /// <summary>Loss of one head, dB. Target: head 1 to 4.</summary>
    HeadClog,

    /// <summary>Loss of all heads together, dB: oxide sheds.</summary>
    OxideShed,

    /// <summary>Share of the guide's vacuum lost through a leaking line, 0 to 1.</summary>
    VacuumLeak,

    /// <summary>Shift of the guide's height, mil.</summary>
    GuideHeightShift,

    /// <summary>Shift of the guide's penetration, mil; negative is in.</summary>
    GuidePenetrationShift,

    /// <summary>Loss of control-track level, dB.</summary>
    ControlTrackLoss,

    /// <summary>Rise of the pressure dew point, °C: the dryer is exhausted.</summary>
    DryerExhausted,

    /// <summary>A broken wire: a current loop reads 0.02 mA, a voltage 0.01 V. Target: input.</summary>
    SensorOpenLoop,

    /// <summary>The same code for ever. Target: input.</summary>
    SensorStuck,

    /// <summary>The input's full-scale code. Target: input.</summary>
    SensorOverRange,

    /// <summary>The instrument gives no answer for this input. Target: input.</summary>
    SensorDead,

    /// <summary>Further noise, as a multiple of the sensor's own. Target: input.</summary>
    SensorNoisy,

    /// <summary>Fall of the sensors' supply rail, V.</summary>
    RailSag,

    /// <summary>The whole instrument says nothing. Magnitude 1.</summary>
    InstrumentSilence,

    /// <summary>The computer's wall clock is set by so many seconds; only a recording can show it.</summary>
    ClockStep,

    /// <summary>Leak of receiver or supply side, standard l/min at 90 psi.</summary>
    SupplyLeak,

    /// <summary>Leak behind the regulator, standard l/min at the working pressure.</summary>
    LeakDownstream,

    /// <summary>More feed-through: psi of regulated pressure for each psi of supply. The rig's sound machines have 0.003 to 0.010.</summary>
    RegulatorFollowsSupply,

    /// <summary>Water in the air behind the dryer: jitter of the regulated pressure, psi rms; its company in <see cref="WetAir"/>.</summary>
    Moisture,

    /// <summary>Share of the guide's slots that dirt closes, 0 to 1.</summary>
    SlotsDirty,

    /// <summary>Share of the venturi's throat that dirt closes, 0 to 1.</summary>
    VenturiClog,

    /// <summary>Further flow through the bearing, as a share of its sound flow; the shaft whirls with it.</summary>
    BearingDistress,

    /// <summary>Loss of one head by wear of its tip, dB. Target: head 1 to 4. Weeks: give it as what is there from the start.</summary>
    HeadWear,

    /// <summary>Shift of the tracking, mil: all heads, and the control track's phase by 5.76° a mil.</summary>
    TrackingShift,

    /// <summary>Loss at one end of the pass while the damaged stretch of the edge passes, once a turn of the reel, dB.</summary>
    EdgeDamage,

    /// <summary>Fall of the level from one end of the pass to the other, dB: the guide no longer presses evenly.</summary>
    GuideContact,

    /// <summary>The servos let go, whatever the control track says. Magnitude 1.</summary>
    ServoLoss,
}

/// <summary>One fault on command: from <see cref="StartSeconds"/> it grows along a straight ramp to its magnitude, lasts, and goes back.</summary>
public sealed record RigFault
{
    public required RigFaultKind Kind { get; init; }

    /// <summary>On the script's clock, ≥ 0.</summary>
    public required double StartSeconds { get; init; }

    /// <summary>From nothing to the full magnitude; 0 is a step.</summary>
    public double RampSeconds { get; init; }

    /// <summary>From the start to the beginning of the recovery; null: it stays.</summary>
    public double? ForSeconds { get; init; }

    /// <summary>From the full magnitude back to nothing.</summary>
    public double RecoverySeconds { get; init; }

    /// <summary>In the unit of its kind, see <see cref="RigFaultKind"/>.</summary>
    public double Magnitude { get; init; } = 1;

    /// <summary>1 to 4 for a fault of one head: a clog or wear.</summary>
    public int? Head { get; init; }

    /// <summary>The input for a fault of a sensor.</summary>
    public RigInput? Input { get; init; }

    /// <summary>How much of it there is at an instant of the script's clock, in the unit of its kind.</summary>
    public double At(double seconds)
    {
        double since = seconds - StartSeconds;
        if (since < 0)
        {
            return 0;
        }

        double grown = RampSeconds > 0 ? Math.Min(1, since / RampSeconds) : 1;
        if (ForSeconds is { } lasts && since >= lasts)
        {
            double back = since - lasts;
            grown = back >= RecoverySeconds ? 0 : grown * (1 - (back / RecoverySeconds));
        }

        return grown * Magnitude;
    }
}
