using System.Globalization;
using System.Text.RegularExpressions;
using DriftWatch.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;
using Xunit;

namespace DriftWatch.Tests.Cli.Transfers;

/// <summary>A recording of replay-data taken through the whole way by command line, afterwards, by the instants it tells of.</summary>
public sealed class TransferFlowTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    private string Store => _folder.PathOf("store");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_sound_tape_goes_its_way_and_readings_prove_what_they_can()
    {
        await Import("sound-transfer");
        string described = await Done("tape", "--identifier", "MC-0117", "--standard", "525/60", "--speed", "15", "--by", "Ida");
        await Done("open", "--tape", IdOf("tape", described), "--by", "Ida");
        await Done("pass", "--by", "Ida");
        Assert.Contains("needs a reason", (await Refused("check", "tape-inspected", "--answer", "not-done", "--by", "Ida")).Error, StringComparison.Ordinal);
        Assert.Contains("did you mean 'dew-point'", (await Refused("check", "dew-pint", "--by", "Ida")).Error, StringComparison.Ordinal);

        // The script puts the air on at 08:00:20 and the wheel at 08:00:30.
        Assert.Contains("readings  proved: When the wheel began to turn at 2026-01-15T08:00:3", await Done("check", "air-before-wheel", "--about", "2026-01-15T08:02:00Z", "--by", "Ida"), StringComparison.Ordinal);
        Assert.Contains("readings  proved: Regulated air is", await Done("check", "setpoint", "--about", "2026-01-15T08:02:00Z", "--by", "Ida"), StringComparison.Ordinal);
        Assert.Contains("readings  contradicted: Regulated air is", await Done("check", "setpoint", "--about", "2026-01-15T08:00:19Z", "--by", "Ida"), StringComparison.Ordinal);
        Assert.Contains("readings  proved: The dew point", await Done("check", "dew-point", "--about", "2026-01-15T08:02:00Z", "--by", "Ida"), StringComparison.Ordinal);
        await Done("check", "head-hours", "--value", "212", "--about", "2026-01-15T08:02:00Z", "--by", "Ida");
        await Done("step", "audio-zero", "--before", "0.9", "--after", "0.7", "--turned", "playback gain, down", "--by", "Ida");
        await Done("lined-up", "--by", "Ida");
        string began = await Done("begin", "--about", "2026-01-15T08:02:10Z", "--by", "Ida");
        Assert.Contains("proved: The wheel turns 2", began, StringComparison.Ordinal);
        Assert.Contains("is running on this machine", (await Refused("pass", "--by", "Ida")).Error, StringComparison.Ordinal);
        await Done("end", "--about", "2026-01-15T09:27:00Z", "--by", "Ida");
        Assert.Contains("sound-with-remarks", await Done("verdict", "--by", "Ida"), StringComparison.Ordinal);
        Assert.Contains("somebody else", (await Refused("countersign", "--by", "Ida")).Error, StringComparison.Ordinal);
        await Done("countersign", "--by", "Ben");

        string shown = await Look("show");
        Assert.Contains("MC-0117, 525/60, 15 in/s: pass 1, countersigned", shown, StringComparison.Ordinal);
        Assert.Contains("0.9 dB to 0.7 dB, OUTSIDE its tolerance, read by hand; turned playback gain, down", shown, StringComparison.Ordinal);
        Assert.Matches(new Regex("tape-inspected +not signed", RegexOptions.None, TimeSpan.FromSeconds(1)), shown);
        Assert.Matches(new Regex("tape-inspected +not signed\n +caution: A tape that is sticky, mouldy or torn is not threaded", RegexOptions.None, TimeSpan.FromSeconds(1)), shown);
        Assert.Matches(new Regex("guide-height +not recorded\n +caution: Covers on while the wheel turns", RegexOptions.None, TimeSpan.FromSeconds(1)), shown);
        Assert.Contains("countersigned by Ben", shown, StringComparison.Ordinal);
        string review = await Look("review");
        Assert.Contains("0 sections to run again", review, StringComparison.Ordinal);
        Assert.Contains("by the time since the run began, at 15 inches a second", review, StringComparison.Ordinal);
        Assert.Contains("steps-outside: The line-up ended outside a tolerance. (audio-zero)", review, StringComparison.Ordinal);
        Assert.Contains("checks-contradicted", review, StringComparison.Ordinal);
        Assert.DoesNotContain("run-again ", review, StringComparison.Ordinal);
        Assert.Contains("MC-0117", await Look("list"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Clogs_are_found_at_their_places_and_cut_out_to_be_run_again()
    {
        await Import("head-clog");
        string described = await Done("tape", "--identifier", "MC-0088", "--standard", "525/60", "--speed", "15", "--by", "Ida");
        await Done("open", "--tape", IdOf("tape", described), "--by", "Ida");
        await Done("pass", "--by", "Ida");
        Assert.Contains("proved: The wheel turns 2", await Done("begin", "--about", "2026-01-15T08:05:00Z", "--by", "Ida"), StringComparison.Ordinal);
        await Done("note", "--mark", "--about", "2026-01-15T08:05:30Z", "--by", "Ida");
        await Done("end", "--about", "2026-01-15T08:57:00Z", "--by", "Ida");
        Assert.Contains("run-again", await Done("verdict", "--by", "Ida"), StringComparison.Ordinal);

        // Head 3 clogs at 08:15:00 for four minutes, the tape sheds from 08:26:00 on, head 1 clogs at 08:48:00 for three: ten and forty-three minutes into the run.
        string[] rows = (await Look("review", "--format", "csv")).Split("\r\n", StringSplitOptions.RemoveEmptyEntries)[1..];
        double[][] sections = [.. rows.Select(r => r.Split(',').Take(2).Select(n => double.Parse(n, CultureInfo.InvariantCulture)).ToArray())];
        Assert.Equal(4, sections.Length);
        Assert.Equal([20, 40], sections[0]);
        Assert.InRange(sections[1][0], 585, 595);
        Assert.InRange(sections[1][1], 840, 880);
        Assert.InRange(sections[2][0], 1140, 1500);
        Assert.InRange(sections[3][0], 2565, 2575);
        Assert.InRange(sections[3][1], 2760, 2800);
        Assert.StartsWith("WEBVTT - MC-0088 pass 1", await Look("review", "--format", "vtt", "--items"), StringComparison.Ordinal);
        Assert.DoesNotContain("wrong-standard", await Look("review"), StringComparison.Ordinal);

        // The box was read wrongly: by the description as it is put right the wheel ran at another standard, and all of it is to be run again.
        await Done("tape", "--tape", IdOf("tape", described), "--identifier", "MC-0088", "--standard", "625/50", "--speed", "15.625", "--by", "Ida");
        Assert.Contains("wrong-standard", await Look("review"), StringComparison.Ordinal);
        string edl = _folder.PathOf("again.edl");
        await Look("review", "--format", "edl", "--out", edl);
        Assert.Contains("001  MC0088   B     C        00:00:00:00 00:52:00:00 00:00:00:00 00:52:00:00", await File.ReadAllTextAsync(edl), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_same_id_is_entered_once_and_a_place_without_a_store_is_refused()
    {
        await Import("tape-lift");
        string[] tape = ["tape", "--identifier", "T", "--standard", "525/60", "--speed", "15", "--by", "Ida", "--id", "0190a6f0-0000-7000-8000-000000000001"];
        string first = await Done(tape);
        string again = await Done(tape);
        Assert.Contains("had been entered before", again, StringComparison.Ordinal);
        Assert.Equal(IdOf("tape", first), IdOf("tape", again));
        (int code, _, string error) = await CommandLineTests.RunAsync("transfer", "list", _folder.PathOf("nowhere"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("holds no store", error, StringComparison.Ordinal);
    }

    private async Task Import(string name)
    {
        string recording = Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), name, "recording.csv.gz");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", recording, "--store", Store);
        Assert.True(code == ExitCode.Done, error);
    }

    private static string IdOf(string name, string printed) =>
        printed.Split('\n').Select(l => l.Trim()).First(l => l.StartsWith(name + " ", StringComparison.Ordinal) && l.Length > 40)[name.Length..].Trim();

    private async Task<string> Done(params string[] arguments)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync(["transfer", arguments[0], Store, .. arguments[1..]]);
        Assert.True(code == ExitCode.Done, error);
        return output;
    }

    private Task<string> Look(params string[] arguments) => Done(arguments);

    private async Task<(int Code, string Error)> Refused(params string[] arguments)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(["transfer", arguments[0], Store, .. arguments[1..]]);
        Assert.Equal(ExitCode.NotSound, code);
        return (code, error);
    }
}
