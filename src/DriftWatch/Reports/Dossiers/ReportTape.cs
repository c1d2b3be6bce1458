using System.Globalization;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>What the report says of the tape and of the people's verdict, pre-flight and line-up.</summary>
internal static class ReportTape
{
    private const int LongestInTable = 200; // characters: some eight lines of the narrow column

    public static IEnumerable<Fact> Facts(Dossier dossier)
    {
        if (dossier.Transfer is not { } transfer)
        {
            yield return new Fact("Tape", "none was entered");
            yield return new Fact("Machine", MachineWords(dossier));
            yield break;
        }

        TapeDescribed tape = transfer.Tape;
        yield return new Fact("Tape", tape.Title is { } title ? $"{tape.Identifier}, {title}" : tape.Identifier);
        yield return new Fact("Recorded", string.Create(CultureInfo.InvariantCulture, $"{tape.Standard}, {BandWord(tape.Band)}, {tape.SpeedInchesPerSecond:0.###} inches a second"));
        yield return new Fact("Standard", transfer.Review.Standard is { } wheel ? $"{ProofWord(wheel.Standing)}. {wheel.Text}" : "not checked");
        foreach ((string name, string? text) in new[] { ("Carrier", tape.Carrier), ("Condition", tape.Condition), ("Earlier passes", tape.PreviousPasses) })
        {
            if (text is { Length: > 0 })
            {
                yield return new Fact(name, text);
            }
        }

        yield return new Fact("Machine", MachineWords(dossier));
        if (dossier.Bench.Devices is { } devices)
        {
            yield return new Fact("Behind it", string.Join("; ", devices.Select(d => d.Plate is { } plate ? $"{d.Role}: {plate}" : d.Role)));
        }

        yield return new Fact("Pass", string.Create(CultureInfo.InvariantCulture, $"{transfer.Pass.Number} of {transfer.Book.Passes.Count}, transfer {transfer.Id}"));
    }

    private static string MachineWords(Dossier dossier)
    {
        MachineDefinition machine = dossier.Bench.Machine;
        return $"{machine.Label}, {machine.Standard}{(machine.Plate is { } plate ? $"; {plate}" : "")}";
    }

    /// <summary>Null where nobody has given one.</summary>
    public static Badge? Verdict(Dossier dossier)
    {
        if (dossier.Transfer?.Pass is not { Verdict: { } given } pass)
        {
            return null;
        }

        (Standing standing, string word) = given.Body.Verdict switch
        {
            Measurement.Transfers.Verdict.Sound => (Standing.Good, "Sound"),
            Measurement.Transfers.Verdict.SoundWithRemarks => (Standing.Doubtful, "Sound with remarks"),
            _ => (Standing.Bad, "Run again"),
        };
        string other = given.Body.Verdict == given.Body.ByRules ? "" : $" The rules came to '{Word(given.Body.ByRules)}'.";
        // What was entered or put right since: the person's word stands, and who reads it has to know.
        string since = dossier.Transfer.Review.ByRules is { } now && now.Verdict != given.Body.ByRules && now.Verdict != given.Body.Verdict
            ? $" By what is known now the rules come to '{Word(now.Verdict)}': {string.Join(" ", now.Reasons.Where(r => r.Verdict == now.Verdict).Select(r => r.Text).Take(2))}"
            : "";
        string countersigned = pass.Countersigned is { } second ? $" Countersigned by {ReportWho.Of(second.Entry)}." : " Nobody has countersigned it yet.";
        string note = given.Entry.Note is { Length: > 0 } text ? $" {text}" : "";
        return new Badge(standing, word, $"Given by {ReportWho.Of(given.Entry)}.{note}{other}{since}{countersigned}");
    }

    /// <summary>Why the verdict is what it is, of the pass as a whole: what has a place on the tape stands on the first page by its place already.</summary>
    public static IEnumerable<string> ReasonsOfThePass(Dossier dossier) => AllReasons(dossier).Where(r => r.FromSeconds is null).Select(Told);

    /// <summary>Places on the first page that would be more than a line or two are counted: the list with all of them stands behind it.</summary>
    private const int MostSections = 6;

    /// <summary>What the review asks to run again, as the list, its exports and the page have it; nothing for a span, and where nothing is.</summary>
    public static IEnumerable<Fact> ToRunAgain(Dossier dossier)
    {
        if (dossier.Transfer?.Review.Sections is not { Count: > 0 } sections)
        {
            yield break;
        }

        string places = string.Join(", ", sections.Take(MostSections).Select(Section));
        string more = sections.Count > MostSections ? $" and {sections.Count - MostSections} more, which the list behind this page has" : "";
        yield return new Fact("To be run again", $"{places}{more}; {ReportClock.Length((long)(sections.Sum(s => s.RunToSeconds - s.RunFromSeconds) * 1e9))} of tape in all, with handles");
    }

    /// <summary>From and to, as places on the tape.</summary>
    public static string Section(TapeSection section) => $"{FigureFrame.PlaceText(section.FromSeconds)} to {FigureFrame.PlaceText(section.ToSeconds)}";

