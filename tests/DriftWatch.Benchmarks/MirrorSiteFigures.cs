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
/// What the site's view asks of two real servers for 1, 20, 1,000 and 100,000 benches: the newest of each alone, and for few benches beside a week
/// of how they stood, since the view looks that far back for those that are silent.
/// </summary>
internal static class MirrorSiteFigures
{
    private const int Rounds = 5;

    /// <summary>From so many on a view takes longer than its lines stay fresh: it is asked for once, of lines that were written just before.</summary>
    private const int Many = 10_000;

    private static readonly (string Name, string? Value)[] Tags = [("site", "annex")];

    public static void Run(TextWriter output, Size size)
    {
        foreach (bool isPromql in new[] { true, false })
        {
            foreach (int benches in size == Size.Full ? [1, 20, 1000, 100_000] : new[] { 1, 5 })
            {
                View(output, isPromql, benches, TimeSpan.Zero);
            }

            foreach (int benches in size == Size.Full ? [1, 20] : new[] { 1 })
            {
                View(output, isPromql, benches, size == Size.Full ? TimeSpan.FromDays(7) : TimeSpan.FromHours(1));
            }
        }
    }

    private static void View(TextWriter output, bool isPromql, int benches, TimeSpan back)
    {
        using ServerPeer server = isPromql ? new VictoriaMetricsPeer() : new InfluxPeer(Size.Smoke);
        using var counted = new Counted();
        var options = new LineServerOptions { Url = server.Url, Bucket = isPromql ? "driftwatch" : "bench", Way = isPromql ? WriteWay.V2 : WriteWay.V1, Timeout = TimeSpan.FromMinutes(1) };
        using var way = new LineServer(options, new SocketsHttpHandler());
        Fill(way, benches, back);
        server.Flush();
        using ISiteServer asked = isPromql ? new PromqlSite(new LineServer(options, counted)) : new InfluxqlSite(new LineServer(options, counted), options.Bucket);
        var timed = new Timed(asked);
        var site = new SiteView(timed, TimeProvider.System, new SiteMemory(TimeProvider.System));
        int rounds = benches >= Many ? 1 : Rounds;
        for (int i = 0; benches < Many && i < 20 && site.ReadAsync(CancellationToken.None).GetAwaiter().GetResult().Count(b => b is { Pass: not null, Drift: not null }) < benches; i++)
        {
            Waiting.For(TimeSpan.FromMilliseconds(500)); // what was just taken may not be shown yet
        }

        Fresh();
        long firstAsked = Stopwatch.GetTimestamp();
        _ = new SiteView(asked, TimeProvider.System).ReadAsync(CancellationToken.None).GetAwaiter().GetResult();
        double first = Stopwatch.GetElapsedTime(firstAsked).TotalMilliseconds;
        Fresh();
        if (benches >= Many)
        {
            _ = site.ReadAsync(CancellationToken.None).GetAwaiter().GetResult(); // the week of all, which later ones do not ask for
            Fresh();
        }

        timed.Took.Clear();
        counted.Bytes = 0;
        var took = new List<double>();
        TimeSpan theirs = server.Processor;
        for (int i = 0; i < rounds; i++)
        {
            long began = Stopwatch.GetTimestamp();
            int seen = site.ReadAsync(CancellationToken.None).GetAwaiter().GetResult().Count;
            took.Add(Stopwatch.GetElapsedTime(began).TotalMilliseconds);
            if (seen != benches)
            {
                throw new InvalidOperationException($"{server.Name}: {seen} of {benches} benches seen");
            }
        }

        theirs = server.Processor - theirs;
        string each = string.Join(", ", timed.Took.Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Key["driftwatch_".Length..]} {Middle(t.Value):0.0}")));
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"mirror-site, {server.Name}, {benches:N0} benches, {(back > TimeSpan.Zero ? $"a line of how each stands every 15 s of {back.TotalDays:0.##} days" : "the newest lines alone")}: the view with the week of all benches {first:0.0} ms, each later one {Middle(took):0.0} ms (worst of {rounds} {took.Max():0.0}; asking for {each}), {counted.Bytes / rounds:N0} bytes of answers, {theirs.TotalMilliseconds / rounds:0} ms of processor and {server.Resident >> 20} MB in the server"));

        void Fresh()
        {
            if (benches >= Many)
            {
                Fill(way, benches, TimeSpan.Zero);
                server.Flush();
                Waiting.For(TimeSpan.FromSeconds(2)); // a server shows what it took within that
            }
        }
    }

    /// <summary>Of every bench what the view asks for; one in ten has an alarm that waits, the others one that is over.</summary>
    private static void Fill(LineServer way, int benches, TimeSpan back)
    {
        var text = new LineText();
        long now = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds();
        for (long at = now - (long)back.TotalMilliseconds; at < now; at += 15_000)
        {
            for (int b = 0; b < benches; b++)
            {
                EventLines.Write(Standing(b), $"bench-{b}", Tags, text, at);
                Flush(MirrorLane.MostLines);
            }
        }

        for (int b = 0; b < benches; b++)
        {
            string bench = $"bench-{b}";
            bool waits = b % 10 == 0;
            EventLines.Write(Standing(b), bench, Tags, text, now);
            EventLines.WriteDrifts(Standing(b), bench, Tags, text, now, all: false);
            text.Begin(LineText.Head(EventLines.Alarm, [("bench", bench), ("alarm", "limit.regulated-air"), ("channel", "regulated-air"), ("unit", "psi"), .. Tags]));
            text.Field("state", waits ? 1L : 0L);
            text.Field("step", waits ? 0L : 4L);
            text.Field("priority", 1L);
            text.Field("active", waits ? 1L : 0L);
            text.Field("value", 28.5);
            text.Field("limit", 29.0);
            text.Field("utc", now / 1000.0);
            text.End(now);
            text.Begin(LineText.Head(EventLines.Pass, [("bench", bench), ("pass", "1"), ("standard", "525"), ("tape", $"T-{b}"), ("transfer", new Guid(b, 0, 0, new byte[8]).ToString("D")), .. Tags]));
            text.Field("stage", 2L);
            text.Field("utc", now / 1000.0);
            text.End(now);
            Flush(MirrorLane.MostLines);
        }

        Flush(1);

        void Flush(int from)
        {
            if (text.Lines >= from && way.SendAsync(text.Take(), CancellationToken.None).GetAwaiter().GetResult() is { IsTaken: false } answer)
            {
                throw new InvalidOperationException($"the server refuses: {answer.Said}");
            }
        }
    }

    private static BenchStanding Standing(int bench) => new(MachineState.Running, bench % 10 == 0 ? 1 : 0, bench % 10 == 0 ? 1 : 0, bench % 100 / 100.0, 0)
    {
        Drifts = [new ChannelDrift { Id = "regulated-air", Label = "", Unit = "psi", UsedShare = bench % 100 / 100.0, SlopePerHour = 0.01, MinutesLeft = 90 }],
    };

    private static double Middle(List<double> values) => values.Order().ElementAt(values.Count / 2);

    /// <summary>Notes how long each question took.</summary>
    private sealed class Timed(ISiteServer server) : ISiteServer
    {
        public Dictionary<string, List<double>> Took { get; } = new(StringComparer.Ordinal);

        public async Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel)
        {
            long began = Stopwatch.GetTimestamp();
            IReadOnlyList<SiteRow> rows = await server.NewestAsync(measurement, fields, within, cancel);
            if (!Took.TryGetValue(measurement, out List<double>? took))
            {
                Took.Add(measurement, took = []);
            }

            took.Add(Stopwatch.GetElapsedTime(began).TotalMilliseconds);
            return rows;
        }

        public void Dispose() => server.Dispose();
    }

    /// <summary>Counts the bytes of answers, as they come over the wire: the servers are asked for no compression.</summary>
    private sealed class Counted : DelegatingHandler
    {
        public Counted()
            : base(new SocketsHttpHandler())
        {
        }

        public long Bytes { get; set; }

        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            HttpResponseMessage answer = await base.SendAsync(request, cancellationToken);
            await answer.Content.LoadIntoBufferAsync(cancellationToken);
            Bytes += answer.Content.Headers.ContentLength ?? 0;
            return answer;
        }
    }
}
