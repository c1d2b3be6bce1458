using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using DriftWatch.Measurement.Calibrations;

namespace DriftWatch.Calibrating;

/// <summary>
/// Everything a calibration was worked out from and came to, of format driftwatch.calibration/1; its schema is
/// <c>schemas/calibration.schema.json</c>. Values and errors are in the channel's unit, raw ones in the raw unit, uncertainties are
/// standard ones unless called expanded, and null degrees of freedom are infinite ones. Instants are UTC, RFC 3339.
/// </summary>
internal sealed record CalibrationDocument
{
    public const string FormatName = "driftwatch.calibration/1";

    private static readonly JsonSerializerOptions Options = new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Skip,
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    private static readonly JsonSerializerOptions ForPeople = new(Options) { WriteIndented = true, NewLine = "\n" };

    public string Format { get; init; } = FormatName;

    /// <summary>UUID v7.</summary>
    public required Guid Id { get; init; }

    public required string Bench { get; init; }

    public required string Channel { get; init; }

    public required string Label { get; init; }

    public required string Unit { get; init; }

    public required string RawUnit { get; init; }

    /// <summary>The instrument's slug; null for a ratio of two inputs.</summary>
    public string? Instrument { get; init; }

    public required string By { get; init; }

    /// <summary>declared, token or proxy.</summary>
    public required string Identity { get; init; }

    public required string Entered { get; init; }

    /// <summary>From when on it holds; before <see cref="Entered"/> where it is applied to past readings.</summary>
    public required string ValidFrom { get; init; }

    /// <summary>Within the channel.</summary>
    public required int Version { get; init; }

    public required string Due { get; init; }

    public required int IntervalMonths { get; init; }

    public required ReferenceFacts Reference { get; init; }

    public double? Tolerance { get; init; }

    public double Resolution { get; init; }

    public string? Conditions { get; init; }

    public string? Note { get; init; }

    public required IReadOnlyList<PointFacts> Points { get; init; }

    public required FitFacts Fit { get; init; }

    /// <summary>How readings are turned from now on.</summary>
    public required ConversionFacts Turns { get; init; }

    /// <summary>How they were turned while the points were made.</summary>
    public required ConversionFacts Found { get; init; }

    public HysteresisFacts? Hysteresis { get; init; }

    /// <summary>Why there is none; null where there is.</summary>
    public string? HysteresisMissing { get; init; }

    public required BudgetFacts Budget { get; init; }

    public required ErrorFacts AsFound { get; init; }

    public required ErrorFacts AsLeft { get; init; }

    public required DriftFacts Drift { get; init; }

    public required string Statement { get; init; }

    public static CalibrationDocument Read(JsonElement json) => json.Deserialize<CalibrationDocument>(Options)!;

    /// <summary>Of a calibration; null where it has none, such as the bench file's own.</summary>
    public static CalibrationDocument? Of(Calibration calibration) => calibration.Document is { } json ? Read(json) : null;

    public JsonElement ToJson() => JsonSerializer.SerializeToElement(this, Options);

    /// <summary>UTF-8, indented, one line feed at the end.</summary>
    public byte[] ToFile() => [.. JsonSerializer.SerializeToUtf8Bytes(this, ForPeople), (byte)'\n'];
}

/// <summary>Uncertainty and resolution in the reference's own <c>Unit</c>, <c>StandardUncertainty</c> in the channel's.</summary>
internal sealed record ReferenceFacts(
    string Name, string? Serial, string? Certificate, string? Due, string Unit, double? Uncertainty, double Coverage, double Resolution, double StandardUncertainty);

/// <summary><c>Direction</c> is up or down; <c>Raw</c> the mean of <c>Readings</c>; <c>AsFound</c> and <c>AsLeft</c> are errors.</summary>
internal sealed record PointFacts(
    double Nominal, string Direction, double Reference, IReadOnlyList<double> Readings, double Raw, double? Deviation, bool? Settled, double AsFound, double AsLeft, double CurveUncertainty);

/// <summary>
/// Value = Σ coefficients[i] · (raw − origin)ⁱ, the reference's uncertainty left out of the coefficients' own. <c>Correlation</c> is that of
/// the two coefficients of a line; null of another curve.
/// </summary>
internal sealed record FitFacts(
    int Degree, double Origin, IReadOnlyList<CoefficientFacts> Coefficients, double? Correlation, double ResidualDeviation, double Freedom, double RawFrom, double RawTo);

internal sealed record CoefficientFacts(double Value, double Uncertainty);

/// <summary>A line by gain and offset, a polynomial by its coefficients of powers of raw, or a table; what another form has is null.</summary>
internal sealed record ConversionFacts(
    int Version, string Form, double? Gain, double? Offset, IReadOnlyList<double>? Coefficients, IReadOnlyList<double>? Raw, IReadOnlyList<double>? Values)
{
    public static ConversionFacts Of(Calibration calibration) => calibration switch
    {
        LineCalibration line => new(line.Version, "line", line.Gain, line.Offset, null, null, null),
        PolynomialCalibration polynomial => new(polynomial.Version, "polynomial", null, null, polynomial.Coefficients, null, null),
        TableCalibration table => new(table.Version, "table", null, null, null, table.Raw, table.Values),
        _ => throw new ArgumentException($"Unknown form of calibration {calibration.GetType().Name}.", nameof(calibration)),
    };

    public Calibration ToCalibration() => Form switch
    {
        "line" => new LineCalibration(Gain!.Value, Offset!.Value) { Version = Version },
        "polynomial" => new PolynomialCalibration(Coefficients!) { Version = Version },
        _ => new TableCalibration(Raw!, Values!) { Version = Version },
    };
}

internal sealed record HysteresisFacts(double Largest, double At, double ShareOfSpan, double Mean, double MeanUncertainty, bool IsSignificant);

/// <summary><c>Uncertainty</c> is null where the source was not measured.</summary>
internal sealed record BudgetLineFacts(string Source, string Type, string Basis, double? Uncertainty, double? Freedom);

internal sealed record BudgetFacts(
    double AtRaw, double Value, IReadOnlyList<BudgetLineFacts> Lines, double Combined, double? Freedom, double CoverageFactor, double Expanded, double FactorFor95);

/// <summary><c>Conformity</c> is not-judged, within, undecided or outside.</summary>
internal sealed record ErrorFacts(double Largest, double At, double Expanded, string Conformity);

/// <summary>What moved since the calibration that was in force.</summary>
/// <param name="SinceVersion">Of that calibration.</param>
/// <param name="Since">When it was entered; null for the bench file's own.</param>
/// <param name="Days">Between the two; null where nobody knows.</param>
/// <param name="Basis">In words: what the uncertainty holds.</param>
/// <param name="At">At the beginning, the middle and the end of the range.</param>
internal sealed record DriftFacts(int SinceVersion, string? Since, double? Days, string Basis, IReadOnlyList<DriftPoint> At);

/// <summary><c>PerYear</c> is null where the days between are not known, or less than one.</summary>
internal sealed record DriftPoint(double Raw, double Value, double Difference, double Uncertainty, double? PerYear, bool IsSignificant);