    private static IReadOnlyList<VerdictReason> AllReasons(Dossier dossier) => dossier.Transfer?.Pass.Verdict?.Body.Reasons ?? [];

    private static string Told(VerdictReason reason) => reason.FromSeconds is { } from
        ? $"{FigureFrame.PlaceText(from)}{(reason.ToSeconds is { } to ? " to " + FigureFrame.PlaceText(to) : "")}: {reason.Text}"
        : reason.Text;

    /// <summary>Pre-flight, line-up, notes and passes; nothing for a span.</summary>
    public static IEnumerable<Block> Blocks(Dossier dossier, ReportClock clock)
    {
        if (dossier.Transfer is not { } transfer)
        {
            yield break;
        }

        if (AllReasons(dossier) is { Count: > 0 } reasons)
        {
            yield return new Heading("Why this verdict, the gravest first");
            yield return new Bullets([.. reasons.Select(Told)]);
        }

        if (transfer.Review.Sections is { Count: > 0 } sections)
        {
            yield return new Table(
                "To be run again, with handles and joined where they nearly touch; the same list as CSV, edit list and WebVTT by 'driftwatch transfer review'.",
                [new Column("from", 1), new Column("to", 1), new Column("length", 1), new Column("why", 6)],
                [.. sections.Select(s => (IReadOnlyList<Cell>)[
                    FigureFrame.PlaceText(s.FromSeconds), FigureFrame.PlaceText(s.ToSeconds), FigureFrame.PlaceText(s.RunToSeconds - s.RunFromSeconds), string.Join(" ", s.Reasons)])]);
        }

        yield return new Heading("Pre-flight and line-up");
        yield return new Table(
            $"Pre-flight, as it was signed. Times in {clock.Zone}.",
            [new Column("item", 4), new Column("said", 1.2), new Column("readings", 3), new Column("signed", 2.2)],
            [.. transfer.Pass.Checks.Select(c => CheckRow(c, transfer, clock)), .. Unsigned(transfer)]);
        yield return new Table(
            $"Line-up: each step before and after. Times in {clock.Zone}.",
            [new Column("step", 2.6), new Column("before", 1, true), new Column("after", 1, true), new Column("tolerance", 1.5), new Column("turned", 2), new Column("recorded", 1.9)],
            [.. transfer.Pass.Steps.Select(s => StepRow(s, transfer, clock)), .. Missing(transfer)]);
        yield return new Paragraph("Values read off and written down are marked so; every other was read by the channel that the step names. Where each tolerance comes from stands in 'The settings that judged'.", Tone.Small);
        foreach (Block notes in LongNotes(transfer, clock))
        {
            yield return notes;
        }

        List<Said<NoteWritten>> written = [.. transfer.Pass.Notes.Concat(transfer.Book.Notes).OrderBy(n => n.Entry.AboutUtc)]; // of the pass, and of the transfer as a whole
        if (written.Count > 0)
        {
            yield return new Table(
                $"Notes and marks. Times in {clock.Zone}.",
                [new Column("at", 1), new Column("on the tape", 1), new Column("who", 1.4), new Column("what", 5)],
                [.. written.Select(n => (IReadOnlyList<Cell>)[
                    clock.Time(n.Entry.AboutUtc), dossier.Run.PlaceOf(n.Entry.AboutUtc) is { } place ? FigureFrame.PlaceText(place) : "", ReportWho.Of(n.Entry),
                    n.Entry.Note ?? (n.Body.IsMark ? "mark" : "")])]);
        }

        if (transfer.Book.Passes.Count > 1)
        {
            yield return new Table(
                $"All passes of this transfer. Times in {clock.Zone}.",
                [new Column("pass", 0.6), new Column("run", 3), new Column("verdict", 1.6), new Column("by", 1.4)],
                [.. transfer.Book.Passes.Select(p => (IReadOnlyList<Cell>)[
                    p.Number.ToString(CultureInfo.InvariantCulture),
                    p.RunBegan is { } began ? $"{clock.Instant(began.Entry.AboutUtc)} to {(p.RunEnded is { } ended ? clock.Time(ended.Entry.AboutUtc) : "now")}" : "no run",
                    p.Verdict is { } verdict ? Word(verdict.Body.Verdict) : p.GivenUp is not null ? "given up" : "none", p.Verdict is { } by ? ReportWho.Of(by.Entry) : ""])]);
        }
    }

    private static IReadOnlyList<Cell> CheckRow(Said<CheckSigned> check, DossierTransfer transfer, ReportClock clock)
    {
        CheckDefinition? item = transfer.Procedures.Checks.Items.FirstOrDefault(i => i.Key == check.Body.Check);
        string value = check.Body.Value is { } number ? $" {NumberText.Short(number)} {item?.Unit}".TrimEnd() : "";
        Cell said = check.Body.Answer switch
        {
            CheckAnswer.Done => $"done{value}",
            CheckAnswer.NotDone => new Cell($"not done{value}", Standing.Doubtful),
            _ => "does not apply",
        };
        Cell readings = check.Body.Telemetry is { } proof
            ? new Cell(proof.Text, proof.Standing switch { ProofStanding.Contradicted => Standing.Bad, ProofStanding.Proved => Standing.Good, _ => Standing.Open })
            : "";
        return [item?.Text ?? check.Body.Check, said, readings, $"{ReportWho.Of(check.Entry)}, {clock.Time(check.Entry.AboutUtc)}{NoteIn(check.Entry)}"];
    }

