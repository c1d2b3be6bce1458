using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Measurement.Baselines;

/// <summary>Who stands behind a baseline. Append only: the number stands in the store.</summary>
public enum BaselineStanding
{
    /// <summary>The machine took it after half a minute of tape, or a person on trial: until there is a better one.</summary>
    Provisional,

    /// <summary>The machine took it after minutes in which nothing was wrong. It goes with its tape.</summary>
    Stable,

    /// <summary>A person took it; the machine never replaces it.</summary>
    Confirmed,
}

/// <summary>
/// A baseline as it is kept for ever: what every channel and quantity was when it was taken, and under which
/// circumstances, so that it can be compared with others weeks and tapes later.
/// </summary>
public sealed record TakenBaseline
{
    /// <summary>Of the input upon which it was taken.</summary>
    public required long Number { get; init; }

    public required EngineTime At { get; init; }

    /// <summary>By the anchors of then, nanoseconds since 1970.</summary>
    public required long UtcNanoseconds { get; init; }

    public required string Bench { get; init; }

    public required string BenchHash { get; init; }

    public required MachineState State { get; init; }

    /// <summary>A person's name, or <c>automatic</c>.</summary>
    public required string By { get; init; }

    public required BaselineStanding Standing { get; init; }

    /// <summary>The transfer whose pass was open; null where none was.</summary>
    public string? Transfer { get; init; }

    /// <summary>What was wrong while it was taken, as slugs; empty where nothing was.</summary>
    public IReadOnlyList<string> Unwell { get; init; } = [];

    /// <summary>In the order of the bench, quantities behind the channels. Channels without a reading are not in it.</summary>
    public required IReadOnlyList<BaselineValue> Values { get; init; }
}

/// <summary>One channel of a baseline.</summary>
/// <param name="Channel">Id of the channel or quantity.</param>
/// <param name="Unit">Of value and deviation.</param>
/// <param name="Value">Mean of the last 30 s.</param>
/// <param name="Deviation">Standard deviation of the one-second means about it; null with too few.</param>
/// <param name="Correlation">Of one second's mean with the next; null with holes or too few.</param>
/// <param name="EffectiveSize">As how many independent seconds they count; null where the correlation is.</param>
/// <param name="Count">Readings in the mean.</param>
/// <param name="CalibrationVersion">In force then; null for a quantity.</param>
public sealed record BaselineValue(
    string Channel, string Unit, double Value, double? Deviation, double? Correlation, double? EffectiveSize, int Count, int? CalibrationVersion)
{
    /// <summary>Of the value, from deviation and effective size; null where either is.</summary>
    public double? StandardError => Deviation / (EffectiveSize is > 0 ? Math.Sqrt(EffectiveSize.Value) : null);
}
