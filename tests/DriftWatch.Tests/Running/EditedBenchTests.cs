using System.Globalization;
using DriftWatch.Cli;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Reports.Plots;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Tests.Running;

/// <summary>A bench file that is edited while its store grows: what was recorded before must be found under what it says now.</summary>
public sealed class EditedBenchTests : IDisposable
{
    private const string Rail = "unit = \"V\"";
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-edited-").FullName;

    private string Store => Path.Combine(_folder, "store");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_channel_renamed_with_its_former_id_as_alias_keeps_its_past_live_restarted_exported_and_imported()
    {
        Write(("v", Rail));
        int key;
        await using (RunningBench bench = Start())
        {
            key = bench.Bench.Channels[0].Key;
            await Stored(bench, 10);
            Write(("w", Rail + "\naliases = [\"v\"]"));
            Assert.Empty(await bench.ReloadAsync(default));
            Assert.Equal(key, bench.Bench.Channels[0].Key);
            Assert.NotEmpty(bench.History("w", default, bench.Now, 4));
            await Stored(bench, 10);
        }

        Write(("x", Rail + "\naliases = [\"w\"]")); // only the last of its former ids
        await using (RunningBench again = Start())
        {
            Assert.Equal(key, again.Bench.Channels[0].Key);
            await Stored(again, 10);
        }

        string[] all = await Export("all.csv");
        Assert.Equal("time,x", all[0]);
        foreach (string id in (string[])["v", "w", "x"])
        {
            string[] one = await Export(id + ".csv", channel: id);
            Assert.Equal(all.Length, one.Length);
        }

        await Export("night.dwlog");
        string copy = Path.Combine(_folder, "copy");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", Path.Combine(_folder, "night.dwlog"), "--store", copy);
        Assert.True(code == ExitCode.Done, error);
        (code, _, error) = await CommandLineTests.RunAsync("export", copy, "--out", Path.Combine(_folder, "copy.dwlog"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal(File.ReadAllBytes(Path.Combine(_folder, "night.dwlog")), File.ReadAllBytes(Path.Combine(_folder, "copy.dwlog")));
        Assert.Equal(all, await Export("of-log.csv", source: Path.Combine(_folder, "night.dwlog")));
    }

    [Fact]
    public async Task What_was_found_of_a_channel_under_a_former_id_is_drawn_in_its_panel()
    {
        const string Limit = "\n[[channel.limit]]\nside = \"low\"\nseverity = \"advisory\"\nvalue = 1000.0\n";
        Write(("v", Rail + Limit));
        await using (RunningBench bench = Start())
        {
            await Stored(bench, 10);
            Write(("w", Rail + "\naliases = [\"v\"]" + Limit));
            Assert.Empty(await bench.ReloadAsync(default));
            await Stored(bench, 10);
        }

        using var store = new StoreSource(Store);
        (BenchDefinition definition, IReadOnlyList<ChannelDefinition> channels, IInputSource feed) = SourceArguments.Select(store, Store, []);
        PlotData data = PlotData.Read(feed, definition, channels, null, null, store.Findings(), null, default)!;
        FindingLine[] found = [.. data.Findings.Where(f => f.Kind == FindingKinds.BelowLimit)];
        Assert.Equal(2, found.Length);
        Assert.All(found, f => Assert.Equal("w", f.Channel));
    }

    [Fact]
    public async Task A_channel_added_later_and_one_left_out_are_both_exported_and_drawn()
    {
        Write(("v", Rail), ("gone", Rail));
        await using (RunningBench bench = Start())
        {
            await Stored(bench, 10);
            Write(("late", Rail), ("v", Rail));
            Assert.Empty(await bench.ReloadAsync(default));
            await Stored(bench, 10);
        }

        string[] rows = await Export("all.csv");
        Assert.Equal("time,late,v,gone", rows[0]);
        Assert.Matches("^[^,]+,,[^,]+,[^,]+$", rows[1]);
        Assert.Contains(rows, row => row.Split(',') is [_, { Length: > 0 }, { Length: > 0 }, ""]); // the last of all may have come between two lines
        Assert.EndsWith(",", rows[^1], StringComparison.Ordinal);
        await Export("late.parquet", channel: "late");
        (int code, _, string error) = await CommandLineTests.RunAsync("plot", Store, "--out", Path.Combine(_folder, "p.svg"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("3 channels", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task After_another_unit_the_past_is_shown_and_exported_in_it_too()
    {
        Write(("v", Rail));
        await using (RunningBench bench = Start())
        {
            await Stored(bench, 10);
            Write(("v", "unit = \"mV\""));
            Assert.Empty(await bench.ReloadAsync(default));
            await Stored(bench, 10);
            IReadOnlyList<Bucket> history = bench.History("v", default, bench.Now, 1);
            Assert.InRange(history.Min(b => b.Minimum), 4000, 6000);
            Assert.InRange(history.Max(b => b.Maximum), 4000, 6000);
        }

        string[] rows = await Export("all.csv");
        Assert.All(rows.Skip(1), row => Assert.InRange(double.Parse(row.Split(',')[1], CultureInfo.InvariantCulture), 4000, 6000));
        await Export("night.dwlog");
        Assert.Equal(rows, await Export("of-log.csv", source: Path.Combine(_folder, "night.dwlog")));
    }

    [Fact]
    public async Task Volts_that_were_given_a_sensor_are_shown_as_its_quantity_from_their_first()
    {
        Write(("v", Rail));
        await using (RunningBench bench = Start())
        {
            await Stored(bench, 10);
            Write(("v", "unit = \"psi\"\ncalibration = { line = { gain = 10.0 } }"));
            Assert.Empty(await bench.ReloadAsync(default));
            await Stored(bench, 10);
            Assert.All(bench.History("v", default, bench.Now, 1), b => Assert.InRange(b.Minimum, 40, 60));
        }

        string[] rows = await Export("all.csv");
        Assert.All(rows.Skip(1), row => Assert.InRange(double.Parse(row.Split(',')[1], CultureInfo.InvariantCulture), 40, 60));
    }

    private async Task<string[]> Export(string name, string? channel = null, string? source = null)
    {
        string path = Path.Combine(_folder, name);
        string[] which = channel is null ? [] : ["--channels", channel];
        (int code, _, string error) = await CommandLineTests.RunAsync(["export", source ?? Store, "--out", path, .. which]);
        Assert.True(code == ExitCode.Done, error);
        return await File.ReadAllLinesAsync(path);
    }

    /// <summary>Waits until so many more inputs are stored and readings of the bench in force are among them.</summary>
    private static async Task Stored(RunningBench bench, int inputs)
    {
        EngineTime now = bench.Now;
        long before = bench.Store.LastNumber;
        for (int i = 0; i < 500; i++)
        {
            if (bench.Store.LastNumber > before + inputs && bench.Store.LastTime > now + TimeSpan.FromMilliseconds(500))
            {
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }

        Assert.Fail("Nothing was stored within ten seconds.");
    }

    private RunningBench Start() => RunningBench.Start(
        new RunningBenchOptions
        {
            BenchPath = Path.Combine(_folder, "bench.toml"),
            StoreFolder = Store,
            ProfileFolders = ProfileFolders.Default,
        },
        NullLoggerFactory.Instance);

    /// <summary>Channels of a rig, each on the rail input of an instrument of its own, because no input serves two.</summary>
    private void Write(params (string Id, string Keys)[] channels) => File.WriteAllText(
        Path.Combine(_folder, "bench.toml"),
        "[bench]\nid = \"small\"\n"
        + string.Concat(channels.Select(c =>
            $"[[instrument]]\nid = \"rig-{c.Id}\"\nprofile = \"practice-rig\"\npractice = {{ seed = 3 }}\n"
            + $"[[channel]]\nid = \"{c.Id}\"\ninstrument = \"rig-{c.Id}\"\ninput = \"sensor-rail\"\n{c.Keys}\n")));
}
