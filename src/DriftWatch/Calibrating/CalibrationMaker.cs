using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Calibrating;

/// <summary>Where and by whom a calibration is made, and what holds there now.</summary>
internal sealed record CalibrationContext
{
    public required string Bench { get; init; }

    public required ChannelDefinition Channel { get; init; }

    /// <summary>With its document, where it has one.</summary>
    public required Calibration InForce { get; init; }

    public required string By { get; init; }

    public string Identity { get; init; } = "declared";

    public required long EnteredUtc { get; init; }

    /// <summary>From when past readings are to be converted with it as well; null: from its entry on.</summary>
    public long? ApplyFromUtc { get; init; }

    public int? Version { get; init; }
}

/// <summary>Makes the document of a calibration out of a sheet, and the calibration out of the document. Pure.</summary>
internal static class CalibrationMaker
{
    public const string Statement =
        "In-house comparison with a reference, worked out after JCGM 100:2008 (GUM). This is no certificate of an accredited laboratory, and traceability reaches as far as the reference's own certificate does.";

    private const int HighestDegree = 5; // above it a curve follows the noise; common practice, no source
    private const int MostPoints = 200;
    private const int MostReadings = 1000;
    private const int MostMonths = 120;

    /// <exception cref="SheetException">The sheet can't be used.</exception>
    public static CalibrationDocument Make(CalibrationContext context, CalibrationSheet sheet, Guid id)
    {
        ChannelDefinition channel = context.Channel;
        if (channel.Kind == ChannelKind.Frame)
        {
            throw new SheetException("channel", $"'{channel.Id}' gives frames, which have no calibration of single values.", "Name a channel that gives series.");
        }

        CalibrationDocument? last = CalibrationDocument.Of(context.InForce);
        Affine toUnit = ReferenceUnit(sheet, channel, out string referenceUnit);
        ReferenceFacts reference = Reference(sheet.Reference, referenceUnit, toUnit);
        int degree = Within(sheet.Degree ?? last?.Fit.Degree ?? 1, 1, HighestDegree, "degree");
        int months = Within(sheet.IntervalMonths ?? last?.IntervalMonths ?? 12, 1, MostMonths, "intervalMonths");
        double resolution = NotBelowZero(sheet.Resolution ?? last?.Resolution ?? 0, "resolution");
        double? tolerance = sheet.Tolerance ?? last?.Tolerance;
        if (tolerance is not (null or > 0 and < double.PositiveInfinity))
        {
            throw new SheetException("tolerance", "A tolerance is a number above zero.", "Write the greatest error that is accepted, in the channel's unit, or leave it out.");
        }

        IReadOnlyList<CalibrationPoint> points = Points(sheet, toUnit);
        var run = new CalibrationRun
        {
            Points = points,
            Degree = degree,
            ReferenceUncertainty = reference.StandardUncertainty,
            ReferenceResolution = Math.Abs(toUnit.Gain) * reference.Resolution,
            RawResolution = resolution,
            WorkingRaw = sheet.AtRaw is { } at ? Finite(at, "atRaw") : RawAtSetpoint(channel, context.InForce, points),
            Tolerance = tolerance,
            InForce = context.InForce.Convert,
        };
        Answer<WorkedCalibration> answer = CalibrationWork.Of(run);
        if (!answer.IsKnown)
        {
            throw new SheetException("points", $"These points make no curve of degree {degree}: {answer.Missing}.", "Add points at different values, or ask for a lower degree.");
        }

        WorkedCalibration worked = answer.Value;
        long validFrom = context.ApplyFromUtc ?? context.EnteredUtc;
        int version = context.Version ?? context.InForce.Version + 1;
        Calibration turns = Conversion(worked.Curve) with { Version = version };
        return new CalibrationDocument
        {
            Id = id,
            Bench = context.Bench,
            Channel = channel.Id,
            Label = channel.Label,
            Unit = channel.Unit,
            RawUnit = channel.RawUnit,
            Instrument = channel.Instrument,
            By = context.By,
            Identity = context.Identity,
            Entered = UtcText.FromNanoseconds(context.EnteredUtc),
            ValidFrom = UtcText.FromNanoseconds(validFrom),
            Version = version,
            Due = Day(UtcText.ToDateTimeOffset(context.EnteredUtc).AddMonths(months)),
            IntervalMonths = months,
            Reference = reference,
            Tolerance = tolerance,
            Resolution = resolution,
            Conditions = Trimmed(sheet.Conditions, "conditions"),
            Note = Trimmed(sheet.Note, "note"),
            Points = [.. worked.Points.Select((p, i) => Facts(p, sheet.Points![i].Settled))],
            Fit = Fit(worked.Curve, sheet.OriginRaw is { } origin ? Finite(origin, "originRaw") : 0),
            Turns = ConversionFacts.Of(turns),
            Found = ConversionFacts.Of(context.InForce),
            Hysteresis = worked.Loop is { } loop
                ? new HysteresisFacts(loop.Largest, loop.AtPoint, loop.ShareOfSpan, loop.Mean.Value, loop.Mean.StandardUncertainty, loop.IsSignificant)
                : null,
            HysteresisMissing = worked.LoopMissing,
            Budget = Facts(worked.Budget),
            AsFound = Facts(worked.AsFound),
            AsLeft = Facts(worked.AsLeft),
            Drift = CalibrationDrifts.Since(context.InForce, last, worked.Curve, reference, context.EnteredUtc),
            Statement = Statement,
        };
    }

