using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>What can be entered when. A rule says what is wrong and what to do; the order is that in which a person would notice.</summary>
internal static class EntryRules
{
    public const int LongestIdentifier = 120;
    public const int LongestText = 2000;

    /// <summary>Of a person, as the page asks it.</summary>
    public const int LongestName = 80;

    /// <summary>Inches a second. Source: derived, twice the speed of the machine (15 to 15.625).</summary>
    public const double GreatestSpeed = 31.25;

    private static readonly string[] Standards = ["525/60", "625/50"];

    /// <summary>Whether two entries of one id are one act that was sent twice: instants and what readings said may have moved on between.</summary>
    public static bool AreSame(EntryCommand left, EntryCommand right) =>
        (left.Body.Kind, left.By, left.Transfer, left.Pass, left.Note) == (right.Body.Kind, right.By, right.Transfer, right.Pass, right.Note);

    public static EntryRefusal? WhyNot(TransferBook book, EntryCommand entry)
    {
        if (entry.AboutUtc > entry.EnteredUtc)
        {
            return new("An entry can't be about an instant that is still to come.", "Leave 'about' out for now, or give an instant that has been.");
        }

        return Texts(entry) ?? entry.Body switch
        {
            TapeDescribed described => WhyNot(described),
            TransferOpened opened => WhyNot(book, entry, opened),
            NoteWritten note => WhyNot(book, entry, note),
            ShiftHandedOver handed => WhyNot(entry, handed),
            _ => WhyNotInTransfer(book, entry),
        };
    }

    private static EntryRefusal? WhyNot(TapeDescribed tape)
    {
        if (string.IsNullOrWhiteSpace(tape.Identifier) || tape.Identifier.Length > LongestIdentifier)
        {
            return new("A tape needs an identifier.", $"Give what stands on its box, 1 to {LongestIdentifier} characters.");
        }

        if (!Standards.Contains(tape.Standard, StringComparer.Ordinal))
        {
            return new($"'{tape.Standard}' is no standard that a tape is recorded in here.", "Give 525/60 or 625/50.");
        }

        return tape.SpeedInchesPerSecond is > 0 and <= GreatestSpeed
            ? null
            : new("The tape speed is missing or impossible.", "Give inches a second, such as 15, 15.625 or 7.5.");
    }

    private static EntryRefusal? WhyNot(TransferBook book, EntryCommand entry, TransferOpened opened)
    {
        if (entry.Transfer is not { } id)
        {
            return new("The transfer that is to be opened has no id.", "Give it one, a UUID of version 7.");
        }

        if (book.Transfer(id) is not null)
        {
            return new("This transfer is open already.", "Open a pass in it, or give the new transfer an id of its own.");
        }

        return book.Tape(opened.Tape) is null
            ? new("Nobody has described this tape yet.", "Describe the tape first.")
            : null;
    }

    private static EntryRefusal? WhyNot(TransferBook book, EntryCommand entry, NoteWritten note)
    {
        if (!note.IsMark && string.IsNullOrWhiteSpace(entry.Note))
        {
            return new("A note without words says nothing.", "Write the words in 'note'.");
        }

        if (entry.Transfer is null)
        {
            return entry.Pass is null ? null : new("A note on a pass belongs to a transfer.", "Give the transfer's id with the pass's.");
        }

        return entry.Pass is null && book.Transfer(entry.Transfer.Value) is not null ? null : Find(book, entry, out _);
    }

    private static EntryRefusal? WhyNot(EntryCommand entry, ShiftHandedOver handed)
    {
        if (entry.Transfer is not null || entry.Pass is not null)
        {
            return new("A shift belongs to no transfer.", "Leave transfer and pass out.");
        }

        if (string.IsNullOrWhiteSpace(handed.To) || handed.To.Length > LongestName)
        {
            return new("Nobody takes the shift over.", $"Give the name of who does, 1 to {LongestName} characters.");
        }

        return string.Equals(handed.To.Trim(), entry.By.Trim(), StringComparison.OrdinalIgnoreCase)
            ? new($"{entry.By} can't hand over to {entry.By}.", "Give the name of who takes over.")
            : null;
    }

    private static EntryRefusal? WhyNotInTransfer(TransferBook book, EntryCommand entry)
    {
        if (entry.Body is PassOpened)
        {
            return WhyNotOpened(book, entry);
        }

        if (Find(book, entry, out BookPass? found) is { } unknown)
        {
            return unknown;
        }

        BookPass pass = found!;
        return entry.Body switch
        {
            CheckSigned { Answer: not CheckAnswer.Done } or LineUpStepRecorded { IsDone: false } or PassGivenUp when string.IsNullOrWhiteSpace(entry.Note) =>
                new("What is left undone needs a reason.", "Say why in 'note'."),
            CheckSigned or LineUpStepRecorded or LineUpEnded when pass.Stage > PassStage.Ready =>
                new($"{Name(book, pass)} {Words(pass.Stage)}: what is signed now proves nothing of what was done before.", "Write a note on this pass, or open another."),
            PassGivenUp when pass.Stage > PassStage.Ready =>
                new($"{Name(book, pass)} {Words(pass.Stage)}, so it can't be given up.", "Give its verdict once its run has ended."),
            RunBegan => WhyNotBegun(book, entry, pass),
            RunEnded => WhyNotEnded(book, entry, pass),
            VerdictGiven verdict => WhyNot(book, entry, pass, verdict),
            VerdictCountersigned countersigned => WhyNot(book, entry, pass, countersigned),
            _ => null,
        };
    }

