using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>
/// Composes the report of a dossier: a first page for who keeps the tape, then the engineering for who keeps the machine. It
/// judges nothing anew: every number and word comes from the dossier.
/// </summary>
internal static class TransferReport
{
    private const int ToldBreaks = 4; // the strip shows all

    public static Document Of(Dossier dossier, TimeZoneInfo zone, DateTimeOffset made)
    {
        var clock = new ReportClock(zone);
        var frame = new FigureFrame(dossier, zone);
        IReadOnlyList<Trouble> troubles = Trouble.Of(dossier);
        IReadOnlyList<FigureGroup> groups = FigureGroups.Of(dossier);
        List<Block> blocks =
        [
            .. FirstPage(dossier, clock, frame, troubles),
            .. ReportFindings.Blocks(dossier, clock),
            .. ReportTape.Blocks(dossier, clock),
            .. Figures(dossier, frame, groups),
            .. ReportTables.Blocks(dossier, clock),
            .. ReportSettings.Blocks(dossier),
        ];
        string what = dossier.Transfer is null ? "Report on a span of the record" : "Transfer report";
        return new Document(
            what, $"{dossier.Bench.Machine.Label}, {clock.Stretch(dossier.Run.Stretch)}", blocks, made,
            $"{what}, bench {dossier.Bench.Id}, {clock.Stretch(dossier.Run.Stretch)}. DriftWatch {dossier.Software.Split('+')[0]}.");
    }

    private static IEnumerable<Block> FirstPage(Dossier dossier, ReportClock clock, FigureFrame frame, IReadOnlyList<Trouble> troubles)
    {
        yield return Verdict(dossier, troubles);
        List<string> reasons = [.. ReportTape.ReasonsOfThePass(dossier)];
        if (reasons.Count > 0)
        {
            yield return new Bullets(reasons);
        }

        yield return new Facts(
        [
            .. ReportTape.Facts(dossier),
            new Fact("Tape ran", $"{clock.Stretch(dossier.Run.Stretch)}, {ReportClock.Length(dossier.Run.Stretch.Nanoseconds)}{RunWords(dossier.Run.Source)}"),
            new Fact("Watched", Watched(dossier)),
            .. Unread.Words(Unread.Of(dossier.Bench)) is { } unread ? new[] { new Fact("Not read", unread) } : [],
            .. ReportTape.ToRunAgain(dossier),
        ]);
        yield return new Subheading("What was wrong, and where on the tape");
        yield return new Figure(new TapeStrip(frame, troubles), $"Places on the tape, as h:mm:ss, are told {dossier.Run.Position}.{Interrupted(dossier.Run, clock)}{Marked(dossier)}");
        foreach (Block leftOut in ReportFindings.LeftOutOf(dossier))
        {
            yield return leftOut;
        }

        if (troubles.Count == 0)
        {
            yield return new Paragraph(
                reasons.Count > 0 && dossier.Transfer?.Pass.Verdict?.Body.Verdict == Measurement.Transfers.Verdict.RunAgain
                    ? "The readings found nothing at any place on the tape. What the verdict asks for, and why, stands at the head of this page."
                    : TapeStrip.MarksOf(dossier).Length is > 0 and var marks
                    ? $"The readings found nothing that a person should look at. Somebody marked {(marks == 1 ? "one place" : $"{marks} places")} on the tape: the list of what is to be run again has {(marks == 1 ? "it" : "them")}."
                    : "Nothing was found that a person should look at. There is nothing to do.",
                Tone.Lead);
        }
        else
        {
            yield return new Table(
                "",
                [new Column("", 0.6), new Column("on the tape", 1.5), new Column("what was wrong", 4.2), new Column("what to do", 4.2)],
                [.. troubles.Select(t => (IReadOnlyList<Cell>)[
                    new Cell(t.Number.ToString(CultureInfo.InvariantCulture), t.Standing),
                    FigureFrame.PlaceText(dossier.Run, t.Stretch), $"{t.What} {t.OnTheTape}", t.ToDo])]);
        }

        yield return new Subheading("What this rests on");
        yield return new Paragraph(
            $"{dossier.Record.Readings.ToString("N0", CultureInfo.InvariantCulture)} readings of {dossier.Bench.Channels.Count} channels, kept as the instruments gave them and judged while the tape ran. "
            + "The pages behind this one show them; the exact record can be read and judged again, and its checksum proves that it was not changed:");
        yield return new Facts([new Fact("SHA-256 of the record", dossier.Record.Sha256)], IsCode: true);
        yield return new Paragraph(
            "▲ marks an alarm: tape or transfer were at risk. ◇ marks an advisory: worth looking at. ● marks what is in order, ○ what nobody has said yet.", Tone.Small);
    }

    private static string Marked(Dossier dossier) => TapeStrip.MarksOf(dossier).Length switch
    {
        0 => "",
        1 => " The wedge on the upper edge is a mark that somebody set.",
        _ => " Wedges on the upper edge are marks that somebody set.",
    };

