using DriftWatch.Calibrating;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>What a hand-over is made of, read from a bench's store as it stood at the span's end.</summary>
internal sealed record ShiftFacts
{
    public required BenchDefinition Bench { get; init; }

    public required UtcStretch Span { get; init; }

    /// <summary>The last instant of which something is stored.</summary>
    public required long LastStoredUtc { get; init; }

    /// <summary>Finding lines of the span and of a while before, written before its end, oldest first.</summary>
    public required IReadOnlyList<FindingLine> Lines { get; init; }

    /// <summary>How many older ones were not read.</summary>
    public long LinesLeftOut { get; init; }

    /// <summary>The book of alarms up to the span's end, as far back as something still stands.</summary>
    public required IReadOnlyList<AlarmTransition> Alarms { get; init; }

    public required TransferBook Book { get; init; }

    /// <summary>Every entry that the book took, in the order of the log.</summary>
    public required IReadOnlyList<EntryCommand> Entries { get; init; }

    public required TransferProcedures Procedures { get; init; }

    /// <summary>Places on the tape, by pass, of the runs that touch the span.</summary>
    public required IReadOnlyDictionary<Guid, TapePlaces> Places { get; init; }

    /// <summary>What drifts now by the table that judgement keeps; null: as the findings told it last.</summary>
    public IReadOnlyList<HandOverDrift>? Drifts { get; init; }

    /// <summary>The calibration of each channel that held at the span's end.</summary>
    public required IReadOnlyList<CalibrationRow> Calibrations { get; init; }

    public required Upkeep Upkeep { get; init; }
}
