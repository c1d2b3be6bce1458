using System.Collections.Immutable;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>Why an entry can't be, and what to do instead.</summary>
/// <param name="What">One sentence.</param>
/// <param name="Remedy">One sentence.</param>
public sealed record EntryRefusal(string What, string Remedy);

/// <summary>
/// The book of transfers of one machine: the fold of its entries. It never changes; <see cref="Add"/> gives the book
/// with one entry more, or says why that entry can't be. Folding the same entries gives the same book, whatever was refused.
/// </summary>
public sealed record TransferBook
{
    private ImmutableDictionary<Guid, EntryCommand> Known { get; init; } = ImmutableDictionary<Guid, EntryCommand>.Empty;

    public static TransferBook Empty { get; } = new();

    /// <summary>In the order in which they were first described.</summary>
    public ImmutableList<BookTape> Tapes { get; private init; } = [];

    /// <summary>In the order in which they were opened.</summary>
    public ImmutableList<BookTransfer> Transfers { get; private init; } = [];

    /// <summary>Notes of the shift that belong to no transfer, oldest first.</summary>
    public ImmutableList<Said<NoteWritten>> Notes { get; private init; } = [];

    /// <summary>Shifts that were handed over, oldest first.</summary>
    public ImmutableList<Said<ShiftHandedOver>> HandOvers { get; private init; } = [];

    /// <summary>The one pass that is being prepared or runs; null where none is.</summary>
    public BookPass? OpenPass => Transfers.SelectMany(t => t.Passes).FirstOrDefault(p => p.Stage <= PassStage.Running);

    /// <summary>The pass whose tape runs; null where none does.</summary>
    public BookPass? RunningPass => OpenPass is { Stage: PassStage.Running } pass ? pass : null;

    /// <summary>All entries folded; what can't be is left out.</summary>
    public static TransferBook Of(IEnumerable<EntryCommand> entries)
    {
        ArgumentNullException.ThrowIfNull(entries);
        TransferBook book = Empty;
        foreach (EntryCommand entry in entries)
        {
            book.Add(entry, out book);
        }

        return book;
    }

    public BookTape? Tape(Guid id) => Tapes.Find(t => t.Id == id);

    public BookTransfer? Transfer(Guid id) => Transfers.Find(t => t.Id == id);

    public BookTransfer TransferOf(BookPass pass) => Transfers.Find(t => t.Passes.Exists(p => p.Id == pass.Id))!;

    /// <summary>The entry of this id; null where the book has none.</summary>
    public EntryCommand? Find(Guid id) => Known.GetValueOrDefault(id);

    /// <summary>Whether this very entry is in the book.</summary>
    public bool Has(EntryCommand entry) => Known.TryGetValue(entry.Id, out EntryCommand? known) && EntryRules.AreSame(known, entry);

    /// <summary>The book with an entry more. One that is in it already changes nothing and is not refused.</summary>
    /// <param name="entry">What is to be entered.</param>
    /// <param name="after">The book afterwards; this one where the entry is refused.</param>
    /// <returns>Null where it is accepted.</returns>
    public EntryRefusal? Add(EntryCommand entry, out TransferBook after)
    {
        ArgumentNullException.ThrowIfNull(entry);
        after = this;
        if (Known.TryGetValue(entry.Id, out EntryCommand? known))
        {
            return EntryRules.AreSame(known, entry)
                ? null
                : new EntryRefusal($"The id {entry.Id} belongs to another entry.", "Give each entry an id of its own, a UUID of version 7.");
        }

        if (EntryRules.WhyNot(this, entry) is { } refusal)
        {
            return refusal;
        }

        after = Take(entry) with { Known = Known.Add(entry.Id, entry) };
        return null;
    }

    private TransferBook Take(EntryCommand entry) => entry.Body switch
    {
        TapeDescribed described => TakeTape(described, entry),
        TransferOpened opened => this with
        {
            Transfers = Transfers.Add(new BookTransfer { Id = entry.Transfer!.Value, Tape = opened.Tape, Opened = entry }),
        },
        PassOpened => Change(entry, t => t with
        {
            Passes = t.Passes.Add(new BookPass { Id = entry.Pass!.Value, Number = t.Passes.Count + 1, Stage = PassStage.Preparing, Entries = [entry] }),
        }),
        ShiftHandedOver => this with { HandOvers = HandOvers.Add(new Said<ShiftHandedOver>(entry)) },
        NoteWritten when entry.Transfer is null => this with { Notes = Notes.Add(new Said<NoteWritten>(entry)) },
        NoteWritten when entry.Pass is null => Change(entry, t => t with { Notes = t.Notes.Add(new Said<NoteWritten>(entry)) }),
        _ => Change(entry, t => t with
        {
            Passes = t.Passes.ConvertAll(p => p.Id == entry.Pass ? p with { Entries = p.Entries.Add(entry), Stage = StageAfter(p.Stage, entry.Body) } : p),
        }),
    };

    private TransferBook TakeTape(TapeDescribed described, EntryCommand entry)
    {
        var said = new Said<TapeDescribed>(entry);
        int place = Tapes.FindIndex(t => t.Id == described.Tape);
        return this with
        {
            Tapes = place < 0
                ? Tapes.Add(new BookTape(described.Tape, [said]))
                : Tapes.SetItem(place, Tapes[place] with { Entries = Tapes[place].Entries.Add(said) }),
        };
    }

    private TransferBook Change(EntryCommand entry, Func<BookTransfer, BookTransfer> change)
    {
        int place = Transfers.FindIndex(t => t.Id == entry.Transfer);
        return this with { Transfers = Transfers.SetItem(place, change(Transfers[place])) };
    }

    private static PassStage StageAfter(PassStage stage, EntryBody body) => body switch
    {
        LineUpStepRecorded => PassStage.Preparing,
        LineUpEnded => PassStage.Ready,
        RunBegan => PassStage.Running,
        RunEnded => PassStage.Ended,
        VerdictGiven => PassStage.Judged,
        VerdictCountersigned => PassStage.Countersigned,
        PassGivenUp => PassStage.GivenUp,
        _ => stage,
    };
}
