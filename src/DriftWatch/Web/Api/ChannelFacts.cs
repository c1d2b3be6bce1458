using System.Globalization;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Web.Api;

/// <summary>The ids of the two channels whose readings of one scan are divided.</summary>
internal sealed record RatioAnswer(string Of, string Over);

/// <summary>
/// How a reading in <c>RawUnit</c> becomes a value in the channel's unit. <c>Form</c> is <c>line</c> (<c>Gain</c> times the raw reading plus <c>Offset</c>),
/// <c>polynomial</c> (<c>Coefficients</c>, lowest order first) or <c>table</c> (straight lines through <c>Raw</c> and <c>Values</c>); what another form has is
/// null. <c>ValidFrom</c> and <c>Entered</c> are in UTC, null for the bench file's first;
/// <c>Due</c> is the day (2027-03-01) from which it should be done again, null when nobody has said.
/// </summary>
internal sealed record CalibrationAnswer(
    int Version,
    string Form,
    string RawUnit,
    double? Gain,
    double? Offset,
    IReadOnlyList<double>? Coefficients,
    IReadOnlyList<double>? Raw,
    IReadOnlyList<double>? Values,
    string? ValidFrom,
    string? Entered,
    string? Note,
    string? Due)
{
    public static CalibrationAnswer Of(ChannelDefinition channel)
    {
        Calibration calibration = channel.Calibration;
        var line = calibration as LineCalibration;
        var polynomial = calibration as PolynomialCalibration;
        var table = calibration as TableCalibration;
        return new CalibrationAnswer(
            calibration.Version,
            line is not null ? "line" : polynomial is not null ? "polynomial" : "table",
            channel.RawUnit,
            line?.Gain,
            line?.Offset,
            polynomial?.Coefficients,
            table?.Raw,
            table?.Values,
            Utc(calibration.ValidFromUtcNanoseconds),
            Utc(calibration.EnteredUtcNanoseconds),
            calibration.Note,
            calibration.Due?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
    }

    private static string? Utc(long? nanoseconds) => nanoseconds is { } at ? UtcText.FromNanoseconds(at) : null;
}

/// <summary>
/// What a reading may be without being a fault. <c>RawLow</c> and <c>RawHigh</c> in the raw unit, <c>Low</c> and <c>High</c> the same in the channel's unit;
/// null where there is no such bound, or where the calibration is not monotonic. <c>GreatestStep</c> in the raw unit from one reading to the next.
/// </summary>
internal sealed record RangeAnswer(double? RawLow, double? RawHigh, double? Low, double? High, double? GreatestStep, double? StuckAfterSeconds)
{
    public static RangeAnswer Of(ChannelDefinition channel)
    {
        FaultRules rules = channel.Faults;
        int direction = channel.Calibration.Direction;
        double? atLow = Converted(rules.Low), atHigh = Converted(rules.High);
        return new RangeAnswer(
            rules.Low,
            rules.High,
            direction < 0 ? atHigh : atLow,
            direction < 0 ? atLow : atHigh,
            rules.MaximumStep,
            rules.StuckAfter?.TotalSeconds);

        double? Converted(double? raw) =>
            direction != 0 && raw is { } known && channel.Calibration.Convert(known) is var value && double.IsFinite(value) ? value : null;
    }
}

/// <summary>
/// What judgement works out from channels and holds to limits like one; <c>Meaning</c> says how, <c>Needs</c> from which roles. Limits in <c>Unit</c>.
/// </summary>
internal sealed record QuantityAnswer(
    string Id, string Label, string Kind, int? Head, string Unit, string Meaning, string Needs, IReadOnlyList<LimitAnswer> Limits)
{
    public static QuantityAnswer Of(QuantityDefinition quantity)
    {
        QuantityRow row = DefaultQuantities.Table.First(r => r.Kind == quantity.Kind);
        return new QuantityAnswer(
            quantity.Id,
            quantity.Label,
            Slugs.Of(quantity.Kind),
            quantity.Head,
            quantity.Unit,
            row.Meaning,
            row.Needs,
            [.. quantity.Limits.Select(l => LimitAnswer.Of(l, Slugs.Of(quantity.Kind)))]);
    }
}