    private static EntryRefusal? WhyNotOpened(TransferBook book, EntryCommand entry)
    {
        if (entry.Transfer is not { } id || book.Transfer(id) is null)
        {
            return new("There is no such transfer.", "Open the transfer first.");
        }

        if (entry.Pass is not { } pass || book.Transfers.Exists(t => t.Passes.Exists(p => p.Id == pass)))
        {
            return new("The pass that is to be opened has no id of its own.", "Give it one, a UUID of version 7.");
        }

        return book.OpenPass is { } open
            ? new($"{Name(book, open)} {Words(open.Stage)} on this machine, and one machine takes one pass at a time.",
                open.Stage == PassStage.Running ? "End its run first." : "Take it through its run, or give it up.")
            : null;
    }

    private static EntryRefusal? WhyNotBegun(TransferBook book, EntryCommand entry, BookPass pass)
    {
        if (book.RunningPass is { } running)
        {
            return new($"{Name(book, running)} runs on this machine already.", "End that run first.");
        }

        if (pass.Stage > PassStage.Ready)
        {
            return new($"{Name(book, pass)} {Words(pass.Stage)}: a pass has one run.", "Open another pass.");
        }

        return Runs(book).FirstOrDefault(r => r.From <= entry.AboutUtc && entry.AboutUtc < r.To) is { Pass: { } other }
            ? new($"{Name(book, other)} ran on this machine at that instant.", "Give the instant at which this tape ran.")
            : null;
    }

    private static EntryRefusal? WhyNotEnded(TransferBook book, EntryCommand entry, BookPass pass)
    {
        if (pass.Stage != PassStage.Running)
        {
            return new($"{Name(book, pass)} {Words(pass.Stage)}: there is no run to end.", "Begin its run first.");
        }

        long began = pass.RunBegan!.Entry.AboutUtc;
        if (entry.AboutUtc <= began)
        {
            return new("A run ends after it began.", $"Give an instant after {UtcText.FromNanoseconds(began)}.");
        }

        return Runs(book).FirstOrDefault(r => r.From < entry.AboutUtc && r.To > began) is { Pass: { } other }
            ? new($"{Name(book, other)} ran on this machine meanwhile.", "Give the instant at which this run ended.")
            : null;
    }

    private static EntryRefusal? WhyNot(TransferBook book, EntryCommand entry, BookPass pass, VerdictGiven verdict)
    {
        if (pass.Stage is < PassStage.Ended or PassStage.GivenUp)
        {
            return new($"{Name(book, pass)} {Words(pass.Stage)}: there is nothing to judge yet.", pass.Stage == PassStage.Running ? "End its run first." : "Let it run first.");
        }

        return verdict.Verdict != verdict.ByRules && string.IsNullOrWhiteSpace(entry.Note)
            ? new("A verdict other than the rules come to needs a reason.", "Say why in 'note'.")
            : null;
    }

    private static EntryRefusal? WhyNot(TransferBook book, EntryCommand entry, BookPass pass, VerdictCountersigned countersigned)
    {
        if (pass.Stage != PassStage.Judged || pass.Verdict is not { } verdict)
        {
            return new($"{Name(book, pass)} {Words(pass.Stage)}: no verdict waits for a second person.", "Give the verdict first.");
        }

        if (verdict.Entry.Id != countersigned.VerdictEntry)
        {
            return new("The verdict has been replaced since.", "Read the one that stands, and countersign that.");
        }

        return string.Equals(verdict.Entry.By.Trim(), entry.By.Trim(), StringComparison.OrdinalIgnoreCase)
            ? new($"{entry.By} gave this verdict, so somebody else has to countersign it.", "Let a second person sign.")
            : null;
    }

    private static EntryRefusal? Texts(EntryCommand entry)
    {
        string?[] texts = entry.Body switch
        {
            TapeDescribed tape => [tape.Identifier, tape.Title, tape.Carrier, tape.Condition, tape.PreviousPasses],
            LineUpStepRecorded step => [step.Step, step.Turned],
            CheckSigned check => [check.Check],
            ShiftHandedOver handed => [handed.To],
            _ => [],
        };
        foreach (string? text in texts.Append(entry.Note).Append(entry.By))
        {
            if (text?.Length > LongestText || text?.Any(c => char.IsControl(c) && c is not '\n' and not '\t') == true)
            {
                return new("A text is too long or holds control characters.", $"Use plain text of at most {LongestText} characters.");
            }
        }

        return string.IsNullOrWhiteSpace(entry.By) ? new("Nobody signs this entry.", "Give the name of the person who acts.") : null;
    }

    private static EntryRefusal? Find(TransferBook book, EntryCommand entry, out BookPass? pass)
    {
        pass = null;
        if (entry.Transfer is not { } id || book.Transfer(id) is not { } transfer)
        {
            return new("There is no such transfer.", "Open the transfer first.");
        }

        pass = transfer.Passes.Find(p => p.Id == entry.Pass);
        return pass is null ? new("This transfer has no such pass.", "Open a pass first, and give its id.") : null;
    }

    private static IEnumerable<(BookPass? Pass, long From, long To)> Runs(TransferBook book) =>
        book.Transfers.SelectMany(t => t.Passes).Where(p => p.RunEnded is not null)
            .Select(p => ((BookPass?)p, p.RunBegan!.Entry.AboutUtc, p.RunEnded!.Entry.AboutUtc));

    private static string Name(TransferBook book, BookPass pass) =>
        $"Pass {pass.Number} of tape {book.Tape(book.TransferOf(pass).Tape)!.Now.Identifier}";

    private static string Words(PassStage stage) => stage switch
    {
        PassStage.Preparing => "is being prepared",
        PassStage.Ready => "is lined up",
        PassStage.Running => "is running",
        PassStage.Ended => "has run and waits for its verdict",
        PassStage.Judged => "has its verdict",
        PassStage.Countersigned => "has its verdict, countersigned",
        _ => "was given up",
    };
}