    /// <summary>Where a counter did not run on with the tape, or was silent: then a place is less than it seems.</summary>
    private static string Interrupted(DossierRun run, ReportClock clock)
    {
        IReadOnlyList<PlaceBreak> breaks = run.Breaks;
        string set = breaks.Count == 0 ? "" : $" It was set anew or jumped {breaks.Count switch
        {
            1 => "once",
            _ => string.Create(CultureInfo.InvariantCulture, $"{breaks.Count} times"),
        }}, {string.Join("; ", breaks.Take(ToldBreaks).Select(b => $"at {clock.Time(b.ToUtc)} {clock.Zone} from {FigureFrame.PlaceText(b.FromSeconds)} to {FigureFrame.PlaceText(b.ToSeconds)}"))}{(breaks.Count > ToldBreaks ? "; …" : "")}: "
            + "places before and behind that (dashed upright) do not run on, and one place may stand for two.";
        double silent = run.Places?.Silent(run.Stretch.FromUtc, run.Stretch.ToUtc) ?? 0;
        return set + (silent == 0 ? "" : $" It gave no reading for {ReportClock.Length((long)(silent * 1e9))}: there a place is its last reading and the time since.");
    }

    /// <summary>Of the person who gave it; a span has none, and none is made up for it.</summary>
    private static Badge Verdict(Dossier dossier, IReadOnlyList<Trouble> troubles) =>
        ReportTape.Verdict(dossier) ?? new Badge(
            Standing.Open,
            dossier.Transfer is null ? "No transfer, so no verdict" : "No verdict yet",
            (dossier.Transfer is null ? "This span of the record belongs to no transfer that somebody opened. " : "Nobody has given a verdict. ") + AsJudged(troubles));

    private static string AsJudged(IReadOnlyList<Trouble> troubles)
    {
        int bad = troubles.Count(t => t.Standing == Standing.Bad);
        int doubtful = troubles.Count - bad;
        return troubles.Count == 0 ? "While the tape ran, nothing was found that a person should look at."
            : $"While the tape ran, {Many(bad, "grave trouble", "grave troubles")} and {Many(doubtful, "lesser one", "lesser ones")} were found.";

        static string Many(int count, string one, string more) =>
            count == 0 ? $"no {one}" : string.Create(CultureInfo.InvariantCulture, $"{count} {(count == 1 ? one : more)}");
    }

    private static string RunWords(RunSource source) => source switch
    {
        RunSource.State => " (from the machine's state)",
        RunSource.Span => " (no tape was seen to run: the whole span)",
        _ => "",
    };

    private static string Watched(Dossier dossier)
    {
        string share = (100 * dossier.WatchedShare).ToString("0.##", CultureInfo.InvariantCulture) + " % of that time";
        return dossier.WatchedShare >= 1 ? "all the time" : $"{share}; the rest is hatched in the drawings";
    }

    private static IEnumerable<Block> Figures(Dossier dossier, FigureFrame frame, IReadOnlyList<FigureGroup> groups)
    {
        foreach (FigureGroup group in groups)
        {
            yield return new Heading(group.Name, OnNewPage: group == groups[0]);
            yield return new Figure(new GroupFigure(frame, group), Caption(group));
            if (group.Name == "Geometry")
            {
                foreach (IGrouping<string, TurnPicture> turn in dossier.Turns.GroupBy(t => t.Channel.Id))
                {
                    yield return new Figure(
                        new TurnFigure([.. turn]),
                        $"What the wheel drew over one turn, the mean of {turn.First().Frames} frames each. A slope from end to end is skew, a bow is scallop, a step from head to head is quadrature.");
                }
            }
        }

        if (FigureGroups.Missing(groups).ToList() is { Count: > 0 } missing)
        {
            yield return new Paragraph($"This bench has no reading of: {string.Join(", ", missing).ToLowerInvariant()}. Nothing can be said of them.");
        }
    }

    private static string Caption(FigureGroup group) => string.Join(
        ' ',
        group.Panels.Select(p => p.Lines.OrderByDescending(l => l.Use?.Share ?? 0).First()).Where(l => l.Mean is not null).Select(Sentence).Append(
            "Line: mean; band: least and greatest; numbered discs: the findings above; hatched: nobody watched; dotted uprights: the run's begin and end."));

    private static string Sentence(ChannelSummary line)
    {
        string unit = NumberText.Unit(line.Channel.Unit);
        string use = line.Use switch
        {
            null => "",
            { Share: >= 1 } passed => $", past its {(passed.Side == LimitSide.Low ? "low" : "high")} {Slugs.Of(passed.Severity)} limit of {NumberText.Short(passed.Limit)}",
            { } u => string.Create(CultureInfo.InvariantCulture, $", at most {Math.Max(0, 100 * u.Share):0} % of the way from its {u.From} to the {(u.Side == LimitSide.Low ? "low" : "high")} {Slugs.Of(u.Severity)} limit"),
        };
        string drift = line.Drift is { IsDrift: true } d ? $", drifting by {NumberText.Short(d.PerHour)} {unit} an hour ({NumberText.Short(d.Low)} to {NumberText.Short(d.High)})" : "";
        return $"{line.Channel.Label} was {NumberText.Short(line.Least!.Value)} to {NumberText.Short(line.Greatest!.Value)} {unit}{use}{drift}.";
    }
}
