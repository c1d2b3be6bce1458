using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Servers;
using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Benchmarks;

/// <summary>
/// What a server of the second tier is asked for: means of a minute of many benches, and what looking at them costs. The mirror's own
/// benchmark has the first tier, which gets every reading.
/// </summary>
internal static class MirrorTierFigures
{
    private const int ChannelsOfABench = 20;

    /// <summary>So many benches' minutes of so many hours, sent as a mirror sends them; then the site's view of all, and charts of one.</summary>
    public static void Run(TextWriter output, int benches, int hours)
    {
        using var server = new VictoriaMetricsPeer();
        using var way = new LineServer(new LineServerOptions { Url = server.Url, Bucket = "driftwatch" }, new SocketsHttpHandler());
        DateTimeOffset end = DateTimeOffset.FromUnixTimeSeconds(TimeProvider.System.GetUtcNow().ToUnixTimeSeconds() / 60 * 60);
        TimeSpan theirs = server.Processor;
        long began = Stopwatch.GetTimestamp();
        long lines = Send(way, benches, hours, end);
        TimeSpan took = Stopwatch.GetElapsedTime(began);
        theirs = server.Processor - theirs;
        server.Flush();
        output.WriteLine(
            $"mirror, means of a minute of {benches} benches x {ChannelsOfABench} channels over {hours} h: {lines:N0} lines of 5 fields in {took.TotalSeconds:0.0} s = {lines / took.TotalSeconds:N0} lines/s, {theirs.TotalSeconds / lines * 1e6:0.0} us of processor in the server for each; {server.Resident >> 20} MB there");
        Look(output, server, way, benches, hours, end);
        server.Settle();
        output.WriteLine($"mirror, the same on its disk: {server.Size:N0} bytes = {(double)server.Size / lines:0.00} a line ({server.SizeNote})");
    }

    private static long Send(LineServer way, int benches, int hours, DateTimeOffset end)
    {
#pragma warning disable CA5394 // values for a server to keep, not secrets
        var random = new Random(7);
        string[] heads = [.. Enumerable.Range(0, benches * ChannelsOfABench).Select(i => LineText.Head("driftwatch_minute", [("bench", $"bench-{i / ChannelsOfABench}"), ("channel", $"channel-{i % ChannelsOfABench}"), ("unit", "psi"), ("site", "annex")]))];
        double[] values = [.. heads.Select(_ => 50 + random.NextDouble())];
        var text = new LineText();
        long lines = 0;
        for (DateTimeOffset at = end - TimeSpan.FromHours(hours); at < end; at = at.AddMinutes(1))
        {
            for (int i = 0; i < heads.Length; i++)
            {
                values[i] += (random.NextDouble() - 0.5) / 100;
                text.Begin(heads[i]);
                text.Field("mean", values[i]); // a mean of 600 readings has all its digits
                text.Field("min", Math.Round(values[i] - 0.05, 3));
                text.Field("max", Math.Round(values[i] + 0.05, 3));
                text.Field("count", 600L);
                text.Field("faults", 0L);
                text.End(at.ToUnixTimeMilliseconds());
                if (text.Lines == MirrorLane.MostLines)
                {
                    lines += Flush();
                }
            }
        }
#pragma warning restore CA5394

        return lines + Flush();

        int Flush()
        {
            int count = text.Lines;
            SendAnswer answer = way.SendAsync(text.Take(), CancellationToken.None).GetAwaiter().GetResult();
            return answer.IsTaken || count == 0 ? count : throw new InvalidOperationException($"the server refuses: {answer.Said}");
        }
    }

    /// <summary>The site's page, a night and the whole span of one channel, and the worst of all benches.</summary>
    private static void Look(TextWriter output, VictoriaMetricsPeer server, LineServer way, int benches, int hours, DateTimeOffset end)
    {
        var text = new LineText();
        long now = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds();
        for (int b = 0; b < benches; b++)
        {
            var standing = new BenchStanding(MachineState.Locked, 0, 0, b / (double)benches, 0)
            {
                Drifts = [.. Enumerable.Range(0, ChannelsOfABench).Select(c => new ChannelDrift { Id = $"channel-{c}", Label = "", Unit = "psi", UsedShare = 0.1, SlopePerHour = 0.01 })],
            };
            EventLines.Write(standing, $"bench-{b}", [("site", "annex")], text, now);
            EventLines.WriteDrifts(standing, $"bench-{b}", [("site", "annex")], text, now);
        }

        way.SendAsync(text.Take(), CancellationToken.None).GetAwaiter().GetResult();
        server.Flush();
        using var asked = new PromqlSite(new LineServer(new LineServerOptions { Url = server.Url, Bucket = "driftwatch" }, new SocketsHttpHandler()));
        var site = new SiteView(asked, TimeProvider.System);
        for (int i = 0; i < 50 && site.ReadAsync(CancellationToken.None).GetAwaiter().GetResult().Count < benches; i++)
        {
            Waiting.For(TimeSpan.FromMilliseconds(200)); // what was just taken may not be shown yet
        }

        Time($"the site's view of {benches} benches", () => site.ReadAsync(CancellationToken.None).GetAwaiter().GetResult().Count == benches);
        string one = "driftwatch_minute_mean{bench=\"bench-1\",channel=\"channel-1\"}";
        Time("a night of one channel, minute by minute", () => Ask($"query_range?query={Uri.EscapeDataString(one)}&start={(end - TimeSpan.FromHours(Math.Min(12, hours))).ToUnixTimeSeconds()}&end={end.ToUnixTimeSeconds()}&step=60"));
        Time("of every bench the least of one channel over it all", () => Ask($"query?query={Uri.EscapeDataString($"min_over_time(driftwatch_minute_min{{channel=\"channel-1\"}}[{hours}h])")}&time={end.ToUnixTimeSeconds()}"));

        bool Ask(string path) => way.AskAsync($"/api/v1/{path}&nocache=1", CancellationToken.None).GetAwaiter().GetResult().Contains("\"values\":[[", StringComparison.Ordinal) || path.StartsWith("query?", StringComparison.Ordinal);

        void Time(string what, Func<bool> ask)
        {
            var took = new List<double>();
            TimeSpan theirs = server.Processor;
            for (int i = 0; i < 11; i++)
            {
                long began = Stopwatch.GetTimestamp();
                if (!ask())
                {
                    throw new InvalidOperationException($"not answered: {what}");
                }

                took.Add(Stopwatch.GetElapsedTime(began).TotalMilliseconds);
            }

            theirs = server.Processor - theirs;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"mirror, {what}: {took.Order().ElementAt(5):0.0} ms (worst of 11 {took.Max():0.0}), {theirs.TotalMilliseconds / 11:0} ms of processor in the server"));
        }
    }
}
