using System.Diagnostics;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>A thousand channels that flap about their limits for an hour: how often anybody is called, and what grows.</summary>
public static class FlappingFigures
{
    public static void Run(TextWriter output, Size size)
    {
        int channels = size == Size.Full ? 1000 : 50;
        int seconds = size == Size.Full ? 3600 : 120;
        BenchDefinition bench = Bench(channels);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        long number = 0;
        long raised = 0;
        int called = 0;
        long early = 0;
        var anchor = new TimeAnchor(default, 1_772_323_200_000_000_000);
        void Apply(EngineInput input)
        {
            engine.Apply(input with { Number = ++number }, lines, book);
            raised += lines.Count(l => l.Phase == FindingPhase.Raised);
            called += book.Count(a => a.Calls);
            lines.Clear();
            book.Clear();
        }

        Apply(EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, anchor)));
        Apply(EngineInput.OfBench(default, bench));
        var clock = Stopwatch.StartNew();
        for (int second = 0; second < seconds; second++)
        {
            for (int channel = 0; channel < channels; channel++)
            {
                // Each with its own rhythm of six to sixteen seconds.
                double value = (second + channel) % (6 + (channel % 11)) < 3 ? 40 : 50;
                Apply(EngineInput.OfReading(EngineTime.FromSeconds(second), channel, Reading.Of(value)));
            }

            for (int tick = 0; tick < 10; tick++)
            {
                Apply(EngineInput.OfTick(EngineTime.FromSeconds(second + (tick / 10.0))));
            }

            if (second == Math.Min(300, seconds / 2))
            {
                early = Memory();
            }
        }

        double took = clock.Elapsed.TotalSeconds;
        output.WriteLine(
            $"{channels} channels flapping for {seconds} s: {raised:N0} findings raised, {called} times somebody was called; {took:0.0} s of one core ({took / seconds:0.0000} of it at real time); "
            + $"memory {early / 1e6:0.0} MB early, {Memory() / 1e6:0.0} MB at the end; snapshot {engine.Snapshot().Length / 1e6:0.00} MB; alarms open {engine.OpenAlarms.Count}");
    }

    private static long Memory() => GC.GetTotalMemory(forceFullCollection: true);

    private static BenchDefinition Bench(int channels) => new()
    {
        Id = "flapping",
        Label = "Flapping",
        SourceHash = "0",
        Machine = new MachineDefinition { Label = "Machine" },
        Instruments = [],
        Channels =
        [
            .. Enumerable.Range(0, channels).Select(i => new ChannelDefinition
            {
                Id = $"channel-{i}",
                Key = i,
                Label = $"Channel {i}",
                Role = ChannelRole.Other,
                Unit = "V",
                RawUnit = "V",
                Period = TimeSpan.FromSeconds(1),
                Calibration = LineCalibration.Identity,
                Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 45, Source = "derived" }],
            }),
        ],
    };
}
