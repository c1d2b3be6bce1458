using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks;

/// <summary>
/// How long a store of 12 hours takes to open, and judgement to catch up, after its writer was killed without warning
/// just before its next snapshot was due: each time in a process of its own, compiling included. Target: ≤ 1 s.
/// </summary>
public static class ReopenFigures
{
    public static void Run(TextWriter output, Size size)
    {
        double hours = size == Size.Full ? 12 : 0.2;
        using var folder = new TempFolder();
        string store = folder.At("practice");
        string written;
        using (ChildProcess writer = Self("reopen-write", store, hours.ToString(CultureInfo.InvariantCulture)))
        {
            written = writer.WaitFor("WRITTEN ", TimeSpan.FromMinutes(10))["WRITTEN ".Length..];
            writer.Kill();
        }

        output.WriteLine($"reopen, {hours:0.##} h x 20 channels x 10 Hz ({TempFolder.SizeOf(store):N0} bytes) after a kill, first of two kinds: {Open(store, written, "as-is")} (target 1 s)");
        output.WriteLine($"reopen, when another build made the snapshot and two million inputs are judged anew: {Open(store, written, "other-build")}");
        output.WriteLine($"reopen, the whole service from its start to its page on this store: {Service(folder.Path):0.00} s");
    }

    /// <summary>In a process of its own: writes as a live run does, then waits to be killed.</summary>
    public static void Write(string folder, double hours)
    {
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        foreach (Measurement.Channels.ChannelDefinition channel in PracticeBench.TwentyAtTenHertz.Channels)
        {
            store.KeyFor(channel.Id);
        }

        var length = TimeSpan.FromHours(hours);
        double end = length.TotalSeconds;
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var batch = new List<EngineInput>();
        double commitAt = 0;
        double snapshotAt = 0;
        double mergeAt = 3600;
        foreach (EngineInput input in PracticeBench.Night(length, TimeProvider.System.GetUtcNow() - length))
        {
            double at = input.Time.Nanoseconds / 1e9;
            if (at >= commitAt)
            {
                // The last minutes as live, a second a commit; what went before need not take half a day.
                store.Append(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(batch));
                batch.Clear();
                commitAt = at + (end - at > 300 ? 10 : 1);

                // The next snapshot would be due when the kill comes.
                if (lines.Count > 0 || (at >= snapshotAt && end - at > 29))
                {
                    store.CommitJudged(engine.LastNumber, engine.Snapshot(), BenchPipeline.Build, lines);
                    lines.Clear();
                    snapshotAt = at + 30;
                }

                if (at >= mergeAt)
                {
                    store.MergeDue();
                    mergeAt += 3600;
                }
            }

            batch.Add(input);
            engine.Apply(input, lines);
        }

        store.Append(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(batch));
        Console.WriteLine($"WRITTEN {store.LastNumber}");
        Waiting.For(Timeout.InfiniteTimeSpan);
    }

    /// <summary>In a process of its own: opens, catches up, and says how long that took.</summary>
    public static void Open(string folder, bool otherBuild)
    {
        if (otherBuild)
        {
            using BenchStore first = BenchStore.Open(folder, new BenchStoreOptions());
            first.CommitJudged(first.LastNumber, first.LoadJudged()!.Snapshot.AsSpan(), "another build", []);
        }

        long start = Stopwatch.GetTimestamp();
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
        double opened = Stopwatch.GetElapsedTime(start).TotalSeconds;
        long after = store.LoadJudged() is { } judged ? judged.Number : 0;
        WatchEngine engine = EngineStart.CatchUp(store, NullLogger.Instance);
        double all = Stopwatch.GetElapsedTime(start).TotalSeconds;
        Console.WriteLine(
            $"OPENED {engine.LastNumber}|{all:0.00} s, of which the store {opened:0.00} s"
            + (otherBuild ? "" : $" and {store.LastNumber - after:N0} inputs judged"));
    }

    private static string Open(string store, string written, string how)
    {
        using ChildProcess opener = Self("reopen-open", store, how);
        string said = opener.WaitFor("OPENED ", TimeSpan.FromMinutes(2));
        opener.Finish(TimeSpan.FromSeconds(20));
        string[] parts = said["OPENED ".Length..].Split('|');
        return parts[0] == written ? parts[1] : throw new InvalidOperationException($"Written up to {written}, but found: {said}");
    }

    private static double Service(string root)
    {
        long start = Stopwatch.GetTimestamp();
        using var service = new ChildProcess(
            "dotnet", ServiceFigures.Program, "watch", PracticeBench.BenchFilePath, "--store", root, "--listen", "127.0.0.1:0");
        service.WaitFor("The page is at", TimeSpan.FromSeconds(60));
        double seconds = Stopwatch.GetElapsedTime(start).TotalSeconds;
        service.Stop(TimeSpan.FromSeconds(10));
        return seconds;
    }

    private static ChildProcess Self(params string[] arguments) => new(Environment.ProcessPath!, arguments);
}
