using System.Globalization;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Reports.Maintaining;

/// <summary>The monthly report: a record of maintenance as a document of the blocks that reports are made of.</summary>
internal static class MaintenanceDocument
{
    public static Document Of(MaintenanceRecord record, TimeZoneInfo zone, DateTimeOffset made)
    {
        var clock = new ReportClock(zone);
        List<Block> blocks =
        [
            .. Summary(record),
            .. Heads(record, clock, zone),
            .. Air(record, zone),
            .. Compressor(record, zone),
            .. Geometry(record, clock),
            .. Calibrations(record, clock),
            .. Alarms(record),
        ];
        return new Document(
            "Maintenance report", $"{record.Bench.Machine.Label}, {clock.Stretch(record.Span)}", blocks, made,
            $"Maintenance report, bench {record.Bench.Id}, {clock.Stretch(record.Span)}.");
    }

    private static IEnumerable<Block> Summary(MaintenanceRecord record)
    {
        string provisional = record.Provisional == 0 ? "" : $"; {Whole(record.Provisional)} provisional left out";
        yield return new Facts(
        [
            new Fact("Watched", $"{Hours(record.WatchedHours)}, tape seen to run for {Hours(record.TapeHours)}"),
            new Fact("Line-ups", $"{Many(record.Baselines, "baseline")} that trends rest on{provisional}"),
            new Fact("Tapes", $"{Many(record.Tapes.Count, "transfer")} with a geometry at line-up"),
            new Fact("Alarms", $"{Many(record.Alarms.Calls, "call")} for a person"),
        ]);
        if (record.LeftOutWords is { } leftOut)
        {
            yield return new Paragraph(leftOut);
        }

        yield return new Paragraph(
            "Slopes are medians of all pairs of line-ups (Theil and Sen) with intervals of 95 %, p is how often no change at all shows as much (Mann and Kendall). "
            + "A baseline is the mean of 30 s; tapes differ by more than its standard error on a sound machine, so a level tells of a head only over many tapes. Nothing here is judged anew.", Tone.Small);
    }

    private static IEnumerable<Block> Heads(MaintenanceRecord record, ReportClock clock, TimeZoneInfo zone)
    {
        yield return new Heading("Head hours and wear");
        HourMeter meter = record.Hours;
        if (meter.Readings.Count == 0)
        {
            yield return new Paragraph("The hour meter was never written down here: sign 'head-hours' in the pre-flight with its number.");
        }
        else
        {
            string rate = meter.PerWeek is { } perWeek ? $"{Number(perWeek)} h a week between the first and the last of {Whole(meter.Readings.Count)} readings" : "too few to say, or the meter ran back";
            string limit = meter.Limit is not { } of ? "" : $" {(meter.IsPastLimit ? "Past its limit of" : "Of")} {Number(of)} h ({meter.LimitSource}).";
            yield return new Paragraph($"Last read off {Number(meter.Readings[^1].Hours)} h on {clock.Instant(meter.Readings[^1].Utc)} {clock.Zone}; tape was seen to run for {Hours(meter.RanSince ?? 0)} since.{limit} Rate: {rate}.");
            yield return new Table(
                "The meter as it was written down; a meter shows whole hours, so each may lag by one.", [new Column("read off", 2), new Column("h", 1, true), new Column("by", 2), new Column("tape", 3)],
                [.. meter.Readings.Select(r => (IReadOnlyList<Cell>)[clock.Instant(r.Utc), Number(r.Hours), r.By, r.Tape])]);
        }

        if (record.Heads.Count == 0)
        {
            yield return new Paragraph("This bench has no channel of a head's RF level.");
            yield break;
        }

        foreach (Block figure in Drawn("RF level at line-up", record.Heads.Select(h => (h, h.Head is { } n ? $"head {Whole(n)}" : h.Label)), record.Span, zone))
        {
            yield return figure;
        }

        yield return new Table(
            "RF level of each head at line-up, and against the median of the other heads of the same tape (least squares, Student's t).",
            [new Column("head", 0.8), new Column("n", 0.5, true), new Column("last", 1, true), new Column("level", 3), new Column("over head hours", 2.2), new Column("against the others", 3)],
            [.. record.Heads.Select(h => (IReadOnlyList<Cell>)[
                h.Head is { } n ? Whole(n) : h.Label, Whole(h.Points.Count), Last(h), MaintenanceWords.Trend(h.Trend, h.Unit), MaintenanceWords.PerHundredHours(h.PerHundredHours, h.Unit),
                record.Against.FirstOrDefault(a => a.Head == h.Head) is { } against ? MaintenanceWords.Against(against.Trend) : ""])]);
        yield return new Subheading("Matching and equalisation");
        if (record.Equalising.Count == 0)
        {
            yield return new Paragraph("No line-up wrote down its matching, equaliser or tracking in this span, and no channel here reads a head's equalisation: nothing can be said of it.");
            yield break;
        }

        yield return new Table(
            "No channel reads a head's equalisation: this is what line-ups wrote down.", StepColumns, [.. record.Equalising.Select(s => StepRow(s, clock))]);
    }

