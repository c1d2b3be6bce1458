using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Web.Api.Transfers;

/// <summary>An entry as it was taken. <c>Input</c> is 0 where it had been entered before.</summary>
internal sealed record EntryAnswer(
    Guid Id, string Kind, long Input, string By, string Identity, string Entered, string About, Guid? Transfer, Guid? Pass, Guid? Tape, ProofAnswer? Telemetry, string? Verdict)
{
    public static EntryAnswer Of(EntryOutcome outcome)
    {
        EntryCommand entry = outcome.Entry!;
        return new EntryAnswer(
            entry.Id, entry.Body.Kind, outcome.Input, entry.By, entry.Identity, UtcText.FromNanoseconds(entry.EnteredUtc), UtcText.FromNanoseconds(entry.AboutUtc),
            entry.Transfer, entry.Pass,
            entry.Body switch { TapeDescribed tape => tape.Tape, TransferOpened opened => opened.Tape, _ => null },
            ProofAnswer.Of(entry.Body switch { CheckSigned check => check.Telemetry, RunBegan began => began.Standard, _ => null }),
            entry.Body is VerdictGiven verdict ? Slugs.Of(verdict.Verdict) : null);
    }
}

/// <summary>What readings said: proved, contradicted or cannot-tell, and why.</summary>
internal sealed record ProofAnswer(string Standing, string Text)
{
    public static ProofAnswer? Of(TelemetryProof? proof) => proof is null ? null : new ProofAnswer(Slugs.Of(proof.Standing), proof.Text);
}

/// <summary>A name under an act.</summary>
internal sealed record SignatureAnswer(Guid Entry, string By, string Identity, string Entered, string About, string? Note)
{
    public static SignatureAnswer Of(EntryCommand entry) =>
        new(entry.Id, entry.By, entry.Identity, UtcText.FromNanoseconds(entry.EnteredUtc), UtcText.FromNanoseconds(entry.AboutUtc), entry.Note);

    public static SignatureAnswer? OrNone(EntryCommand? entry) => entry is null ? null : Of(entry);
}

internal sealed record TapeAnswer(
    Guid Id, string Identifier, string? Title, string Standard, string Band, double SpeedInchesPerSecond, string? Carrier, string? Condition, string? PreviousPasses, int Descriptions)
{
    public static TapeAnswer Of(BookTape tape) => new(
        tape.Id, tape.Now.Identifier, tape.Now.Title, tape.Now.Standard, Slugs.Of(tape.Now.Band), tape.Now.SpeedInchesPerSecond,
        tape.Now.Carrier, tape.Now.Condition, tape.Now.PreviousPasses, tape.Entries.Count);
}

/// <summary>A pass in a list.</summary>
internal sealed record PassSummary(Guid Id, int Number, string Stage, string Opened, string? RunBegan, string? RunEnded, string? Verdict, string? VerdictBy, string? CountersignedBy)
{
    public static PassSummary Of(BookPass pass) => new(
        pass.Id, pass.Number, Slugs.Of(pass.Stage), UtcText.FromNanoseconds(pass.Opened.AboutUtc), Text(pass.RunBegan?.Entry), Text(pass.RunEnded?.Entry),
        pass.Verdict is { } verdict ? Slugs.Of(verdict.Body.Verdict) : null, pass.Verdict?.Entry.By, pass.Countersigned?.Entry.By);

    private static string? Text(EntryCommand? entry) => entry is null ? null : UtcText.FromNanoseconds(entry.AboutUtc);
}

internal sealed record TransferSummary(Guid Id, TapeAnswer Tape, string Opened, string By, PassSummary[] Passes)
{
    public static TransferSummary Of(TransferBook book, BookTransfer transfer) => new(
        transfer.Id, TapeAnswer.Of(book.Tape(transfer.Tape)!), UtcText.FromNanoseconds(transfer.Opened.AboutUtc), transfer.Opened.By, [.. transfer.Passes.Select(PassSummary.Of)]);
}

