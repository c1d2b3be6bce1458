using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.SystemTests.Lines;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>A frame of 64 points on its whole way: serial wire, store, judgement, export, import, export again.</summary>
public sealed class FrameCrossingTests(ITestOutputHelper output) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-frames-").FullName;

    [Fact]
    public async Task A_64_point_frame_crosses_wire_store_export_and_import_bit_equal()
    {
        int seed = Random.Shared.Next();
        output.WriteLine($"seed {seed}");
        string bench = WriteBench();
        string store = At("store");
        using (Companion wire = await Companion.Wire(At("port"), At("port-far")))
        using (Companion emitter = await Companion.ServiceScript("frame_emitter.py", At("port-far"), At("sent.log"), "2", seed.ToString(CultureInfo.InvariantCulture)))
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench, store))
        {
            await Task.Delay(TimeSpan.FromSeconds(6), TimeProvider.System);
            Assert.Equal(0, (await service.StopAsync()).Code);
        }

        await Run("export", At("store/frames"), "--out", At("first.dwlog.gz"));
        await Run("import", At("first.dwlog.gz"), "--store", At("again"), "--bench", bench);
        string imported = Directory.EnumerateFiles(At("again"), "records.db", SearchOption.AllDirectories).Select(f => Path.GetDirectoryName(f)!).Single();
        await Run("export", imported, "--out", At("second.dwlog.gz"));
        await Run("judge", At("second.dwlog.gz"), "--out", At("judged.jsonl"));
        await Run("export", At("store/frames"), "--format", "findings", "--out", At("told.jsonl"));

        List<Frame> sent = [.. File.ReadLines(At("sent.log")).Select(Parse)];
        List<Frame> first = FramesOf(At("first.dwlog.gz"));
        Assert.True(first.Count >= 6, $"Only {first.Count} frames arrived.");
        int start = sent.FindIndex(f => f.Equals(first[0]));
        Assert.True(start >= 0, "The first frame stored was never sent.");
        Assert.Equal(sent.Skip(start).Take(first.Count), first);
        Assert.Equal(first, FramesOf(At("second.dwlog.gz")));
        Assert.Equal(await File.ReadAllTextAsync(At("told.jsonl")), await File.ReadAllTextAsync(At("judged.jsonl")));
        output.WriteLine($"{first.Count} frames of 64 points, sequence {first[0].Sequence} to {first[^1].Sequence}, equal to the bit");
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static async Task Run(params string[] arguments)
    {
        (int code, string said) = await ServiceProcess.RunAsync(arguments);
        Assert.True(code == 0, $"{string.Join(' ', arguments)}: {said}");
    }

    private static List<Frame> FramesOf(string log)
    {
        using var reader = new EngineLogReader(log);
        var frames = new List<Frame>();
        while (reader.TryRead(out EngineInput input))
        {
            if (input.Kind == InputKind.Frame)
            {
                frames.Add(input.Frame);
            }
        }

        Assert.False(reader.Truncated);
        return frames;
    }

    private static Frame Parse(string line)
    {
        string[] parts = line.Split(',');
        return new Frame(
            uint.Parse(parts[1], CultureInfo.InvariantCulture),
            double.Parse(parts[2], CultureInfo.InvariantCulture),
            [.. parts.Skip(3).Select(p => double.Parse(p, CultureInfo.InvariantCulture))]);
    }

    private string At(string name) => Path.Combine(_folder, name);

    private string WriteBench()
    {
        Directory.CreateDirectory(At("frame-board"));
        File.WriteAllText(At("frame-board/profile.toml"), """
            [instrument]
            name = "frame-board"
            title = "Board that sends frames"
            protocol = "lines"

            [lines]
            delimiter = ","
            sequence = true
            checksum = "crc16"
            tag = "S"
            fields = 1

            [[input]]
            name = "rail"
            unit = "V"
            field = 1

            [[input]]
            name = "timing"
            kind = "frame"
            unit = "ns"
            points = 64
            tag = "F"
            """);
        string bench = At("bench.toml");
        File.WriteAllText(bench, $$"""
            [bench]
            id = "frames"
            label = "Frames"

            [machine]
            label = "None"

            [[instrument]]
            id = "board"
            profile = "frame-board"
            serial = { port = "{{At("port")}}", baud = 115200 }

            [[channel]]
            id = "timing-error"
            label = "Timing error"
            role = "timing-error"
            unit = "ns"
            instrument = "board"
            input = "timing"
            period = "500 ms"
            """);
        return bench;
    }
}
