using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text.Json;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;
using DriftWatch.SystemTests.Service;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Mirror;

/// <summary>The whole service and real servers: what is in the store is on the server, value by value, whatever befell the server meanwhile.</summary>
public sealed class MirrorServersTests(ITestOutputHelper output)
{
    /// <summary>Killed with -9 ten times at random moments; five times it is back before the next batch, so that nothing is refused.</summary>
    [Theory]
    [InlineData("victoria-metrics", "-dedup.minScrapeInterval=1ms")]
    [InlineData("influxdb")]
    public async Task A_server_that_is_killed_ten_times_lacks_nothing_in_the_end(string kind, params string[] more)
    {
        int seed = Environment.TickCount;
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        using SeriesServer server = await SeriesServer.BeginAsync(kind, more);
        using EmitterBench bench = EmitterBench.Create();
        await File.AppendAllTextAsync(bench.BenchFile, server.Toml);
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await UntilAsync(service, m => m.GetProperty("taken").GetInt64() > 0, "the first readings arrive");
        for (int kill = 0; kill < 10; kill++)
        {
            await WaitAsync(random.Next(200, 2500));
            server.Kill();
            await WaitAsync(kill % 2 == 0 ? 0 : random.Next(1500, 3000));
            await server.StartAsync();
        }

        await WaitAsync(2000);
        bench.Unplug();
        await UntilAsync(service, m => m.GetProperty("state").GetString() == "level" && m.GetProperty("olderInputs").GetInt64() == 0, "level");
        await WaitAsync(2500);
        (int stored, int held, int doubled) = await StoreAgainstServer.CompareAsync(server, Path.Combine(store, EmitterBench.Id));
        output.WriteLine($"{stored} readings stored, {held} held by {kind}, {doubled} of them more than once");
        Assert.True(stored > 1000);
        Assert.Equal(stored, held);
        Assert.Equal(0, doubled);

        // The wire was pulled: the book has a line or more, and the server has them, but for several of one alarm at one instant.
        JsonElement[] lines = [];
        for (int i = 0; i < 100 && lines.Length == 0; i++)
        {
            await WaitAsync(200);
            lines = [.. (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/alarms")).GetProperty("items").EnumerateArray().Select(a => a.GetProperty("alarm"))];
        }

        await WaitAsync(4000);
        Assert.NotEmpty(lines);
        Assert.InRange(await server.AlarmLinesAsync(), lines.Select(l => $"{l.GetProperty("tag")} {l.GetProperty("at")}").Distinct().Count(), int.MaxValue);

        // The site's view is the bench's own, asked for in the server's language.
        await WaitAsync(16_000); // how it stands is told every 15 s
        using ISiteServer site = server.Site();
        SiteBench seen = Assert.Single(await new SiteView(site, TimeProvider.System).ReadAsync(CancellationToken.None));
        JsonElement open = await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/alarms/open");
        string[] due = [.. open.GetProperty("items").EnumerateArray().Select(a => a.GetProperty("alarm").GetProperty("tag").GetString()!).Order(StringComparer.Ordinal)];
        Assert.Equal((EmitterBench.Id, "annex", false), (seen.Bench, seen.Site, seen.IsSilent));
        Assert.Equal(due, seen.Alarms.Select(a => a.Alarm).Order(StringComparer.Ordinal));
        Assert.Equal(due.Length, seen.Standing.Unanswered);
        Assert.Equal(4, seen.Standing.Silent);
    }

    [Fact]
    public async Task A_server_that_keeps_doubles_keeps_them_and_no_value_is_wrong()
    {
        using SeriesServer server = await SeriesServer.BeginAsync("victoria-metrics");
        using EmitterBench bench = EmitterBench.Create();
        await File.AppendAllTextAsync(bench.BenchFile, server.Toml);
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await UntilAsync(service, m => m.GetProperty("taken").GetInt64() > 200, "readings arrive");
        }

        using (ServiceProcess again = await ServiceProcess.WatchAsync(bench.BenchFile, store)) // sends again what was not safe
        {
            await UntilAsync(again, m => m.GetProperty("taken").GetInt64() > 300, "readings arrive again");
            bench.Unplug();
            await UntilAsync(again, m => m.GetProperty("state").GetString() == "level", "level");
            await WaitAsync(2500);
        }

        (int stored, int held, int doubled) = await StoreAgainstServer.CompareAsync(server, Path.Combine(store, EmitterBench.Id));
        Assert.Equal(stored, held);
        Assert.True(doubled > 100, $"{doubled} doubled");
    }

    /// <summary>What real servers say to a key that is wrong, to a disk without room, to a database that is not there.</summary>
    [Fact]
    public async Task Refusals_of_real_servers_are_told_apart()
    {
        using SeriesServer locked = await SeriesServer.BeginAsync("victoria-metrics", "-httpAuth.username=bench", "-httpAuth.password=right");
        Assert.Equal(SendResult.Unwelcome, (await SendAsync(new LineServerOptions { Url = new Uri(locked.Url), Bucket = "driftwatch", User = "bench", Key = () => "wrong" })).Result);
        Assert.Equal(SendResult.Taken, (await SendAsync(new LineServerOptions { Url = new Uri(locked.Url), Bucket = "driftwatch", User = "bench", Key = () => "right" })).Result);

        using SeriesServer full = await SeriesServer.BeginAsync("victoria-metrics", "-storage.minFreeDiskSpaceBytes=1000000000000000");
        Assert.Equal(SendResult.Failing, (await SendAsync(new LineServerOptions { Url = new Uri(full.Url), Bucket = "driftwatch" })).Result);

        using SeriesServer older = await SeriesServer.BeginAsync("influxdb", "max-body-size = 2000");
        Assert.Equal(SendResult.NoSuchPlace, (await SendAsync(new LineServerOptions { Url = new Uri(older.Url), Bucket = "no-such", Way = WriteWay.V1 })).Result);
        Assert.Equal(SendResult.NoSuchPlace, (await SendAsync(new LineServerOptions { Url = new Uri(older.Url), Bucket = "driftwatch" })).Result); // it has no newer way
        Assert.Equal(SendResult.Refused, (await SendAsync(new LineServerOptions { Url = new Uri(older.Url), Bucket = "driftwatch", Way = WriteWay.V1 }, "driftwatch_reading value=1 1\ndriftwatch_reading value=\"text\" 2\n")).Result);
        SendAnswer large = await SendAsync(new LineServerOptions { Url = new Uri(older.Url), Bucket = "driftwatch", Way = WriteWay.V1 }, string.Concat(Enumerable.Range(0, 500).Select(i => string.Create(CultureInfo.InvariantCulture, $"m v={i * 0.123456789} {i}\n"))));
        Assert.Equal(SendResult.TooLarge, large.Result);
        Assert.InRange((large.ServerUtc!.Value - TimeProvider.System.GetUtcNow()).TotalSeconds, -3, 3);
    }

    [Fact]
    public async Task A_connection_that_hangs_is_given_up_in_time()
    {
        using var silent = new TcpListener(IPAddress.Loopback, 0);
        silent.Start();
        SendAnswer answer = await SendAsync(new LineServerOptions { Url = new Uri($"http://127.0.0.1:{((IPEndPoint)silent.LocalEndpoint).Port}"), Bucket = "b", Timeout = TimeSpan.FromSeconds(1) });
        Assert.Equal(SendResult.Unreachable, answer.Result);
    }

    [Theory]
    [InlineData("victoria-metrics")]
    [InlineData("influxdb")]
    public async Task A_real_server_counts_a_window_to_the_millisecond_and_tells_since_when_it_runs(string kind)
    {
        CountWay counts = kind == "influxdb" ? CountWay.Influxql : CountWay.Promql;
        using SeriesServer server = await SeriesServer.BeginAsync(kind);
        var settings = new MirrorSettings
        {
            Id = "site", File = "bench.toml", Line = 1, Url = new WebAddress(new Uri(server.Url)), Bucket = "driftwatch",
            Way = counts == CountWay.Influxql ? WriteWay.V1 : WriteWay.V2, Counts = counts,
        };
        using var way = new MirrorConnection(settings, TimeProvider.System);
        long begin = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds() - 3_600_000;
        var text = new LineText();
        string[] heads = [.. Enumerable.Range(0, 3).Select(c => LineText.Head(ReadingLines.Measurement, [("bench", "west's \"bench\""), ("channel", $"c{c}")]))];
        for (int i = 0; i < 3000; i++)
        {
            text.Begin(heads[i % 3]);
            text.Field(ReadingLines.Quality, 0L);
            text.End(begin + (i / 3 * 100));
        }

        Assert.Equal(SendResult.Taken, (await way.Server.SendAsync(text.Take(), CancellationToken.None)).Result);
        if (counts == CountWay.Promql)
        {
            await way.Server.AskAsync("/internal/force_flush", CancellationToken.None);
        }

        foreach ((int from, int to) in ((int, int)[])[(0, 100_000), (0, 100), (1, 100), (0, 101), (100, 201), (50_000, 60_000), (200_000, 300_000)])
        {
            int due = Enumerable.Range(0, 1000).Count(i => i * 100 >= from && i * 100 < to) * 3;
            Assert.Equal(due, await ServerCounts.AskAsync(way.Server, settings, "west's \"bench\"", begin + from, begin + to, CancellationToken.None));
        }

        string? since = await ServerCounts.RunsSinceAsync(way.Server, settings, CancellationToken.None);
        Assert.NotNull(since);
        server.Kill();
        await WaitAsync(1100);
        await server.StartAsync();
        Assert.NotEqual(since, await ServerCounts.RunsSinceAsync(way.Server, settings, CancellationToken.None));
        Assert.Equal(2, way.Opened);
    }

    private static async Task<SendAnswer> SendAsync(LineServerOptions options, string lines = "driftwatch_check tried=1i 1000\n")
    {
        using var server = new LineServer(options, new SocketsHttpHandler());
        return await server.SendAsync(lines, CancellationToken.None);
    }

    private static async Task UntilAsync(ServiceProcess service, Func<JsonElement, bool> isSo, string what)
    {
        JsonElement mirror = default;
        for (int i = 0; i < 300; i++)
        {
            mirror = (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/mirrors")).GetProperty("mirrors")[0];
            if (isSo(mirror))
            {
                return;
            }

            await WaitAsync(200);
        }

        Assert.Fail($"not so after 60 s: {what}; {mirror}");
    }

    private static Task WaitAsync(int milliseconds) => Task.Delay(TimeSpan.FromMilliseconds(milliseconds), TimeProvider.System);
}
