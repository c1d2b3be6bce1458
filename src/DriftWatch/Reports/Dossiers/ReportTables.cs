using System.Globalization;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;

namespace DriftWatch.Reports.Dossiers;

/// <summary>The tables at the end of the report: every channel, baselines, instruments with their calibrations, and the record itself.</summary>
internal static class ReportTables
{
    public static IEnumerable<Block> Blocks(Dossier dossier, ReportClock clock) =>
        [.. Channels(dossier), .. Baselines(dossier, clock), .. Instruments(dossier), .. Record(dossier, clock)];

    private static IEnumerable<Block> Channels(Dossier dossier)
    {
        yield return new Heading("Every channel over the run", OnNewPage: true);
        Column[] columns =
        [
            new Column("channel", 2.4), new Column("unit", 0.85), new Column("least", 0.95, true), new Column("mean", 0.95, true), new Column("greatest", 1.1, true),
            new Column("tolerance used", 1.5, true), new Column("drift an hour", 1.15, true), new Column("95 % interval", 1.75, true),
        ];
        yield return new Table(
            "As measured.",
            [.. columns, new Column("read", 0.9, true), new Column("faults", 0.9, true)],
            [.. dossier.Channels.Where(c => !c.IsDerived).Select(c => Row(c, [Coverage(c), new Cell(Count(c.Faults), c.Faults > 0 ? Standing.Doubtful : null)]))]);
        yield return new Table(
            "Worked out from the channels, once a second.",
            columns,
            [.. dossier.Channels.Where(c => c.IsDerived && c.Count > 0).Select(c => Row(c, []))]);
        yield return new Paragraph(
            "Least and greatest hold the extremes inside the reading periods. Tolerance used: how far the most extreme mean of ten seconds went on the way from the tape's baseline (else the "
            + "setpoint, else the mean) to the limit that is met first; past: it went beyond the limit. Drift: a straight line through means of ten seconds, its interval "
            + "widened for what one mean tells of the next; ◇ where the interval leaves out zero. Read: readings over those due. "
            + Untold(dossier), Tone.Small);
    }

    private static string Untold(Dossier dossier)
    {
        List<string> silent = [.. dossier.Channels.Where(c => c.Count == 0).Select(c => c.Channel.Label)];
        return silent.Count == 0 ? "" : $"Not told in the run, because readings for them were missing: {string.Join(", ", silent)}.";
    }

    private static IReadOnlyList<Cell> Row(ChannelSummary channel, IReadOnlyList<Cell> more)
    {
        Standing? use = channel.Use is not { Share: >= 1 } ? null : channel.Use.Severity == Severity.Alarm ? Standing.Bad : Standing.Doubtful;
        return
        [
            channel.Channel.Label, NumberText.Unit(channel.Channel.Unit), Number(channel.Least), Number(channel.Mean), Number(channel.Greatest),
            new Cell(UseText(channel.Use), use),
            new Cell(Number(channel.Drift?.PerHour), channel.Drift is { IsDrift: true } ? Standing.Doubtful : null),
            channel.Drift is { } drift ? $"{NumberText.Short(drift.Low)} to {NumberText.Short(drift.High)}" : "",
            .. more,
        ];
    }

    private static string UseText(ToleranceUse? use) => use switch
    {
        null => "",
        { Share: >= 1 } => $"past {(use.Side == LimitSide.Low ? "low" : "high")} {Slugs.Of(use.Severity)}",
        _ => string.Create(CultureInfo.InvariantCulture, $"{Math.Max(0, 100 * use.Share):0} % ({(use.Side == LimitSide.Low ? "low" : "high")})"),
    };

    private static Cell Coverage(ChannelSummary channel) => channel.Coverage is { } share
        ? new Cell((100 * share).ToString("0.#", CultureInfo.InvariantCulture) + " %", share < 0.99 ? Standing.Doubtful : null)
        : "";

