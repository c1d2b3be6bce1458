using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>How soon a line of the alarm book is at a webhook, and what a thousand flapping alarms come to in an hour.</summary>
internal static class NoticeFigures
{
    public static void Run(TextWriter output, Size size)
    {
        NoticePathFigures.RunAsync(output, size == Size.Full ? 100 : 3).GetAwaiter().GetResult();
        LatencyAsync(output, size == Size.Full ? 1000 : 50).GetAwaiter().GetResult();
        Flapping(output, size == Size.Full ? 1000 : 50, size == Size.Full ? 3600 : 120);
    }

    /// <summary>
    /// The desk alone, from a judged line to its arrival at a web server in this process, one at a time: the journal takes a second of 20
    /// channels at 10 Hz first, and the records the line after it. The bench's own wake and snapshot are in <see cref="NoticePathFigures"/>.
    /// </summary>
    private static async Task LatencyAsync(TextWriter output, int count)
    {
        string folder = Directory.CreateTempSubdirectory("driftwatch-notices-").FullName;
        await using ArrivingHook hook = await ArrivingHook.StartAsync();
        using (BenchStore store = BenchStore.Open(Path.Combine(folder, "store"), new BenchStoreOptions()))
        {
            var clock = Stopwatch.StartNew();
            await using var desk = new NoticeDesk(store, Options(() => new EngineTime(clock.Elapsed.Ticks * 100)));
            desk.Use(Bench(), new NoticeSettings
            {
                Routes = [Route("hook") with { Most = 1000, Within = TimeSpan.FromSeconds(1), Webhook = new WebhookSettings { Url = new WebAddress(hook.Url) } }],
            });
            desk.Start();
            while (desk.Reports().Count == 0)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
            }

            var anchor = new TimeAnchor(EngineTime.FromSeconds(0), UtcText.ToNanoseconds(TimeProvider.System.GetUtcNow()));
            store.Append([EngineInput.OfClock(anchor.Engine, new ClockEvent(ClockEventKind.Started, anchor)) with { Number = 1 }]);
            var committed = new List<double>();
            var took = new List<double>();
            for (int i = 1; i <= count; i++)
            {
                EngineInput[] second = [.. Second(i)];
                long begun = Stopwatch.GetTimestamp();
                store.Append(second);
                store.CommitJudged(i, [1], "build", [], [Line($"a{i}", i, AlarmStep.Raised, AlarmState.Unacknowledged, clock.Elapsed.TotalSeconds)]);
                committed.Add(Stopwatch.GetElapsedTime(begun).TotalMilliseconds);
                desk.Wake();
                took.Add(Stopwatch.GetElapsedTime(begun, (await hook.NextAsync()).Stamp).TotalMilliseconds);
                await Task.Delay(TimeSpan.FromMilliseconds(5), TimeProvider.System);
            }

            committed.Sort();
            took.Sort();
            output.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"the desk alone, judged line to webhook, {count} one at a time: p50 {took[count / 2]:0.0} ms, p99 {took[count * 99 / 100]:0.0} ms, worst {took[^1]:0.0} ms; of that its two commits p50 {committed[count / 2]:0.0} ms, p99 {committed[count * 99 / 100]:0.0} ms"));
        }

        Directory.Delete(folder, recursive: true);
    }

    /// <summary>The readings of a second, numbered on from those before.</summary>
    private static IEnumerable<EngineInput> Second(int number)
    {
        const int Channels = 20, Rate = 10;
        long next = 2 + ((number - 1) * Channels * Rate);
        for (int i = 0; i < Rate; i++)
        {
            EngineTime at = EngineTime.FromSeconds(number + (i / (double)Rate) + 0.001);
            for (int channel = 0; channel < Channels; channel++)
            {
                yield return EngineInput.OfReading(at, channel, Measurement.Samples.Reading.Of(50 + (((number * 7) + (channel * 3) + i) % 100 / 1000.0))) with { Number = next++ };
            }
        }
    }

    /// <summary>Each alarm is raised and over once in ten seconds, of a clock that the loop turns.</summary>
    private static void Flapping(TextWriter output, int alarms, int seconds)
    {
        string folder = Directory.CreateTempSubdirectory("driftwatch-notices-").FullName;
        using (BenchStore store = BenchStore.Open(Path.Combine(folder, "store"), new BenchStoreOptions { BallastBytes = 0 }))
        {
            EngineTime now = EngineTime.FromSeconds(1);
            var routes = new Dictionary<string, CountingRoute>(StringComparer.Ordinal)
            {
                ["at-once"] = new(true), ["escalated"] = new(true), ["dead-network"] = new(false),
            };
            var desk = new NoticeDesk(store, Options(() => now) with { MakeRoute = r => routes[r.Id] });
            desk.Use(Bench(), new NoticeSettings { Routes = [Route("at-once"), Route("escalated") with { After = TimeSpan.FromSeconds(4) }, Route("dead-network")] });
            desk.Turn();
            long before = GC.GetTotalMemory(forceFullCollection: true);
            TimeSpan processor = Process.GetCurrentProcess().TotalProcessorTime;
            long input = 0;
            int lines = 0;
            int mostOpen = 0;
            for (int second = 0; second < seconds; second++)
            {
                var made = new List<AlarmTransition>();
                for (int alarm = 0; alarm < alarms; alarm++)
                {
                    if ((second + alarm) % 5 == 0)
                    {
                        bool isRaised = (second + alarm) % 10 == 0;
                        made.Add(Line($"alarm-{alarm}", ++input, isRaised ? AlarmStep.Raised : AlarmStep.Returned, isRaised ? AlarmState.Unacknowledged : AlarmState.ReturnedUnacknowledged, now.Seconds));
                    }
                }

                lines += made.Count;
                store.CommitJudged(input, [1], "build", [], made);
                for (int turn = 0; turn < 3; turn++)
                {
                    desk.Turn();
                    Task.WaitAll([.. desk.Lanes.Select(l => l.Flying).OfType<Task>()]);
                }

                mostOpen = Math.Max(mostOpen, desk.Reports().Sum(r => r.Waiting));
                now += TimeSpan.FromSeconds(1);
            }

            processor = Process.GetCurrentProcess().TotalProcessorTime - processor;
            long held = GC.GetTotalMemory(forceFullCollection: true) - before;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"{alarms} flapping alarms for {seconds} s, {lines} lines of the book: {string.Join(", ", routes.Select(r => $"{r.Key} {r.Value.Sent} notices of {r.Value.Told} lines"))}; most rows waiting {mostOpen}, rows kept {store.OpenNotices().Count + routes.Keys.Sum(r => store.LatestNotices(r, 100_000).Count(n => n.State == NoticeState.Sent))}, memory {held / 1e6:0.0} MB more, {processor.TotalSeconds:0.0} s of processor with the book"));
            desk.DisposeAsync().AsTask().GetAwaiter().GetResult();
        }

        Directory.Delete(folder, recursive: true);
    }

    private static NoticeDeskOptions Options(Func<EngineTime> now) => new() { Now = now, StoreTrouble = () => null, Logger = NullLogger.Instance };

    private static RouteSettings Route(string id) =>
        new() { Id = id, Kind = RouteKind.Webhook, File = "b.toml", Line = 1, LeastPriority = AlarmPriority.Low };

    private static BenchDefinition Bench() => new()
    {
        Id = "bench",
        Label = "Bench",
        SourceHash = "ab",
        Machine = new MachineDefinition { Label = "Machine" },
        Instruments = [],
        Channels = [],
    };

    private static AlarmTransition Line(string alarm, long input, AlarmStep step, AlarmState to, double seconds) => new()
    {
        Id = alarm,
        Tag = "limit." + alarm,
        Input = input,
        Place = 0,
        Bench = "bench",
        BenchHash = "ab",
        Step = step,
        From = AlarmState.Normal,
        To = to,
        IsActive = to == AlarmState.Unacknowledged,
        IsAcknowledged = false,
        Priority = AlarmPriority.Medium,
        At = EngineTime.FromSeconds(seconds),
        AtUtc = (long)(seconds * 1e9),
        RaisedUtc = (long)(seconds * 1e9),
        StartUtc = (long)(seconds * 1e9),
        State = MachineState.Running,
        FirstOut = alarm + ".finding",
        Findings = 1,
        Channel = "supply-air",
        Value = 61.25,
        Limit = 65,
        Unit = "psi",
        LimitSource = "common practice, no source",
        Text = "Supply air is below its limit.",
    };

    private sealed class CountingRoute(bool works) : INoticeRoute
    {
        public int Sent { get; private set; }

        public long Told { get; private set; }

        public Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel)
        {
            if (works)
            {
                Sent++;
                Told += notice.Count;
            }

            return Task.FromResult(new RouteAnswer(works, works ? "taken" : "no network"));
        }

        public Task<RouteAnswer> CheckAsync(CancellationToken cancel) => Task.FromResult(new RouteAnswer(works, ""));

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }
}
