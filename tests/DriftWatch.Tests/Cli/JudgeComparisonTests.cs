using DriftWatch.Cli;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;
using Xunit;

namespace DriftWatch.Tests.Cli;

/// <summary><c>driftwatch judge --compare</c> and <c>--alarms</c>, on a recording, its store and its log.</summary>
public sealed class JudgeComparisonTests : IDisposable
{
    private const string Bench = """
        [bench]
        id = "small"
        [[instrument]]
        id = "rig"
        profile = "practice-rig"
        practice = { seed = 3 }
        [[channel]]
        id = "rail"
        unit = "V"
        instrument = "rig"
        input = "sensor-rail"
        period = "1 s"
        [[channel.limit]]
        side = "low"
        severity = "alarm"
        value = 4.8
        on-delay = "2 s"
        off-delay = "2 s"

        """;

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Alarms_are_told_as_kept_gone_or_new_alike_for_a_recording_its_store_and_its_log()
    {
        string recording = Record();
        string other = _folder.Write("other.toml", Bench.Replace("value = 4.8", "value = 4.95", StringComparison.Ordinal));
        await Done("import", recording, "--store", _folder.PathOf("store"));
        await Done("export", _folder.PathOf("store"), "--out", _folder.PathOf("night.dwlog"));
        string expected = GuideAndHeadTests.RepositoryFile("tests/DriftWatch.Tests/Cli/Transcripts/judge-compare.txt");
        string told = await Done("judge", recording, "--bench", other, "--compare");
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(expected, told);
        }

        Assert.Equal(File.ReadAllText(expected), told);
        Assert.Equal(told, await Done("judge", _folder.PathOf("store"), "--bench", other, "--compare"));
        Assert.Equal(told, await Done("judge", _folder.PathOf("night.dwlog"), "--bench", other, "--compare"));
    }

    [Fact]
    public async Task A_span_of_a_store_tells_its_own_alarms_and_the_book_of_the_other_bench_is_written()
    {
        string recording = Record();
        string other = _folder.Write("other.toml", Bench.Replace("value = 4.8", "value = 4.95", StringComparison.Ordinal));
        await Done("import", recording, "--store", _folder.PathOf("store"));
        string told = await Done(
            "judge", _folder.PathOf("store"), "--bench", other, "--compare", "--from", "2026-03-01T20:09:00Z", "--to", "2026-03-01T20:15:00Z", "--alarms", _folder.PathOf("would.jsonl"));
        Assert.Contains("0 kept, 0 gone, 1 new.", told, StringComparison.Ordinal);
        AlarmTransition[] lines = [.. File.ReadAllLines(_folder.PathOf("would.jsonl")).Select(l => AlarmJson.Read(System.Text.Encoding.UTF8.GetBytes(l)))];
        Assert.Equal(AlarmStep.Raised, lines[0].Step);
        Assert.All(lines, l => Assert.Equal("below-limit.rail", l.Tag));
    }

    [Fact]
    public async Task Plain_judging_writes_the_book_too()
    {
        await Done("judge", Record(), "--out", _folder.PathOf("findings.jsonl"), "--alarms", _folder.PathOf("alarms.jsonl"));
        string[] lines = File.ReadAllLines(_folder.PathOf("alarms.jsonl"));
        Assert.Contains(lines, l => l.Contains("\"step\":\"raised\"", StringComparison.Ordinal));
        Assert.NotEmpty(File.ReadAllLines(_folder.PathOf("findings.jsonl")));
    }

    [Theory]
    [InlineData("id = \"rail\"", "id = \"rial\"", "other.toml(8,6): no channel 'rial' was recorded; did you mean 'rail'?", "write the id it was recorded under, name that id in 'aliases', or leave the channel out")]
    [InlineData("unit = \"V\"", "unit = \"bananas\"", "other.toml(9,8): ", "")]
    [InlineData("value = 4.8", "valeu = 4.8", "other.toml(", "value")]
    public async Task A_bench_file_that_does_not_fit_is_refused_with_file_line_and_remedy(string was, string wrong, string says, string remedy)
    {
        string recording = Record();
        string other = _folder.Write("other.toml", Bench.Replace(was, wrong, StringComparison.Ordinal));
        await Done("import", recording, "--store", _folder.PathOf("store"));
        (int code, string output, string error) = await CommandLineTests.RunAsync("judge", _folder.PathOf("store"), "--bench", other, "--compare");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Empty(output);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Contains(remedy, error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--compare", "--compare needs the other bench file")]
    [InlineData("--from 2026-03-01", "--from and --to belong to --compare")]
    [InlineData("--compare --bench bench.toml --out x.jsonl", "--compare writes no finding lines")]
    [InlineData("--compare --bench bench.toml --from 2026-03-02 --to 2026-03-01", "--to is not after --from")]
    public async Task A_wrong_command_line_is_said_with_the_way_out(string options, string says)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(["judge", Record(), .. options.Split(' ')]);
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    /// <summary>Twenty minutes of 5 V; 4.7 V for a minute after five minutes, 4.9 V after ten.</summary>
    private string Record()
    {
        _folder.Write("bench.toml", Bench);
        var start = new DateTimeOffset(2026, 3, 1, 20, 0, 0, TimeSpan.Zero);
        return _folder.Write("night.csv", "time,rail\n" + string.Concat(Enumerable.Range(0, 1200).Select(
            i => $"{start.AddSeconds(i):yyyy-MM-ddTHH:mm:ssZ},{(i is >= 300 and < 360 ? "4.7" : i is >= 600 and < 660 ? "4.9" : "5.0")}\n")));
    }

    private static async Task<string> Done(params string[] arguments)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync(arguments);
        Assert.True(code == ExitCode.Done, error);
        return output.ReplaceLineEndings("\n");
    }
}