    /// <summary>A long note would make its narrow column pages long: it stands below the tables instead.</summary>
    private static string NoteIn(EntryCommand entry) => entry.Note switch
    {
        null or "" => "",
        { Length: > LongestInTable } => ": note below",
        { } note => ": " + note,
    };

    private static IEnumerable<Block> LongNotes(DossierTransfer transfer, ReportClock clock)
    {
        List<IReadOnlyList<Cell>> rows =
        [
            .. transfer.Pass.Checks.Select(c => (c.Entry, Of: transfer.Procedures.Checks.Items.FirstOrDefault(i => i.Key == c.Body.Check)?.Text ?? c.Body.Check))
                .Concat(transfer.Pass.Steps.Select(s => (s.Entry, Of: TextOf(s.Body.Step, transfer))))
                .Where(n => n.Entry.Note is { Length: > LongestInTable })
                .Select(n => (IReadOnlyList<Cell>)[n.Of, $"{ReportWho.Of(n.Entry)}, {clock.Time(n.Entry.AboutUtc)}", n.Entry.Note!]),
        ];
        if (rows.Count > 0)
        {
            yield return new Table("Longer notes on checks and steps.", [new Column("of", 2), new Column("who", 1.4), new Column("note", 6.6)], rows);
        }
    }

    private static IEnumerable<IReadOnlyList<Cell>> Unsigned(DossierTransfer transfer) =>
        transfer.Progress.ChecksUnsigned.Select(c => (IReadOnlyList<Cell>)[c.Text, new Cell("not signed", Standing.Open), "", ""]);

    private static IReadOnlyList<Cell> StepRow(Said<LineUpStepRecorded> step, DossierTransfer transfer, ReportClock clock)
    {
        LineUpStepRecorded body = step.Body;
        string text = TextOf(body.Step, transfer);
        bool? holds = body is { Tolerance: { } bounds, After: { } now } ? bounds.Holds(now.Value) : null;
        return
        [
            body.IsDone ? text : new Cell($"{text} (left out)", Standing.Doubtful), Reading(body.Before), new Cell(Reading(body.After), holds is false ? Standing.Bad : null),
            Tolerance(body.Tolerance), body.Turned ?? "",
            $"{ReportWho.Of(step.Entry)}, {clock.Time(step.Entry.AboutUtc)}{NoteIn(step.Entry)}",
        ];
    }

    private static IEnumerable<IReadOnlyList<Cell>> Missing(DossierTransfer transfer) =>
        transfer.Progress.StepsMissing.Where(d => transfer.Pass.Steps.All(s => s.Body.Step != d.Key))
            .Select(d => (IReadOnlyList<Cell>)[new Cell($"{d.Text} (not recorded)", Standing.Open), "", "", "", "", ""]);

    private static string Reading(LineUpReading? reading) =>
        reading is null ? "" : NumberText.Short(reading.Value) + (reading.IsByHand ? " by hand" : "");

    /// <summary>What a step is called on the list; its key where the list has it no more.</summary>
    internal static string TextOf(string step, DossierTransfer transfer) => transfer.Procedures.LineUp.Steps.FirstOrDefault(s => s.Key == step)?.Text ?? step;

    internal static string Tolerance(LineUpTolerance? tolerance) => tolerance switch
    {
        null => "",
        { Least: { } least, Greatest: { } greatest } => $"{NumberText.Short(least)} to {NumberText.Short(greatest)} {tolerance.Unit}",
        { Least: { } least } => $"at least {NumberText.Short(least)} {tolerance.Unit}",
        { Greatest: { } greatest } => $"at most {NumberText.Short(greatest)} {tolerance.Unit}",
        _ => "",
    };

    internal static string Word(Verdict verdict) => verdict switch
    {
        Measurement.Transfers.Verdict.Sound => "sound",
        Measurement.Transfers.Verdict.SoundWithRemarks => "sound with remarks",
        _ => "run again",
    };

    private static string ProofWord(ProofStanding standing) => standing switch
    {
        ProofStanding.Proved => "● proved by the readings",
        ProofStanding.Contradicted => "▲ contradicted by the readings",
        _ => "○ can't be told",
    };

    private static string BandWord(TapeBand band) => band switch
    {
        TapeBand.LowBandMonochrome => "low band monochrome",
        TapeBand.LowBandColour => "low band colour",
        TapeBand.HighBand => "high band",
        TapeBand.SuperHighBand => "super high band",
        _ => "band not known",
    };
}
