using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>A folder of its own that goes away with the test.</summary>
internal sealed class StoreFolder : IDisposable
{
    public StoreFolder() => Path = Directory.CreateTempSubdirectory("driftwatch-store-").FullName;

    public string Path { get; }

    public BenchStore Open(BenchStoreOptions? options = null) => BenchStore.Open(Path, options ?? new BenchStoreOptions { BallastBytes = 0 });

    public string Copy()
    {
        string copy = Directory.CreateTempSubdirectory("driftwatch-store-").FullName;
        foreach (string file in Directory.GetFiles(Path).Where(file => !file.EndsWith(".lock", StringComparison.Ordinal)))
        {
            File.Copy(file, System.IO.Path.Combine(copy, System.IO.Path.GetFileName(file)));
        }

        return copy;
    }

    public void Dispose() => Directory.Delete(Path, recursive: true);
}

/// <summary>Makes logs in the order the merge gives: by time, kind and channel, late ones after what was released.</summary>
internal sealed class LogMaker(long firstNumber = 1)
{
    private readonly List<EngineInput> _inputs = [];
    private long _number = firstNumber;

    public IReadOnlyList<EngineInput> Inputs => _inputs;

    public void Add(EngineInput input, bool late = false) => _inputs.Add(input with { Number = _number++, IsLate = late });

    public void Start(EngineTime at, DateTimeOffset utc, BenchDefinition? bench = null, ClockEventKind kind = ClockEventKind.Started)
    {
        Add(EngineInput.OfClock(at, new ClockEvent(kind, new TimeAnchor(at, UtcText.ToNanoseconds(utc)))));
        if (bench is not null)
        {
            Add(EngineInput.OfBench(at, bench));
        }
    }

    /// <summary>Seconds of ticks and readings on the 100 ms grid; some with extremes, some faults.</summary>
    public void Run(EngineTime from, double seconds, int channels, Random random, bool extremes = false, double faults = 0)
    {
        EngineTime to = from + TimeSpan.FromSeconds(seconds);
        var value = new int[channels];
        for (EngineTime at = from.NextTick(); at <= to; at = at.NextTick())
        {
            var failed = new List<int>();
            for (int channel = 0; channel < channels; channel++)
            {
                if (random.NextDouble() < faults)
                {
                    failed.Add(channel);
                    continue;
                }

                value[channel] += random.Next(-3, 4);
                double raw = (value[channel] + 2500) / 1000.0;
                Add(EngineInput.OfReading(at, channel, extremes
                    ? Reading.Of(raw, (value[channel] + 2500 - random.Next(3)) / 1000.0, (value[channel] + 2500 + random.Next(3)) / 1000.0)
                    : Reading.Of(raw)));
            }

            failed.ForEach(channel => Add(EngineInput.OfReading(at, channel, Reading.Failed((FaultCode)random.Next(1, 5)))));
            Add(EngineInput.OfTick(at));
        }
    }

    public static BenchDefinition Bench(int channels, int calibrationVersion = 1, string hash = "00ff") => new()
    {
        Id = "west-bench",
        Label = "West bench",
        SourceHash = hash,
        Machine = new MachineDefinition { Label = "Machine 2" },
        Instruments = [],
        Channels =
        [
            .. Enumerable.Range(0, channels).Select(key => new ChannelDefinition
            {
                Id = $"channel-{key}",
                Key = key,
                Label = $"Channel {key}",
                Unit = "psi",
                RawUnit = "V",
                Period = TimeSpan.FromMilliseconds(100),
                Calibration = new LineCalibration(12.5, -1.25) { Version = calibrationVersion },
            }),
        ],
    };
}

internal static class LogAssert
{
    /// <summary>Equal to the bit: time, number, kind, flags, −0, extremes and payload.</summary>
    public static void Equal(IReadOnlyList<EngineInput> expected, IReadOnlyList<EngineInput> actual)
    {
        Assert.Equal(expected.Count, actual.Count);
        for (int i = 0; i < expected.Count; i++)
        {
            if (!Same(expected[i], actual[i]))
            {
                Assert.Fail($"Input {i} of {expected.Count} differs: expected {expected[i]}, got {actual[i]}.");
            }
        }
    }

    private static bool Same(in EngineInput left, in EngineInput right)
    {
        if (left.Number != right.Number || left.Time != right.Time || left.Kind != right.Kind
            || left.IsLate != right.IsLate || left.Channel != right.Channel)
        {
            return false;
        }

        return left.Kind switch
        {
            InputKind.Sample => left.Reading.HasExtremes == right.Reading.HasExtremes
                && Bits(left.Reading.Raw) == Bits(right.Reading.Raw)
                && Bits(left.Reading.Minimum) == Bits(right.Reading.Minimum)
                && Bits(left.Reading.Maximum) == Bits(right.Reading.Maximum),
            InputKind.Fault => right.Reading.IsFault && left.Reading.Fault == right.Reading.Fault,
            InputKind.Frame => left.Frame.Equals(right.Frame),
            InputKind.Tick => true,
            _ => PayloadJson.ToUtf8(left).AsSpan().SequenceEqual(PayloadJson.ToUtf8(right)),
        };
    }

    private static long Bits(double value) => BitConverter.DoubleToInt64Bits(value);
}
