using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Dossiers of transfers, by what people entered.</summary>
internal static partial class DossierReader
{
    private const long Second = EngineTime.NanosecondsPerSecond;

    /// <summary>Shown before and after the run, so that it is seen how it began and ended. Source: our own choice.</summary>
    private const long Around = 60 * Second;

    /// <summary>A pass opened longer before its run has its line-up cut: the tape then lay there. Source: our own choice, a long evening's line-up.</summary>
    private const long LongestLineUp = 4 * 3600 * Second;

    /// <summary>The dossier of a transfer.</summary>
    /// <param name="folder">The bench's store.</param>
    /// <param name="id">UUID of the transfer, or the first signs of it, at least four.</param>
    /// <param name="passNumber">Which pass; null: the last that ran.</param>
    /// <param name="cancel">Ends it.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    /// <exception cref="InvalidDataException">There is no such transfer or pass, it has not run, or its record is missing.</exception>
    public static Dossier OfTransfer(string folder, string id, int? passNumber, CancellationToken cancel = default)
    {
        using var reader = new BenchReader(folder);
        TransferBook book = TransferBook.Of(reader.Entries().Select(e => e.Entry));
        (BookTransfer transfer, BookPass pass) = Find(book, id, passNumber);
        Said<RunBegan> began = pass.RunBegan!;
        long from = began.Entry.AboutUtc;
        long to = pass.RunEnded?.Entry.AboutUtc ?? AlarmBook.WatchedIn(reader).Max(w => w.ToUtc);
        long opened = Math.Clamp(pass.Opened.AboutUtc, from - LongestLineUp, from - Around);
        TapeDescribed tape = book.Tape(transfer.Tape)!.Now;
        BenchDefinition bench = reader.BenchAt(reader.ReadAnchors().FromUtcNanoseconds(to))?.Bench
            ?? throw new InvalidDataException("No bench was in force while this tape ran: its record is missing.");
        var telemetry = new TransferTelemetry(reader, bench);
        var run = new DossierRun(
            new UtcStretch(from, to), RunSource.Entered, began.Body.StartSeconds, TapePlaces.Words(began.Body.Basis, tape.SpeedInchesPerSecond), telemetry.Places(began, to));
        var review = PassReview.Of(reader, bench, book, pass, to);
        return Read(folder, reader, new UtcStretch(opened, to + Around), run, new DossierTransfer(transfer, tape, pass, review), MostLines, cancel);
    }

    /// <summary>Why the evidence of a pass can't be packed at an instant, and what to do; null where it can. What is packed has to lie still: the minute after the run belongs to it.</summary>
    /// <param name="pass">That has a run.</param>
    /// <param name="nowUtc">Nanoseconds since 1970.</param>
    public static (string What, string Remedy)? WhyNotPacked(BookPass pass, long nowUtc) => pass.RunEnded is not { } ended
        ? ("The tape still runs, so its record grows while it is packed.", "End the run, and ask again a minute later.")
        : nowUtc < ended.Entry.AboutUtc + Around
            ? ("The run ended less than a minute ago, and the minute after it belongs to the package.", "Ask again in a minute.")
            : null;

    /// <summary>The same by the book of a store.</summary>
    /// <exception cref="InvalidDataException">There is no such transfer or pass, or it has not run.</exception>
    public static (string What, string Remedy)? WhyNotPacked(string folder, string id, int? passNumber, long nowUtc)
    {
        using var reader = new BenchReader(folder);
        return WhyNotPacked(Find(TransferBook.Of(reader.Entries().Select(e => e.Entry)), id, passNumber).Pass, nowUtc);
    }

    private static (BookTransfer Transfer, BookPass Pass) Find(TransferBook book, string id, int? passNumber)
    {
        BookTransfer transfer = Find(book, id);
        BookPass pass = passNumber is { } number
            ? transfer.Passes.Find(p => p.Number == number) ?? throw new InvalidDataException($"Transfer {transfer.Id} has no pass {number}: it has {transfer.Passes.Count}.")
            : transfer.Passes.FindLast(p => p.RunBegan is not null) ?? throw new InvalidDataException($"No tape has run in transfer {transfer.Id} yet: enter the begin of its run, or report a span with --from and --to.");
        return pass.RunBegan is not null
            ? (transfer, pass)
            : throw new InvalidDataException($"Pass {pass.Number} of transfer {transfer.Id} has no run: report another pass, or a span with --from and --to.");
    }

    private static BookTransfer Find(TransferBook book, string id)
    {
        List<BookTransfer> found = [.. book.Transfers.Where(t => id.Length >= 4 && t.Id.ToString().StartsWith(id, StringComparison.OrdinalIgnoreCase))];
        return found.Count switch
        {
            1 => found[0],
            0 when book.Transfers.Count == 0 => throw new InvalidDataException("This store's book holds no transfer: report a span with --from and --to."),
            0 => throw new InvalidDataException($"The book holds no transfer {id}; it holds {string.Join(", ", book.Transfers.TakeLast(5).Select(t => t.Id))}."),
            _ => throw new InvalidDataException($"{found.Count} transfers begin with {id}: write more of it."),
        };
    }
}