    /// <summary>What is entered as an input.</summary>
    public static Calibration ToCalibration(this CalibrationDocument document) => document.Turns.ToCalibration() with
    {
        Id = document.Id,
        By = document.By,
        IdentifiedBy = document.Identity,
        Note = $"against {document.Reference.Name}, {document.Points.Count} points; U = {document.Budget.Expanded.ToString("G3", CultureInfo.InvariantCulture)} {document.Unit} (k = 2)",
        Due = DateOnly.ParseExact(document.Due, "yyyy-MM-dd", CultureInfo.InvariantCulture),
        EnteredUtcNanoseconds = UtcText.TryParse(document.Entered, out long entered) ? entered : null,
        ValidFromUtcNanoseconds = UtcText.TryParse(document.ValidFrom, out long from) ? from : null,
        Document = document.ToJson(),
    };

    internal static Answer<CalibrationCurve> CurveOf(CalibrationDocument document) =>
        CurveFit.LeastSquares([.. document.Points.Select(p => p.Raw)], [.. document.Points.Select(p => p.Reference)], document.Fit.Degree);

    private static Affine ReferenceUnit(CalibrationSheet sheet, ChannelDefinition channel, out string unit)
    {
        unit = sheet.Reference?.Unit ?? channel.Unit;
        if (!Unit.TryParse(unit, out Unit from) || !from.ConvertsTo(Unit.Parse(channel.Unit)))
        {
            throw new SheetException("reference.unit", $"The reference reads '{unit}', which does not turn into {channel.Unit}.", $"Write {channel.Unit} or another unit of the same kind.");
        }

        return Affine.Between(from, Unit.Parse(channel.Unit));
    }

    private static ReferenceFacts Reference(ReferenceSheet? sheet, string unit, Affine toUnit)
    {
        string name = Trimmed(sheet?.Name, "reference.name")
            ?? throw new SheetException("reference.name", "The reference has no name.", "Write what the points were held against, so that it is found again.");
        double coverage = sheet!.Coverage ?? 2;
        if (!(coverage >= 1 && coverage <= 5))
        {
            throw new SheetException("reference.coverage", "The k of an expanded uncertainty is from 1 to 5.", "Take it from the reference's certificate; it is 2 nearly always.");
        }

        string? due = Trimmed(sheet.Due, "reference.due");
        if (due is not null && !DateOnly.TryParseExact(due, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out _))
        {
            throw new SheetException("reference.due", $"'{due}' is no day.", "Write year, month and day, such as 2027-03-01.");
        }

        double? expanded = sheet.Uncertainty is { } u ? NotBelowZero(u, "reference.uncertainty") : null;
        return new ReferenceFacts(
            name, Trimmed(sheet.Serial, "reference.serial"), Trimmed(sheet.Certificate, "reference.certificate"), due, unit, expanded, coverage,
            NotBelowZero(sheet.Resolution ?? 0, "reference.resolution"), Math.Abs(toUnit.Gain) * (expanded ?? 0) / coverage);
    }

