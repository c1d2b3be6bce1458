namespace DriftWatch.Calibrating;

/// <summary>
/// What a person writes down at a calibration: the reference, the points, and what is to be held against them. A sheet file
/// (TOML) and the API (JSON) give the same. What is left out of it and stood on the channel's last sheet is taken from there.
/// </summary>
internal sealed record CalibrationSheet
{
    public ReferenceSheet? Reference { get; init; }

    /// <summary>In the order in which they were made.</summary>
    public IReadOnlyList<PointSheet>? Points { get; init; }

    /// <summary>Greatest error that is accepted, in the channel's unit.</summary>
    public double? Tolerance { get; init; }

    /// <summary>Least step of the input, in its raw unit.</summary>
    public double? Resolution { get; init; }

    /// <summary>1: a line, which is the default; up to 5.</summary>
    public int? Degree { get; init; }

    /// <summary>The raw value at which the budget is drawn up; default: where the channel's setpoint is, else the middle of the range.</summary>
    public double? AtRaw { get; init; }

    /// <summary>The raw value about which the coefficients are told; default 0, as they are used.</summary>
    public double? OriginRaw { get; init; }

    /// <summary>Months until it is due again; default 12.</summary>
    public int? IntervalMonths { get; init; }

    /// <summary>Where it was made and how warm it was.</summary>
    public string? Conditions { get; init; }

    public string? Note { get; init; }
}

/// <summary>What the points were held against, by its own certificate.</summary>
internal sealed record ReferenceSheet
{
    public string? Name { get; init; }

    public string? Serial { get; init; }

    public string? Certificate { get; init; }

    /// <summary>Its unit's symbol; default: the channel's.</summary>
    public string? Unit { get; init; }

    /// <summary>Expanded uncertainty, in its unit.</summary>
    public double? Uncertainty { get; init; }

    /// <summary>The k of that uncertainty; default 2.</summary>
    public double? Coverage { get; init; }

    /// <summary>Least step it shows, in its unit.</summary>
    public double? Resolution { get; init; }

    /// <summary>The day it is itself due, as 2027-03-01.</summary>
    public string? Due { get; init; }
}

/// <summary>One point: the reference's reading, and the input's readings meanwhile.</summary>
internal sealed record PointSheet
{
    /// <summary>What was aimed at, in the reference's unit; default: what the reference read.</summary>
    public double? Nominal { get; init; }

    /// <summary>What the reference read, in its unit.</summary>
    public double? Reference { get; init; }

    /// <summary>Readings of the input, raw unit.</summary>
    public IReadOnlyList<double>? Raw { get; init; }

    /// <summary>up or down: from where the point was approached; default: from where the point before it lay.</summary>
    public string? Direction { get; init; }

    /// <summary>Whether the readings had come to rest; null where nobody looked.</summary>
    public bool? Settled { get; init; }
}

/// <summary>A sheet can't be used: which field, what is wrong, and what to do.</summary>
internal sealed class SheetException(string field, string what, string remedy) : Exception($"{what} {remedy}")
{
    /// <summary>As JSON names it, such as points[2].raw.</summary>
    public string Field { get; } = field;

    public string What { get; } = what;

    public string Remedy { get; } = remedy;
}