/// <param name="OpenTransfer">Of the pass that is prepared or runs; null for none.</param>
/// <param name="OpenPass">That pass.</param>
/// <param name="Items">The newest first.</param>
internal sealed record TransfersAnswer(Guid? OpenTransfer, Guid? OpenPass, TransferSummary[] Items)
{
    public static TransfersAnswer Of(TransferBook book) => new(
        book.OpenPass is { } open ? book.TransferOf(open).Id : null, book.OpenPass?.Id, [.. book.Transfers.Reverse().Select(t => TransferSummary.Of(book, t))]);
}

/// <summary>An item of the check list, with what was last signed; null for not yet.</summary>
internal sealed record CheckAnswerOfPass(string Check, string Answer, double? Value, ProofAnswer? Telemetry, string ListHash, SignatureAnswer Signed)
{
    public static CheckAnswerOfPass Of(Said<CheckSigned> said) => new(
        said.Body.Check, Slugs.Of(said.Body.Answer), said.Body.Value, ProofAnswer.Of(said.Body.Telemetry), said.Body.ListHash, SignatureAnswer.Of(said.Entry));
}

internal sealed record StepAnswer(
    string Step, bool Done, double? Before, double? After, string? ReadBy, double? Least, double? Greatest, string? Unit, string? Source, bool? InTolerance, string? Turned, string ListHash,
    SignatureAnswer Signed)
{
    public static StepAnswer Of(Said<LineUpStepRecorded> said)
    {
        LineUpStepRecorded step = said.Body;
        return new StepAnswer(
            step.Step, step.IsDone, step.Before?.Value, step.After?.Value, (step.After ?? step.Before)?.Channel,
            step.Tolerance?.Least, step.Tolerance?.Greatest, step.Tolerance?.Unit, step.Tolerance?.Source,
            step.Tolerance is { } tolerance && step.After is { } after ? tolerance.Holds(after.Value) : null, step.Turned, step.ListHash, SignatureAnswer.Of(said.Entry));
    }
}

internal sealed record ReasonAnswer(string Rule, string Verdict, string Text, double? FromSeconds, double? ToSeconds)
{
    public static ReasonAnswer Of(VerdictReason reason) => new(reason.Rule, Slugs.Of(reason.Verdict), reason.Text, reason.FromSeconds, reason.ToSeconds);
}

internal sealed record VerdictAnswer(string Verdict, string ByRules, ReasonAnswer[] Reasons, string RulesHash, SignatureAnswer Signed, SignatureAnswer? Countersigned)
{
    public static VerdictAnswer? Of(BookPass pass) => pass.Verdict is not { } verdict
        ? null
        : new VerdictAnswer(
            Slugs.Of(verdict.Body.Verdict), Slugs.Of(verdict.Body.ByRules), [.. verdict.Body.Reasons.Select(ReasonAnswer.Of)], verdict.Body.RulesHash,
            SignatureAnswer.Of(verdict.Entry), SignatureAnswer.OrNone(pass.Countersigned?.Entry));
}

/// <summary><c>Basis</c> is elapsed-time, counter or timecode: where places on the tape come from.</summary>
internal sealed record RunAnswer(string Basis, string? Channel, double StartSeconds, string BeganBy, ProofAnswer? Standard, SignatureAnswer Began, SignatureAnswer? Ended)
{
    public static RunAnswer? Of(BookPass pass) => pass.RunBegan is not { } began
        ? null
        : new RunAnswer(
            Slugs.Of(began.Body.Basis), began.Body.Channel, began.Body.StartSeconds, Slugs.Of(began.Body.Cue), ProofAnswer.Of(began.Body.Standard),
            SignatureAnswer.Of(began.Entry), SignatureAnswer.OrNone(pass.RunEnded?.Entry));
}

internal sealed record NoteAnswer(bool Mark, SignatureAnswer Signed)
{
    public static NoteAnswer Of(Said<NoteWritten> note) => new(note.Body.IsMark, SignatureAnswer.Of(note.Entry));
}

