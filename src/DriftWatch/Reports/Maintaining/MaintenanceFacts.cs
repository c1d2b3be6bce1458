using DriftWatch.Calibrating;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Maintaining;

/// <summary>What a record of maintenance is made of, read from a bench's store.</summary>
internal sealed record MaintenanceFacts
{
    public required BenchDefinition Bench { get; init; }

    public required UtcStretch Span { get; init; }

    /// <summary>When readings were stored.</summary>
    public required IReadOnlyList<UtcStretch> Watched { get; init; }

    /// <summary>Taken in the span, oldest first.</summary>
    public required IReadOnlyList<TakenBaseline> Baselines { get; init; }

    /// <summary>Finding lines that touch the span, oldest first.</summary>
    public required IReadOnlyList<FindingLine> Lines { get; init; }

    /// <summary>How many older ones were not read.</summary>
    public long LinesLeftOut { get; init; }

    /// <summary>The book as it stands; what lies after the span is left out where it matters.</summary>
    public required TransferBook Book { get; init; }

    public required TransferProcedures Procedures { get; init; }

    /// <summary>Hours that tape was seen to run from the last reading of the hour meter to the span's end.</summary>
    public required double RanSince { get; init; }

    public required AirQuality Air { get; init; }

    /// <summary>Every calibration that the store knows.</summary>
    public required IReadOnlyList<CalibrationRow> Calibrations { get; init; }

    public required AlarmHealthReport Alarms { get; init; }
}