    private static IEnumerable<Block> Baselines(Dossier dossier, ReportClock clock)
    {
        yield return new Heading("Line-up and baseline");
        if (dossier.Baseline is not { } now)
        {
            yield return new Paragraph("No baseline was in force while the tape ran: limits that are held against one were not judged, and the drift of a tape from its own line-up can't be told.");
            yield break;
        }

        yield return new Paragraph($"In force: {Words(now, clock)}.");
        if (dossier.BaselineBefore is not { } before)
        {
            yield return new Paragraph("It is the first on this bench, so there is nothing to hold it against.");
            yield return new Table(
                "What every channel was when it was taken.",
                [new Column("channel", 3), new Column("unit", 1), new Column("value", 1.2, true), new Column("standard error", 1.4, true), new Column("calibration", 1, true)],
                [.. now.Values.Select(v => (IReadOnlyList<Cell>)[Label(dossier, v.Channel), NumberText.Unit(v.Unit), Number(v.Value), Number(v.StandardError), v.CalibrationVersion?.ToString(CultureInfo.InvariantCulture) ?? ""])]);
            yield break;
        }

        yield return new Paragraph($"Before it: {Words(before, clock)}.");
        yield return new Table(
            "What has changed from the one to the other.",
            [
                new Column("channel", 3), new Column("unit", 0.9), new Column("before", 1.1, true), new Column("after", 1.1, true), new Column("difference", 1.2, true),
                new Column("standard errors", 1.1, true), new Column("", 2.2),
            ],
            [.. BaselineComparison.Of(before, now).Select(d => (IReadOnlyList<Cell>)[
                Label(dossier, d.Channel), NumberText.Unit(d.Unit), Number(d.Before?.Value), Number(d.After?.Value), Number(d.Difference),
                d.Errors is { } errors ? errors.ToString("0.0", NumbersForPeople.Format) : "", d.Remark])]);
    }

    private static string Words(TakenBaseline baseline, ReportClock clock) =>
        $"taken {clock.Instant(baseline.UtcNanoseconds)} {clock.Zone} by {(baseline.By == "automatic" ? "the machine's own rule" : baseline.By)}, {Slugs.Of(baseline.Standing)}, "
        + $"{FigureFrame.WordOf(baseline.State)}, {baseline.Values.Count} values{(baseline.Unwell.Count > 0 ? "; while it was taken this was wrong: " + string.Join(", ", baseline.Unwell) : "")}";

    private static IEnumerable<Block> Instruments(Dossier dossier)
    {
        yield return new Heading("Instruments and calibrations");
        yield return new Table(
            "How each channel came to its numbers over the run.",
            [new Column("channel", 2), new Column("instrument, input", 2), new Column("every", 0.7, true), new Column("calibration", 2.2), new Column("U, k = 2", 1, true), new Column("due", 0.9), new Column("by whom, against what", 2.8)],
            [.. dossier.Calibrations.Select(c => (IReadOnlyList<Cell>)[
                c.Channel.Label, Source(c.Channel, dossier.Bench), Period(c.Channel.Period), Form(c), Uncertainty(c), Due(c.Calibration, dossier), Against(c)])]);
        string stated = dossier.Calibrations.Any(c => c.Document is not null)
            ? "U is the expanded uncertainty of a calibration made with DriftWatch, after the GUM; its budget and its points are in the evidence package. Where none stands, nobody has stated one"
            : "No calibration of this bench states an uncertainty, unless its note does";
        yield return new Paragraph(
            $"Version 1 is that of the bench file. {stated}: what is said above of spread and drift is that of the readings, and an offset of an instrument is in none of it.", Tone.Small);
    }

    private static string Uncertainty(DossierCalibration used) =>
        used.Document is { } document ? $"{new CalibrationFigures(document).Value(document.Budget.Expanded)} {NumberText.Unit(used.Channel.Unit)}" : "";

    private static Cell Against(DossierCalibration used) => used.Document is { Reference: var reference } document
        ? new Cell(
            string.Join(", ", new[] { document.By, reference.Name, reference.Serial, reference.Certificate }.Where(w => w is { Length: > 0 }))
            + CalibrationWords(document.AsLeft.Conformity),
            document.AsLeft.Conformity is "outside" ? Standing.Bad : document.AsLeft.Conformity is "undecided" ? Standing.Doubtful : null)
        : used.Calibration.Note ?? new Cell("not told", Standing.Open);

