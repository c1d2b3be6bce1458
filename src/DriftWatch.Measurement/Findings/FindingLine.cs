using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Measurement.Findings;

public enum FindingPhase
{
    Raised,
    Updated,
    Ended,
}

/// <summary>
/// One line of what judgement says: a finding raised, updated or ended. The same log gives the same lines, byte for
/// byte, live or judged afterwards.
/// </summary>
public sealed record FindingLine
{
    /// <summary>Derived from bench, judge and the number of the input that raised it: re-judging gives it again.</summary>
    public required string Id { get; init; }

    public required FindingPhase Phase { get; init; }

    /// <summary>
    /// In a re-judgement only: ids of the calibrations that were applied back to readings of before they were entered. Such lines stand beside
    /// the findings of the day, which stay as they are.
    /// </summary>
    public IReadOnlyList<Guid>? Recalibrated { get; init; }

    /// <summary>Number of the input that made this line.</summary>
    public required long Input { get; init; }

    public required string Bench { get; init; }

    /// <summary><see cref="Benches.BenchDefinition.SourceHash"/> in force.</summary>
    public required string BenchHash { get; init; }

    /// <summary>What it is, as a slug: <c>air-below-setpoint</c>, <c>pressure-sag</c>, <c>vacuum-loss</c>, <c>stale</c> …</summary>
    public required string Kind { get; init; }

    /// <summary>The channel's id; null where it concerns the bench.</summary>
    public string? Channel { get; init; }

    public required Severity Severity { get; init; }

    /// <summary>When it began, which is before <see cref="RaisedAt"/> by the delay of its judge.</summary>
    public required EngineTime Start { get; init; }

    /// <summary>When it was over; null while it lasts.</summary>
    public EngineTime? End { get; init; }

    /// <summary>The instant at which a live run says so.</summary>
    public required EngineTime RaisedAt { get; init; }

    /// <summary>UTC of the three instants by the anchors known when the line was made, nanoseconds since 1970.</summary>
    public required long StartUtc { get; init; }

    public long? EndUtc { get; init; }

    public required long RaisedUtc { get; init; }

    /// <summary>The value that tells most (worst so far), in <see cref="Unit"/>.</summary>
    public double? Value { get; init; }

    /// <summary>The limit it was held against, in <see cref="Unit"/>.</summary>
    public double? Limit { get; init; }

    public string? Unit { get; init; }

    /// <summary>Where the limit's number comes from.</summary>
    public string? LimitSource { get; init; }

    /// <summary>Why, as far as it can be told; <c>unknown</c> is an answer.</summary>
    public required string Cause { get; init; }

    public required MachineState State { get; init; }

    /// <summary>
    /// Where the tape stood when it began, as far as judging knew by then; null where no run was entered. The review of a run places it
    /// by all that was read, and by what was written down afterwards.
    /// </summary>
    public TapePlace? OnTape { get; init; }

    /// <summary>One sentence for a person.</summary>
    public required string Text { get; init; }

    /// <summary>Named numbers of the kind (depth, duration, area …), in writing order; units in the names.</summary>
    public IReadOnlyList<FindingDetail> Details { get; init; } = [];

    /// <summary>The whole baseline, of a line that says one was taken: kept in a table of its own and not written with the line.</summary>
    public TakenBaseline? Baseline { get; init; }
}

/// <summary>A named number or word; exactly one of the two is set.</summary>
public readonly record struct FindingDetail(string Name, double? Number, string? Word = null);
