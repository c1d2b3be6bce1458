using System.Globalization;
using System.Xml.Linq;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Reports.Packages;

/// <summary>
/// What happened, in PREMIS 3.0 (schema of 18 January 2016): objects, then events, then agents. The tests hold it against the
/// schema's content models of all that is used here.
/// </summary>
internal static class PremisRecord
{
    private const string Local = "local";
    private const string PathType = "path in the package";

    private static readonly XNamespace Premis = "http://www.loc.gov/premis/v3";
    private static readonly XNamespace Xsi = "http://www.w3.org/2001/XMLSchema-instance";

    /// <param name="stream">Stays open.</param>
    /// <param name="dossier">What is told.</param>
    /// <param name="files">Of the package, but for this one.</param>
    /// <param name="made">When their checksums were worked out.</param>
    public static void Write(Stream stream, Dossier dossier, IReadOnlyList<BagFile> files, DateTimeOffset made)
    {
        string tape = TapeId(dossier);
        var root = new XElement(
            Premis + "premis",
            new XAttribute(XNamespace.Xmlns + "premis", Premis), new XAttribute(XNamespace.Xmlns + "xsi", Xsi), new XAttribute("version", "3.0"),
            new XElement(
                Premis + "object", new XAttribute(Xsi + "type", "premis:intellectualEntity"), Identifier("object", Local, tape),
                new XElement(Premis + "originalName", PackageWords.TitleOf(dossier))),
            files.Select(f => FileObject(f, tape, dossier, made)),
            Events(dossier, tape, files, made).Select(Event),
            Agents(dossier));
        new XDocument(new XDeclaration("1.0", "UTF-8", null), root).Save(stream);
    }

    private static string TapeId(Dossier dossier) => dossier.Transfer?.Id ?? $"{dossier.Bench.Id}/{UtcText.FromNanoseconds(dossier.Span.FromUtc)}";

    private static XElement Identifier(string of, string type, string value) => new(
        Premis + $"{of}Identifier", new XElement(Premis + $"{of}IdentifierType", type), new XElement(Premis + $"{of}IdentifierValue", value));

    private static XElement FileObject(BagFile file, string tape, Dossier dossier, DateTimeOffset made) => new(
        Premis + "object", new XAttribute(Xsi + "type", "premis:file"),
        Identifier("object", PathType, file.Path),
        new XElement(
            Premis + "objectCharacteristics",
            Fixity("SHA-256", file.Sha256), Fixity("SHA-512", file.Sha512),
            new XElement(Premis + "size", file.Bytes),
            new XElement(Premis + "format", new XElement(Premis + "formatDesignation", new XElement(Premis + "formatName", FormatOf(file.Path)))),
            new XElement(
                Premis + "creatingApplication",
                new XElement(Premis + "creatingApplicationName", "DriftWatch"), new XElement(Premis + "creatingApplicationVersion", dossier.Software),
                new XElement(Premis + "dateCreatedByApplication", Instant(made)))),
        new XElement(
            Premis + "relationship",
            new XElement(Premis + "relationshipType", "structural"), new XElement(Premis + "relationshipSubType", "documents"),
            Identifier("relatedObject", Local, tape)));

    private static XElement Fixity(string algorithm, string digest) => new(
        Premis + "fixity", new XElement(Premis + "messageDigestAlgorithm", algorithm), new XElement(Premis + "messageDigest", digest));

    private static string FormatOf(string path) => Path.GetExtension(path) switch
    {
        ".pdf" => "application/pdf",
        ".html" => "text/html",
        ".gz" => "application/gzip",
        ".csv" => "text/csv",
        ".xml" => "application/xml",
        ".json" => "application/json",
        ".jsonl" => "application/jsonl",
        ".toml" => "application/toml",
        _ => "text/plain",
    };

