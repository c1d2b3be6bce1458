using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Storage;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Storage;

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
}
