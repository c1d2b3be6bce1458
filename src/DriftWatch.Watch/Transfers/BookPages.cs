using System.Collections.Immutable;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>An entry with its body by type.</summary>
/// <param name="Entry">Its body is a <typeparamref name="T"/>.</param>
public sealed record Said<T>(EntryCommand Entry)
    where T : EntryBody
{
    public T Body => (T)Entry.Body;
}

/// <summary>How far a pass has come.</summary>
public enum PassStage
{
    /// <summary>Open: pre-flight and line-up are done in it.</summary>
    Preparing,

    /// <summary>The line-up was ended: the tape may run.</summary>
    Ready,

    Running,

    /// <summary>The run is over and waits for its verdict.</summary>
    Ended,

    Judged,

    Countersigned,

    /// <summary>It will have no run.</summary>
    GivenUp,
}

/// <summary>A tape as it was last described.</summary>
/// <param name="Id">UUID of the tape.</param>
/// <param name="Entries">Every description, oldest first.</param>
public sealed record BookTape(Guid Id, ImmutableList<Said<TapeDescribed>> Entries)
{
    public TapeDescribed Now => Entries[^1].Body;
}

/// <summary>One pass: all its entries, and what they come to.</summary>
public sealed record BookPass
{
    public required Guid Id { get; init; }

    /// <summary>From 1 within its transfer.</summary>
    public required int Number { get; init; }

    public required PassStage Stage { get; init; }

    /// <summary>All that was accepted, in the order of the log; what was corrected among it.</summary>
    public required ImmutableList<EntryCommand> Entries { get; init; }

    public EntryCommand Opened => Entries[0];

    /// <summary>The last word on each check, in the order in which they were first signed.</summary>
    public IReadOnlyList<Said<CheckSigned>> Checks => LastOfEach<CheckSigned>(c => c.Check);

    /// <summary>The last word on each step of the line-up, in the order in which they were first recorded.</summary>
    public IReadOnlyList<Said<LineUpStepRecorded>> Steps => LastOfEach<LineUpStepRecorded>(s => s.Step);

    /// <summary>Null too when a step was recorded after it: then the line-up goes on.</summary>
    public Said<LineUpEnded>? LineUpEnded => Stage is PassStage.Preparing ? null : Last<LineUpEnded>();

    public Said<RunBegan>? RunBegan => Last<RunBegan>();

    public Said<RunEnded>? RunEnded => Last<RunEnded>();

    public Said<VerdictGiven>? Verdict => Last<VerdictGiven>();

    /// <summary>The countersignature of the verdict that stands; null when there is none.</summary>
    public Said<VerdictCountersigned>? Countersigned => Stage == PassStage.Countersigned ? Last<VerdictCountersigned>() : null;

    public Said<PassGivenUp>? GivenUp => Last<PassGivenUp>();

    /// <summary>Marks and notes, oldest first.</summary>
    public IReadOnlyList<Said<NoteWritten>> Notes => [.. All<NoteWritten>()];

    private Said<T>? Last<T>()
        where T : EntryBody => Entries.FindLast(e => e.Body is T) is { } entry ? new Said<T>(entry) : null;

    private IEnumerable<Said<T>> All<T>()
        where T : EntryBody => Entries.Where(e => e.Body is T).Select(e => new Said<T>(e));

    private List<Said<T>> LastOfEach<T>(Func<T, string> key)
        where T : EntryBody => [.. All<T>().GroupBy(s => key(s.Body)).Select(g => g.Last())];
}

/// <summary>A transfer: passes of one tape.</summary>
public sealed record BookTransfer
{
    public required Guid Id { get; init; }

    public required Guid Tape { get; init; }

    public required EntryCommand Opened { get; init; }

    /// <summary>Oldest first.</summary>
    public ImmutableList<BookPass> Passes { get; init; } = [];

    /// <summary>Notes on the transfer that belong to no pass, oldest first.</summary>
    public ImmutableList<Said<NoteWritten>> Notes { get; init; } = [];
}
