using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Maintaining;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Web.Api;

/// <summary>
/// A span of weeks or months of a machine. <c>Baselines</c> is how many line-ups trends rest on; values are in the units named, slopes in them a week
/// with intervals of 95 %; what can't be told is null, and <c>Says</c> tells why. <c>LeftOut</c> says how many of the oldest findings are not counted; null where all are.
/// </summary>
internal sealed record MaintenanceAnswer(
    string Bench,
    string From,
    string To,
    double WatchedHours,
    double TapeHours,
    string? LeftOut,
    int Baselines,
    int Provisional,
    HourMeterAnswer Hours,
    IReadOnlyList<UpkeepLineAnswer> Heads,
    IReadOnlyList<WrittenStepAnswer> Equalising,
    AirQualityAnswer Air,
    IReadOnlyList<UpkeepLineAnswer> Compressor,
    Sags Sags,
    IReadOnlyList<NamedCauseAnswer> Causes,
    IReadOnlyList<TapeGeometryAnswer> Tapes,
    IReadOnlyList<GeometrySpreadAnswer> Spread,
    IReadOnlyList<string> StandingOut,
    IReadOnlyList<CalibrationMoveAnswer> Calibrations,
    AlarmHealthAnswer Alarms)
{
    public static MaintenanceAnswer Of(MaintenanceRecord record) => new(
        record.Bench.Id,
        Text(record.Span.FromUtc),
        Text(record.Span.ToUtc),
        record.WatchedHours,
        record.TapeHours,
        record.LeftOutWords,
        record.Baselines,
        record.Provisional,
        new HourMeterAnswer(
            [.. record.Hours.Readings.Select(r => new HourReadingAnswer(Text(r.Utc), r.Hours, r.By, r.Tape))], record.Hours.Limit, record.Hours.LimitSource, record.Hours.RanSince, record.Hours.PerWeek),
        [.. record.Heads.Select(h => UpkeepLineAnswer.Of(h, record.Against.FirstOrDefault(a => a.Head == h.Head)))],
        [.. record.Equalising.Select(WrittenStepAnswer.Of)],
        AirQualityAnswer.Of(record.Air),
        [.. record.Compressor.Select(l => UpkeepLineAnswer.Of(l, null))],
        record.Sags,
        [.. record.Causes.Select(c => new NamedCauseAnswer(c.Cause, c.Count, Text(c.FirstUtc), Text(c.LastUtc), c.FirstAction))],
        [.. record.Tapes.Select(t => new TapeGeometryAnswer(Text(t.Utc), t.Tape, t.Transfer, t.Values, [.. t.Steps.Select(WrittenStepAnswer.Of)]))],
        [.. record.Spread.Select(s => new GeometrySpreadAnswer(
            s.Id, s.Label, s.Unit, s.Tapes, s.BetweenTapes.IsKnown ? s.BetweenTapes.Value : null, s.OfOne, s.BetweenTapes.IsKnown ? "" : MaintenanceWords.TooFew(s.BetweenTapes.Missing!)))],
        MaintenanceWords.StandingOut(record),
        [.. record.Calibrations.Select(c => new CalibrationMoveAnswer(
            c.Channel, c.Unit, c.Version, Text(c.Utc), c.By, c.Days, c.At, c.Difference, c.Uncertainty, c.PerYear, c.IsSignificant, c.Basis, c.Due))],
        AlarmHealthAnswer.Of(record.Alarms));

    internal static string Text(long utc) => UtcText.FromNanoseconds(utc);
}

/// <summary><c>PerWeek</c> is null with fewer than two readings, or where the meter ran back.</summary>
internal sealed record HourMeterAnswer(IReadOnlyList<HourReadingAnswer> Readings, double? Limit, string? LimitSource, double? RanSinceHours, double? PerWeek);

internal sealed record HourReadingAnswer(string At, double Hours, string By, string Tape);

internal sealed record UpkeepPointAnswer(string At, double Value, double? StandardError);

/// <summary>One channel or quantity over the line-ups; <c>Says</c>, <c>OverHours</c> and <c>Against</c> (a head against the others) in words.</summary>
internal sealed record UpkeepLineAnswer(
    string Id, string Label, string Unit, int? Head, IReadOnlyList<UpkeepPointAnswer> Points, int Count, double? PerWeek, double? PerWeekLow, double? PerWeekHigh, string Says, string OverHours, string Against)
{
    public static UpkeepLineAnswer Of(UpkeepLine line, HeadAgainstOthers? against)
    {
        bool known = line.Trend.IsKnown;
        return new UpkeepLineAnswer(
            line.Id, line.Label, line.Unit, line.Head, [.. line.Points.Select(p => new UpkeepPointAnswer(MaintenanceAnswer.Text(p.Utc), p.Value, p.StandardError))], line.Points.Count,
            known ? line.Trend.Value.PerWeek : null, known ? line.Trend.Value.Low : null, known ? line.Trend.Value.High : null,
            MaintenanceWords.Trend(line.Trend, line.Unit), MaintenanceWords.PerHundredHours(line.PerHundredHours, line.Unit), against is null ? "" : MaintenanceWords.Against(against.Trend));
    }
}

internal sealed record WrittenStepAnswer(string At, string Tape, string Step, string Text, string? Unit, double? Before, double? After, bool IsByHand, string? Turned)
{
    public static WrittenStepAnswer Of(WrittenStep step) => new(MaintenanceAnswer.Text(step.Utc), step.Tape, step.Step, step.Text, step.Unit, step.Before, step.After, step.IsByHand, step.Turned);
}

/// <summary>Dew points in °C; <c>Channel</c> is null on a bench without one. <c>Mean</c> is that of the daily means, <c>Class</c> the water class at it and <c>WorstClass</c> in the worst hour, after ISO 8573-1.</summary>
internal sealed record AirQualityAnswer(string? Channel, IReadOnlyList<AirDayAnswer> Days, double? Mean, double? DayToDay, double? WorstHour, string? Class, string? WorstClass, string? Uncertainty)
{
    public static AirQualityAnswer Of(AirQuality air)
    {
        double[] means = [.. air.Days.Select(d => d.Mean)];
        double? mean = means.Length == 0 ? null : means.Mean();
        return new AirQualityAnswer(
            air.Channel, [.. air.Days.Select(d => new AirDayAnswer(MaintenanceAnswer.Text(d.Utc), d.Least, d.Mean, d.Greatest, d.Count))], mean, means.Length >= 3 ? means.StandardDeviation() : null, air.WorstHour,
            mean is { } known ? AirPurity.Designation(known) : null, air.WorstHour is { } worst ? AirPurity.Designation(worst) : null, air.Uncertainty);
    }
}

internal sealed record AirDayAnswer(string Day, double Least, double Mean, double Greatest, long Count);

internal sealed record NamedCauseAnswer(string Cause, int Count, string First, string Last, string? FirstAction);

internal sealed record TapeGeometryAnswer(string At, string Tape, string Transfer, IReadOnlyList<GeometryValue> Values, IReadOnlyList<WrittenStepAnswer> Steps);

internal sealed record GeometrySpreadAnswer(string Id, string Label, string Unit, int Tapes, double? BetweenTapes, double? OfOne, string Says);

/// <summary>Where a calibration found most moved; <c>Uncertainty</c> is standard.</summary>
internal sealed record CalibrationMoveAnswer(
    string Channel, string Unit, int Version, string At, string By, double? Days, double AtValue, double Difference, double Uncertainty, double? PerYear, bool IsSignificant, string Basis, string Due);
