using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Servers;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Storage.Mirror;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks;

/// <summary>
/// How fast a backlog of a bench drains to a real server while the bench goes on, and what two hundred benches at once ask of a server on this
/// machine. Targets: 300,000 readings a second of backlog; live commits as quick as without a mirror. <c>DRIFTWATCH_MIRROR_DAYS</c> makes the
/// backlog shorter than its week.
/// </summary>
public static class MirrorFigures
{
    private const int ChannelsOfABench = 20;

    public static void Run(TextWriter output, Size size)
    {
        Drain(output, size == Size.Full ? TimeSpan.FromDays(Days()) : TimeSpan.FromMinutes(6), size);
        Fleet(output, benches: size == Size.Full ? 200 : 5, seconds: size == Size.Full ? 60 : 3);
        MirrorTierFigures.Run(output, benches: size == Size.Full ? 1000 : 5, hours: size == Size.Full ? 6 : 1);
    }

    private static double Days() =>
        double.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_MIRROR_DAYS"), CultureInfo.InvariantCulture, out double days) ? days : 7;

    /// <summary>A store with days of readings, a mirror that begins, and a writer that goes on at 20 channels x 10 Hz.</summary>
    private static void Drain(TextWriter output, TimeSpan length, Size size)
    {
        using var folder = new TempFolder();
        using var server = new VictoriaMetricsPeer();
        using BenchStore store = BenchStore.Open(folder.At("bench"), new BenchStoreOptions());
        foreach (ChannelDefinition channel in PracticeBench.TwentyAtTenHertz.Channels)
        {
            store.KeyFor(channel.Id);
        }

        var live = TimeSpan.FromMinutes(size == Size.Full ? 15 : 1);
        using IEnumerator<EngineInput> log = PracticeBench.Night(length + live, TimeProvider.System.GetUtcNow() - length).GetEnumerator();
        log.MoveNext();
        long readings = Write(store, log, length.TotalSeconds, 3600);
        store.MergeDue();
        double[] alone = Live(store, log, length.TotalSeconds, 20, () => false);

        var settings = new MirrorSettings
        {
            Id = "site", File = "bench.toml", Line = 1, Url = new WebAddress(server.Url), Bucket = "driftwatch", Counts = CountWay.Promql,
        };
        var lane = new MirrorLane(store, PracticeBench.TwentyAtTenHertz.Id, settings, new MirrorLaneOptions { TimeProvider = TimeProvider.System, Logger = NullLogger.Instance });
        TimeSpan ours = Process.GetCurrentProcess().TotalProcessorTime, theirs = server.Processor;
        long began = Stopwatch.GetTimestamp();
        lane.Start();
        TimeSpan? drained = null;
        TimeSpan behind = TimeSpan.Zero;
        double[] beside = Live(store, log, length.TotalSeconds + 20, live.TotalSeconds - 30, () =>
        {
            behind = behind > lane.Report.Behind ? behind : lane.Report.Behind;
            if (drained is null && lane.Report is { Taken: > 0, OlderInputs: 0 })
            {
                drained = Stopwatch.GetElapsedTime(began);
            }

            return drained is not null;
        });
        ours = Process.GetCurrentProcess().TotalProcessorTime - ours;
        theirs = server.Processor - theirs;
        MirrorReport report = lane.Report;
        lane.DisposeAsync().AsTask().GetAwaiter().GetResult();
        server.Flush();
        if (size == Size.Full)
        {
            Charts(output, server, length);
        }

        if (drained is not { } took)
        {
            output.WriteLine($"mirror: not drained within {live.TotalMinutes:0} min; {report}");
            return;
        }

        output.WriteLine(
            $"mirror, {length.TotalDays:0.###} days x {ChannelsOfABench} channels x 10 Hz = {readings:N0} readings of backlog, drained in {took.TotalSeconds:0.0} s = {readings / took.TotalSeconds:N0} readings/s while the bench went on (target 300,000); "
            + $"{ours.TotalSeconds / took.TotalSeconds:0.00} cores here, {theirs.TotalSeconds / took.TotalSeconds:0.00} in the server; what is new was at most {behind.TotalSeconds:0.0} s behind");
        output.WriteLine($"mirror, a live commit of a second of readings, disk included: {Middle(alone):0.0} ms alone (99 %: {Share(alone, 0.99):0.0}), {Middle(beside):0.0} ms beside the backlog (99 %: {Share(beside, 0.99):0.0}, worst {beside.Max():0.0})");
    }