    private static IEnumerable<PremisEvent> Events(Dossier dossier, string tape, IReadOnlyList<BagFile> files, DateTimeOffset made)
    {
        UtcStretch run = dossier.Run.Stretch;
        IReadOnlyList<Trouble> troubles = Trouble.Of(dossier);
        if (dossier.Transfer is { } transfer)
        {
            foreach (PremisEvent entered in PremisEntries.Of(transfer, dossier.LineUpTookBaseline, (Local, tape, "source")))
            {
                yield return entered;
            }
        }

        yield return new PremisEvent(
            $"{tape}/playback", "playback for transfer", $"{UtcText.FromNanoseconds(run.FromUtc)}/{UtcText.FromNanoseconds(run.ToUtc)}",
            $"Played on {dossier.Bench.Machine.Label}, {PackageWords.StandardOf(dossier)}{(PackageWords.OtherStandardOf(dossier) is { } other ? $" as the tape was described; by the bench file a machine of {other}" : "")}. Places on the tape are told {dossier.Run.Position}. Watched for {(100 * dossier.WatchedShare).ToString("0.##", CultureInfo.InvariantCulture)} % of the run.",
            ReportTape.Verdict(dossier)?.Word ?? "no verdict",
            troubles.Count == 0
                ? ["Nothing was found that a person should look at."]
                : [.. troubles.Select(t => $"{FigureFrame.PlaceText(t.FromSeconds)} to {FigureFrame.PlaceText(t.ToSeconds)}: {t.What} {t.OnTheTape} {t.ToDo}")],
            [("machine", dossier.Bench.Id, "performer"), ("software", "DriftWatch", "observer"), .. Operators(dossier)],
            [(Local, tape, "source"), (PathType, "data/record/record.dwlog.gz", "outcome")]);
        yield return new PremisEvent(
            $"{tape}/record", "capture", Instant(made),
            $"The record of the machine, {dossier.Record.Inputs} inputs. SHA-256 of its unpacked text: {dossier.Record.Sha256}.", "success", [],
            [("software", "DriftWatch", "executing program")],
            [(PathType, "data/record/record.dwlog.gz", "outcome")]);
        yield return new PremisEvent(
            $"{tape}/digests", "message digest calculation", Instant(made), "SHA-256 and SHA-512 of every file of the package but this one.", "success", [],
            [("software", "DriftWatch", "executing program")],
            [.. files.Select(f => (PathType, f.Path, "source"))]);
    }

    private static IEnumerable<(string Type, string Id, string Role)> Operators(Dossier dossier) =>
        dossier.Transfer?.Pass is { RunBegan: { } began } ? PremisEntries.People([began.Entry], "operator") : [];

    private static XElement Event(PremisEvent told) => new(
        Premis + "event",
        Identifier("event", Local, told.Id),
        new XElement(Premis + "eventType", told.Type),
        new XElement(Premis + "eventDateTime", told.When),
        new XElement(Premis + "eventDetailInformation", new XElement(Premis + "eventDetail", told.Detail)),
        new XElement(
            Premis + "eventOutcomeInformation",
            new XElement(Premis + "eventOutcome", told.Outcome),
            told.Notes.Select(n => new XElement(Premis + "eventOutcomeDetail", new XElement(Premis + "eventOutcomeDetailNote", n)))),
        told.Agents.Select(a => Link("linkingAgent", a)),
        told.Objects.Select(o => Link("linkingObject", o)));

    private static XElement Link(string of, (string Type, string Id, string Role) to)
    {
        XElement link = Identifier(of, to.Type, to.Id);
        link.Add(new XElement(Premis + $"{of}Role", to.Role));
        return link;
    }

    private static IEnumerable<XElement> Agents(Dossier dossier)
    {
        yield return new XElement(
            Premis + "agent",
            Identifier("agent", "machine", dossier.Bench.Id), new XElement(Premis + "agentName", dossier.Bench.Machine.Label), new XElement(Premis + "agentType", "hardware"),
            dossier.Bench.Machine.Plate is { } plate ? new XElement(Premis + "agentNote", $"{plate}.") : null,
            new XElement(Premis + "agentNote", $"Settings: bench file with SHA-256 {dossier.Bench.SourceHash}."));
        yield return new XElement(
            Premis + "agent",
            Identifier("agent", "software", "DriftWatch"), new XElement(Premis + "agentName", "DriftWatch"), new XElement(Premis + "agentType", "software"),
            new XElement(Premis + "agentVersion", dossier.Software));
        foreach ((string type, string id, _) in PremisEntries.People(dossier.Transfer?.Entries ?? [], ""))
        {
            yield return new XElement(Premis + "agent", Identifier("agent", type, id), new XElement(Premis + "agentName", id), new XElement(Premis + "agentType", "person"));
        }
    }

    private static string Instant(DateTimeOffset at) => at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
}
