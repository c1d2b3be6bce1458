using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Transfers;

/// <summary>
/// The one way by which entries reach a bench: each is made, held against the book, journaled, and only then answered;
/// one after another, so that of two runs that begin at once one is refused. Safe from any thread.
/// </summary>
/// <param name="reader">Of the bench's store.</param>
/// <param name="bench">The bench in force, asked at every entry.</param>
/// <param name="journal">Enters a command as an input; the task gives its number once it is journaled.</param>
/// <param name="time">Tells when something was entered.</param>
/// <param name="then">What a derived quantity was at an instant, nanoseconds since 1970; null where no store can be walked over.</param>
/// <param name="present">What reads a step of the line-up, by id, and what it reads now; null where nothing samples.</param>
internal sealed class TransferDesk(
    BenchReader reader, Func<BenchDefinition> bench, Func<EntryCommand, Task<long>> journal, TimeProvider time,
    Func<string, long, QuantityValue?>? then = null, Func<LineUpStepDefinition, string, PresentReading>? present = null) : IDisposable
{
    private readonly SemaphoreSlim _one = new(1, 1);
    private KeptBook _kept = KeptBook.Of(reader);

    /// <summary>The book with its entries, as they stand: who asks again and again need not read them from the store.</summary>
    public KeptBook Kept => Volatile.Read(ref _kept);

    public TransferBook Book => Kept.Book;

    /// <summary>What the steps of the line-up were told to read.</summary>
    public ToldReadings Told { get; } = new();

    public long NowUtc => UtcText.ToNanoseconds(time.GetUtcNow());

    /// <summary>Of the site; those that come with the program for a bench that was recorded before there were any.</summary>
    public TransferProcedures Procedures => bench().Procedures ?? TransferReader.Default;

    public TransferTelemetry Telemetry() => new(reader, bench());

    /// <summary>By which a pass is read and judged.</summary>
    public PassBench BenchOf(BookPass pass) => PassBench.Of(reader, pass, bench());

    /// <summary>A pass as it is looked through now.</summary>
    public PassReview Review(TransferBook book, BookPass pass) => PassReview.Of(reader, bench(), book, pass, NowUtc);

    /// <exception cref="IOException">The store can't write now; the entry is held with the readings and stored with them.</exception>
    public Task<EntryOutcome> EnterAsync(EntryRequest request, string by, string identity) => EnterAsync((maker, now) =>
    {
        if (request.Id is { } id && Book.Find(id) is { } known && known.Body.Kind == request.Kind && known.By == by)
        {
            return (known, null); // sent again after a lost answer
        }

        EntryProblem? problem = maker.Make(request, by, identity, now, out EntryCommand? entry);
        return (entry, problem);
    });

    /// <summary>A run that begins or ends by the machine's state.</summary>
    public Task<EntryOutcome> EnterAsync(RunCueSeen cue) => EnterAsync((maker, now) =>
    {
        if (Book.OpenPass is not { } pass)
        {
            return (null, new EntryProblem(null, "No pass is open.", "Open a pass."));
        }

        return (new EntryCommand
        {
            Id = Guid.CreateVersion7(),
            By = EntryCommand.Automatic,
            Identity = EntryCommand.Automatic,
            EnteredUtc = Math.Max(now, cue.AtUtc),
            AboutUtc = cue.AtUtc,
            Transfer = Book.TransferOf(pass).Id,
            Pass = pass.Id,
            Body = cue.Begins ? maker.Began(new EntryRequest(), pass, cue.AtUtc, now, RunCue.State) : new RunEnded { Cue = RunCue.State },
        }, null);
    });

    public void Dispose() => _one.Dispose();

    private async Task<EntryOutcome> EnterAsync(Func<EntryMaker, long, (EntryCommand? Entry, EntryProblem? Problem)> make)
    {
        await _one.WaitAsync();
        try
        {
            (EntryCommand? entry, EntryProblem? problem) = make(new EntryMaker(Book, Telemetry(), Procedures, p => Review(Book, p), then, present, Told), NowUtc);
            if (problem is not null)
            {
                return new EntryOutcome(null, 0, problem);
            }

            if (Book.Has(entry!))
            {
                return new EntryOutcome(entry, 0, null);
            }

            if (Book.Add(entry!, out TransferBook after) is { } refusal)
            {
                return new EntryOutcome(null, 0, new EntryProblem(null, refusal.What, refusal.Remedy));
            }

            Task<long> journaled = journal(entry!);
            try
            {
                long number = await journaled;
                Volatile.Write(ref _kept, Kept.With(entry!, after));
                return new EntryOutcome(entry, number, null);
            }
            catch (IOException)
            {
                Volatile.Write(ref _kept, Kept.With(entry!, after)); // held in memory and stored later: the book must not take another in its place
                throw;
            }
        }
        finally
        {
            _one.Release();
        }
    }
}
