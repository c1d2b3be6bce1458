using System.Diagnostics;
using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Watch;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Benchmarks;

/// <summary>
/// The whole path on one thread, from the bytes of a line to a judged reading in the journal, by the product's own parts:
/// the owner of a streaming line (framing, CRC-16, parsing, fault rules, a ratio), the intake, the merge, the engine and
/// the store. A line brings 19 fields and makes 20 readings. Ten seconds of data are committed at a time, as when
/// catching up. Target: ≥ 400,000 readings a second on one core.
/// </summary>
public static class PathFigures
{
    private const int LinesPerCommit = 100;

    public static void Run(TextWriter output, Size size)
    {
        var length = TimeSpan.FromHours(size == Size.Full ? 2.5 : 0.1);
        (InstrumentProfile profile, BenchDefinition bench) = Board();
        byte[][] lines = LinesOf(profile, length);
        int warm = lines.Length / 5;

        using var folder = new TempFolder();
        using BenchStore store = BenchStore.Open(folder.Path, new BenchStoreOptions());
        foreach (ChannelDefinition channel in bench.Channels)
        {
            store.KeyFor(channel.Id);
        }

        var time = new TurnedTime();
        var clock = new EngineClock(time, default);
        var intake = new ReadingIntake(600_000);
        intake.SetBench(bench);
        var findings = 0;
        long faults = 0;
        long readings = 0;
        var pipeline = new BenchPipeline(store, new WatchEngine(), intake, clock, bench.LatenessBound, NullLogger.Instance)
        {
            Told = (told, _) => findings += told.Count,
            Judged = input =>
            {
                readings += input.Kind == InputKind.Sample ? 1 : 0;
                faults += input.Kind == InputKind.Fault ? 1 : 0;
            },
        };
        pipeline.SetChannels(bench.Channels.Select(c => c.Key));
        TimeAnchor anchor = clock.ReadAnchor();
        _ = pipeline.EnterAsync(EngineInput.OfClock(anchor.Engine, new ClockEvent(ClockEventKind.Started, anchor)));
        _ = pipeline.EnterAsync(EngineInput.OfBench(anchor.Engine, bench));

        long startStamp = 0;
        TimeSpan startProcessor = default;
        long startReadings = 0;
        using var stop = new CancellationTokenSource();
        using var link = new MemoryLink(lines, time, at =>
        {
            if (at == warm)
            {
                (startStamp, startProcessor, startReadings) = (Stopwatch.GetTimestamp(), Environment.CpuUsage.TotalTime, readings);
            }

            if (at == lines.Length)
            {
                pipeline.Step(final: true);
                stop.Cancel();
            }
            else if (at % LinesPerCommit == 0)
            {
                pipeline.Step();
            }
        });
        var owner = new LinesOwner(
            bench.Instruments[0], profile, bench.Channels, () => link, clock, intake, new Backoff(Backoff.LocalCap, 1), NullLogger.Instance);
        owner.Run(stop.Token);
        TimeSpan wall = link.Ended - TimeSpan.FromSeconds(startStamp / (double)Stopwatch.Frequency);
        TimeSpan processor = link.EndedProcessor - startProcessor;
        long measured = readings - startReadings;
        if (faults > 0 || pipeline.StoreTrouble is not null || store.LastNumber < readings || readings < lines.Length * 19L)
        {
            throw new InvalidOperationException(
                $"{readings} readings and {faults} faults of {lines.Length} lines, {store.LastNumber} inputs in the journal, {pipeline.StoreTrouble ?? "no trouble"}; {owner.Counts}");
        }

        output.WriteLine(
            $"path, bytes of lines to judged and journaled readings on one thread: {measured / wall.TotalSeconds:N0} readings/s by the clock, "
            + $"{measured / processor.TotalSeconds:N0} a second of processor ({measured:N0} readings of {lines.Length - warm:N0} lines of {lines[^1].Length} bytes, "
            + $"10 s of data a commit, full sync, {findings} finding lines; target 400,000 on one core)");
    }

