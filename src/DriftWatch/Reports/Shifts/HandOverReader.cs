using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Reports.Shifts;

/// <summary>Reads a hand-over from a bench's store, while a service may go on writing to it. The same span of the same store gives the same hand-over.</summary>
internal static class HandOverReader
{
    /// <summary>A shift where nobody says how long it was. Source: our own choice, a night.</summary>
    public const long DefaultLength = 12L * 3600 * EngineTime.NanosecondsPerSecond;

    /// <summary>Finding lines that are read, the newest. Source: our own choice, far above a busy night's.</summary>
    private const int MostLines = 20_000;

    /// <summary>How far before the span lines are read for the states of then; what lasted longer is found all the same. Source: our own choice, as the page of the night has it.</summary>
    private static readonly TimeSpan Before = TimeSpan.FromDays(1);

    /// <param name="folder">The bench's store.</param>
    /// <param name="fromUtc">Begin of the shift; null: twelve hours before its end.</param>
    /// <param name="toUtc">Its end; null: where the store ends.</param>
    /// <param name="drifts">What drifts now, by the table of a bench that is watched; null: as the findings told it last.</param>
    /// <param name="kept">The book, of who has it in hand; null: it is read from the store, whole.</param>
    /// <param name="mostLines">Finding lines that are read at most.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    /// <exception cref="InvalidDataException">Nothing was recorded before the span's end, or it ends before it begins.</exception>
    public static HandOver Read(string folder, long? fromUtc, long? toUtc, IReadOnlyList<HandOverDrift>? drifts = null, KeptBook? kept = null, int mostLines = MostLines)
    {
        using var reader = new BenchReader(folder);
        IReadOnlyList<UtcStretch> watched = AlarmBook.WatchedIn(reader);
        if (watched.Count == 0)
        {
            throw new InvalidDataException($"{folder}: nothing was recorded here yet.");
        }

        long to = toUtc ?? watched.Max(w => w.ToUtc) + 1;
        var span = new UtcStretch(fromUtc ?? to - DefaultLength, to);
        if (span.FromUtc >= span.ToUtc)
        {
            throw new InvalidDataException($"The shift begins at {UtcText.FromNanoseconds(span.FromUtc)} but ends at {UtcText.FromNanoseconds(span.ToUtc)}: give a begin before the end.");
        }

        AnchorTable anchors = reader.ReadAnchors();
        EngineTime end = anchors.FromUtcNanoseconds(to);
        BenchDefinition bench = reader.BenchVersions().LastOrDefault(b => b.At < end)?.Bench
            ?? throw new InvalidDataException($"No bench was watched before {UtcText.FromNanoseconds(to)}: choose a later end.");
        (IReadOnlyList<EntryCommand> entries, TransferBook book) = (kept ?? KeptBook.Of(reader)).Before(to);
        TransferProcedures procedures = bench.Procedures ?? TransferReader.Default;
        var telemetry = new TransferTelemetry(reader, bench);
        IReadOnlyList<StoredFinding> lines = reader.FindingsBetween(anchors.FromUtcNanoseconds(span.FromUtc), end, Before, mostLines, out long leftOut);
        return HandOverMaker.Of(new ShiftFacts
        {
            Bench = bench,
            Span = span,
            LastStoredUtc = watched.Where(w => w.FromUtc < to).Select(w => Math.Min(w.ToUtc, to)).DefaultIfEmpty(watched[0].FromUtc).Max(),
            Lines = [.. lines.Select(f => f.Line).Where(l => WrittenUtc(l) < to)],
            LinesLeftOut = leftOut,
            Alarms = [.. reader.AlarmsOver(span.FromUtc, to, Before).Select(a => a.Line)],
            Book = book,
            Entries = entries,
            Procedures = procedures,
            Places = Runs(book, span).ToDictionary(p => p.Id, p => telemetry.Places(p.RunBegan!, Math.Min(to, p.RunEnded?.Entry.AboutUtc ?? to) + 1)),
            Drifts = drifts,
            Calibrations = [.. CalibrationHistory.InForceAt(CalibrationHistory.Of(reader), bench, to - 1)],
            Upkeep = telemetry.UpkeepAt(to, book, procedures.Checks),
        });
    }

    private static long WrittenUtc(FindingLine line) => Math.Max(line.RaisedUtc, line.EndUtc ?? line.RaisedUtc);

    private static IEnumerable<BookPass> Runs(TransferBook book, UtcStretch span) => book.Transfers.SelectMany(t => t.Passes)
        .Where(p => p.RunBegan is { } began && began.Entry.AboutUtc < span.ToUtc && (p.RunEnded?.Entry.AboutUtc ?? span.ToUtc) >= span.FromUtc);
}
