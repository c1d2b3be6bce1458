using System.Text.Json;
using DriftWatch.SystemTests.Storage;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>A disk that fills up under a running service, and files that were damaged while it was stopped.</summary>
public sealed class TroubleTests(ITestOutputHelper output)
{
    [Fact]
    public async Task On_a_full_disk_readings_are_held_and_stored_by_the_same_process_once_there_is_room()
    {
        using EmitterBench bench = EmitterBench.Create();
        using (SmallDisk disk = SmallDisk.Mount(Path.Combine(bench.Folder, "disk"), megabytes: 64))
        {
            string file = await File.ReadAllTextAsync(bench.BenchFile);
            await File.WriteAllTextAsync(bench.BenchFile, file + "\n[retention]\nfree-space-floor-mb = 16\n");
            await bench.PlugIn();
            string store = Path.Combine(disk.Folder, "store");
            using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store);
            double from = Now() + 1.5;
            await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);

            JsonElement health = await Until(service, FullAndFuller(h => h.GetProperty("storeTrouble").ValueKind == JsonValueKind.String));
            long held = health.GetProperty("readingsHeldInMemory").GetInt64();
            health = await Until(service, FullAndFuller(h => h.GetProperty("readingsHeldInMemory").GetInt64() > held + (4 * EmitterBench.LinesPerSecond)));
            Assert.Contains("disk is full", health.GetProperty("storeTrouble").GetString(), StringComparison.Ordinal);
            output.WriteLine($"store trouble: {health.GetProperty("storeTrouble").GetString()}; held {health.GetProperty("readingsHeldInMemory").GetInt64()}");

            disk.Free();
            await Until(service, h => h.GetProperty("storeTrouble").ValueKind == JsonValueKind.Null);
            await Task.Delay(TimeSpan.FromSeconds(2), TimeProvider.System);
            double to = Now() - 2.5;
            Assert.Equal(0, (await service.StopAsync()).Code);
            bench.Unplug();

            // What the reserve gives back, and what retention gives up, is filled again at once.
            Func<JsonElement, bool> FullAndFuller(Func<JsonElement, bool> condition) => health =>
            {
                disk.Fill();
                return condition(health);
            };

            Assert.InRange(service.TimesLogged(1003), 1, 3); // said when it begins, not each second
            Assert.InRange(service.TimesLogged(1004), 1, 3);
            var kept = bench.Stored(store).ToHashSet();
            Assert.Empty(bench.Sent().Where(s => s.SentAtUnixSeconds > from && s.SentAtUnixSeconds < to && !kept.Contains(s.Sequence)).Select(s => s.Sequence));
        }
    }

    /// <summary>The floor of free space can't see a quota or a failing disk: there a write is refused in the middle of a commit.</summary>
    [Theory]
    [InlineData("ENOSPC", "disk is full")]
    [InlineData("EIO", "Check its owner, its rights and the disk")]
    public async Task A_write_refused_inside_a_commit_loses_nothing_and_is_done_once_the_disk_takes_it(string error, string says)
    {
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
        string month = Directory.EnumerateFiles(Path.Combine(store, EmitterBench.Id), "????-??.db").Single();
        double from = Now();
        using (await TracedCalls.InThread(
            service.ProcessId, "pipeline", Path.Combine(bench.Folder, "calls.log"), TracedCalls.Refuse("pwrite64", error), month + "-wal"))
        {
            JsonElement health = await Until(service, h => h.GetProperty("storeTrouble").ValueKind == JsonValueKind.String);
            long held = health.GetProperty("readingsHeldInMemory").GetInt64();
            health = await Until(service, h => h.GetProperty("readingsHeldInMemory").GetInt64() > held + (4 * EmitterBench.LinesPerSecond));
            output.WriteLine($"store trouble: {health.GetProperty("storeTrouble").GetString()}; held {health.GetProperty("readingsHeldInMemory").GetInt64()}");
            Assert.Contains(says, health.GetProperty("storeTrouble").GetString(), StringComparison.Ordinal);
        }

        await Until(service, h => h.GetProperty("storeTrouble").ValueKind == JsonValueKind.Null);
        double to = Now() - 1;
        Assert.Equal(0, (await service.StopAsync()).Code);
        bench.Unplug();

        Assert.Equal(1, service.TimesLogged(1003));
        Assert.Equal(1, service.TimesLogged(1004));
        IReadOnlyList<int> stored = bench.Stored(store);
        Assert.Equal(stored.Distinct().Order(), stored);
        Assert.Empty(bench.Sent().Where(s => s.SentAtUnixSeconds > from && s.SentAtUnixSeconds < to).Select(s => s.Sequence).Except(stored));
    }

    [Theory]
    [InlineData("????-??.db")]
    [InlineData("records.db")]
    public async Task A_damaged_file_is_set_aside_or_restored_and_the_service_goes_on_and_says_so(string pattern)
    {
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        string folder = Path.Combine(store, EmitterBench.Id);
        using (ServiceProcess first = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Task.Delay(TimeSpan.FromSeconds(6), TimeProvider.System); // past the first upkeep, which copies the records
            await first.StopAsync();
        }

        string victim = Directory.EnumerateFiles(folder, pattern).Single();
        byte[] bytes = await File.ReadAllBytesAsync(victim);
        new Random(3).NextBytes(bytes.AsSpan(16, 4000));
        await File.WriteAllBytesAsync(victim, bytes);

        using ServiceProcess second = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
        JsonElement ready = (await second.GetAsync("/readyz")).GetProperty("benches")[0];
        Assert.True(ready.GetProperty("ready").GetBoolean());
        Assert.Contains(second.Said, l => l.Contains(Path.GetFileName(victim), StringComparison.Ordinal) && l.Contains("damaged", StringComparison.OrdinalIgnoreCase));
        Assert.Contains(Directory.EnumerateFiles(folder), f => f.Contains("damaged", StringComparison.Ordinal));
    }

    private static async Task<JsonElement> Until(ServiceProcess service, Func<JsonElement, bool> condition)
    {
        JsonElement health = default;
        for (int i = 0; i < 200; i++)
        {
            health = (await service.GetAsync("/readyz")).GetProperty("benches")[0];
            if (condition(health))
            {
                return health;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        }

        Assert.Fail($"It did not happen within 20 s: {health.GetRawText()}\n{string.Join('\n', service.Said)}");
        return health;
    }

    private static double Now() => TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;
}