    private static IEnumerable<Block> Air(MaintenanceRecord record, TimeZoneInfo zone)
    {
        yield return new Heading("Air quality");
        AirQuality air = record.Air;
        if (air.Channel is null)
        {
            yield return new Paragraph("This bench has no channel of the dew point: nothing can be said of the air's water.");
            yield break;
        }

        if (air.Days.Count == 0 || air.WorstHour is not { } worst)
        {
            yield return new Paragraph("No dew point was read in this span.");
            yield break;
        }

        double[] means = [.. air.Days.Select(d => d.Mean)];
        string spread = means.Length >= 3 ? $", standard deviation from day to day {Number(means.StandardDeviation())} K" : "; too few days for a spread";
        yield return new Facts(
        [
            new Fact("Dew point", $"{Number(means.Mean())} °C, mean over {Many(means.Length, "day")}{spread}"),
            new Fact("Least and greatest", $"{Number(air.Days.Min(d => d.Least))} to {Number(air.Days.Max(d => d.Greatest))} °C; the worst hour's mean {Number(worst)} °C"),
            new Fact("Uncertainty", air.Uncertainty ?? "no calibration by a sheet states one: an offset of the sensor is in none of these numbers"),
            new Fact("Water", $"{AirPurity.Designation(means.Mean())} at the mean, {AirPurity.Designation(worst)} in the worst hour"),
        ]);
        if (means.Length > 1)
        {
            yield return new Figure(
                new UpkeepFigure("Dew point, daily", "°C", record.Span, zone,
                    [new FigureLine("greatest", [.. air.Days.Select(d => new UpkeepPoint(d.Utc + HalfDay, d.Greatest, null))]), new FigureLine("mean", [.. air.Days.Select(d => new UpkeepPoint(d.Utc + HalfDay, d.Mean, null))])]),
                $"Days of UTC with readings, {Whole(air.Days.Count)} of them.");
        }

        yield return new Paragraph($"Class after ISO 8573-1:2010 by the pressure dew point alone: {AirPurity.Particles.Says}; {AirPurity.Oil.Says}.", Tone.Small);
    }

    private static IEnumerable<Block> Compressor(MaintenanceRecord record, TimeZoneInfo zone)
    {
        yield return new Heading("Compressor, filter and regulator");
        if (record.Compressor.Count == 0)
        {
            yield return new Paragraph("No line-up of this span told anything of the air's supply.");
        }
        else
        {
            foreach (Block figure in record.Compressor.Take(2).SelectMany(l => Drawn(l.Label, [(l, "")], record.Span, zone)))
            {
                yield return figure;
            }

            yield return new Table(
                "As worked out from the channels at line-up.", [new Column("quantity", 3), new Column("n", 0.5, true), new Column("last", 1.2, true), new Column("trend", 5)],
                [.. record.Compressor.Select(l => (IReadOnlyList<Cell>)[l.Label, Whole(l.Points.Count), $"{Last(l)} {NumberText.Unit(l.Unit)}".TrimEnd(), MaintenanceWords.Trend(l.Trend, l.Unit)])]);
        }

        yield return new Paragraph(record.Sags is { Count: > 0, MedianSeconds: { } median, LongestSeconds: { } longest } sags
            ? $"Regulated air sagged {Many(sags.Count, "time")} and was back after {Number(median)} s (median; {Number(longest)} s at most){(sags.DeepestPsi is { } deepest ? $", by {Number(deepest)} psi at most" : "")}."
            : $"Regulated air sagged {Many(record.Sags.Count, "time")}.");
        yield return new Paragraph("No channel reads the pressure lost over a filter: what judging says of a filter is by its cause, below, and by 'driftwatch measure filter'.", Tone.Small);
        yield return record.Causes.Count == 0
            ? new Paragraph("Judging named no cause in this span.")
            : new Table(
                "Causes that judging named in this span.", [new Column("cause", 2), new Column("n", 0.5, true), new Column("what it asks first", 6)],
                [.. record.Causes.Select(c => (IReadOnlyList<Cell>)[c.Cause.Replace('-', ' '), Whole(c.Count), c.FirstAction ?? ""])]);
    }

