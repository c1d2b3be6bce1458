using System.Globalization;
using System.Text.Json;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>Starting, stopping and starting again, with a real line and with what goes wrong at a bench.</summary>
public sealed class StopAndStartTests(ITestOutputHelper output)
{
    [Theory]
    [InlineData("TERM")]
    [InlineData("INT")]
    public async Task A_signal_stops_the_service_within_three_seconds_with_the_last_second_stored(string signal)
    {
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Task.Delay(TimeSpan.FromSeconds(4), TimeProvider.System);
        double askedAt = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;
        (int code, TimeSpan took) = await service.StopAsync(signal);
        bench.Unplug();

        output.WriteLine($"{signal}: stopped in {took.TotalSeconds:0.00} s");
        Assert.Equal(0, code);
        Assert.True(took < TimeSpan.FromSeconds(3), $"It took {took}.");
        var kept = bench.Stored(store).ToHashSet();
        List<SentLine> lastSecond = [.. bench.Sent().Where(s => s.SentAtUnixSeconds > askedAt - 1.1 && s.SentAtUnixSeconds < askedAt - 0.1)];
        Assert.NotEmpty(lastSecond);
        Assert.Empty(lastSecond.Where(s => !kept.Contains(s.Sequence)).Select(s => s.Sequence));
    }

    [Fact]
    public async Task A_second_service_on_the_same_folder_is_refused_and_told_who_is_there()
    {
        using EmitterBench bench = EmitterBench.Create();
        string store = Path.Combine(bench.Folder, "store");
        using ServiceProcess first = await ServiceProcess.WatchAsync(bench.BenchFile, store);

        (int code, string said) = await ServiceProcess.RunAsync("watch", bench.BenchFile, "--store", store, "--listen", "127.0.0.1:0");

        Assert.Equal(4, code);
        Assert.Contains(first.ProcessId.ToString(CultureInfo.InvariantCulture), said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_address_in_use_is_told_with_a_remedy()
    {
        using EmitterBench bench = EmitterBench.Create();
        using ServiceProcess first = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"));

        (int code, string said) = await ServiceProcess.RunAsync(
            "watch", bench.BenchFile, "--store", Path.Combine(bench.Folder, "other"), "--listen", $"127.0.0.1:{first.Port}");

        Assert.Equal(4, code);
        Assert.Contains("Choose another port", said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bench_file_with_mistakes_ends_the_start_with_all_of_them()
    {
        using EmitterBench bench = EmitterBench.Create();
        await File.WriteAllTextAsync(
            bench.BenchFile,
            (await File.ReadAllTextAsync(bench.BenchFile)).Replace("unit = \"V\"", "unit = \"Volt\"", StringComparison.Ordinal));

        (int code, string said) = await ServiceProcess.RunAsync("watch", bench.BenchFile, "--store", Path.Combine(bench.Folder, "store"));

        Assert.Equal(3, code);
        Assert.Equal(4, said.Split('\n').Count(l => l.Contains("unknown unit \"Volt\"", StringComparison.OrdinalIgnoreCase) || l.Contains("'Volt'", StringComparison.Ordinal) || l.Contains("\"Volt\"", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task A_missing_port_is_a_fault_and_not_an_end_and_comes_alive_again_when_it_returns()
    {
        using EmitterBench bench = EmitterBench.Create();
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"));
        await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
        Assert.Equal("line-down", await FaultOfV1(service));

        await bench.PlugIn();
        double back = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0;
        double? alive = null;
        for (int i = 0; i < 200 && alive is null; i++)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
            alive = await FaultOfV1(service) is null ? TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() / 1000.0 : null;
        }

        Assert.NotNull(alive);
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"alive {alive - back:0.00} s after its return"));
        Assert.True(alive - back < 4, "The retry is capped at 1.5 s with a fifth of jitter; 4 s leaves room for a loaded machine.");
    }

    [Fact]
    public async Task After_a_kill_open_findings_are_still_open_and_the_time_nobody_watched_is_told()
    {
        using EmitterBench bench = EmitterBench.Create();
        string store = Path.Combine(bench.Folder, "store");
        await File.AppendAllTextAsync(bench.BenchFile, "\n[[channel.limit]]\nside = \"high\"\nseverity = \"advisory\"\nvalue = 1.0\n");
        await bench.PlugIn();
        string before;
        DateTimeOffset killedAt;
        using (ServiceProcess first = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            before = await OpenAboveLimit(first) ?? "";
            Assert.NotEqual("", before);
            await Task.Delay(TimeSpan.FromSeconds(1), TimeProvider.System);
            killedAt = TimeProvider.System.GetUtcNow();
            first.KillHard();
        }

        await Task.Delay(TimeSpan.FromSeconds(2), TimeProvider.System);
        using ServiceProcess second = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        Assert.Equal(before, await OpenAboveLimit(second));
        TimeSpan most = TimeProvider.System.GetUtcNow() - killedAt;
        JsonElement lines = await second.GetAsync($"/api/v1/benches/{EmitterBench.Id}/findings/latest?limit=50");
        JsonElement gap = Assert.Single(
            lines.GetProperty("items").EnumerateArray().Select(i => i.GetProperty("finding")),
            f => f.GetProperty("kind").GetString() == "nobody-watching");
        double seconds = gap.GetProperty("value").GetDouble();
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"nobody watched for {seconds:0.00} s, by the finding"));
        Assert.Equal("not-stopped-on-purpose", gap.GetProperty("cause").GetString());

        // From the last stored tick, up to a second and the merge's wait before the kill, to the new start.
        Assert.InRange(seconds, 2, most.TotalSeconds + 2);
    }

    [Fact]
    public async Task A_wrong_bench_file_is_refused_on_reload_and_the_old_one_stays_in_force()
    {
        using EmitterBench bench = EmitterBench.Create();
        await bench.PlugIn();
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, Path.Combine(bench.Folder, "store"));
        string good = await File.ReadAllTextAsync(bench.BenchFile);

        await File.WriteAllTextAsync(bench.BenchFile, good + "\n[[channel]]\nid = \"v1\"\n");
        JsonElement refused = await service.ActAsync(EmitterBench.Id, "reload", new { by = "R. Thrift" });
        Assert.Contains("v1", refused.GetRawText(), StringComparison.Ordinal);
        Assert.Equal(1, service.TimesLogged(1007));
        await Task.Delay(TimeSpan.FromSeconds(1), TimeProvider.System);
        Assert.Null(await FaultOfV1(service));

        await File.WriteAllTextAsync(bench.BenchFile, good.Replace("\"V1\"", "\"First\"", StringComparison.Ordinal));
        await service.ActAsync(EmitterBench.Id, "reload", new { by = "R. Thrift" });
        Assert.Equal(1, service.TimesLogged(1008));
        JsonElement channels = await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/channels");
        Assert.Equal("First", channels.GetProperty("items")[0].GetProperty("label").GetString());
    }

    private static async Task<string?> FaultOfV1(ServiceProcess service)
    {
        JsonElement channels = await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/channels");
        return channels.GetProperty("items")[0].GetProperty("fault").GetString();
    }

    private static async Task<string?> OpenAboveLimit(ServiceProcess service)
    {
        for (int i = 0; i < 100; i++)
        {
            JsonElement open = await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/findings/open");
            foreach (JsonElement item in open.GetProperty("items").EnumerateArray())
            {
                JsonElement finding = item.GetProperty("finding");
                if (finding.GetProperty("kind").GetString() == "above-limit")
                {
                    return finding.GetProperty("id").GetString();
                }
            }

            await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        }

        return null;
    }
}
