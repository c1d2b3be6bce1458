using System.Xml.Linq;
using System.Xml.Schema;
using DriftWatch.Cli;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Storage;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>A recording that was taken through the flow afterwards: what people entered about it stands in report and package.</summary>
[Collection(ImportedStores.Name)]
public sealed class TransferDossierTests : IDisposable
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);
    private readonly RecordingFolder _folder = new();

    public TransferDossierTests(ImportedStores stores) => TransferredStore.Make(stores.Sound, Store);

    private string Store => _folder.PathOf("store");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void The_run_is_the_one_that_was_entered_and_places_count_from_its_begin()
    {
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        Assert.Equal(RunSource.Entered, dossier.Run.Source);
        Assert.Equal(TransferredStore.Utc("08:02:10"), dossier.Run.Stretch.FromUtc);
        Assert.Equal(TransferredStore.Utc("09:26:50"), dossier.Run.Stretch.ToUtc);
        Assert.Equal(30 + (9.5 * 60), dossier.Run.PlaceOf(TransferredStore.Utc("08:11:40")));
        Assert.Equal(TransferredStore.Utc("07:55:00"), dossier.Span.FromUtc);
        Assert.Equal(TransferredStore.Utc("09:27:50"), dossier.Span.ToUtc);
        Assert.Equal(5080, dossier.Channels.Single(c => c.Channel.Id == "regulated-air").Count);
    }

    [Fact]
    public void The_first_page_has_tape_verdict_and_names_and_the_engineering_what_was_signed_and_turned()
    {
        Document report = TransferReport.Of(DossierReader.OfTransfer(Store, TransferredStore.Transfer.ToString(), 1), TimeZoneInfo.Utc, Made);
        Badge badge = Assert.IsType<Badge>(report.Blocks[0]);
        Assert.Equal((Standing.Doubtful, "Sound with remarks"), (badge.Standing, badge.Word));
        Assert.Equal("Given by Ida (declared). Look at the splice. The rules came to 'sound'. Countersigned by Ben (declared).", badge.Sentence);
        Assert.Contains(report.Blocks.OfType<Bullets>(), b => b.Items.SequenceEqual(["0:10:00 to 0:10:02: One mark."]));
        string[] cells = [.. report.Blocks.OfType<Table>().SelectMany(t => t.Rows.SelectMany(r => r.Select(c => c.Text)))];
        Assert.Contains("The wheel turned before the air was up.", cells);
        Assert.Contains("Ida (declared), 07:57:00: The drain is stuck.", cells);
        Assert.Contains("at least −0.5 dB", cells);
        Assert.Contains("−0.4 by hand", cells);
        Assert.Contains("splice", cells);
        Assert.Contains(report.Blocks.OfType<Facts>(), f => f.Items.Contains(new Fact("Tape", "MC-0117, Harbour Fête")));
        Assert.Contains(report.Blocks.OfType<Facts>(), f => f.Items.Contains(new Fact("Carrier", "14-inch reel")) && f.Items.Contains(new Fact("Earlier passes", "once in 1998, elsewhere")));
        Assert.Equal("Transfer report", report.Title);

        // What nobody did is told as well: all items of the check list but the two that were signed, all steps for this standard but the one recorded.
        Table preFlight = report.Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Pre-flight, as it was signed", StringComparison.Ordinal));
        Assert.Equal(11, preFlight.Rows.Count);
        Assert.Equal(9, preFlight.Rows.Count(r => r[1].Text == "not signed"));
        Assert.Contains(preFlight.Rows, r => r[0].Text == "Every instrument of the bench is within its calibration's date." && r[1].Text == "not signed");
        Table lineUp = report.Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Line-up: each step", StringComparison.Ordinal));
        Assert.Equal(10, lineUp.Rows.Count);
        Assert.Equal(9, lineUp.Rows.Count(r => r[0].Text.EndsWith("(not recorded)", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task The_package_has_the_entries_and_premis_the_people()
    {
        string bag = _folder.PathOf("bag");
        (int code, _, string error) = await CommandLineTests.RunAsync("package", Store, "--transfer", "0190a6f0-0002", "--out", bag);
        Assert.True(code == ExitCode.Done, error);
        Assert.Empty(BagCheck.Of(bag));
        string[] entries = await File.ReadAllLinesAsync(Path.Combine(bag, "data", "entries.jsonl"));
        Assert.Equal(11, entries.Length); // all of the transfer; the tape's description stands in report and PREMIS
        Assert.Contains(entries, e => e.Contains("\"line-up-step\"", StringComparison.Ordinal));
        XNamespace premis = "http://www.loc.gov/premis/v3";
        XDocument document = Validated(bag, "premis", premis.NamespaceName);
        Assert.Equal(
            ["pre-flight check", "line-up", "quality review", "quality review", "playback for transfer", "capture", "message digest calculation"],
            document.Descendants(premis + "eventType").Select(e => e.Value));
        HashSet<string> agents = [.. document.Descendants(premis + "agentIdentifierValue").Select(e => e.Value)];
        Assert.All(document.Descendants(premis + "linkingAgentIdentifierValue"), e => Assert.Contains(e.Value, agents));
        Assert.Superset(new HashSet<string> { "Ida", "Ben" }, agents);
    }

    /// <summary>What is handed on is the tape's own standard and shelf mark, and the machine's standard beside it: this bench is filed as 525/60.</summary>
    [Theory]
    [InlineData("525/60")]
    [InlineData("625/50")]
    public async Task The_metadata_has_the_standard_of_the_tape_and_the_machines_where_it_is_another(string standard)
    {
        TransferredStore.DescribeAgain(Store, standard);
        string bag = _folder.PathOf("bag");
        (int code, _, string error) = await CommandLineTests.RunAsync("package", Store, "--transfer", "0190a6f0-0002", "--out", bag);
        Assert.True(code == ExitCode.Done, error);
        const string Pbcore = "http://www.pbcore.org/PBCore/PBCoreNamespace.html";
        const string Premis = "http://www.loc.gov/premis/v3";
        XDocument pbcore = Validated(bag, "pbcore", Pbcore);
        XDocument premis = Validated(bag, "premis", Premis);
        foreach (string element in (string[])["pbcoreIdentifier", "instantiationIdentifier"])
        {
            Assert.Equal(
                [("shelf mark", "MC-0117"), ("DriftWatch", TransferredStore.Transfer.ToString())],
                pbcore.Descendants(XName.Get(element, Pbcore)).Select(e => (e.Attribute("source")!.Value, e.Value)));
        }

        Assert.Equal(standard, pbcore.Descendants(XName.Get("instantiationStandard", Pbcore)).Single().Value);
        string[] ofTheMachine = [.. pbcore.Descendants(XName.Get("instantiationAnnotation", Pbcore)).Where(a => a.Attribute("annotationType")!.Value == "standard of the machine").Select(a => a.Value)];
        string playback = premis.Descendants(XName.Get("eventDetail", Premis)).Single(d => d.Value.StartsWith("Played on ", StringComparison.Ordinal)).Value;
        string device = (await File.ReadAllLinesAsync(Path.Combine(bag, "data", "metadata", "process-history.csv")))[1];
        Assert.Contains($"(practice rig), {standard}", playback, StringComparison.Ordinal);
        Assert.Contains($"(practice rig)\",,{standard},,", device, StringComparison.Ordinal);
        if (standard == "525/60")
        {
            Assert.Empty(ofTheMachine);
            Assert.DoesNotContain("bench file", playback, StringComparison.Ordinal);
            Assert.DoesNotContain("bench file", device, StringComparison.Ordinal);
        }
        else
        {
            Assert.Equal(["525/60 by the bench file; the tape was described as 625/50"], ofTheMachine);
            Assert.Contains("as the tape was described; by the bench file a machine of 525/60. Places", playback, StringComparison.Ordinal);
            Assert.EndsWith("; by the bench file a machine of 525/60", device, StringComparison.Ordinal);
        }
    }

    /// <summary>The file of a package, held against the content models of its schema.</summary>
    private static XDocument Validated(string bag, string standard, string space)
    {
        var schemas = new XmlSchemaSet();
        schemas.Add(space, GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Golden/{standard}/{standard}-used.xsd"));
        var document = XDocument.Load(Path.Combine(bag, "data", "metadata", $"{standard}.xml"));
        var mistakes = new List<string>();
        document.Validate(schemas, (_, e) => mistakes.Add(e.Message));
        Assert.Empty(mistakes);
        return document;
    }

    /// <summary>Read back by the rules of RFC 4180: each device of the chain in its order, with the fields of the trade's coding history.</summary>
    [Fact]
    public void The_process_history_has_every_device_of_the_chain_in_its_order()
    {
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        using var stream = new MemoryStream();
        ProcessHistory.Write(stream, dossier);
        string[] lines = System.Text.Encoding.UTF8.GetString(stream.ToArray()).Split("\r\n");
        Assert.Equal("order,role,manufacturer,model,serialNumber,signal,settings,notes", lines[0]);
        Assert.Equal("", lines[^1]);
        string[][] rows = [.. lines[1..^1].Select(Cells)];
        Assert.All(rows, r => Assert.Equal(8, r.Length));
        Assert.Equal(["1", "tape reproduction", "", "Marram Coast Sound & Picture Archive, machine 2 (practice rig)", "", "525/60", "", "from 2026-01-15T08:02:10.000Z to 2026-01-15T09:26:50.000Z"], rows[0]);
        Assert.Equal(["2", "measurement of the machine", "", "practice-rig", ""], rows[1][..5]);
        Assert.Equal($"bench file {dossier.Bench.SourceHash}", rows[1][6]);
        Assert.StartsWith("Practice rig: supply-air, regulated-volts, ", rows[1][7], StringComparison.Ordinal); // regulated air is a ratio of two, and no input
        Assert.Equal(["3", "judgement and record", "", "DriftWatch", "", "", $"version {dossier.Software}", $"record SHA-256 {dossier.Record.Sha256}"], rows[2]);
        Assert.Equal(3, rows.Length);

        // As a bench file that tells the plates and what the signal goes through has it.
        Dossier told = dossier with
        {
            Bench = dossier.Bench with
            {
                Machine = dossier.Bench.Machine with { Plate = new Nameplate("Harbour Works", "Q-2", "0117") },
                Devices = [new DeviceDefinition { Role = "time-base correction", Plate = new Nameplate(null, "TB-7", null), Signal = "SDI, 10 bit", Settings = "set-up 7.5 IRE", Note = "the \"grey\" one" }],
            },
        };
        using var fuller = new MemoryStream();
        ProcessHistory.Write(fuller, told);
        string[][] more = [.. System.Text.Encoding.UTF8.GetString(fuller.ToArray()).Split("\r\n")[1..^1].Select(Cells)];
        Assert.Equal(["1", "tape reproduction", "Harbour Works", "Q-2", "0117", "525/60", ""], more[0][..7]);
        Assert.StartsWith("Marram Coast Sound & Picture Archive, machine 2 (practice rig): from ", more[0][7], StringComparison.Ordinal);
        Assert.Equal(["2", "time-base correction", "", "TB-7", "", "SDI, 10 bit", "set-up 7.5 IRE", "the \"grey\" one"], more[1]);
        Assert.Equal(4, more.Length);

        static string[] Cells(string line) =>
            [.. System.Text.RegularExpressions.Regex.Matches(line, "(?:^|,)(?:\"(?<q>(?:[^\"]|\"\")*)\"|(?<p>[^,\"]*))", System.Text.RegularExpressions.RegexOptions.ExplicitCapture, TimeSpan.FromSeconds(1))
                .Select(m => m.Groups["q"].Success ? m.Groups["q"].Value.Replace("\"\"", "\"", StringComparison.Ordinal) : m.Groups["p"].Value)];
    }

    [Fact]
    public void The_settings_that_judged_stand_in_the_report_with_their_sources()
    {
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        Document report = TransferReport.Of(dossier, TimeZoneInfo.Utc, Made);
        Assert.Contains(report.Blocks.OfType<Heading>(), h => h.Text == "The settings that judged");
        Table limits = report.Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Limits in force", StringComparison.Ordinal));
        Assert.All(
            dossier.Bench.Channels.Where(c => c.Limits.Count > 0).Select(c => c.Label).Concat(dossier.Bench.Quantities.Where(q => q.Limits.Count > 0).Select(q => q.Label)),
            label => Assert.Single(limits.Rows, r => r[0].Text.Split("; ").Contains(label)));
        Assert.Contains(limits.Rows, r => r[0].Text == "RF head 1; RF head 2; RF head 3; RF head 4");
        Assert.All(limits.Rows, r => Assert.NotEmpty(r[^1].Text));
        Assert.Contains(limits.Rows, r => r[1].Text == "below 43.75 psi: alarm" && r[^1].Text.Contains("87.5 %", StringComparison.Ordinal)); // the bearing's trip
        Table rules = report.Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Rules of the verdict", StringComparison.Ordinal));
        Table tolerances = report.Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Tolerances of the line-up", StringComparison.Ordinal));
        IReadOnlyList<Cell> tolerance = Assert.Single(tolerances.Rows);
        Assert.Equal(("at least −0.5 dB", "site"), (tolerance[1].Text, tolerance[2].Text));
        Assert.Contains(rules.Rows, r => r[0].Text == "gaps" && r[1].Text == "unwatched, more than 0.1 % of the run" && r[2].Text == "sound with remarks");
    }

    /// <summary>By the input at which the line-up was ended: a baseline of the same tape that came later by hand is not the line-up's.</summary>
    [Theory]
    [InlineData(0, true)]
    [InlineData(1, false)]
    public void The_line_up_took_a_baseline_only_where_one_was_taken_upon_its_end(int later, bool took)
    {
        Assert.False(DossierReader.OfTransfer(Store, "0190a6f0-0002", null).LineUpTookBaseline); // it was written down afterwards
        using (BenchStore writer = BenchStore.Open(Store, new BenchStoreOptions()))
        {
            long number;
            using (BenchReader reader = writer.OpenReader())
            {
                number = reader.Entries().Single(e => e.Entry.Body is LineUpEnded).Number + later;
            }

            writer.CommitJudged(writer.LastNumber, [1], "build", [BaselineStoreTests.Line(BaselineStoreTests.Make(number, 0, 50) with { UtcNanoseconds = TransferredStore.Utc("08:01:50"), Standing = BaselineStanding.Confirmed })]);
        }

        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        Assert.Equal(took, dossier.LineUpTookBaseline);
        PremisEvent lineUp = PremisEntries.Of(dossier.Transfer!, dossier.LineUpTookBaseline, ("local", "t", "source")).Single(e => e.Type == "line-up");
        Assert.EndsWith(took ? "The end of it took the tape's baseline." : "Its end was written down, and took no baseline.", lineUp.Detail, StringComparison.Ordinal);
    }

    /// <summary>A quiet run at the wrong standard has no trouble at any place, and is to be run again all the same.</summary>
    [Fact]
    public void A_first_page_does_not_say_nothing_to_do_under_run_again()
    {
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        DossierTransfer transfer = dossier.Transfer!;
        var reason = new VerdictReason("wrong-standard", Verdict.RunAgain, "Another standard.");
        BookPass again = transfer.Pass with { Entries = [.. transfer.Pass.Entries.Select(e => e.Body is VerdictGiven given ? e with { Body = given with { Verdict = Verdict.RunAgain, Reasons = [reason] } } : e)] };
        string[] said = [.. TransferReport.Of(dossier with { Findings = [], Unwatched = [], Transfer = transfer with { Pass = again } }, TimeZoneInfo.Utc, Made).Blocks.OfType<Paragraph>().Select(p => p.Text)];
        Assert.Contains("The readings found nothing at any place on the tape. What the verdict asks for, and why, stands at the head of this page.", said);
        Assert.DoesNotContain(said, t => t.Contains("nothing to do", StringComparison.Ordinal));
    }

    /// <summary>A page of words in a column of eight letters would be pages of table.</summary>
    [Fact]
    public void A_long_note_on_a_check_or_a_step_stands_below_the_tables_in_full()
    {
        string words = string.Join(" ", Enumerable.Repeat("oxide on the second guide", 40));
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        DossierTransfer transfer = dossier.Transfer!;
        BookPass noted = transfer.Pass with { Entries = [.. transfer.Pass.Entries.Select(e => e.Body is CheckSigned { Check: "filter-drained" } or LineUpStepRecorded ? e with { Note = words } : e)] };
        Document report = TransferReport.Of(dossier with { Transfer = transfer with { Pass = noted } }, TimeZoneInfo.Utc, Made);
        Table below = report.Blocks.OfType<Table>().Single(t => t.Caption == "Longer notes on checks and steps.");
        Assert.Equal(["Ida (declared), 07:57:00", "Ben (declared), 08:01:30"], below.Rows.Select(r => r[1].Text));
        Assert.All(below.Rows, r => Assert.Equal(words, r[2].Text));
        Assert.Equal(2, report.Blocks.OfType<Table>().SelectMany(t => t.Rows).Count(r => r[^1].Text.EndsWith(": note below", StringComparison.Ordinal)));
        Assert.DoesNotContain(TransferReport.Of(dossier, TimeZoneInfo.Utc, Made).Blocks.OfType<Table>(), t => t.Caption == below.Caption);
    }

    /// <summary>The run was on 15 January: a calibration that is due on that day still held, as for the pre-flight and the hand-over.</summary>
    [Theory]
    [InlineData(15, false)]
    [InlineData(14, true)]
    public void A_calibration_is_past_its_date_from_the_day_after_it(int day, bool isPast)
    {
        Dossier dossier = DossierReader.OfTransfer(Store, "0190a6f0-0002", null);
        DossierCalibration used = dossier.Calibrations[0];
        Document report = TransferReport.Of(
            dossier with { Calibrations = [used with { Calibration = used.Calibration with { Due = new DateOnly(2026, 1, day) } }] }, TimeZoneInfo.Utc, Made);
        Cell due = report.Blocks.OfType<Table>().SelectMany(t => t.Rows).SelectMany(r => r).Single(c => c.Text == $"{day} Jan 2026");
        Assert.Equal(isPast ? Standing.Bad : null, due.Standing);
    }

    [Theory]
    [InlineData("ffff", null, "The book holds no transfer ffff")]
    [InlineData("0190a6f0-0002", 7, "has no pass 7")]
    [InlineData("01", null, "The book holds no transfer 01")]
    public void What_is_not_there_is_said_with_what_is(string id, int? pass, string says) =>
        Assert.Contains(says, Assert.Throws<InvalidDataException>(() => DossierReader.OfTransfer(Store, id, pass)).Message, StringComparison.Ordinal);

    [Theory]
    [InlineData("report a --transfer 0190 --from 2026-03-01 --out b.pdf", "a transfer has its own span")]
    [InlineData("report a --pass 2 --out b.pdf", "name it with --transfer")]
    public async Task A_transfer_and_a_span_do_not_go_together(string line, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }
}
