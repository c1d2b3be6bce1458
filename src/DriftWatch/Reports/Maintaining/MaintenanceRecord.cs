using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Analysis.Trend;
using DriftWatch.Measurement.Benches;
using DriftWatch.Reports.Documents;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports.Maintaining;

/// <summary>
/// What a span of weeks or months says of a machine, across its tapes: what page, API and monthly report tell, and nothing else. It judges
/// nothing: every number has its unit, how many it rests on, and its uncertainty where there is one. UTC in nanoseconds since 1970.
/// </summary>
internal sealed record MaintenanceRecord
{
    public required BenchDefinition Bench { get; init; }

    public required UtcStretch Span { get; init; }

    /// <summary>Finding lines of the span, the oldest, that are counted in nothing here: hours of tape, causes and sags miss them.</summary>
    public long LinesLeftOut { get; init; }

    /// <summary>The same in words; null where all are counted.</summary>
    public string? LeftOutWords => LeftOut.Words(LinesLeftOut, "Hours of tape, causes and sags miss them; a record of fewer months counts all.");

    /// <summary>Hours of the span that were watched, and in which tape was seen to run.</summary>
    public required double WatchedHours { get; init; }

    public required double TapeHours { get; init; }

    /// <summary>Baselines of the span that trends rest on; the provisional ones are left out.</summary>
    public required int Baselines { get; init; }

    public required int Provisional { get; init; }

    public required HourMeter Hours { get; init; }

    /// <summary>RF level of each head at line-up.</summary>
    public required IReadOnlyList<UpkeepLine> Heads { get; init; }

    /// <summary>Each head against the median of the others, of which the tape has no part.</summary>
    public required IReadOnlyList<HeadAgainstOthers> Against { get; init; }

    /// <summary>What line-ups wrote down of matching and equalisation.</summary>
    public required IReadOnlyList<WrittenStep> Equalising { get; init; }

    public required AirQuality Air { get; init; }

    /// <summary>Supply, regulator, filter and compressor at line-up.</summary>
    public required IReadOnlyList<UpkeepLine> Compressor { get; init; }

    /// <summary>How often judging named each cause in the span, the most often first.</summary>
    public required IReadOnlyList<NamedCause> Causes { get; init; }

    /// <summary>Sags of the regulated air and how long they took to come back.</summary>
    public required Sags Sags { get; init; }

    public required IReadOnlyList<TapeGeometry> Tapes { get; init; }

    /// <summary>How far tapes differ in skew and scallop, beside what one is known to.</summary>
    public required IReadOnlyList<GeometrySpread> Spread { get; init; }

    /// <summary>Recordings whose head steps are not those of the others, in the order of their line-ups; a shortfall with too few tapes to say.</summary>
    public required Answer<List<StandingOutTape>> StandingOut { get; init; }

    /// <summary>Calibrations that were made by a sheet in the span, and what had moved.</summary>
    public required IReadOnlyList<CalibrationMove> Calibrations { get; init; }

    public required AlarmHealthReport Alarms { get; init; }
}

/// <param name="Utc">When.</param>
/// <param name="Value">In the line's unit.</param>
/// <param name="StandardError">Null where it can't be told.</param>
internal sealed record UpkeepPoint(long Utc, double Value, double? StandardError);

/// <summary>One channel or quantity over the line-ups of the span.</summary>
/// <param name="Id">Of the channel or quantity.</param>
/// <param name="Label">For people.</param>
/// <param name="Unit">Of values; slopes are in it a week.</param>
/// <param name="Head">1 to 4 where it is of one.</param>
/// <param name="Points">Oldest first.</param>
/// <param name="Trend">Theil and Sen's slope with 95 %; what is missing for it, else.</param>
/// <param name="PerHundredHours">The same over head hours instead of days; null for what has nothing to do with them.</param>
internal sealed record UpkeepLine(
    string Id, string Label, string Unit, int? Head, IReadOnlyList<UpkeepPoint> Points, Answer<BaselineTrend> Trend, Answer<TheilSenFit>? PerHundredHours = null);

/// <param name="Head">1 to 4.</param>
/// <param name="Trend">By least squares, see <see cref="HeadWear"/>; what is missing for it, else.</param>
internal sealed record HeadAgainstOthers(int Head, Answer<HeadWearTrend> Trend);

/// <summary>The hour meter of the head wheel, as people wrote it down.</summary>
/// <param name="Readings">Of the span, and the last one before it; oldest first.</param>
/// <param name="Limit">Of the site's check list; null where it has none.</param>
/// <param name="LimitSource">Where that number comes from.</param>
/// <param name="RanSince">Hours that tape was seen to run since the last reading; null without one.</param>
internal sealed record HourMeter(IReadOnlyList<HourReading> Readings, double? Limit, string? LimitSource, double? RanSince)
{
    /// <summary>What was read last, and what tape ran since, come to the limit or more.</summary>
    public bool IsPastLimit => Readings.Count > 0 && Readings[^1].Hours + (RanSince ?? 0) >= Limit;

