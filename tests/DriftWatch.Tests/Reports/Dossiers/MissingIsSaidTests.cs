using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Storage;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Storage;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>What a bench does not read, and what nobody took, stands in review and report in words.</summary>
[Collection(ImportedStores.Name)]
public sealed class MissingIsSaidTests(ImportedStores stores)
{
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task A_bench_without_wheel_speed_vacuum_and_levels_says_so_in_report_and_on_the_command_line()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string> { "wheel-speed", "guide-vacuum", "sync-level", "audio-level" });
        await recording.RunAsync("08:02:10", "08:20:00");
        Dossier dossier = DossierReader.OfTransfer(recording.Store, "0190a6f0", null);
        Assert.Equal(ProofStanding.CannotTell, dossier.Transfer!.Review!.Standard!.Standing);
        Document report = TransferReport.Of(dossier, TimeZoneInfo.Utc, Made);
        Assert.Contains(
            report.Blocks.OfType<Facts>(),
            f => f.Items.Contains(new Fact("Standard", "○ can't be told. No reading of the head wheel's speed: the standard was not checked.")));
        Assert.Contains("This bench has no reading of: vacuum, levels. Nothing can be said of them.", report.Blocks.OfType<Paragraph>().Select(p => p.Text));
        Assert.Contains(
            "standard cannot-tell: No reading of the head wheel's speed: the standard was not checked.",
            await AlteredRecording.DoneAsync("transfer", "show", recording.Store), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bench_that_reads_it_all_proves_the_standard_and_misses_nothing()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string>());
        await recording.RunAsync("08:00:25", "08:20:00"); // five seconds before the wheel is put on: it is asked again
        Dossier dossier = DossierReader.OfTransfer(recording.Store, "0190a6f0", null);
        Assert.Equal(ProofStanding.CannotTell, dossier.Transfer!.Pass.RunBegan!.Body.Standard!.Standing);
        Document report = TransferReport.Of(dossier, TimeZoneInfo.Utc, Made);
        Assert.Contains(
            report.Blocks.OfType<Facts>().SelectMany(f => f.Items), f => f.Name == "Standard" && f.Value.StartsWith("● proved by the readings. The wheel turns 2", StringComparison.Ordinal));
        Assert.DoesNotContain(report.Blocks.OfType<Paragraph>(), p => p.Text.Contains("has no reading of", StringComparison.Ordinal));
    }

    /// <summary>The pass was opened at 07:55:00 and its run ended at 09:26:50.</summary>
    [Theory]
    [InlineData("08:01:50", BaselineStanding.Confirmed, true)]
    [InlineData("08:01:50", BaselineStanding.Stable, false)] // the machine's own
    [InlineData("07:54:59", BaselineStanding.Confirmed, false)] // of the tape before
    [InlineData("09:26:51", BaselineStanding.Confirmed, false)] // afterwards
    [InlineData(null, BaselineStanding.Confirmed, false)]
    public void A_tape_without_a_baseline_of_its_own_has_that_as_a_reason(string? taken, BaselineStanding standing, bool has)
    {
        using var folder = new RecordingFolder();
        string store = folder.PathOf("store");
        TransferredStore.Make(stores.Sound, store);
        if (taken is not null)
        {
            using BenchStore writer = BenchStore.Open(store, new BenchStoreOptions());
            writer.CommitJudged(writer.LastNumber, [1], "build", [BaselineStoreTests.Line(BaselineStoreTests.Make(writer.LastNumber, 0, 50) with
            {
                UtcNanoseconds = TransferredStore.Utc(taken), Standing = standing, By = "Ida",
            })]);
        }

        VerdictReason[] reasons = [.. DossierReader.OfTransfer(store, "0190a6f0-0002", null).Transfer!.Review!.ByRules!.Reasons];
        Assert.Equal(has ? 0 : 1, reasons.Count(r => r.Rule == "no-baseline"));
        Assert.Contains("marks", reasons.Select(r => r.Rule)); // the other rules were asked all the same
    }

    /// <summary>Nothing is recorded after 09:29:59; the run ended at 10:10, and forty of its ninety minutes were not watched: those are what is to be run again.</summary>
    [Fact]
    public async Task What_nobody_watched_is_on_the_list_of_what_is_to_be_run_again()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string>());
        await recording.RunAsync("08:40:00", "10:10:00");
        PassReview review = DossierReader.OfTransfer(recording.Store, "0190a6f0", null).Transfer!.Review!;
        Assert.Contains(review.ByRules!.Reasons, r => r.Rule == "nobody-watched");
        TapeSection section = Assert.Single(review.Sections, s => s.Reasons.Any(r => r.StartsWith("More than a twentieth of the run was not watched.", StringComparison.Ordinal)));
        Assert.Equal(90 * 60, section.RunToSeconds, 1e-3);
        Assert.InRange(section.RunFromSeconds, 0, (50 * 60) - 10); // with its handle, joined to what was found before it
    }

    /// <summary>This line-up was never ended, and of its steps one is recorded: the archive's record says so.</summary>
    [Fact]
    public async Task What_was_left_undone_stands_in_the_archives_record()
    {
        using var recording = new AlteredRecording();
        await recording.ImportAsync(new HashSet<string>());
        await recording.RunAsync("08:02:10", "08:20:00");
        Dossier dossier = DossierReader.OfTransfer(recording.Store, "0190a6f0", null);
        EntryCommand entry = dossier.Transfer!.Pass.Opened;
        var proof = new TelemetryProof(ProofStanding.Contradicted, "The air was at 3 %.");
        BookPass pass = dossier.Transfer.Pass with
        {
            Entries =
            [
                .. dossier.Transfer.Pass.Entries,
                entry with { Body = new CheckSigned { Check = "air-before-wheel", Answer = CheckAnswer.Done, Telemetry = proof, ListHash = "aa" } },
                entry with { Body = new LineUpStepRecorded { Step = "tracking", IsDone = false, ListHash = "bb" }, Note = "no time" },
            ],
        };
        DossierTransfer transfer = dossier.Transfer with { Pass = pass };
        PremisEvent[] events = [.. PremisEntries.Of(transfer, dossier.LineUpTookBaseline, ("local", "MC-0094", "source"))];
        PremisEvent checks = events.Single(e => e.Type == "pre-flight check");
        Assert.Equal("with exceptions", checks.Outcome);
        Assert.Contains("air-before-wheel: done; readings, which contradict it: The air was at 3 %.", checks.Notes);
        Assert.Contains("path-cleaned: not signed", checks.Notes);
        PremisEvent lineUp = events.Single(e => e.Type == "line-up");
        Assert.Equal(("with steps left out", "The machine was lined up on this tape, step by step. It was not ended, and no baseline was taken at its end."), (lineUp.Outcome, lineUp.Detail));
        Assert.Contains("tracking: left out; no time", lineUp.Notes);
        Assert.Contains("guide-height: not recorded", lineUp.Notes);
    }
}
