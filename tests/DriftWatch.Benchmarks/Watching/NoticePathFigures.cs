using System.Diagnostics;
using System.Diagnostics.Metrics;
using System.Globalization;
using System.Text;
using System.Threading.Channels;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>
/// How soon an alarm of a whole bench is at a webhook: sampled, merged, judged, committed with the engine's own snapshot to
/// a store on the disk, and told by the service's own wake. Twenty channels at 10 Hz, of which one has a limit that is passed
/// from the start: findings that come together would make one alarm, so each bench gives one figure.
/// <para>
/// The turn that judges a line is the one whose commit the service's own metrics show; it began when the merge let the
/// line's instant go.
/// </para>
/// </summary>
internal static class NoticePathFigures
{
    private const int Channels = 20;
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(30);

    public static async Task RunAsync(TextWriter output, int benches)
    {
        var judged = new List<double>();
        var whole = new List<double>();
        TimeSpan lateness = TimeSpan.Zero;
        await using ArrivingHook hook = await ArrivingHook.StartAsync();
        for (int i = 0; i < benches; i++)
        {
            using var folder = new TempFolder();
            await File.WriteAllTextAsync(folder.At("bench.toml"), BenchText(hook.Url));
            var turns = Channel.CreateUnbounded<long>();
            using MeterListener listener = TurnsWithAlarms(turns.Writer);
            await using RunningBench bench = RunningBench.Start(
                new RunningBenchOptions { BenchPath = folder.At("bench.toml"), StoreFolder = folder.At("store"), ProfileFolders = ProfileFolders.Default },
                NullLoggerFactory.Instance);
            lateness = bench.Bench.LatenessBound;
            using var limit = new CancellationTokenSource(Longest);
            ArrivingHook.Arrival arrival = await hook.NextAsync(limit.Token);
            judged.Add(Stopwatch.GetElapsedTime(await turns.Reader.ReadAsync(limit.Token), arrival.Stamp).TotalMilliseconds);
            whole.Add((UtcText.ToNanoseconds(arrival.Utc) - arrival.Notice.Alarm!.AtUtc) / 1e6);
        }

        judged.Sort();
        whole.Sort();
        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"a whole bench's judged line to webhook, {judged.Count}, each of a bench of its own: {Spread(judged)}; from the line's own instant, with the merge's {lateness.TotalMilliseconds:0} ms of lateness before it: {Spread(whole)}"));
    }

    private static string Spread(List<double> sorted) => string.Create(CultureInfo.InvariantCulture,
        $"p50 {sorted[sorted.Count / 2]:0.0} ms, p99 {sorted[sorted.Count * 99 / 100]:0.0} ms, worst {sorted[^1]:0.0} ms");

    /// <summary>When the turns began that raised alarms. The pipeline's thread records the commit first and its findings after it.</summary>
    private static MeterListener TurnsWithAlarms(ChannelWriter<long> turns)
    {
        var listener = new MeterListener
        {
            InstrumentPublished = (instrument, me) =>
            {
                if (instrument.Name is "driftwatch.commit.duration" or "driftwatch.findings.raised")
                {
                    me.EnableMeasurementEvents(instrument);
                }
            },
        };
        long begun = 0;
        listener.SetMeasurementEventCallback<double>((_, seconds, _, _) => begun = Stopwatch.GetTimestamp() - (long)(seconds * Stopwatch.Frequency));
        listener.SetMeasurementEventCallback<long>((_, _, tags, _) =>
        {
            foreach (KeyValuePair<string, object?> tag in tags)
            {
                if (tag is { Key: "severity", Value: "alarm" })
                {
                    turns.TryWrite(begun);
                }
            }
        });
        listener.Start();
        return listener;
    }

    private static string BenchText(Uri hook)
    {
        var text = new StringBuilder($$"""
            [bench]
            id = "path"
            [[instrument]]
            id = "rig"
            profile = "practice-rig"
            practice = { seed = 3 }
            [[notice]]
            id = "hook"
            webhook = { url = "{{hook}}" }

            """);
        RigInput[] inputs = [.. Enum.GetValues<RigInput>().Where(i => i != RigInput.TimingError).Take(Channels)];
        for (int i = 0; i < inputs.Length; i++)
        {
            text.Append(CultureInfo.InvariantCulture, $"""
                [[channel]]
                id = "v{i}"
                unit = "{RigInputs.NativeUnit(inputs[i])}"
                instrument = "rig"
                input = "{RigInputs.NameOf(inputs[i])}"
                period = "100 ms"

                """);
        }

        text.Append("""
            [[channel.limit]]
            side = "low"
            severity = "alarm"
            value = 100000.0
            on-delay = "1500 ms"
            """);
        return text.ToString();
    }
}
