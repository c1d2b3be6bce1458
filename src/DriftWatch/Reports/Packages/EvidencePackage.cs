using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Reports.Packages;

/// <summary>
/// The evidence of a dossier as a bag: report, exact log, readings as a table, bench files and calibrations as used, findings and
/// alarms, and what happened in the words of open standards. What is in it and why is told in the folder's README.
/// </summary>
internal static class EvidencePackage
{
    public const string Format = "driftwatch.package/1";

    private static readonly TimeSpan Before = TimeSpan.FromDays(1);

    /// <param name="folder">The bench's store, from which the dossier was read.</param>
    /// <param name="dossier">What the package is of.</param>
    /// <param name="target">A folder that does not exist yet, or NAME.zip.</param>
    /// <param name="zone">Of the report's times.</param>
    /// <param name="made">The only thing in it that differs when it is made again.</param>
    /// <param name="cancel">Ends it; then nothing is left behind.</param>
    /// <returns>The payload.</returns>
    /// <exception cref="IOException">The target exists, or can't be written.</exception>
    /// <exception cref="InvalidDataException">The log on disk is not the one that the dossier was read from.</exception>
    public static async Task<IReadOnlyList<BagFile>> WriteAsync(
        string folder, Dossier dossier, string target, TimeZoneInfo zone, DateTimeOffset made, CancellationToken cancel)
    {
        using var bag = new BagWriter(target);
        using var reader = new BenchReader(folder);
        Document report = TransferReport.Of(dossier, zone, made);
        bag.Add("report/report.pdf", stream => PdfDocument.Write(stream, report));
        bag.Add("report/report.html", stream => HtmlDocument.Write(stream, report));
        WriteLog(bag, folder, dossier, cancel);
        await WriteReadingsAsync(bag, folder, dossier, cancel);
        WriteBenches(bag, reader, dossier);
        bag.Add("calibrations.jsonl", stream => Lines(stream, Calibrations(reader, dossier)));
        bag.Add("findings.jsonl", stream => WriteFindings(stream, reader, dossier));
        bag.Add("alarms.jsonl", stream => WriteAlarms(stream, reader, dossier));
        bag.Add("baselines.jsonl", stream => Lines(stream, Baselines(dossier)));
        if (dossier.Transfer is { } transfer)
        {
            bag.Add("entries.jsonl", stream => WriteEntries(stream, transfer));
        }

        bag.Add("metadata/process-history.csv", stream => ProcessHistory.Write(stream, dossier));
        bag.Add("metadata/pbcore.xml", stream => PbcoreRecord.Write(stream, dossier));
        bag.Add("README.txt", stream => stream.Write(Encoding.UTF8.GetBytes(PackageWords.Readme(dossier))));
        List<BagFile> described = [.. bag.Payload];
        bag.Add("metadata/premis.xml", stream => PremisRecord.Write(stream, dossier, described, made));
        bag.Complete(Info(dossier, bag.Payload, made), made);
        return bag.Payload;
    }

