using System.Globalization;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>What people wrote and entered in a shift, with its place on the tape where one ran.</summary>
internal static class ShiftEntries
{
    public static IEnumerable<HandOverNote> Notes(ShiftFacts facts)
    {
        IEnumerable<HandOverNote> entered = InSpan(facts).Where(IsWritten).Select(e => new HandOverNote(
            e.AboutUtc, e.By,
            e.Body switch { ShiftHandedOver => "hand-over", NoteWritten { IsMark: true } => "mark", _ => "note" },
            About(facts.Book, e), PlaceAt(facts, e.AboutUtc, e.Pass),
            e.Body is ShiftHandedOver handed ? $"Handed over to {handed.To}.{(e.Note is { } more ? " " + more : "")}" : e.Note ?? "Mark."));
        IEnumerable<HandOverNote> marked = facts.Lines
            .Where(l => l.Kind == FindingKinds.Mark && l.StartUtc >= facts.Span.FromUtc && l.StartUtc < facts.Span.ToUtc)
            .Select(l => new HandOverNote(l.StartUtc, Word(l, "by") ?? "", "mark", null, PlaceAt(facts, l.StartUtc, null), l.Text));
        return entered.Concat(marked).OrderBy(n => n.AtUtc);
    }

    public static IEnumerable<HandOverEntry> Entries(ShiftFacts facts)
    {
        var run = new List<EntryCommand>();
        foreach (EntryCommand entry in InSpan(facts).Where(e => !IsWritten(e)))
        {
            if (run.Count > 0 && !(IsOfAList(entry) && (entry.Body.Kind, entry.By, entry.Pass) == (run[0].Body.Kind, run[0].By, run[0].Pass)))
            {
                yield return Of(facts.Book, run);
                run.Clear();
            }

            run.Add(entry);
        }

        if (run.Count > 0)
        {
            yield return Of(facts.Book, run);
        }
    }

    private static IEnumerable<EntryCommand> InSpan(ShiftFacts facts) => facts.Entries
        .Where(e => e.AboutUtc >= facts.Span.FromUtc && e.AboutUtc < facts.Span.ToUtc && facts.Book.Has(e))
        .OrderBy(e => e.AboutUtc); // in the order of the log where instants are the same

    private static bool IsWritten(EntryCommand entry) => entry.Body is NoteWritten or ShiftHandedOver;

    private static bool IsOfAList(EntryCommand entry) => entry.Body is CheckSigned or LineUpStepRecorded;

    private static HandOverEntry Of(TransferBook book, List<EntryCommand> run) =>
        new(run[0].AboutUtc, run[^1].AboutUtc, run[0].By, run[0].Body.Kind, About(book, run[0]), Words(run));

    private static string Words(List<EntryCommand> run) => run[0].Body switch
    {
        CheckSigned => Listed("Pre-flight signed", run.Count, ("not done", Count<CheckSigned>(run, c => c.Answer == CheckAnswer.NotDone)),
            ("contradicted by the readings", Count<CheckSigned>(run, c => c.Telemetry?.Standing == ProofStanding.Contradicted))),
        LineUpStepRecorded => Listed("Line-up recorded", run.Count, ("left out", Count<LineUpStepRecorded>(run, s => !s.IsDone)),
            ("outside tolerance", Count<LineUpStepRecorded>(run, s => s is { IsDone: true, Tolerance: { } tolerance, After: { } after } && !tolerance.Holds(after.Value)))),
        TapeDescribed tape => $"Tape {tape.Identifier} described.",
        TransferOpened => "Transfer opened.",
        PassOpened => "Pass opened.",
        PassGivenUp => $"Given up: {run[0].Note}",
        LineUpEnded => "Line-up ended.",
        RunBegan began => began.Cue == RunCue.State ? "Run began by the machine's state." : "Run began.",
        RunEnded ended => ended.Cue == RunCue.State ? "Run ended by the machine's state." : "Run ended.",
        VerdictGiven given => $"Verdict: {VerdictWord(given.Verdict)}.{(run[0].Note is { } why ? " " + why : "")}",
        VerdictCountersigned => "Verdict countersigned.",
        _ => run[0].Body.Kind,
    };

    private static string Listed(string what, int count, params ReadOnlySpan<(string Name, int Count)> of)
    {
        string rest = "";
        foreach ((string name, int n) in of)
        {
            rest += n > 0 ? string.Create(CultureInfo.InvariantCulture, $", {n} {name}") : "";
        }

        return string.Create(CultureInfo.InvariantCulture, $"{what}: {count}{rest}.");
    }

    private static int Count<T>(List<EntryCommand> run, Func<T, bool> which)
        where T : EntryBody => run.Count(e => e.Body is T body && which(body));

    private static string VerdictWord(Verdict verdict) => verdict switch
    {
        Verdict.Sound => "sound",
        Verdict.SoundWithRemarks => "sound with remarks",
        _ => "run again",
    };

    private static string? About(TransferBook book, EntryCommand entry)
    {
        if (entry.Transfer is not { } id || book.Transfer(id) is not { } transfer)
        {
            return null;
        }

        string tape = book.Tape(transfer.Tape)!.Now.Identifier;
        return transfer.Passes.Find(p => p.Id == entry.Pass) is { } pass ? string.Create(CultureInfo.InvariantCulture, $"{tape}, pass {pass.Number}") : tape;
    }

    /// <summary>Where the tape stood that ran then: of the pass that is named, else of any.</summary>
    private static TapePlace? PlaceAt(ShiftFacts facts, long utc, Guid? of)
    {
        BookPass? pass = facts.Book.Transfers.SelectMany(t => t.Passes).FirstOrDefault(p =>
            (of is null || p.Id == of) && p.RunBegan?.Entry.AboutUtc <= utc && utc <= (p.RunEnded?.Entry.AboutUtc ?? facts.Span.ToUtc));
        return pass is not null && facts.Places.TryGetValue(pass.Id, out TapePlaces? places) ? places.At(utc) : null;
    }

    private static string? Word(FindingLine line, string name) => line.Details.FirstOrDefault(d => d.Name == name).Word;
}
