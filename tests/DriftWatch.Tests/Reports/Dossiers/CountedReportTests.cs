using System.Globalization;
using System.Text.RegularExpressions;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;

using static DriftWatch.Tests.Reports.Dossiers.AlteredRecording;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>
/// The failing compressor with a counter beside it that stands at 0:12:30 when the run begins at 08:02:10: every place of the report is
/// held against that sum, and against a counter that was set to zero at 08:20:00.
/// </summary>
public sealed partial class CountedReportTests : IDisposable
{
    private const string Began = "08:02:10";
    private const string Ended = "08:40:10";
    private static readonly DateTimeOffset Made = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);
    private readonly AlteredRecording _recording = new();

    public void Dispose() => _recording.Dispose();

    [Fact]
    public async Task A_run_that_begins_at_0_12_30_is_laid_out_and_cut_by_its_counter()
    {
        Dossier dossier = await DossierAsync(utc => 750 + ((utc - Utc(Began)) / 1e9));
        Assert.Equal((750, 3030), (dossier.Run.PlaceOf(Utc(Began))!.Value, dossier.Run.PlaceOf(Utc(Ended))!.Value));

        // 0:15:00 comes 150 s after the begin, and so on every five minutes; 0:50:00 is the last before 0:50:30.
        Assert.Equal(
            ["08:04:40 0:15:00", "08:09:40 0:20:00", "08:14:40 0:25:00", "08:19:40 0:30:00", "08:24:40 0:35:00", "08:29:40 0:40:00", "08:34:40 0:45:00", "08:39:40 0:50:00"],
            FigureFrame.RoundPlaces(dossier.Run).Select(Tick));

        // Onto the strip, which is 1000 wide with 34 at either side: 150 s of 2280.
        string html = Html(dossier, "counted");
        Assert.Equal(34 + (932 * 150 / 2280.0), MiddleOf(html, "0:15:00"), 1.5);
        Assert.Equal(34 + (932 * 2250 / 2280.0), MiddleOf(html, "0:50:00"), 1.5);

        // The supply is said to fall from 08:27:42 on, which is 1532 s after the begin; tape goes wrong until the run ends, and no further is it run again.
        Trouble trouble = Assert.Single(Trouble.Of(dossier));
        Assert.Equal(750 + 1532, trouble.FromSeconds, 0.5);
        Assert.Equal(3030, trouble.ToSeconds, 0.5);
        Match again = Again().Match(trouble.ToDo);
        Assert.True(again.Success, trouble.ToDo);
        Assert.Equal("0:50:30", again.Groups["to"].Value);
        DossierFinding first = dossier.Findings.Where(f => f.Line.Severity == Severity.Alarm && f.Line.Channel is "rf-head-1" or "rf-head-2" or "rf-head-3" or "rf-head-4" or "servo-lock" or "control-track").MinBy(f => f.FromUtc)!;
        Assert.True(Seconds(again.Groups["from"].Value) <= 750 + ((first.FromUtc - Utc(Began)) / 1e9) - 10 + 0.5, "The handle before it is missing.");
        Assert.Contains("Places on the tape, as h:mm:ss, are told by the machine's counter.", Caption(dossier), StringComparison.Ordinal);
        Assert.DoesNotContain("set anew", Caption(dossier), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Handles_end_with_the_run_at_both_ends()
    {
        Dossier dossier = await DossierAsync(utc => 750 + ((utc - Utc(Began)) / 1e9), began: "08:38:40", ended: "08:39:10");
        Trouble trouble = Assert.Single(Trouble.Of(dossier)); // the wheel stands, before and behind
        Assert.Contains("Run 0:49:00 to 0:49:30 again", trouble.ToDo, StringComparison.Ordinal); // 750 s + 2190 s and 30 s more
    }

    [Fact]
    public async Task A_counter_that_was_set_to_zero_makes_two_stretches_and_it_is_said()
    {
        Dossier dossier = await DossierAsync(
            utc => utc < Utc("08:20:00") ? 750 + ((utc - Utc(Began)) / 1e9) : utc >= Utc("08:30:00") && utc < Utc("08:31:00") ? null : (utc - Utc("08:20:00")) / 1e9,
            mark: "08:20:05");

        // What a mark's handles of 10 s take: 08:19:55 to 08:20:00 by the old count, 1065 s to 1070 s after the begin, and 15 s of the new one.
        Assert.Equal(["0:30:15 to 0:30:20, 5 s", "0:00:00 to 0:00:15, 15 s"], dossier.Transfer!.Review!.Sections.Take(2).Select(s => string.Create(
            CultureInfo.InvariantCulture, $"{FigureFrame.PlaceText(s.FromSeconds)} to {FigureFrame.PlaceText(s.ToSeconds)}, {s.RunToSeconds - s.RunFromSeconds:0} s")));
        Assert.Equal("0:29:55 to 0:30:20 and 0:00:00 to 0:00:35", FigureFrame.PlaceText(dossier.Run, new(Utc("08:19:35"), Utc("08:20:35"))));
        Assert.Equal(
            ["08:04:40 0:15:00", "08:09:40 0:20:00", "08:14:40 0:25:00", "08:19:40 0:30:00", "08:25:00 0:05:00", "08:30:00 0:10:00", "08:35:00 0:15:00", "08:40:00 0:20:00"],
            FigureFrame.RoundPlaces(dossier.Run).Select(Tick));
        Assert.Equal(34 + (932 * 1370 / 2280.0), MiddleOf(Html(dossier, "set-anew"), "0:05:00"), 1.5); // 08:25:00
        string caption = Caption(dossier);
        Assert.Contains("It was set anew or jumped once, at 08:20:00 UTC from 0:30:19 to 0:00:00", caption, StringComparison.Ordinal);
        Assert.Contains("It gave no reading for 1 min 1 s", caption, StringComparison.Ordinal); // from the last at 08:29:59 to the next at 08:31:00
        Assert.EndsWith(" The wedge on the upper edge is a mark that somebody set.", caption, StringComparison.Ordinal);
        Assert.Contains("; marked by a person at 0:00:05", Html(dossier, "set-anew"), StringComparison.Ordinal); // 08:20:05, by the new count
        Assert.Equal((10 * 60) + 30, dossier.Run.PlaceOf(Utc("08:30:30"))!.Value, 0.01); // by the time since

        // Each of the two is a cut of its own: no tool finds a place that runs over the zero. At 30000/1001 frames a second 1815 s are 54395.6
        // frames, 1820 s 54545.5, 15 s 449.6.
        string edits = await DoneAsync("transfer", "review", _recording.Store, "--format", "edl");
        Assert.Contains("MC0094   B     C        00:30:13:05 00:30:18:06 00:00:00:00 00:00:05:01", edits, StringComparison.Ordinal);
        Assert.Contains("MC0094   B     C        00:00:00:00 00:00:15:00 00:00:05:01", edits, StringComparison.Ordinal);
    }

    private static string Caption(Dossier dossier) =>
        TransferReport.Of(dossier, TimeZoneInfo.Utc, Made).Blocks.OfType<Figure>().First(f => f.Drawing is TapeStrip).Caption;

    /// <summary>Where a word stands in the first drawing that has it.</summary>
    private static double MiddleOf(string html, string word)
    {
        Match text = Regex.Match(html, $"<text[^>]*? x=\"([^\"]+)\"[^>]*>\\s*{Regex.Escape(word)}\\s*</text>", RegexOptions.None, TimeSpan.FromSeconds(5));
        Assert.True(text.Success, $"{word} stands in no drawing.");
        double[] letters = [.. text.Groups[1].Value.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries).Select(x => double.Parse(x, CultureInfo.InvariantCulture))];
        return (letters[0] + letters[^1] + (letters[1] - letters[0])) / 2;
    }

    private static string Html(Dossier dossier, string name)
    {
        using var stream = new MemoryStream();
        HtmlDocument.Write(stream, TransferReport.Of(dossier, TimeZoneInfo.Utc, Made));
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            File.WriteAllBytes(Path.Combine(folder, name + ".html"), stream.ToArray());
            using FileStream pdf = File.Create(Path.Combine(folder, name + ".pdf"));
            PdfDocument.Write(pdf, TransferReport.Of(dossier, TimeZoneInfo.Utc, Made));
        }

        return System.Text.Encoding.UTF8.GetString(stream.ToArray());
    }

    private static string Tick((long Utc, string Label) tick) => $"{UtcText.FromNanoseconds(tick.Utc)[11..19]} {tick.Label}";

    private static double Seconds(string place) => TimeSpan.Parse(place, CultureInfo.InvariantCulture).TotalSeconds;

    [GeneratedRegex("Run (?<from>\\S+) to (?<to>\\S+) again", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Again();

    private async Task<Dossier> DossierAsync(Func<long, double?> counter, string began = Began, string ended = Ended, string? mark = null)
    {
        await _recording.ImportAsync(new HashSet<string>(), counter);
        await _recording.RunAsync(began, ended, mark);
        return DossierReader.OfTransfer(_recording.Store, "0190a6f0", null);
    }
}