    private static string CalibrationWords(string conformity) => conformity switch
    {
        "within" => "; within its tolerance as left",
        "outside" => "; not within its tolerance as left",
        "undecided" => "; too near to its tolerance to say",
        _ => "",
    };

    private static string Source(ChannelDefinition channel, BenchDefinition bench) => channel.Ratio is { } ratio
        ? $"{ratio.Of} over {ratio.Over}"
        : $"{bench.Instruments.FirstOrDefault(i => i.Id == channel.Instrument)?.Label ?? channel.Instrument}, {channel.Input}";

    private static string Period(TimeSpan period) => period.TotalSeconds >= 1
        ? period.TotalSeconds.ToString("0.##", CultureInfo.InvariantCulture) + " s"
        : period.TotalMilliseconds.ToString("0.#", CultureInfo.InvariantCulture) + " ms";

    private static string Form(DossierCalibration used)
    {
        ChannelDefinition channel = used.Channel;
        string form = used.Calibration switch
        {
            LineCalibration { Gain: 1, Offset: 0 } => $"as read, {channel.RawUnit}",
            LineCalibration line => $"{NumberText.Short(line.Gain)} {channel.Unit} for each {channel.RawUnit}, offset {NumberText.Short(line.Offset)}",
            PolynomialCalibration polynomial => $"polynomial of degree {polynomial.Coefficients.Count - 1} in {channel.RawUnit}",
            TableCalibration table => $"table of {table.Raw.Count} points in {channel.RawUnit}",
            _ => "",
        };
        return string.Create(CultureInfo.InvariantCulture, $"version {used.Calibration.Version}: {form}");
    }

    private static Cell Due(Calibration calibration, Dossier dossier) => calibration.Due is { } due
        ? new Cell(
            due.ToString("d MMM yyyy", CultureInfo.InvariantCulture),
            due < DateOnly.FromDateTime(UtcText.ToDateTimeOffset(dossier.Run.Stretch.FromUtc).UtcDateTime) ? Standing.Bad : null)
        : "";

    private static IEnumerable<Block> Record(Dossier dossier, ReportClock clock)
    {
        RecordFacts record = dossier.Record;
        yield return new Heading("The record");
        yield return new Facts(
        [
            new Fact("Span", clock.Stretch(dossier.Span)),
            new Fact("Inputs", $"{Count(record.Inputs)}, numbers {Count(record.FirstNumber)} to {Count(record.LastNumber)}"),
            new Fact("Readings", $"{Count(record.Readings)}; faults {Count(record.Faults)}; too late to be judged {Count(record.Late)}"),
            new Fact("Not watched", dossier.Unwatched.Count == 0 ? "nothing of the span" : string.Join("; ", dossier.Unwatched.Select(clock.Stretch))),
            new Fact("Software", $"DriftWatch {dossier.Software}"),
        ]);
        yield return new Facts(
        [
            new Fact("SHA-256 of the record", record.Sha256),
            new Fact("SHA-256 of the bench file", dossier.Bench.SourceHash),
        ], IsCode: true);
        yield return new Paragraph(
            $"The first is taken over the exact log of the span as the evidence package holds it, unpacked: {Count(record.Bytes)} bytes. It holds every reading, fault, frame and act of a person in the order in which "
            + "they were judged, with the clock and the bench that were in force put before them. The second is taken over the bench file, the device profiles it uses and, where it names any, the site's lists of checks, line-up and rules; "
            + "every finding names it. Derived quantities are worked out again from the record, by the engine that judged, and begin with the span.", Tone.Small);
    }

    private static string Label(Dossier dossier, string id) => dossier.Channels.FirstOrDefault(c => c.Channel.Id == id)?.Channel.Label ?? id;

    private static string Number(double? value) => value is { } number ? NumberText.Short(number) : "";

    private static string Count(long value) => value.ToString("N0", CultureInfo.InvariantCulture);
}
