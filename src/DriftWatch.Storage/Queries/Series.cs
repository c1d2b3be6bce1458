using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage.Queries;

/// <summary>One stored reading: raw, with the version of the calibration that was in force.</summary>
public readonly record struct StoredReading(EngineTime At, Reading Reading, int Version, bool IsLate);

/// <summary>Entries <c>From</c> to before <c>To</c> of a series are the same fault.</summary>
public readonly record struct FaultRun(int From, int To, FaultCode Fault);

/// <summary>From entry <c>From</c> on, up to the next span, raw values belong to this calibration version.</summary>
public readonly record struct VersionSpan(int From, int Version);

/// <summary>
/// The readings of one channel over a span of time, in order of the instants at which they were measured, late ones at
/// their place. Raw: the caller converts, by version.
/// </summary>
public sealed class Series
{
    internal Series(IReadOnlyList<StoredReading> readings, IReadOnlyList<string> damage)
    {
        Readings = readings;
        Damage = damage;
        var faults = new List<FaultRun>();
        var versions = new List<VersionSpan>();
        for (int i = 0; i < readings.Count; i++)
        {
            StoredReading reading = readings[i];
            if (versions.Count == 0 || versions[^1].Version != reading.Version)
            {
                versions.Add(new VersionSpan(i, reading.Version));
            }

            if (!reading.Reading.IsFault)
            {
                continue;
            }

            if (faults.Count > 0 && faults[^1].To == i && faults[^1].Fault == reading.Reading.Fault)
            {
                faults[^1] = faults[^1] with { To = i + 1 };
            }
            else
            {
                faults.Add(new FaultRun(i, i + 1, reading.Reading.Fault));
            }
        }

        FaultRuns = faults;
        VersionSpans = versions;
    }

    public IReadOnlyList<StoredReading> Readings { get; }

    public IReadOnlyList<FaultRun> FaultRuns { get; }

    public IReadOnlyList<VersionSpan> VersionSpans { get; }

    /// <summary>Blocks that could not be read, in words; their readings are missing above.</summary>
    public IReadOnlyList<string> Damage { get; }
}

/// <summary>
/// One bucket of a plot in raw units. Where a calibration changed inside a bucket there is one entry a version, with the
/// same span; the caller converts each and joins them.
/// </summary>
/// <param name="From">Engine time of the bucket's start; snapped to the grid of the rollup that served.</param>
/// <param name="To">Its end, not included.</param>
/// <param name="Count">Values; <paramref name="Minimum"/>, <paramref name="Maximum"/> and <paramref name="Sum"/> are 0 without any.</param>
/// <param name="Minimum">The least of the values and of the minima inside their periods.</param>
/// <param name="Maximum">The greatest likewise.</param>
/// <param name="Sum">Sum of the values.</param>
/// <param name="Faults">Readings that were faults.</param>
/// <param name="Late">Values and faults that came late; they are counted above too.</param>
/// <param name="Version">Calibration version.</param>
/// <param name="Watched">Share of the bucket in which the bench was watched, 0 to 1.</param>
public readonly record struct RawBucket(
    EngineTime From, EngineTime To, long Count, double Minimum, double Maximum, double Sum, long Faults, long Late, int Version, double Watched);

/// <summary>One stored frame.</summary>
public readonly record struct StoredFrame(EngineTime At, Frame Frame, int Version, bool IsLate);

/// <summary>A finding line with its row number, the cursor of paging.</summary>
public readonly record struct StoredFinding(long Cursor, FindingLine Line);

/// <param name="Cursor">Row number in the book; grows.</param>
/// <param name="Line">The line.</param>
public readonly record struct StoredAlarm(long Cursor, AlarmTransition Line);

/// <summary>A span over which inputs are stored without a break. Not raw where only rollups are left.</summary>
public readonly record struct StoredSpan(EngineTime From, EngineTime To, long FirstNumber, long LastNumber, bool IsRaw);

/// <summary>A bench definition that was in force from an input on.</summary>
public sealed record StoredBench(long Number, EngineTime At, string Hash, BenchDefinition Bench);

/// <summary>A calibration entered by an input.</summary>
public sealed record StoredCalibration(long Number, EngineTime At, int Channel, Calibration Calibration);

/// <summary>What a person did, as it was entered.</summary>
public sealed record StoredCommand(long Number, EngineTime At, Command Command);

/// <summary>An entry of the book of transfers.</summary>
/// <param name="Number">Of its input.</param>
/// <param name="At">When it was journaled, engine time.</param>
/// <param name="Entry">What was entered.</param>
public sealed record StoredEntry(long Number, EngineTime At, Measurement.Transfers.EntryCommand Entry);