    /// <summary>The practice bench's channels behind a board that streams lines.</summary>
    private static (InstrumentProfile Profile, BenchDefinition Bench) Board()
    {
        BenchDefinition bench = PracticeBench.TwentyAtTenHertz;
        string[] inputs = [.. bench.Channels.Where(c => c.Input is not null).Select(c => c.Input!)];
        var profile = new InstrumentProfile
        {
            Name = "board",
            Title = "Board that streams lines",
            Protocol = InstrumentProtocol.Lines,
            Lines = new LineFormat { FieldCount = inputs.Length, HasSequence = true, Checksum = "crc16", Tag = "S" },
            Inputs = [.. inputs.Select((name, i) => PracticeBench.Profile.Inputs.First(p => p.Name == name) with { Field = i + 1 })],
        };
        InstrumentDefinition instrument = bench.Instruments[0] with
        {
            Profile = "board",
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = "memory", Baud = 921_600 },
        };
        return (profile, bench with { Instruments = [instrument] });
    }

    /// <summary>What the rig's instruments said in a sound night, as lines: the first is only an end, so that no line is dropped as half a line.</summary>
    private static byte[][] LinesOf(InstrumentProfile profile, TimeSpan length)
    {
        Dictionary<int, int> fieldOf = PracticeBench.TwentyAtTenHertz.Channels
            .Where(c => c.Input is not null)
            .ToDictionary(c => c.Key, c => profile.Inputs.First(p => p.Name == c.Input).Field!.Value - 1);
        var lines = new List<byte[]> { "\n"u8.ToArray() };
        var fields = new double[fieldOf.Count];
        var text = new StringBuilder();
        long at = -1;
        foreach (EngineInput input in PracticeBench.Night(length, QuantisedBench.Begin))
        {
            if (input.Kind == InputKind.Tick && at >= 0)
            {
                text.Clear().Append("S,").Append(lines.Count);
                foreach (double field in fields)
                {
                    text.Append(',').Append(field.ToString("0.0000", CultureInfo.InvariantCulture));
                }

                ushort crc = Checksums.Crc16(Encoding.ASCII.GetBytes(text.ToString()));
                text.Append('*').Append(crc.ToString("X4", CultureInfo.InvariantCulture)).Append('\n');
                lines.Add(Encoding.ASCII.GetBytes(text.ToString()));
            }
            else if (input.Kind == InputKind.Sample && fieldOf.TryGetValue(input.Channel, out int field))
            {
                at = input.Time.Nanoseconds;
                fields[field] = input.Reading.Raw;
            }
        }

        return [.. lines];
    }

    /// <summary>A line a read, each 100 ms after the one before by a clock that it turns itself.</summary>
    private sealed class MemoryLink(byte[][] lines, TurnedTime time, Action<int> before) : IByteLink
    {
        private int _next;

        public string Name => "memory";

        public long LastArrival { get; private set; }

        /// <summary>When the last line had been judged and journaled, by the stopwatch.</summary>
        public TimeSpan Ended { get; private set; }

        public TimeSpan EndedProcessor { get; private set; }

        public int Read(Span<byte> buffer, TimeSpan timeout)
        {
            before(_next);
            if (_next == lines.Length)
            {
                Ended = TimeSpan.FromSeconds(Stopwatch.GetTimestamp() / (double)Stopwatch.Frequency);
                EndedProcessor = Environment.CpuUsage.TotalTime;
                return 0;
            }

            time.Advance(TimeSpan.FromMilliseconds(100));
            byte[] line = lines[_next++];
            line.CopyTo(buffer);
            LastArrival = time.GetTimestamp();
            return line.Length;
        }

        public void Write(ReadOnlySpan<byte> bytes) => throw new NotSupportedException("A streaming line is never written to.");

        public void Wake()
        {
            // Reads never wait.
        }

        public void Dispose()
        {
            // Nothing is held.
        }
    }

    /// <summary>Stands still until it is turned.</summary>
    private sealed class TurnedTime : TimeProvider
    {
        private long _nanoseconds;

        public override long TimestampFrequency => 1_000_000_000;

        public override long GetTimestamp() => _nanoseconds;

        public override DateTimeOffset GetUtcNow() => QuantisedBench.Begin + TimeSpan.FromTicks(_nanoseconds / 100);

        public void Advance(TimeSpan by) => _nanoseconds += by.Ticks * 100;
    }
}
