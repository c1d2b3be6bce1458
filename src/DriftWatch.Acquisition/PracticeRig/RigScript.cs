namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>What the operator of the rig does.</summary>
public enum RigAct
{
    /// <summary>Opens the main air valve.</summary>
    AirOn,

    AirOff,

    /// <summary>Starts the head wheel; it comes to speed only on full air.</summary>
    WheelOn,

    WheelOff,

    /// <summary>Puts tape over the guide.</summary>
    Thread,

    Unthread,

    /// <summary>Runs the tape; servos lock by themselves some seconds later.</summary>
    Run,

    Stop,

    /// <summary>Programme begins on the tape (before it: bars and tone).</summary>
    Programme,

    /// <summary>Bars and tone again.</summary>
    Bars,

    /// <summary>A knob touched: the regulator's setting moves by the amount, psi.</summary>
    TouchRegulator,

    /// <summary>The tracking knob moves by the amount, mil.</summary>
    TouchTracking,

    /// <summary>Shuts the venturi's cock while the machine rests on air; it stands open until then.</summary>
    VenturiOff,

    VenturiOn,

    /// <summary>Another tape, already lined up: its own levels and what line-up left of tracking and geometry, drawn from the seed.</summary>
    NextTape,

    /// <summary>A splice passes: a dip of the amount, dB, for some tens of milliseconds.</summary>
    Splice,
}

public readonly record struct RigStep(double AtSeconds, RigAct Act, double Amount = 0);

/// <summary>A timeline: what the operator does, what goes wrong, and after how long it all begins again.</summary>
public sealed record RigScript
{
    public required string Name { get; init; }

    public required string Title { get; init; }

    /// <summary>In order of time.</summary>
    public required IReadOnlyList<RigStep> Steps { get; init; }

    public IReadOnlyList<RigFault> Faults { get; init; } = [];

    /// <summary>The script's natural length, seconds; the default length of a rehearsal.</summary>
    public required double LengthSeconds { get; init; }

    /// <summary>True when the script begins again after its length.</summary>
    public bool Loops { get; init; }

    /// <summary>Splices and slight touches of knobs that no one announced, at instants drawn from the seed.</summary>
    public bool HasNuisances { get; init; } = true;

    /// <summary>The script's clock for an instant of the run.</summary>
    public double ClockAt(double seconds) => Loops ? seconds % LengthSeconds : seconds;
}
