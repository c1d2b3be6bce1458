namespace DriftWatch.Web.Api;

/// <summary>A table as CSV with a heading, as <c>driftwatch measure</c> reads it from a file.</summary>
internal record MeasureRequest
{
    public string? Csv { get; init; }
}

/// <summary>A record of timing errors: columns head, angle, error, or line, error, head. Fields as the options of <c>driftwatch measure timing</c>.</summary>
internal sealed record TimingRequest : MeasureRequest
{
    public string? Standard { get; init; }

    public string? Tape { get; init; }

    public string? Terms { get; init; }

    public string? Unit { get; init; }

    public double? Range { get; init; }
}

/// <summary>Columns position, head1 to head4 in dB; <c>Unit</c> of the position: mil, um or division.</summary>
internal sealed record TrackingRequest : MeasureRequest
{
    public string? Unit { get; init; }
}

/// <summary>Columns setting, level.</summary>
internal sealed record EqualiserRequest : MeasureRequest;

/// <summary>Columns head, dark, bright; <c>Tolerance</c> in percent.</summary>
internal sealed record MatchingRequest : MeasureRequest
{
    public double? Tolerance { get; init; }
}

/// <summary>Columns level, value.</summary>
internal sealed record LevelsRequest : MeasureRequest
{
    public string? Standard { get; init; }

    public string? Unit { get; init; }

    public string? Bar { get; init; }

    public string? Bars { get; init; }
}

/// <summary>Columns error in ns and, where the move before it was not the advised one, moved in mil; no table before the first recording.</summary>
internal sealed record HalfErrorRequest : MeasureRequest
{
    public string? Standard { get; init; }

    public string? Procedure { get; init; }

    public string? Adjust { get; init; }

    public double? StandardError { get; init; }

    public double? Gain { get; init; }
}

/// <summary>Columns time in s, pressure in psi, temperature in °C where it was measured.</summary>
internal sealed record LeakDownRequest : MeasureRequest
{
    public double? ReceiverLitres { get; init; }

    public double? VolumeError { get; init; }

    public double? GaugeStep { get; init; }

    public double? GaugeError { get; init; }

    public double? Temperature { get; init; }

    public double? TemperatureError { get; init; }

    public double? Atmosphere { get; init; }
}

/// <summary>Pressures in psi.</summary>
internal sealed record FilterRequest
{
    public double? AtRest { get; init; }

    public double? UnderFlow { get; init; }

    public double? DropBefore { get; init; }

    public double? GaugeError { get; init; }
}