    private static IEnumerable<Block> Geometry(MaintenanceRecord record, ReportClock clock)
    {
        yield return new Heading("Geometry of the recordings");
        if (record.Tapes.Count == 0)
        {
            yield return new Paragraph("No transfer of this span has a line-up baseline with a timing record: nothing can be said of how its tapes were recorded.");
            yield break;
        }

        string[] ids = [.. record.Spread.Select(s => s.Id)];
        yield return new Table(
            "Timing error at line-up by transfer: value ± standard error of half a minute.",
            [new Column("line-up", 1.7), new Column("tape", 1.6), .. record.Spread.Select(s => new Column($"{s.Label}, {NumberText.Unit(s.Unit)}", 1.4, true))],
            [.. record.Tapes.Select(t => (IReadOnlyList<Cell>)[clock.Instant(t.Utc), t.Tape, .. ids.Select(id => (Cell)Value(t.Values.FirstOrDefault(v => v.Id == id)))])]);
        yield return new Table(
            "How far recordings differ, beside what one is known to.",
            [new Column("quantity", 3), new Column("tapes", 0.8, true), new Column("deviation from tape to tape", 2.6, true), new Column("standard error of one", 2, true)],
            [.. record.Spread.Select(s => (IReadOnlyList<Cell>)[
                s.Label, Whole(s.Tapes), s.BetweenTapes.IsKnown ? $"{Number(s.BetweenTapes.Value)} {NumberText.Unit(s.Unit)}" : MaintenanceWords.TooFew(s.BetweenTapes.Missing!),
                s.OfOne is { } one ? $"{Number(one)} {NumberText.Unit(s.Unit)}" : ""])]);
        yield return new Bullets(MaintenanceWords.StandingOut(record));
        List<WrittenStep> steps = [.. record.Tapes.SelectMany(t => t.Steps).OrderBy(s => s.Utc)];
        yield return steps.Count == 0
            ? new Paragraph("No line-up wrote down what it did to the guide.")
            : new Table("What line-ups wrote down of the guide.", StepColumns, [.. steps.Select(s => StepRow(s, clock))]);
        yield return new Paragraph(
            "Which machine recorded a tape is not told: the guide is set to each tape at its line-up, so what is left of skew and scallop is that line-up's rest, and where the guide stood before is not measured. "
            + "Head steps that return from tape to tape are this machine's; one that is a tape's own is its recorder's. One stands out that lies more than 3.5 deviations from the median of all, by their median absolute deviation (Iglewicz and Hoaglin 1993) and its own error.", Tone.Small);
    }

