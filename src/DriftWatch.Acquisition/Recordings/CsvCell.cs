using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Recordings;

public enum CsvCellKind : byte
{
    /// <summary>No reading: the instrument was not due, or this recording holds nothing here.</summary>
    Empty,

    Value,

    Fault,
}

/// <summary>One cell of a CSV recording, in the column's engineering unit. A value is finite. <c>default</c> is empty.</summary>
public readonly record struct CsvCell(CsvCellKind Kind, double Value, FaultCode Fault)
{
    public static CsvCell Of(double value) => new(CsvCellKind.Value, value, FaultCode.Missing);

    public static CsvCell Failed(FaultCode fault) => new(CsvCellKind.Fault, 0, fault);
}

/// <summary>Which number of a channel a column holds.</summary>
public enum CsvPart : byte
{
    /// <summary>The reading itself: column <c>id</c>.</summary>
    Value,

    /// <summary>The least inside the period: column <c>id.min</c>.</summary>
    Minimum,

    /// <summary>The greatest inside the period: column <c>id.max</c>.</summary>
    Maximum,
}

/// <summary>A column of a CSV recording after its heading was understood.</summary>
/// <param name="Name">The heading as written.</param>
/// <param name="Channel">Index into <see cref="CsvRecordingOptions.Channels"/>; −1 for a column that is ignored or where no channels were given.</param>
/// <param name="Part">Which number of the channel the column holds.</param>
public sealed record CsvColumn(string Name, int Channel, CsvPart Part)
{
    /// <summary>True where the column is read over because no channel has its name.</summary>
    public bool IsIgnored { get; init; }

    /// <summary>True for a frame channel's column, which holds faults only; its frames are in the side file.</summary>
    public bool HoldsFaultsOnly { get; init; }
}