    private static IEnumerable<(string Name, string Value)> Info(Dossier dossier, IReadOnlyList<BagFile> payload, DateTimeOffset made)
    {
        yield return ("Source-Organization", dossier.Bench.Machine.Label);
        yield return ("External-Description", $"Evidence of {(dossier.Transfer is null ? "a span of the record of" : "a transfer on")} {dossier.Bench.Label}, {UtcText.FromNanoseconds(dossier.Span.FromUtc)} to {UtcText.FromNanoseconds(dossier.Span.ToUtc)}");
        yield return ("External-Identifier", dossier.Transfer?.Id ?? $"{dossier.Bench.Id}/{UtcText.FromNanoseconds(dossier.Span.FromUtc)}/{UtcText.FromNanoseconds(dossier.Span.ToUtc)}");
        yield return ("Bagging-Date", made.UtcDateTime.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
        yield return ("Bag-Size", string.Create(CultureInfo.InvariantCulture, $"{payload.Sum(f => f.Bytes) / 1024.0:0} KB"));
        yield return ("Bag-Software-Agent", $"DriftWatch {dossier.Software}");
        yield return ("DriftWatch-Package-Format", Format);
        yield return ("DriftWatch-Record-SHA256", dossier.Record.Sha256);
    }

    /// <summary>The exact log; what is hashed is its text, so that another packer of it proves the same.</summary>
    private static void WriteLog(BagWriter bag, string folder, Dossier dossier, CancellationToken cancel)
    {
        using var text = new HashingStream(Stream.Null);
        bag.Add("record/record.dwlog.gz", stream =>
        {
            using var check = new EngineLogWriter(text, gzip: false);
            using var log = new EngineLogWriter(stream, gzip: true);
            using SpanSource feed = SourceOf(folder, dossier);
            long count = 0;
            while (feed.TryRead(out EngineInput input))
            {
                log.Write(input);
                check.Write(input);
                if ((++count & 0xffff) == 0)
                {
                    cancel.ThrowIfCancellationRequested();
                }
            }

            log.Complete();
            check.Complete();
        });
        if (text.Sha256 != dossier.Record.Sha256)
        {
            throw new InvalidDataException("The record has changed while it was packed: wait until the span is over and nothing more is written into it, then pack again.");
        }
    }

    private static async Task WriteReadingsAsync(BagWriter bag, string folder, Dossier dossier, CancellationToken cancel)
    {
        const string name = "record/readings.csv.gz";
        string path = bag.PathFor(name);
        await using var target = new CsvExport(path, dossier.Bench.Channels, decimals: null, withExtremes: true);
        using SpanSource feed = SourceOf(folder, dossier);
        await new WideRows(dossier.Bench.Channels, dossier.Span.FromUtc, dossier.Span.ToUtc, target).RunAsync(feed, null, cancel);
        await target.CompleteAsync();
        foreach (string file in target.Files)
        {
            bag.Take("record/" + Path.GetFileName(file));
        }
    }

    private static SpanSource SourceOf(string folder, Dossier dossier) =>
        new(folder, dossier.Anchors.FromUtcNanoseconds(dossier.Span.FromUtc), dossier.Anchors.FromUtcNanoseconds(dossier.Span.ToUtc));

    /// <summary>Every bench that was in force in the span, by its hash: what the findings name.</summary>
    private static void WriteBenches(BagWriter bag, BenchReader reader, Dossier dossier)
    {
        EngineTime from = dossier.Anchors.FromUtcNanoseconds(dossier.Span.FromUtc);
        EngineTime to = dossier.Anchors.FromUtcNanoseconds(dossier.Span.ToUtc);
        List<StoredBench> all = [.. reader.BenchVersions().Where(b => b.At < to)];
        IEnumerable<BenchDefinition> used = all.Where((b, i) => i == all.Count - 1 || all[i + 1].At > from).Select(b => b.Bench);
        foreach (BenchDefinition bench in used.DistinctBy(b => b.SourceHash).OrderBy(b => b.SourceHash, StringComparer.Ordinal))
        {
            bag.Add($"bench/{bench.SourceHash}.toml", stream => stream.Write(Encoding.UTF8.GetBytes(bench.SourceText)));
            bag.Add($"bench/{bench.SourceHash}.json", stream => stream.Write(PayloadJson.ToUtf8(EngineInput.OfBench(default, bench))));
        }
    }

    /// <summary>Those that were entered before the span's end, and later ones that were applied back into it: they turned no reading here, but say of these readings what they should have been.</summary>
    private static IEnumerable<JsonObject> Calibrations(BenchReader reader, Dossier dossier)
    {
        EngineTime to = dossier.Anchors.FromUtcNanoseconds(dossier.Span.ToUtc);
        List<StoredCalibration> told =
            [.. reader.Calibrations().Where(c => c.At < to || (c.Calibration.IsAppliedBack && c.Calibration.ValidFromUtcNanoseconds < dossier.Span.ToUtc))];
        foreach (ChannelDefinition channel in dossier.Bench.Channels)
        {
            yield return Line(channel, channel.Calibration);
            foreach (StoredCalibration entered in told.Where(c => c.Channel == channel.Key && c.Calibration.Version != channel.Calibration.Version))
            {
                yield return Line(channel, entered.Calibration);
            }
        }

        static JsonObject Line(ChannelDefinition channel, Calibration calibration) => new()
        {
            ["format"] = "driftwatch.calibration/1",
            ["channel"] = channel.Id,
            ["unit"] = channel.Unit,
            ["rawUnit"] = channel.RawUnit,
            ["calibration"] = JsonNode.Parse(PayloadJson.ToUtf8(EngineInput.OfCalibration(default, channel.Key, calibration))),
        };
    }

    private static IEnumerable<JsonObject> Baselines(Dossier dossier) =>
        new[] { dossier.BaselineBefore, dossier.Baseline }.OfType<Measurement.Baselines.TakenBaseline>().Select(b => new JsonObject
        {
            ["format"] = "driftwatch.baseline/1",
            ["taken"] = UtcText.FromNanoseconds(b.UtcNanoseconds),
            ["by"] = b.By,
            ["standing"] = Slugs.Of(b.Standing),
            ["state"] = Slugs.Of(b.State),
            ["transfer"] = b.Transfer,
            ["unwell"] = new JsonArray([.. b.Unwell.Select(u => JsonValue.Create(u))]),
            ["values"] = new JsonArray([.. b.Values.Select(v => (JsonNode)new JsonObject
            {
                ["channel"] = v.Channel,
                ["unit"] = v.Unit,
                ["value"] = v.Value,
                ["standardError"] = v.StandardError,
                ["count"] = v.Count,
                ["calibration"] = v.CalibrationVersion,
            })]),
        });

    private static void WriteFindings(Stream stream, BenchReader reader, Dossier dossier)
    {
        EngineTime from = dossier.Anchors.FromUtcNanoseconds(dossier.Span.FromUtc);
        EngineTime to = dossier.Anchors.FromUtcNanoseconds(dossier.Span.ToUtc);
        foreach (StoredFinding finding in reader.EachFindingBetween(from, to, Before).Where(f => f.Line.StartUtc < dossier.Span.ToUtc && (f.Line.EndUtc ?? long.MaxValue) >= dossier.Span.FromUtc))
        {
            FindingJson.Write(stream, finding.Line);
            stream.WriteByte((byte)'\n');
        }
    }

    private static void WriteAlarms(Stream stream, BenchReader reader, Dossier dossier)
    {
        HashSet<string> told = [.. dossier.Alarms.Select(a => a.Last.Id)];
        foreach (AlarmTransition line in reader.AlarmsOver(dossier.Span.FromUtc, dossier.Span.ToUtc, Before).Select(a => a.Line).Where(l => told.Contains(l.Id)))
        {
            stream.Write(AlarmJson.ToUtf8(line));
            stream.WriteByte((byte)'\n');
        }
    }

    private static void WriteEntries(Stream stream, DossierTransfer transfer)
    {
        foreach (Measurement.Transfers.EntryCommand entry in transfer.Entries)
        {
            stream.Write(PayloadJson.ToUtf8(EngineInput.OfCommand(default, entry)));
            stream.WriteByte((byte)'\n');
        }
    }

    private static void Lines(Stream stream, IEnumerable<JsonObject> objects)
    {
        foreach (JsonObject line in objects)
        {
            stream.Write(Encoding.UTF8.GetBytes(line.ToJsonString(new JsonSerializerOptions { Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping })));
            stream.WriteByte((byte)'\n');
        }
    }
}