    /// <summary>Hours a week between the first and the last reading; null with fewer than two, or where the meter ran back.</summary>
    public double? PerWeek => Readings.Count >= 2 && Readings[^1].Utc > Readings[0].Utc && Readings.Zip(Readings.Skip(1)).All(p => p.Second.Hours >= p.First.Hours)
        ? (Readings[^1].Hours - Readings[0].Hours) / ((Readings[^1].Utc - Readings[0].Utc) / (7 * 86_400e9))
        : null;
}

internal sealed record HourReading(long Utc, double Hours, string By, string Tape);

/// <summary>A step of a line-up as it was written down.</summary>
/// <param name="Utc">When.</param>
/// <param name="Tape">What stands on the box, and the pass.</param>
/// <param name="Step">Key of the step.</param>
/// <param name="Text">Of the step in the site's list.</param>
/// <param name="Unit">Of both values.</param>
/// <param name="Before">Null where it was not read.</param>
/// <param name="After">Null where it was not read.</param>
/// <param name="IsByHand">Read off by a person, not by a channel.</param>
/// <param name="Turned">What was turned, in the person's words.</param>
internal sealed record WrittenStep(long Utc, string Tape, string Step, string Text, string? Unit, double? Before, double? After, bool IsByHand, string? Turned);

/// <summary>The dew point of the span.</summary>
/// <param name="Channel">Its label; null where the bench has none.</param>
/// <param name="Days">One for each day with readings, °C.</param>
/// <param name="WorstHour">The greatest mean of an hour, °C; null without readings.</param>
/// <param name="Uncertainty">Expanded, K, of the calibration in force, with its coverage in words; null where no sheet states one.</param>
internal sealed record AirQuality(string? Channel, IReadOnlyList<AirDay> Days, double? WorstHour, string? Uncertainty);

/// <param name="Utc">Begin of the day, UTC.</param>
/// <param name="Least">With the extremes inside the reading periods.</param>
/// <param name="Mean">Of all readings.</param>
/// <param name="Greatest">With the extremes inside the reading periods.</param>
/// <param name="Count">Readings.</param>
internal sealed record AirDay(long Utc, double Least, double Mean, double Greatest, long Count);

internal sealed record NamedCause(string Cause, int Count, long FirstUtc, long LastUtc, string? FirstAction);

/// <param name="Count">How many came in the span.</param>
/// <param name="MedianSeconds">From begin to end, of those that are over; null with none.</param>
/// <param name="LongestSeconds">Of the same.</param>
/// <param name="DeepestPsi">Greatest depth; null with none.</param>
internal sealed record Sags(int Count, double? MedianSeconds, double? LongestSeconds, double? DeepestPsi);

/// <summary>A recording's geometry against this machine, as its line-up left it.</summary>
/// <param name="Utc">When the baseline was taken.</param>
/// <param name="Tape">What stands on the box.</param>
/// <param name="Transfer">Its id.</param>
/// <param name="Values">Skew, scallop, head steps and what does not repeat; each with its error.</param>
/// <param name="Steps">What its line-up wrote down of the guide.</param>
internal sealed record TapeGeometry(long Utc, string Tape, string Transfer, IReadOnlyList<GeometryValue> Values, IReadOnlyList<WrittenStep> Steps);

/// <summary>A recording one of whose head steps lies far from that of the others: its recorder's own.</summary>
/// <param name="Tape">Whose, as <see cref="TapeGeometry"/> has it.</param>
/// <param name="Step">The head step.</param>
/// <param name="Usual">Median of all recordings.</param>
/// <param name="Score">How many of their usual deviations it lies from there.</param>
internal sealed record StandingOutTape(TapeGeometry Tape, GeometryValue Step, double Usual, double Score);

internal sealed record GeometryValue(string Id, string Label, string Unit, double Value, double? StandardError, int Count);

/// <param name="Id">Of the quantity.</param>
/// <param name="Label">For people.</param>
/// <param name="Unit">Of both.</param>
/// <param name="Tapes">How many have it.</param>
/// <param name="BetweenTapes">Standard deviation from tape to tape; a shortfall with fewer than three.</param>
/// <param name="OfOne">Root of the mean square of their standard errors; null where one has none.</param>
internal sealed record GeometrySpread(string Id, string Label, string Unit, int Tapes, Answer<double> BetweenTapes, double? OfOne);

/// <summary>What a calibration found moved since the one before it, where that is largest.</summary>
/// <param name="Channel">Label.</param>
/// <param name="Unit">Of the difference.</param>
/// <param name="Version">That was entered.</param>
/// <param name="Utc">When.</param>
/// <param name="By">Who made it.</param>
/// <param name="Days">Since the one before; null where nobody knows.</param>
/// <param name="At">Value at which it is.</param>
/// <param name="Difference">New less old.</param>
/// <param name="Uncertainty">Standard uncertainty of it.</param>
/// <param name="PerYear">Null with less than a day between.</param>
/// <param name="IsSignificant">More than its uncertainty, at 95 %.</param>
/// <param name="Basis">What the uncertainty holds.</param>
/// <param name="Due">When it is due again.</param>
internal sealed record CalibrationMove(
    string Channel, string Unit, int Version, long Utc, string By, double? Days, double At, double Difference, double Uncertainty, double? PerYear, bool IsSignificant, string Basis, string Due);
