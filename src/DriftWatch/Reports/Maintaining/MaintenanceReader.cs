using System.Globalization;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Reports.Maintaining;

/// <summary>Reads a record of maintenance from a bench's store, while a service may go on writing to it. The same span of the same store gives the same record.</summary>
internal static class MaintenanceReader
{
    /// <summary>At most a year of hours at once. Source: our own choice; a collection's year is one record.</summary>
    public const long Longest = 367 * Day;

    private const long Hour = 3600L * EngineTime.NanosecondsPerSecond;
    private const long Day = 24 * Hour;

    /// <summary>Finding lines that are read, the newest. Source: our own choice, some five hundred a day over a year.</summary>
    private const int MostLines = 200_000;

    /// <param name="folder">The bench's store.</param>
    /// <param name="fromUtc">Begin.</param>
    /// <param name="toUtc">End, not in it.</param>
    /// <param name="kept">The book, of who has it in hand; null: it is read from the store, whole.</param>
    /// <param name="mostLines">Finding lines that are read at most.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    /// <exception cref="InvalidDataException">Nothing was recorded in the span, or it is longer than a year.</exception>
    public static MaintenanceRecord Read(string folder, long fromUtc, long toUtc, KeptBook? kept = null, int mostLines = MostLines)
    {
        var span = new UtcStretch(fromUtc, toUtc);
        if (span.Nanoseconds is <= 0 or > Longest)
        {
            throw new InvalidDataException("A record of maintenance is of a span of at most a year that ends after it begins.");
        }

        using var reader = new BenchReader(folder);
        IReadOnlyList<UtcStretch> watched = AlarmBook.WatchedIn(reader);
        if (watched.Count == 0)
        {
            throw new InvalidDataException($"{folder}: nothing was recorded here yet.");
        }

        AnchorTable anchors = reader.ReadAnchors();
        (EngineTime from, EngineTime to) = (anchors.FromUtcNanoseconds(fromUtc), anchors.FromUtcNanoseconds(toUtc));
        BenchDefinition bench = reader.BenchVersions().LastOrDefault(b => b.At < to)?.Bench
            ?? throw new InvalidDataException($"No bench was watched before {UtcText.FromNanoseconds(toUtc)}: choose a later span.");
        TransferProcedures procedures = bench.Procedures ?? TransferReader.Default;
        TransferBook book = (kept ?? KeptBook.Of(reader)).Before(toUtc).Book;
        IReadOnlyList<CalibrationRow> calibrations = CalibrationHistory.Of(reader);
        List<FindingLine> lines = [.. reader.FindingsBetween(from, to, TimeSpan.FromDays(1), mostLines, out long leftOut).Select(f => f.Line)];
        return MaintenanceMaker.Of(new MaintenanceFacts
        {
            Bench = bench,
            Span = span,
            Watched = watched,
            Baselines = [.. reader.Baselines().Where(b => b.UtcNanoseconds >= fromUtc && b.UtcNanoseconds < toUtc)],
            Lines = lines,
            LinesLeftOut = leftOut,
            Book = book,
            Procedures = procedures,
            RanSince = new TransferTelemetry(reader, bench).UpkeepAt(toUtc, book, procedures.Checks).RanHours,
            Air = AirOf(reader, bench, anchors, calibrations, span),
            Calibrations = calibrations,
            Alarms = AlarmHealth.Of(reader.AlarmsOver(fromUtc, toUtc, TimeSpan.FromDays(1)).Select(a => a.Line), new AlarmSpan(span, watched)),
        });
    }

    private static AirQuality AirOf(BenchReader reader, BenchDefinition bench, AnchorTable anchors, IReadOnlyList<CalibrationRow> calibrations, UtcStretch span)
    {
        if (bench.Channels.FirstOrDefault(c => c is { Role: ChannelRole.DewPoint, Kind: ChannelKind.Series }) is not { } dew)
        {
            return new AirQuality(null, [], null, null);
        }

        var table = CalibrationTable.Of(reader);
        (Unit own, Unit celsius) = (Unit.Parse(dew.Unit), Unit.Parse("degC"));
        (EngineTime from, EngineTime to) = (anchors.FromUtcNanoseconds(span.FromUtc), anchors.FromUtcNanoseconds(span.ToUtc));
        List<(long Utc, Bucket Hour)> hours = to <= from ? [] :
        [
            .. EngineeringBuckets.Read(reader, dew.Key, (version, at) => table.Of(dew.Key, version, anchors.ToUtcNanoseconds(at)), from, to, (int)Math.Max(1, span.Nanoseconds / Hour))
                .Where(b => b.Count > 0).Select(b => (anchors.ToUtcNanoseconds(b.From), b)),
        ];
        List<AirDay> days =
        [
            .. hours.GroupBy(h => h.Utc - (((h.Utc % Day) + Day) % Day)).OrderBy(g => g.Key).Select(g => new AirDay(
                g.Key, In(g.Min(h => h.Hour.Minimum)), In(g.Sum(h => h.Hour.Mean * h.Hour.Count) / g.Sum(h => h.Hour.Count)), In(g.Max(h => h.Hour.Maximum)), g.Sum(h => (long)h.Hour.Count))),
        ];
        CalibrationRow? inForce = calibrations.LastOrDefault(r => r.Channel.Key == dew.Key && !(r.ValidFromUtc >= span.ToUtc));
        string? uncertainty = inForce?.Document is { } document
            ? string.Create(CultureInfo.InvariantCulture, $"{document.Budget.Expanded:0.##} {document.Unit} (k = {document.Budget.CoverageFactor:0.##}), calibration of {document.Entered[..10]}")
            : null;
        return new AirQuality(dew.Label, days, hours.Count == 0 ? null : In(hours.Max(h => h.Hour.Mean)), uncertainty);

        double In(double value) => own.Convert(value, celsius);
    }
}