    /// <summary>What it costs the server to show one channel of every reading: a night, and the whole of it.</summary>
    private static void Charts(TextWriter output, VictoriaMetricsPeer server, TimeSpan length)
    {
        using var way = new LineServer(new LineServerOptions { Url = server.Url, Bucket = "driftwatch" }, new SocketsHttpHandler());
        string channel = PracticeBench.TwentyAtTenHertz.Channels[1].Id;
        foreach ((string what, TimeSpan span, int step) in ((string, TimeSpan, int)[])[("12 h", TimeSpan.FromHours(12), 60), ("all of it", length, 600)])
        {
            DateTimeOffset end = TimeProvider.System.GetUtcNow();
            TimeSpan theirs = server.Processor;
            long began = Stopwatch.GetTimestamp();
            string answer = way.AskAsync(
                $"/api/v1/query_range?query={Uri.EscapeDataString($"rollup(driftwatch_reading_value{{channel=\"{channel}\"}}[{step}s])")}&start={(end - span).ToUnixTimeSeconds()}&end={end.ToUnixTimeSeconds()}&step={step}&nocache=1", CancellationToken.None).GetAwaiter().GetResult();
            output.WriteLine($"mirror, {what} of one channel at 10 Hz in columns of {step} s: {Stopwatch.GetElapsedTime(began).TotalMilliseconds:0} ms, {(server.Processor - theirs).TotalMilliseconds:0} ms of processor in the server ({answer.Length:N0} characters)");
        }
    }

    /// <summary>Benches that each send a second of 20 channels x 10 Hz every second, each over a connection of its own, as their services would; without stores and outboxes behind them, which would be a test of one disk.</summary>
    private static void Fleet(TextWriter output, int benches, int seconds)
    {
        using var server = new VictoriaMetricsPeer();
        var ways = Enumerable.Range(0, benches).Select(i => new LineServer(new LineServerOptions { Url = server.Url, Bucket = "driftwatch" }, new SocketsHttpHandler())).ToList();
        string[][] heads =
        [
            .. Enumerable.Range(0, benches).Select(b => Enumerable.Range(0, ChannelsOfABench)
                .Select(c => LineText.Head(ReadingLines.Measurement, [("bench", $"bench-{b}"), ("channel", $"channel-{c}"), ("unit", "psi")])).ToArray()),
        ];
        TimeSpan ours = Process.GetCurrentProcess().TotalProcessorTime, theirs = server.Processor;
        long began = Stopwatch.GetTimestamp();
        var answers = new System.Collections.Concurrent.ConcurrentBag<double>();
        int refused = 0;
        Task.WhenAll(Enumerable.Range(0, benches).Select(b => Task.Run(() => SendAsync(b)))).GetAwaiter().GetResult();
        TimeSpan took = Stopwatch.GetElapsedTime(began);
        ours = Process.GetCurrentProcess().TotalProcessorTime - ours;
        theirs = server.Processor - theirs;
        server.Flush();
        long resident = server.Resident;
        long sent = (long)benches * ChannelsOfABench * 10 * seconds;
        double[] waits = [.. answers.Order()];
        server.Settle();
        output.WriteLine(
            $"mirror, {benches} benches x {ChannelsOfABench} channels x 10 Hz for {seconds} s: {sent:N0} readings in {took.TotalSeconds:0.0} s, {refused} batches refused; an answer took {Middle(waits):0.0} ms (99 %: {Share(waits, 0.99):0.0}); "
            + $"{theirs.TotalSeconds / took.TotalSeconds:0.00} cores and {resident >> 20} MB in the server, {ours.TotalSeconds / took.TotalSeconds:0.00} cores for all benches' mirrors; {server.Size:N0} bytes on its disk = {(double)server.Size / sent:0.00} a reading ({server.SizeNote})");
        ways.ForEach(w => w.Dispose());

        async Task SendAsync(int bench)
        {
            var text = new LineText();
#pragma warning disable CA5394 // values for a server to keep, not secrets
            var random = new Random(bench);
            int[] values = [.. Enumerable.Range(0, ChannelsOfABench).Select(_ => 50_000 + random.Next(100))];
            for (int second = 0; second < seconds; second++)
            {
                TimeSpan due = TimeSpan.FromSeconds(second + ((double)bench / benches));
                if (due > Stopwatch.GetElapsedTime(began))
                {
                    await Task.Delay(due - Stopwatch.GetElapsedTime(began), TimeProvider.System);
                }

                long now = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds();
                for (int i = 0; i < 10; i++)
                {
                    for (int c = 0; c < ChannelsOfABench; c++)
                    {
                        values[c] += random.Next(-3, 4);
                        text.Begin(heads[bench][c]);
                        text.Field("value", values[c] / 1000.0);
                        text.Field(ReadingLines.Quality, 0L);
                        text.End(now - 1000 + (i * 100));
                    }
                }
#pragma warning restore CA5394

                long asked = Stopwatch.GetTimestamp();
                if (!(await ways[bench].SendAsync(text.Take(), CancellationToken.None)).IsTaken)
                {
                    Interlocked.Increment(ref refused);
                }

                answers.Add(Stopwatch.GetElapsedTime(asked).TotalMilliseconds);
            }
        }
    }

    /// <summary>Appends the log up to an engine time, so many seconds a commit; gives how many readings that were.</summary>
    private static long Write(BenchStore store, IEnumerator<EngineInput> log, double untilSeconds, double commitSeconds)
    {
        var batch = new List<EngineInput>();
        long readings = 0;
        double commitAt = commitSeconds;
        do
        {
            double at = log.Current.Time.Seconds;
            if (at >= untilSeconds || at >= commitAt)
            {
                store.Append(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(batch));
                store.SealDue();
                batch.Clear();
                commitAt += commitSeconds;
                if (at >= untilSeconds)
                {
                    break;
                }
            }

            readings += log.Current.Kind is InputKind.Sample or InputKind.Fault ? 1 : 0;
            batch.Add(log.Current);
        }
        while (log.MoveNext());
        return readings;
    }

    /// <summary>Goes on in real time, a commit a second, until it is enough; gives what each commit took in milliseconds.</summary>
    private static double[] Live(BenchStore store, IEnumerator<EngineInput> log, double fromSeconds, double seconds, Func<bool> isEnough)
    {
        var took = new List<double>();
        long began = Stopwatch.GetTimestamp();
        for (int second = 1; second <= seconds && !isEnough(); second++)
        {
            TimeSpan wait = TimeSpan.FromSeconds(second) - Stopwatch.GetElapsedTime(began);
            Waiting.For(wait > TimeSpan.Zero ? wait : TimeSpan.Zero);
            var batch = new List<EngineInput>();
            while (log.Current.Time.Seconds < fromSeconds + second)
            {
                batch.Add(log.Current);
                if (!log.MoveNext())
                {
                    return [.. took];
                }
            }

            long start = Stopwatch.GetTimestamp();
            store.Append(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(batch));
            took.Add(Stopwatch.GetElapsedTime(start).TotalMilliseconds);
        }

        return [.. took];
    }

    private static double Middle(double[] values) => Share(values, 0.5);

    private static double Share(double[] values, double share) => values.Length == 0 ? 0 : values.Order().ElementAt((int)Math.Min(values.Length - 1, values.Length * share));
}
