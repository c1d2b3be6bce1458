using DriftWatch.Cli;
using DriftWatch.Tests.PracticeRig;

namespace DriftWatch.Tests.Cli;

/// <summary>Where verbs read from and write to: other limits for a store, profiles of one's own, imports that fail.</summary>
public sealed class SourcesAndPlacesTests : IDisposable
{
    private const string Bench = """
        [bench]
        id = "small"
        [[instrument]]
        id = "rig"
        profile = "practice-rig"
        practice = { seed = 3 }
        [[channel]]
        id = "v"
        unit = "V"
        instrument = "rig"
        input = "sensor-rail"
        period = "1 s"
        """;

    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-sources-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Another_bench_file_judges_an_imported_store_as_it_judges_the_recording_and_the_exported_log()
    {
        string replay = Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), "tape-lift");
        string recording = Path.Combine(replay, "recording.csv.gz");
        string bench = await File.ReadAllTextAsync(Path.Combine(replay, "bench.toml"));
        string other = Write("other.toml", bench.Replace("setpoint = 50.0", "setpoint = 58.0", StringComparison.Ordinal));
        await Done("import", recording, "--store", At("store"));
        await Done("export", At("store"), "--out", At("night.dwlog"));
        await Done("judge", recording, "--bench", other, "--out", At("expected.jsonl"));
        string[] expected = Facts(At("expected.jsonl"));
        Assert.Contains(expected, line => line.Contains("air-below-setpoint", StringComparison.Ordinal));
        foreach (string source in (string[])[At("store"), At("night.dwlog")])
        {
            await Done("judge", source, "--bench", other, "--out", At("found.jsonl"));
            Assert.Equal(expected, Facts(At("found.jsonl")));
        }
    }

    [Fact]
    public async Task An_import_that_fails_late_leaves_nothing_and_can_be_done_again()
    {
        string bench = Write("bench.toml", Bench);
        var start = new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero);
        string rows = "time,v\n" + string.Concat(Enumerable.Range(0, 30_000).Select(i => $"{start.AddSeconds(i):yyyy-MM-ddTHH:mm:ssZ},5.0\n"));
        string recording = Write("night.csv", rows + $"{start.AddSeconds(30_000):yyyy-MM-ddTHH:mm:ssZ},five\n");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", recording, "--bench", bench, "--store", At("store"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("night.csv(30002,22)", error, StringComparison.Ordinal);
        Assert.Equal(["bench.toml", "night.csv"], Directory.GetFileSystemEntries(_folder).Select(Path.GetFileName).Order());

        Write("night.csv", rows);
        Directory.CreateDirectory(At("store")); // an empty folder will do as well
        await Done("import", recording, "--bench", bench, "--store", At("store"));
        await Done("export", At("store"), "--out", At("again.csv"));
        Assert.Equal(30_001, (await File.ReadAllLinesAsync(At("again.csv"))).Length);
    }

    [Fact]
    public async Task Profiles_of_ones_own_are_found_by_every_verb_that_reads_a_bench_file()
    {
        string own = At("own/my-rig");
        Directory.CreateDirectory(own);
        string shipped = Path.Combine(GuideAndHeadTests.RepositoryFile("device-profiles"), "practice-rig", "profile.toml");
        File.WriteAllText(Path.Combine(own, "profile.toml"), File.ReadAllText(shipped).Replace("\"practice-rig\"", "\"my-rig\"", StringComparison.Ordinal));
        string bench = Write("bench.toml", Bench.Replace("\"practice-rig\"", "\"my-rig\"", StringComparison.Ordinal));
        string recording = Write("night.csv", "time,v\n2026-03-01T00:00:00Z,5.0\n2026-03-01T00:00:01Z,5.0\n");
        string[][] verbs =
        [
            ["check", bench],
            ["probe", bench, "--readings", "1"],
            ["rehearse", "--bench", bench, "--out", At("made.csv"), "--hours", "0.01"],
            ["judge", recording, "--bench", bench, "--out", At("found.jsonl")],
            ["export", recording, "--bench", bench, "--out", At("again.csv")],
            ["plot", recording, "--bench", bench, "--out", At("night.svg")],
            ["import", recording, "--bench", bench, "--store", At("store")],
        ];
        foreach (string[] verb in verbs)
        {
            await Done([.. verb, "--profiles", At("own")]);
        }

        Assert.Contains(
            DriftWatchCommand.Create().Subcommands.Single(c => c.Name == "watch").Options, option => option.Name == "--profiles");
    }

    [Fact]
    public async Task Two_bench_files_of_one_id_are_refused_by_watch()
    {
        string one = Write("one.toml", Bench);
        string two = Write("two.toml", Bench);
        (int code, _, string error) = await CommandLineTests.RunAsync("watch", one, two, "--store", At("stores"), "--listen", "127.0.0.1:0");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("two.toml: a bench 'small' was named before; give each bench file an id of its own", error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("8077")]
    [InlineData("127.0.0.1")]
    [InlineData("localhost:8077")]
    [InlineData("::1")]
    public async Task An_address_to_listen_on_has_an_address_and_a_port(string listen)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("watch", Write("one.toml", Bench), "--store", At("stores"), "--listen", listen);
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains($"--listen {listen}: not an address and port; write for example 127.0.0.1:8077", error, StringComparison.Ordinal);
        Assert.False(Directory.Exists(At("stores")));
    }

    [Fact]
    public async Task A_folder_without_its_store_is_bad_input_and_a_recording_is_not_written_over_by_its_findings()
    {
        Assert.Equal(ExitCode.BadInput, (await CommandLineTests.RunAsync("backup", At("none"), "--out", At("copy"))).Code);
        string bench = Write("bench.toml", Bench);
        string recording = Write("night.csv", "time,v\n2026-03-01T00:00:00Z,5.0\n");
        await Done("import", recording, "--bench", bench, "--store", At("store"));
        foreach (string within in (string[])["store", "store/copy", "store/../store/deep/copy"])
        {
            Assert.Equal(ExitCode.Usage, (await CommandLineTests.RunAsync("backup", At("store"), "--out", At(within))).Code);
        }

        await Done("backup", At("store"), "--out", At("store-copy"));
        File.Delete(At("store/records.db"));
        (int code, _, string error) = await CommandLineTests.RunAsync("export", At("store"), "--out", At("x.csv"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("records.db is missing here", error, StringComparison.Ordinal);
        Assert.Equal(ExitCode.Usage, (await CommandLineTests.RunAsync("judge", recording, "--bench", bench, "--out", recording)).Code);
        Assert.StartsWith("time,v", await File.ReadAllTextAsync(recording), StringComparison.Ordinal);
    }

    /// <summary>Kind, phase, channel and instants of each line: what the stored bench's own note says first is left out.</summary>
    private static string[] Facts(string path) =>
    [
        .. File.ReadLines(path).Select(line => System.Text.Json.Nodes.JsonNode.Parse(line)!)
            .Select(n => $"{n["kind"]} {n["phase"]} {n["channel"]} {n["start"]} {n["end"]} {n["raised"]} {n["value"]} {n["limit"]}"),
    ];

    private static async Task Done(params string[] arguments)
    {
        (int code, _, string error) = await CommandLineTests.RunAsync(arguments);
        Assert.True(code == ExitCode.Done, string.Join(' ', arguments) + ": " + error);
    }

    private string At(string name) => Path.Combine(_folder, name);

    private string Write(string name, string text)
    {
        File.WriteAllText(At(name), text);
        return At(name);
    }
}
