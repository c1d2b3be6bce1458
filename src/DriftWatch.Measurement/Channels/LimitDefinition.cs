namespace DriftWatch.Measurement.Channels;

public enum LimitSide
{
    /// <summary>Violated by a value below the limit.</summary>
    Low,

    /// <summary>Violated by a value above the limit.</summary>
    High,
}

public enum Severity
{
    /// <summary>For the record: a clock step, a restart, a mark.</summary>
    Note,

    /// <summary>Look when you can: it drifts or it is worth knowing.</summary>
    Advisory,

    /// <summary>Act now: the tape or the transfer is at risk.</summary>
    Alarm,
}

public enum LimitReference
{
    /// <summary><see cref="LimitDefinition.Value"/> is the limit, in the channel's unit.</summary>
    Absolute,

    /// <summary><see cref="LimitDefinition.Value"/> is added to the baseline of this tape; without a baseline the limit is not judged.</summary>
    Baseline,

    /// <summary><see cref="LimitDefinition.Value"/> is a fraction that multiplies the baseline, 0.9 for ten percent down.</summary>
    BaselineFraction,
}

/// <summary>
/// One limit of one channel, in engineering units. A value beyond the limit for <see cref="OnDelay"/> raises a
/// finding; it ends once the value has been back by more than <see cref="Deadband"/> for <see cref="OffDelay"/>.
/// </summary>
public sealed record LimitDefinition
{
    public required LimitSide Side { get; init; }

    public required Severity Severity { get; init; }

    public LimitReference Reference { get; init; }

    public required double Value { get; init; }

    /// <summary>How far inside the limit the value must come back; ≥ 0, in the channel's unit (a fraction for <see cref="LimitReference.BaselineFraction"/>).</summary>
    public double Deadband { get; init; }

    /// <summary>How long it must last before it is said; zero says it at once.</summary>
    public TimeSpan OnDelay { get; init; }

    /// <summary>How long it must be back before it is over.</summary>
    public TimeSpan OffDelay { get; init; }

    /// <summary>The machine states in which it is judged; empty means in all. An unknown state judges ungated.</summary>
    public IReadOnlyList<MachineState> JudgedIn { get; init; } = [];

    /// <summary>Where the number comes from: a published source, a derivation, 'common practice, no source' or 'from memory', or 'bench file'.</summary>
    public required string Source { get; init; }

    /// <summary>Where the limit lies, in the channel's unit; null for one that refers to a baseline while there is none.</summary>
    public double? At(double? baseline) => Reference switch
    {
        LimitReference.Absolute => Value,
        LimitReference.Baseline => baseline + Value,
        _ => baseline * Value,
    };
}
