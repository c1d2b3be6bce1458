using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Speaking;

/// <summary>What a judge knows of a finding. Ids, instants in UTC, bench and state are the <see cref="FindingDesk"/>'s business.</summary>
internal sealed record FindingFacts
{
    public required string Kind { get; init; }

    /// <summary>The channel's id; null where it concerns the bench or a whole instrument.</summary>
    public string? Channel { get; init; }

    /// <summary>Stands in the finding's id where there is no channel: an instrument's slug.</summary>
    public string? Subject { get; init; }

    public Severity Severity { get; init; } = Severity.Note;

    public required EngineTime Start { get; init; }

    public double? Value { get; init; }

    public double? Limit { get; init; }

    public string? Unit { get; init; }

    public string? LimitSource { get; init; }

    public string Cause { get; init; } = "none";

    public required string Text { get; init; }

    public IReadOnlyList<FindingDetail> Details { get; init; } = [];
}

/// <summary>A finding that lasts: its latest line and what people did to it.</summary>
internal sealed class OpenFinding
{
    public required FindingLine Line { get; set; }

    /// <summary>When the latest line was said; updates are spaced from it.</summary>
    public EngineTime SaidAt { get; set; }

    /// <summary>The judge's own details, without those that tell what people did.</summary>
    public IReadOnlyList<FindingDetail> JudgeDetails { get; set; } = [];

    public string? AcknowledgedBy { get; set; }

    public string? ShelvedBy { get; set; }

    public EngineTime? ShelvedUntil { get; set; }
}
