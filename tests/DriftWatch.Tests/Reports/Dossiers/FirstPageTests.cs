using System.Globalization;
using DriftWatch.Cli;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Reports.Packages;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Storage;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>The page that an archivist reads says what the lists and the entries behind it say, and no more than they do.</summary>
[Collection(ImportedStores.Name)]
public sealed class FirstPageTests(ImportedStores stores)
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    private static readonly HashSet<string> Picture =
        ["rf-head-1", "rf-head-2", "rf-head-3", "rf-head-4", "servo-lock", "control-track", "corrector-use", "sync-level", "video-level", "audio-level", "rf-tilt"];

    /// <summary>The compressor fails; on the second bench nothing that carries the picture is read, and the air's own alarm is what the rules go by.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task What_is_to_be_run_again_is_what_the_list_has_whatever_it_was_cut_out_for(bool isAirOnly)
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(isAirOnly ? Picture : new HashSet<string>());
        await recording.RunAsync("08:02:10", "08:40:10");
        Dossier dossier = DossierReader.OfTransfer(recording.Store, "0190a6f0", null);
        IReadOnlyList<TapeSection> sections = dossier.Transfer!.Review.Sections;
        Assert.NotEmpty(sections);
        Assert.Equal(Verdict.RunAgain, dossier.Transfer.Review.ByRules!.Verdict);
        string[] places = [.. sections.Select(s => $"{FigureFrame.PlaceText(s.FromSeconds)} to {FigureFrame.PlaceText(s.ToSeconds)}")];

        Fact said = Assert.Single(Facts(dossier), f => f.Name == "To be run again");
        Assert.StartsWith(string.Join(", ", places), said.Value, StringComparison.Ordinal);
        Trouble trouble = Trouble.Of(dossier)[0]; // the compressor
        Assert.EndsWith($"Run {string.Join(" and ", places)} again once that is mended.", trouble.ToDo, StringComparison.Ordinal);
        Assert.Equal(isAirOnly, trouble.OnTheTape == "What carries the picture stayed within its alarm limits.");

        // Of a span nobody's rules judge: what carried the picture beyond its limits, with the trade's half minute before and behind.
        Dossier span = dossier with { Transfer = null };
        Assert.DoesNotContain(Facts(span), f => f.Name == "To be run again");
        Assert.Equal(!isAirOnly, Trouble.Of(span)[0].ToDo.Contains(" again once that is mended.", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_bench_that_reads_only_the_air_says_on_the_first_page_what_nothing_can_be_said_of()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string>(Picture.Where(p => p is not ("rf-head-1" or "rf-head-2"))) { "guide-vacuum" });
        await recording.RunAsync("08:02:10", "08:20:00");
        const string Unread = "This bench has no reading of the guide's vacuum, the RF level of 2 of the four heads, the control track, the sync level, the video level and the audio level: nothing can be said of them.";
        Assert.Contains(new Fact("Not read", Unread), Facts(DossierReader.OfTransfer(recording.Store, "0190a6f0", null)));
        Assert.Contains(Unread, await AlteredRecording.DoneAsync("transfer", "review", recording.Store), StringComparison.Ordinal);
    }

    /// <summary>Who shelved an alarm, or took its channel out of service, answered for it as much as who took it on.</summary>
    [Fact]
    public void Every_answer_to_an_alarm_is_told_and_nobody_only_where_nobody_did()
    {
        Dossier dossier = DossierReader.OfSpan(stores.Compressor, null, null);
        long at = dossier.Run.Stretch.FromUtc;
        AlarmTransition raised = AlarmStoreTests.Line(7, 0) with { Id = "a", Tag = "a", AtUtc = at, RaisedUtc = at, By = null, Why = null };
        AlarmTransition shelved = raised with { Input = 8, Step = AlarmStep.Shelved, To = AlarmState.Shelved, By = "Ida", Identity = "declared", AtUtc = at + 60_000_000_000, ShelvedUntilUtc = at + 660_000_000_000, Why = "the compressor is being mended" };
        AlarmTransition out_ = raised with { Id = "b", Tag = "b", Input = 9, Step = AlarmStep.TakenOutOfService, To = AlarmState.OutOfService, By = "Ben", Identity = "declared", AtUtc = at + 120_000_000_000, Why = "cable" };
        AlarmTransition alone = raised with { Id = "c", Tag = "c", Input = 10 };
        dossier = dossier with { Alarms = AlarmStory.Of([raised, shelved, raised with { Id = "b", Tag = "b" }, out_, alone]) };
        Table table = Report(dossier).Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("From the book of alarms", StringComparison.Ordinal));
        string Time(long after) => DateTimeOffset.UnixEpoch.AddTicks((at + after) / 100).ToString("HH:mm:ss", CultureInfo.InvariantCulture);
        Assert.Equal(
            [
                $"Ida (declared) shelved it until {Time(660_000_000_000)}, {Time(60_000_000_000)}: the compressor is being mended.",
                $"Ben (declared) took it out of service, {Time(120_000_000_000)}: cable.",
                "nobody",
            ],
            table.Rows.Select(r => r[4].Text));
    }

    /// <summary>Nobody signed, nobody lined up: an archive that reads of no check at all would take it for a record that is not kept.</summary>
    [Fact]
    public async Task A_pass_that_nobody_prepared_has_that_in_the_archives_record()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string>());
        await recording.RunAsync("08:02:10", "08:20:00");
        Dossier dossier = DossierReader.OfTransfer(recording.Store, "0190a6f0", null);
        PremisEvent[] events = Events(dossier.Transfer!);
        PremisEvent checks = events.Single(e => e.Type == "pre-flight check"), lineUp = events.Single(e => e.Type == "line-up");
        Assert.Equal(("not signed", "Nobody signed an item of the pre-flight in this pass."), (checks.Outcome, checks.Detail));
        Assert.Equal(dossier.Transfer!.Procedures.Checks.Items.Select(i => $"{i.Key}: not signed"), checks.Notes);
        Assert.Equal(
            ("not recorded", "Nobody recorded a step of the line-up in this pass. It was not ended, and no baseline was taken at its end."), (lineUp.Outcome, lineUp.Detail));
        Assert.Contains("tracking: not recorded", lineUp.Notes);
        Assert.Empty(lineUp.Agents);

        BookPass ended = dossier.Transfer.Pass with { Entries = [.. dossier.Transfer.Pass.Entries, dossier.Transfer.Pass.Opened with { By = "Ida Wren", Body = new LineUpEnded() }] };
        lineUp = Events(dossier.Transfer with { Pass = ended }).Single(e => e.Type == "line-up");
        Assert.Equal(("ended without a step recorded", "Nobody recorded a step of the line-up in this pass. Its end was written down, and took no baseline."), (lineUp.Outcome, lineUp.Detail));
        Assert.Equal("Ida Wren", Assert.Single(lineUp.Agents).Id);

        string bag = recording.PathOf("bag");
        await AlteredRecording.DoneAsync("package", recording.Store, "--transfer", "0190a6f0", "--out", bag);
        Assert.Empty(BagCheck.Of(bag));
        Assert.Contains("Nobody signed an item of the pre-flight in this pass.", await File.ReadAllTextAsync(Path.Combine(bag, "data", "metadata", "premis.xml")), StringComparison.Ordinal);

        static PremisEvent[] Events(DossierTransfer transfer) => [.. PremisEntries.Of(transfer, tookBaseline: false, ("local", "MC-0094", "source"))];
    }

    /// <summary>The verdict was 'sound with remarks'; then the box was read again, and by its standard the whole run was wrong.</summary>
    [Fact]
    public async Task A_verdict_that_facts_have_overtaken_is_shown_with_what_they_are()
    {
        using var folder = new RecordingFolder();
        string store = folder.PathOf("store");
        TransferredStore.Make(stores.Sound, store);
        Assert.DoesNotContain("By what is known now", Badge().Sentence, StringComparison.Ordinal);
        TransferredStore.DescribeAgain(store, "625/50");
        Assert.Equal("Sound with remarks", Badge().Word);
        Assert.Contains("By what is known now the rules come to 'run again': ", Badge().Sentence, StringComparison.Ordinal);

        // A note on the transfer as a whole belongs to its report as much as one on the pass.
        (int code, _, string error) = await CommandLineTests.RunAsync(
            "transfer", "note", store, "--transfer", TransferredStore.Transfer.ToString(), "--note", "the box was labelled wrongly", "--about", "2026-01-15T09:50:00Z", "--by", "Ida");
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains(
            Report(DossierReader.OfTransfer(store, "0190a6f0-0002", null)).Blocks.OfType<Table>().Single(t => t.Caption.StartsWith("Notes and marks", StringComparison.Ordinal)).Rows,
            r => r[3].Text == "the box was labelled wrongly");

        Badge Badge() => Assert.IsType<Badge>(Report(DossierReader.OfTransfer(store, "0190a6f0-0002", null)).Blocks[0]);
    }

    private static Document Report(Dossier dossier) => TransferReport.Of(dossier, TimeZoneInfo.Utc, Made);

    private static IEnumerable<Fact> Facts(Dossier dossier) => Report(dossier).Blocks.OfType<Facts>().SelectMany(f => f.Items);
}
