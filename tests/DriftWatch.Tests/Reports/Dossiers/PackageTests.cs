using System.IO.Compression;
using System.Security.Cryptography;
using System.Xml.Linq;
using System.Xml.Schema;
using DriftWatch.Cli;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Reports.Dossiers;

[Collection(ImportedStores.Name)]
public sealed class PackageTests(ImportedStores stores) : IDisposable
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_package_holds_its_report_record_and_history_and_is_whole()
    {
        string bag = await PackAsync("bag");
        Assert.Empty(BagCheck.Of(bag));
        Assert.Equal("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", await File.ReadAllTextAsync(Path.Combine(bag, "bagit.txt")));
        string[] wanted =
        [
            "report/report.pdf", "report/report.html", "record/record.dwlog.gz", "record/readings.csv.gz", "record/readings.timing-error.frames.csv.gz",
            "calibrations.jsonl", "findings.jsonl", "alarms.jsonl", "baselines.jsonl", "metadata/premis.xml", "metadata/pbcore.xml",
            "metadata/process-history.csv", "README.txt",
        ];
        Assert.All(wanted, name => Assert.True(File.Exists(Path.Combine(bag, "data", name)), name));
        Assert.NotEmpty(Directory.EnumerateFiles(Path.Combine(bag, "data", "bench"), "*.toml"));
        Assert.All(
            Directory.EnumerateFiles(bag, "*.txt").SelectMany(f => File.ReadLines(f).Where(_ => f.EndsWith("bag-info.txt", StringComparison.Ordinal))),
            line => Assert.True(line.Length <= 79 || !line.Contains(' ', StringComparison.Ordinal) || line.Split(' ').Max(w => w.Length) > 60, line));
    }

    [Fact]
    public async Task The_record_in_it_has_the_hash_of_the_report_and_is_judged_again_to_the_same_findings()
    {
        string bag = await PackAsync("bag");
        string packed = Path.Combine(bag, "data", "record", "record.dwlog.gz");
        await using var gzip = new GZipStream(File.OpenRead(packed), CompressionMode.Decompress);
        string hash = Convert.ToHexStringLower(await SHA256.HashDataAsync(gzip));
        Assert.Equal(DossierReader.OfSpan(stores.Compressor, null, null).Record.Sha256, hash);
        string judged = _folder.PathOf("judged.jsonl");
        await CommandLineTests.RunAsync("judge", packed, "--out", judged);
        Assert.Equal(await File.ReadAllLinesAsync(judged), await File.ReadAllLinesAsync(Path.Combine(bag, "data", "findings.jsonl")));
    }

    [Fact]
    public async Task The_same_span_packs_to_the_same_bytes()
    {
        string one = await PackAsync("one.zip");
        string other = await PackAsync("two.zip");
        Assert.Equal(await File.ReadAllBytesAsync(one), await File.ReadAllBytesAsync(other));
        Assert.Empty(BagCheck.Of(one));
        using ZipArchive zip = ZipFile.OpenRead(one);
        Assert.All(zip.Entries, e => Assert.StartsWith("package/", e.FullName, StringComparison.Ordinal)); // one folder at the top
    }

    [Theory]
    [InlineData("changed", "data/findings.jsonl", "was changed or damaged after packing")]
    [InlineData("removed", "data/record/record.dwlog.gz", "it is missing, though manifest-sha256.txt lists it")]
    [InlineData("added", "data/extra.txt", "it is not listed in manifest-sha256.txt")]
    [InlineData("renamed", "data/report/report.PDF", "it is not listed in manifest-sha256.txt")]
    [InlineData("tag", "bag-info.txt", "was changed or damaged after packing")]
    [InlineData("outside", "manifest-sha256.txt(1)", "leads out of the package")]
    [InlineData("declaration", "bagit.txt", "it is missing, so this is no bag")]
    [InlineData("cut", "data/report/report.pdf", "was changed or damaged after packing")]
    public async Task Damage_is_found_with_its_file_and_a_remedy(string what, string file, string says)
    {
        string bag = await PackAsync("bag");
        string At(string path) => Path.Combine(bag, path);
        switch (what)
        {
            case "changed":
                byte[] bytes = await File.ReadAllBytesAsync(At(file));
                bytes[bytes.Length / 2] ^= 1;
                await File.WriteAllBytesAsync(At(file), bytes);
                break;
            case "removed" or "declaration":
                File.Delete(At(file));
                break;
            case "added":
                await File.WriteAllTextAsync(At(file), "a stranger");
                break;
            case "renamed":
                File.Move(At("data/report/report.pdf"), At(file));
                break;
            case "tag":
                await File.AppendAllTextAsync(At(file), "Contact-Name: nobody\n");
                break;
            case "outside":
                string manifest = await File.ReadAllTextAsync(At("manifest-sha256.txt"));
                await File.WriteAllTextAsync(At("manifest-sha256.txt"), $"{new string('0', 64)}  ../outside.txt\n{manifest}");
                break;
            case "cut":
                await using (FileStream stream = File.OpenWrite(At(file)))
                {
                    stream.SetLength(stream.Length - 1);
                }

                break;
        }

        (int code, string output, string error) = await CommandLineTests.RunAsync("package", bag, "--check");
        Assert.Equal(ExitCode.NotSound, code);
        string line = Assert.Single(output.Split('\n').Where(l => l.StartsWith(file + ":", StringComparison.Ordinal) && l.Contains(says, StringComparison.Ordinal)).Take(1));
        Assert.Contains("; ", line, StringComparison.Ordinal); // and what to do
        Assert.Contains("faults", error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("premis", "http://www.loc.gov/premis/v3", "eventType")]
    [InlineData("pbcore", "http://www.pbcore.org/PBCore/PBCoreNamespace.html", "instantiationLocation")]
    public async Task The_metadata_keeps_to_the_content_models_of_its_schema(string standard, string space, string element)
    {
        string bag = await PackAsync("bag");
        var schemas = new XmlSchemaSet();
        schemas.Add(space, GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Golden/{standard}/{standard}-used.xsd"));
        var document = XDocument.Load(Path.Combine(bag, "data", "metadata", $"{standard}.xml"));
        var mistakes = new List<string>();
        document.Validate(schemas, (_, e) => mistakes.Add(e.Message));
        Assert.Empty(mistakes);

        // The check bites: an element out of its order is refused.
        XElement moved = document.Descendants(XName.Get(element, space)).First();
        XElement parent = moved.Parent!;
        moved.Remove();
        parent.Add(moved);
        document.Validate(schemas, (_, e) => mistakes.Add(e.Message));
        Assert.NotEmpty(mistakes);
    }

    [Fact]
    public async Task Premis_links_lead_to_what_is_described_and_its_digests_are_those_of_the_files()
    {
        string bag = await PackAsync("bag");
        XNamespace premis = "http://www.loc.gov/premis/v3";
        var document = XDocument.Load(Path.Combine(bag, "data", "metadata", "premis.xml"));
        HashSet<string> objects = [.. document.Descendants(premis + "objectIdentifierValue").Select(e => e.Value)];
        HashSet<string> agents = [.. document.Descendants(premis + "agentIdentifierValue").Select(e => e.Value)];
        Assert.All(document.Descendants(premis + "linkingObjectIdentifierValue"), e => Assert.Contains(e.Value, objects));
        Assert.All(document.Descendants(premis + "linkingAgentIdentifierValue"), e => Assert.Contains(e.Value, agents));
        Dictionary<string, string> manifest = File.ReadLines(Path.Combine(bag, "manifest-sha256.txt")).ToDictionary(l => l[66..], l => l[..64], StringComparer.Ordinal);
        foreach (XElement file in document.Root!.Elements(premis + "object").Where(o => o.Descendants(premis + "fixity").Any()))
        {
            string path = file.Descendants(premis + "objectIdentifierValue").First().Value;
            Assert.Equal(manifest[path], file.Descendants(premis + "messageDigest").First().Value);
        }
    }

    [Fact]
    public async Task A_package_is_never_written_over_and_a_failed_one_leaves_nothing()
    {
        string bag = await PackAsync("bag");
        (int code, _, string error) = await CommandLineTests.RunAsync("package", stores.Compressor, "--out", bag);
        Assert.Equal(ExitCode.Environment, code);
        Assert.Contains("never written over", error, StringComparison.Ordinal);
        using var stopped = new CancellationTokenSource();
        await stopped.CancelAsync();
        Dossier dossier = DossierReader.OfSpan(stores.Compressor, null, null);
        await Assert.ThrowsAnyAsync<OperationCanceledException>(
            () => EvidencePackage.WriteAsync(stores.Compressor, dossier, _folder.PathOf("never"), TimeZoneInfo.Utc, Made, stopped.Token));
        Assert.False(Directory.Exists(_folder.PathOf("never")));
        Assert.False(Directory.Exists(_folder.PathOf("never.part")));
    }

    [Fact]
    public void A_path_that_would_break_its_line_is_written_otherwise() => Assert.Equal("data/a%0Ab%25.txt", BagWriter.Escaped("data/a\nb%.txt"));

    [Theory]
    [InlineData("package a", "--out names the package to write")]
    [InlineData("package a --check --out b", "--check looks at the package named and writes nothing")]
    [InlineData("report a --out b.doc", "write NAME.pdf or NAME.html")]
    [InlineData("report a --out b.pdf --from 2026-03-02 --to 2026-03-01", "--to is not after --from")]
    public async Task What_does_not_go_together_is_said(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    /// <summary>A report holds so many findings and says so; the package has every line, in pages smaller than there are lines too.</summary>
    [Fact]
    public async Task Where_a_report_leaves_findings_out_it_says_so_and_the_package_has_them_all()
    {
        string[] all = await File.ReadAllLinesAsync(Path.Combine(await PackAsync("whole"), "data", "findings.jsonl"));
        Dossier whole = DossierReader.OfSpan(stores.Compressor, null, null);
        Assert.Equal(0, whole.LinesLeftOut);
        Assert.DoesNotContain("left out", Text(whole), StringComparison.Ordinal);
        Dossier few = DossierReader.OfSpan(stores.Compressor, null, null, 3, CancellationToken.None);
        Assert.Equal(all.Length - 3, few.LinesLeftOut);
        string said = $"There were more findings than are told here: the oldest {all.Length - 3} lines are left out. A package of the same span has all of them in findings.jsonl";
        Assert.Equal(2, Text(few).Split(said).Length - 1); // on the first page, and where the findings stand

        string target = _folder.PathOf("few");
        await EvidencePackage.WriteAsync(stores.Compressor, few, target, TimeZoneInfo.Utc, Made, CancellationToken.None);
        Assert.Equal(all, await File.ReadAllLinesAsync(Path.Combine(target, "data", "findings.jsonl")));
        using var reader = new DriftWatch.Storage.Queries.BenchReader(stores.Compressor);
        DriftWatch.Measurement.Time.EngineTime from = whole.Anchors.FromUtcNanoseconds(whole.Span.FromUtc), to = whole.Anchors.FromUtcNanoseconds(whole.Span.ToUtc);
        Assert.Equal(
            reader.FindingsBetween(from, to, TimeSpan.FromDays(1), 20_000).Select(f => f.Cursor), reader.EachFindingBetween(from, to, TimeSpan.FromDays(1), page: 2).Select(f => f.Cursor));

        static string Text(Dossier dossier) => string.Join('\n', TransferReport.Of(dossier, TimeZoneInfo.Utc, Made).Blocks.OfType<Paragraph>().Select(p => p.Text));
    }

    /// <summary>Packs the failing compressor with a fixed date; a zip by way of a name of its own, since its top folder has that name.</summary>
    private async Task<string> PackAsync(string name)
    {
        string target = name.EndsWith(".zip", StringComparison.Ordinal) ? Path.Combine(_folder.PathOf(name[..^4]), "package.zip") : _folder.PathOf(name);
        Directory.CreateDirectory(Path.GetDirectoryName(target)!);
        await EvidencePackage.WriteAsync(stores.Compressor, DossierReader.OfSpan(stores.Compressor, null, null), target, TimeZoneInfo.Utc, Made, CancellationToken.None);
        return target;
    }
}
