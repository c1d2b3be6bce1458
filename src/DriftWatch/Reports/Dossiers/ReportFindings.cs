using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports.Dossiers;

/// <summary>The part of the report that tells what was found, which alarms it gave and what people did.</summary>
internal static class ReportFindings
{
    public static IEnumerable<Block> Blocks(Dossier dossier, ReportClock clock)
    {
        yield return new Heading("What was found", OnNewPage: true);
        foreach (Block leftOut in LeftOutOf(dossier))
        {
            yield return leftOut;
        }

        if (dossier.Findings.Count == 0)
        {
            yield return new Paragraph("No advisory and no alarm from the first instant of the span to the last.");
        }
        else
        {
            yield return new Table(
                $"Numbers are those of the discs in the drawings. What one cause puts together stands under it. Times in {clock.Zone}.",
                [
                    new Column("", 0.7), new Column("from", 0.9), new Column("to", 0.9), new Column("on the tape", 0.95), new Column("subject", 1.7),
                    new Column("what was said", 4.4),
                ],
                [.. Ordered(dossier).Select(f => Row(f, dossier, clock))]);
        }

        yield return new Subheading("Alarms, and who answered for them");
        if (dossier.Alarms.Count == 0)
        {
            yield return new Paragraph("None was raised.");
        }
        else
        {
            yield return new Table(
                $"From the book of alarms. Times in {clock.Zone}.",
                [new Column("raised", 1), new Column("over", 1), new Column("priority", 0.8), new Column("what", 4), new Column("answered for", 2)],
                [.. dossier.Alarms.Select(a => AlarmRow(a, clock))]);
        }

        yield return new Subheading("What else happened");
        if (dossier.Notes.Count == 0)
        {
            yield return new Paragraph("Nothing was noted.");
        }
        else
        {
            yield return new Table(
                $"Marks, baselines, restarts, clock steps and benches that came into force. Times in {clock.Zone}.",
                [new Column("at", 1), new Column("on the tape", 1), new Column("what", 7)],
                [.. dossier.Notes.Select(n => (IReadOnlyList<Cell>)[clock.Time(n.StartUtc), PlaceOf(dossier, n.StartUtc), n.Text])]);
        }
    }

    /// <summary>Said where a report tells what was wrong; nothing where all is told.</summary>
    public static IEnumerable<Block> LeftOutOf(Dossier dossier) =>
        LeftOut.Blocks(dossier.LinesLeftOut, "A package of the same span has all of them in findings.jsonl; a report on a shorter span tells more.");

    /// <summary>A cause stands before what belongs to it.</summary>
    private static IEnumerable<DossierFinding> Ordered(Dossier dossier) =>
        dossier.Findings.OrderBy(f => f.Episode ?? f.Number).ThenBy(f => f.Episode is null ? 0 : 1).ThenBy(f => f.Number);

    private static IReadOnlyList<Cell> Row(DossierFinding finding, Dossier dossier, ReportClock clock)
    {
        FindingLine line = finding.Line;
        string subject = finding.IsCause ? "cause" : LabelOf(dossier, line.Channel) ?? line.Kind;
        return
        [
            new Cell(finding.Number.ToString(CultureInfo.InvariantCulture), line.Severity == Severity.Alarm ? Standing.Bad : Standing.Doubtful),
            clock.Time(finding.FromUtc),
            finding.ToUtc is { } end ? clock.Time(end) : "lasts",
            PlaceOf(dossier, finding.FromUtc),
            finding.Episode is null ? subject : "  " + subject,
            finding.Members.Count > 0 ? $"{line.Text} Belonging to it: {string.Join(", ", finding.Members)}." : line.Text,
        ];
    }

    private static IReadOnlyList<Cell> AlarmRow(AlarmStory alarm, ReportClock clock) =>
    [
        clock.Time(alarm.RaisedUtc),
        alarm.ReturnedUtc is { } over ? clock.Time(over) : "lasts",
        Slugs.Of(alarm.Priority),
        alarm.Cause is { } cause && cause != "unknown" ? $"{alarm.Text} Cause: {cause}." : alarm.Text,
        alarm.Acts.Count > 0 ? string.Join(" ", alarm.Acts.Select(a => Act(a, clock))) : new Cell("nobody", Standing.Open),
    ];

    /// <summary>Who did what, when and why; that it was shelved, and until when, is no less an answer than that it was taken on.</summary>
    private static string Act(AlarmTransition act, ReportClock clock)
    {
        string did = act.Step switch
        {
            AlarmStep.Acknowledged => "acknowledged it",
            AlarmStep.Shelved => act.ShelvedUntilUtc is { } until ? $"shelved it until {clock.Time(until)}" : "shelved it",
            AlarmStep.Unshelved => "took it off the shelf",
            AlarmStep.TakenOutOfService => "took it out of service",
            _ => "put it back in service",
        };
        return $"{ReportWho.Of(act.By!, act.Identity)} {did}, {clock.Time(act.AtUtc)}{(act.Why is { Length: > 0 } why ? $": {why.TrimEnd('.')}" : "")}.";
    }

    private static string? LabelOf(Dossier dossier, string? id) => dossier.Channels.FirstOrDefault(c => c.Channel.Id == id)?.Channel.Label ?? id;

    private static string PlaceOf(Dossier dossier, long utc) => dossier.Run.PlaceOf(utc) is { } place ? FigureFrame.PlaceText(place) : "";
}
