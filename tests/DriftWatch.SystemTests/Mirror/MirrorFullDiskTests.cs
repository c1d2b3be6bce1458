using System.Text.Json;
using DriftWatch.SystemTests.Lines;
using DriftWatch.SystemTests.Service;
using DriftWatch.SystemTests.Storage;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Mirror;

/// <summary>
/// Real servers whose disks have not one byte left. Measured with it: victoria-metrics 1.79.5 says so within a second, ends some seconds after its last byte is taken and
/// does not start before there is room; influxdb 1.6.7 goes on running, and on saying that there is no room when there is, until it is started anew.
/// </summary>
public sealed class MirrorFullDiskTests(ITestOutputHelper output)
{
    private static readonly string[] Ids = ["first", "second"];
    private static readonly string[] Tags = ["mirror-failing.first", "mirror-failing.second"];

    [RootOnLinuxFact]
    public async Task A_server_s_full_disk_is_told_with_its_words_and_an_alarm_and_nothing_is_lost_by_it()
    {
        using EmitterBench bench = EmitterBench.Create();
        using var disk = SmallDisk.Mount(Path.Combine(bench.Folder, "disk"), megabytes: 48);
        using var otherDisk = SmallDisk.Mount(Path.Combine(bench.Folder, "other-disk"), megabytes: 48);
        using SeriesServer stops = await SeriesServer.BeginInAsync("victoria-metrics", Below(disk), "-dedup.minScrapeInterval=1ms");
        using SeriesServer fails = await SeriesServer.BeginInAsync("influxdb", Below(otherDisk));
        foreach ((SeriesServer server, string id) in new[] { stops, fails }.Zip(Ids))
        {
            await File.AppendAllTextAsync(bench.BenchFile, server.Toml.Replace("id = \"site\"", $"id = \"{id}\"\ntell-after = \"1 min\"", StringComparison.Ordinal));
        }

        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await UntilAsync(service, 30, "both take", m => m.GetProperty("taken").GetInt64() > 100);

        disk.Fill(left: 4 << 20); // it stops by itself before its disk is full
        otherDisk.Fill();
        await UntilAsync(service, 30, "both wait", m => m.GetProperty("state").GetString() == "waiting");
        JsonElement[] mirrors = await MirrorsAsync(service);
        Assert.Contains("-storage.minFreeDiskSpaceBytes", Text(mirrors[0], "trouble"), StringComparison.Ordinal);
        Assert.Contains("no space left on device", Text(mirrors[1], "trouble"), StringComparison.Ordinal);
        Assert.All(mirrors, m => Assert.StartsWith("make room on the server's disk;", Text(m, "remedy"), StringComparison.Ordinal));
        disk.Fill(); // and ends, some seconds later, where others take the rest

        // Live watching goes on, and after a minute it is an alarm of the book.
        int before = bench.CommittedNow(store).Count;
        await UntilAsync(async () => (await AlarmsAsync(service)).Length == 2, 120, "two alarms");
        JsonElement[] alarms = await AlarmsAsync(service);
        Assert.Equal(Tags, alarms.Select(a => Text(a, "tag")).Order(StringComparer.Ordinal));
        Assert.All(alarms, a => Assert.Equal(("medium", "unacknowledged", "behind"), (Text(a, "priority"), Text(a, "to"), Text(a, "cause"))));
        Assert.All(alarms, a => Assert.Contains("make room on the server's disk", a.GetRawText(), StringComparison.Ordinal));
        Assert.InRange(bench.CommittedNow(store).Count - before, 30 * EmitterBench.LinesPerSecond, int.MaxValue);
        JsonElement ready = (await service.GetAsync("/readyz")).GetProperty("benches")[0];
        Assert.Equal(JsonValueKind.Null, ready.GetProperty("storeTrouble").ValueKind);
        Assert.InRange(service.TimesLogged(1301), 2, 4); // once for each and each thing said, however often they are tried, and whatever port was named
        mirrors = await MirrorsAsync(service);
        Assert.All(mirrors, m => Assert.Equal("waiting", Text(m, "state")));

        disk.Free();
        otherDisk.Free();
        foreach (SeriesServer server in new[] { stops, fails })
        {
            server.Kill(); // what it took last may be gone with it
            await server.StartAsync();
        }

        await UntilAsync(async () => (await AlarmsAsync(service)).Length == 0, 150, "both alarms are over");
        bench.Unplug();
        await UntilAsync(service, 60, "both are level", m => Text(m, "state") == "level" && m.GetProperty("olderInputs").GetInt64() == 0);
        await Task.Delay(TimeSpan.FromSeconds(2.5), TimeProvider.System);
        foreach (SeriesServer server in new[] { stops, fails })
        {
            (int stored, int held, int doubled) = await StoreAgainstServer.CompareAsync(server, Path.Combine(store, EmitterBench.Id));
            output.WriteLine($"{stored} readings stored, {held} held, {doubled} of them more than once");
            Assert.InRange(stored, 60 * 4 * EmitterBench.LinesPerSecond, int.MaxValue);
            Assert.Equal((stored, 0), (held, doubled));
        }
    }

    private static string Below(SmallDisk disk) => Directory.CreateDirectory(Path.Combine(disk.Folder, "server")).FullName;

    private static string Text(JsonElement of, string name) => of.GetProperty(name).GetString() ?? "";

    private static async Task<JsonElement[]> MirrorsAsync(ServiceProcess service) =>
        [.. (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/mirrors")).GetProperty("mirrors").EnumerateArray()];

    /// <summary>Those of mirrors that exist.</summary>
    private static async Task<JsonElement[]> AlarmsAsync(ServiceProcess service) =>
    [
        .. (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/alarms/open")).GetProperty("items").EnumerateArray()
            .Select(i => i.GetProperty("alarm")).Where(a => Text(a, "tag").StartsWith("mirror-failing.", StringComparison.Ordinal) && Text(a, "to") is not ("normal" or "returned-unacknowledged")),
    ];

    private static Task UntilAsync(ServiceProcess service, int seconds, string what, Func<JsonElement, bool> isSo) =>
        UntilAsync(async () => (await MirrorsAsync(service)).All(isSo), seconds, what, async () => string.Join('\n', await MirrorsAsync(service)));

    private static async Task UntilAsync(Func<Task<bool>> isSo, int seconds, string what, Func<Task<string>>? said = null)
    {
        for (int i = 0; i < seconds * 5; i++)
        {
            if (await isSo())
            {
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(200), TimeProvider.System);
        }

        Assert.Fail($"not so after {seconds} s: {what}; {(said is null ? "" : await said())}");
    }
}