    private static List<CalibrationPoint> Points(CalibrationSheet sheet, Affine toUnit)
    {
        IReadOnlyList<PointSheet> given = sheet.Points ?? [];
        if (given.Count is 0 or > MostPoints)
        {
            throw new SheetException("points", $"There are {given.Count} points; 3 to {MostPoints} can be used.", "Five up and five down over the whole range are usual.");
        }

        var points = new List<CalibrationPoint>();
        for (int i = 0; i < given.Count; i++)
        {
            PointSheet point = given[i];
            string field = $"points[{i}]";
            if (point.Raw is not { Count: > 0 and <= MostReadings } raw || !raw.All(double.IsFinite))
            {
                throw new SheetException($"{field}.raw", $"Point {i + 1} has no reading of the input, or one that is no number.", "Write one or more raw readings.");
            }

            double read = Finite(point.Reference ?? throw new SheetException($"{field}.reference", $"Point {i + 1} lacks what the reference read.", "Write it in the reference's unit."), $"{field}.reference");
            bool falling = point.Direction switch
            {
                "up" => false,
                "down" => true,
                null => i > 0 && toUnit.Apply(read) < points[^1].Reference,
                _ => throw new SheetException($"{field}.direction", $"'{point.Direction}' is no direction.", "Write up or down."),
            };
            points.Add(new CalibrationPoint(toUnit.Apply(Finite(point.Nominal ?? read, $"{field}.nominal")), toUnit.Apply(read), raw, falling));
        }

        return points;
    }

    /// <summary>Where the channel is used, if that was calibrated; else null.</summary>
    private static double? RawAtSetpoint(ChannelDefinition channel, Calibration inForce, IReadOnlyList<CalibrationPoint> points)
    {
        double least = points.Min(p => p.Reference);
        double greatest = points.Max(p => p.Reference);
        return channel.Setpoint is { } setpoint && setpoint >= least && setpoint <= greatest && inForce is LineCalibration { Gain: not 0 } line
            ? (setpoint - line.Offset) / line.Gain
            : null;
    }

    private static Calibration Conversion(CalibrationCurve curve)
    {
        double[] coefficients = [.. curve.Coefficients().Select(c => c.Value)];
        return coefficients.Length == 2 ? new LineCalibration(coefficients[1], coefficients[0]) : new PolynomialCalibration(coefficients);
    }

    private static PointFacts Facts(WorkedPoint point, bool? settled) => new(
        point.Point.Nominal, point.Point.Falling ? "down" : "up", point.Point.Reference, point.Point.Raw, point.Raw, point.Deviation, settled, point.AsFound, point.AsLeft, point.CurveUncertainty);

    private static FitFacts Fit(CalibrationCurve curve, double origin) => new(
        curve.Degree, origin, [.. curve.Coefficients(origin).Select(c => new CoefficientFacts(c.Value, c.StandardUncertainty))],
        curve.Degree == 1 ? NullIfNaN(curve.Correlation(0, 1, origin)) : null, curve.ResidualDeviation, curve.Freedom, curve.Least, curve.Greatest);

    private static BudgetFacts Facts(UncertaintyBudget budget) => new(
        budget.AtRaw, budget.Combined.Value,
        [.. budget.Lines.Select(l => new BudgetLineFacts(l.Source, l.Type.ToString(), l.Basis, l.Standard, Known(l.Freedom)))],
        budget.Combined.StandardUncertainty, Known(budget.Combined.Freedom), UncertaintyBudget.CoverageFactor, budget.Expanded, budget.FactorFor95);

    private static ErrorFacts Facts(ErrorSummary summary) => new(summary.Largest, summary.AtReference, summary.Expanded, Slugs.Of(summary.Conformity));

    private static double? Known(double freedom) => double.IsFinite(freedom) ? freedom : null;

    private static double? NullIfNaN(double value) => double.IsNaN(value) ? null : value;

    private static string Day(DateTimeOffset instant) => instant.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static string? Trimmed(string? text, string field) =>
        string.IsNullOrWhiteSpace(text) ? null
        : text.Length > 400 || text.Any(char.IsControl) ? throw new SheetException(field, $"'{field}' is longer than 400 characters or holds control characters.", "Write it shorter, in plain text.")
        : text.Trim();

    private static double Finite(double value, string field) =>
        double.IsFinite(value) ? value : throw new SheetException(field, $"'{field}' is no finite number.", "Write a number.");

    private static double NotBelowZero(double value, string field) =>
        value >= 0 && double.IsFinite(value) ? value : throw new SheetException(field, $"'{field}' is {value.ToString(CultureInfo.InvariantCulture)}, which can't be.", "Write a number that is not below zero.");

    private static int Within(int value, int least, int most, string field) =>
        value >= least && value <= most ? value : throw new SheetException(field, $"'{field}' is {value}.", $"Write a whole number from {least} to {most}.");
}