/// <summary>A pass in full. What is missing is listed by key.</summary>
internal sealed record PassAnswer(
    Guid Id, int Number, string Stage, string Next, SignatureAnswer Opened, CheckAnswerOfPass[] Checks, string[] ChecksUnsigned, StepAnswer[] Steps, string[] StepsMissing,
    SignatureAnswer? LineUpEnded, RunAnswer? Run, VerdictAnswer? Verdict, SignatureAnswer? GivenUp, NoteAnswer[] Notes, int Entries)
{
    public static PassAnswer Of(TapeDescribed tape, BookPass pass, TransferProcedures procedures)
    {
        PassProgress progress = PassProgress.Of(tape, pass, procedures);
        return new PassAnswer(
            pass.Id, pass.Number, Slugs.Of(pass.Stage), progress.Next, SignatureAnswer.Of(pass.Opened),
            [.. pass.Checks.Select(CheckAnswerOfPass.Of)], [.. progress.ChecksUnsigned.Select(c => c.Key)],
            [.. pass.Steps.Select(StepAnswer.Of)], [.. progress.StepsMissing.Select(s => s.Key)],
            SignatureAnswer.OrNone(pass.LineUpEnded?.Entry), RunAnswer.Of(pass), VerdictAnswer.Of(pass), SignatureAnswer.OrNone(pass.GivenUp?.Entry), [.. pass.Notes.Select(NoteAnswer.Of)], pass.Entries.Count);
    }
}

internal sealed record TransferAnswer(Guid Id, TapeAnswer Tape, SignatureAnswer Opened, PassAnswer[] Passes, NoteAnswer[] Notes)
{
    /// <param name="book">That it stands in.</param>
    /// <param name="transfer">Of it.</param>
    /// <param name="procedures">By which each pass is judged.</param>
    public static TransferAnswer Of(TransferBook book, BookTransfer transfer, Func<BookPass, TransferProcedures> procedures)
    {
        BookTape tape = book.Tape(transfer.Tape)!;
        return new TransferAnswer(
            transfer.Id, TapeAnswer.Of(tape), SignatureAnswer.Of(transfer.Opened),
            [.. transfer.Passes.Select(p => PassAnswer.Of(tape.Now, p, procedures(p)))], [.. transfer.Notes.Select(NoteAnswer.Of)]);
    }
}

internal sealed record ReviewItemAnswer(string Id, string Kind, string Severity, string? Channel, string From, string To, double FromSeconds, double ToSeconds, string Place, string Basis, string Text)
{
    public static ReviewItemAnswer Of(ReviewItem item) => new(
        item.Id, item.Kind, Slugs.Of(item.Severity), item.Channel, UtcText.FromNanoseconds(item.FromUtc), UtcText.FromNanoseconds(item.ToUtc),
        item.From.Seconds, item.To.Seconds, item.From.ToString(), Slugs.Of(item.From.Basis), item.Text);
}

internal sealed record SectionAnswer(double FromSeconds, double ToSeconds, double RunFromSeconds, double RunToSeconds, string[] Reasons);

/// <summary><c>Places</c> says how places on the tape are known and <c>Standard</c> what the wheel's rate says of the tape's, both null before the run; <c>Verdict</c> is that of the rules, null before its end; <c>Unread</c> is a sentence on what the bench has no reading of, null where it has all.</summary>
internal sealed record ReviewAnswer(string? Places, ProofAnswer? Standard, ReviewItemAnswer[] Items, SectionAnswer[] Sections, string? Verdict, ReasonAnswer[] Reasons, string Next, string? Unread)
{
    public static ReviewAnswer Of(PassReview review) => new(
        review.Places,
        ProofAnswer.Of(review.Standard),
        [.. review.Items.Select(ReviewItemAnswer.Of)],
        [.. review.Sections.Select(s => new SectionAnswer(s.FromSeconds, s.ToSeconds, s.RunFromSeconds, s.RunToSeconds, [.. s.Reasons]))],
        review.ByRules is { } verdict ? Slugs.Of(verdict.Verdict) : null,
        [.. (review.ByRules?.Reasons ?? []).Select(ReasonAnswer.Of)],
        review.Progress.Next,
        DriftWatch.Transfers.Unread.Words(review.Unread));
}