    private static IEnumerable<Block> Calibrations(MaintenanceRecord record, ReportClock clock)
    {
        yield return new Heading("Calibrations");
        if (record.Calibrations.Count == 0)
        {
            yield return new Paragraph("No instrument was calibrated by a sheet in this span, so of what they moved nothing can be said.");
            yield break;
        }

        yield return new Table(
            "What each had moved since the one before, where it moved most; ± twice the standard uncertainty.",
            [new Column("channel", 2), new Column("entered", 2), new Column("days", 0.7, true), new Column("moved", 2.4, true), new Column("a year", 1.2, true), new Column("more than its uncertainty", 1.4), new Column("due", 1.2)],
            [.. record.Calibrations.Select(c => (IReadOnlyList<Cell>)[
                c.Channel, $"{clock.Instant(c.Utc)}, {c.By}", c.Days is { } days ? Number(days) : "", $"{MaintenanceWords.WithError(c.Difference, 2 * c.Uncertainty)} {NumberText.Unit(c.Unit)} at {Number(Math.Round(c.At, 3))}",
                c is { PerYear: { } year, Days: { } span } ? NumberText.To(year, 2 * c.Uncertainty * 365.25 / span) : "", c.IsSignificant ? new Cell("yes", Standing.Doubtful) : "no", c.Due])]);
        yield return new Paragraph($"The uncertainty holds: {string.Join("; ", record.Calibrations.Select(c => c.Basis).Distinct())}.", Tone.Small);
    }

    private static IEnumerable<Block> Alarms(MaintenanceRecord record)
    {
        yield return new Heading("Alarms");
        yield return new Table(
            $"Over {Hours(record.Alarms.WatchedMinutes / 60)} that were watched.",
            [new Column("measure", 3.2), new Column("is", 2.6), new Column("target", 1.8), new Column("source", 2.6)],
            [.. HealthRows.Of(record.Alarms).Select(r => (IReadOnlyList<Cell>)[r.Label, new Cell(r.Value, r.Verdict == HealthVerdict.Over ? Standing.Bad : r.Verdict == HealthVerdict.Bearable ? Standing.Doubtful : null), r.Target, r.Source])]);
        if (record.Alarms.MostFrequent.Count > 0)
        {
            yield return new Table(
                "The tags that called most.", [new Column("tag", 5), new Column("calls", 1, true), new Column("share", 1, true)],
                [.. record.Alarms.MostFrequent.Select(t => (IReadOnlyList<Cell>)[t.Tag, Whole(t.Calls), string.Create(CultureInfo.InvariantCulture, $"{100 * t.Share:0.#} %")])]);
        }

        yield return new Paragraph(HealthRows.Caveat, Tone.Small);
    }

    private const long HalfDay = 12L * 3600 * EngineTime.NanosecondsPerSecond;

    private static Column[] StepColumns =>
        [new Column("at", 1.8), new Column("tape", 1.7), new Column("step", 3), new Column("before", 1, true), new Column("after", 1, true), new Column("read", 0.9), new Column("turned", 1.6)];

    private static IReadOnlyList<Cell> StepRow(WrittenStep step, ReportClock clock) =>
    [
        clock.Instant(step.Utc), step.Tape, step.Text, With(step.Before, step.Unit), With(step.After, step.Unit), step.IsByHand ? "by hand" : "by channel", step.Turned ?? "",
    ];

    private static IEnumerable<Block> Drawn(string title, IEnumerable<(UpkeepLine Line, string Name)> lines, UtcStretch span, TimeZoneInfo zone)
    {
        List<(UpkeepLine Line, string Name)> told = [.. lines.Where(l => l.Line.Points.Count > 0)];
        if (told.Exists(t => t.Line.Points.Count > 1)) // one point draws nothing that its number does not say
        {
            yield return new Figure(
                new UpkeepFigure(title, NumberText.Unit(told[0].Line.Unit), span, zone, [.. told.Select(t => new FigureLine(t.Name, t.Line.Points))]),
                "Each point is a baseline; bars are two standard errors to either side, where there are any.");
        }
    }

    private static string Last(UpkeepLine line) => line.Points.Count == 0 ? "" : Number(line.Points[^1].Value);

    private static string Value(GeometryValue? value) =>
        value is null ? "" : value.StandardError is { } error ? MaintenanceWords.WithError(value.Value, error) : NumberText.Short(value.Value);

    private static string With(double? value, string? unit) => value is { } number ? $"{NumberText.Short(number)} {NumberText.Unit(unit ?? "")}".TrimEnd() : "";

    private static string Number(double value) => NumberText.Short(value);

    private static string Hours(double value) => string.Create(CultureInfo.InvariantCulture, $"{value:0.#} h");

    private static string Many(int count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count} {what}{(count == 1 ? "" : "s")}");

    private static string Whole(int value) => value.ToString(CultureInfo.InvariantCulture);
}
