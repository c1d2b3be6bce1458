using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Recordings;

public sealed class CsvRecordingWriterTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("a.csv")]
    [InlineData("a.csv.gz")]
    public void What_is_written_reads_back_equal_to_the_bit(string name)
    {
        const int Seed = 7;
        var random = new Random(Seed);
        string path = _folder.PathOf(name);
        long start = UtcText.ToNanoseconds(DateTimeOffset.Parse("2026-03-01T23:59:59.5Z", CultureInfo.InvariantCulture));
        var expected = new List<string>();
        using (var writer = new CsvRecordingWriter(path, [new CsvWriterColumn("air"), new CsvWriterColumn("a,\"b\"")]))
        {
            for (int i = 0; i < 500; i++)
            {
                double value = BitConverter.Int64BitsToDouble(random.NextInt64() & 0x7FEF_FFFF_FFFF_FFFF);
                string text = UtcText.FromNanoseconds(start + (i * 100_000_000L))[11..^1] + " " + value.ToString("R") + " ";
                writer.Set(0, value);
                if (i % 3 == 0)
                {
                    writer.Set(1, FaultCode.OpenLoop);
                    text += "!OpenLoop";
                }
                else
                {
                    text += "-";
                }

                writer.WriteRow(start + (i * 100_000_000L));
                expected.Add(text);
            }

            Assert.False(File.Exists(path));
            writer.Complete();
        }

        using var reader = new CsvRecordingReader(path);
        Assert.Equal("a,\"b\"", reader.Columns[1].Name);
        Assert.Equal(expected, RecordingFolder.Rows(reader));
        Assert.Equal([path], Directory.GetFiles(_folder.Folder));
    }

    [Theory]
    [InlineData(49.8549, 2, "49.85")]
    [InlineData(49.896, 2, "49.9")]
    [InlineData(-0.001, 2, "0")]
    [InlineData(1200.0, 0, "1200")]
    [InlineData(100.0, 3, "100")]
    [InlineData(0.1, null, "0.1")]
    public void Values_are_rounded_to_the_resolution_and_say_no_more(double value, int? decimals, string text)
    {
        string path = _folder.PathOf("a.csv");
        using (var writer = new CsvRecordingWriter(path, [new CsvWriterColumn("x", decimals)]))
        {
            writer.Set(0, value);
            writer.WriteRow(0);
            writer.Complete();
        }

        Assert.Equal($"time,x\r\n1970-01-01T00:00:00.000Z,{text}\r\n", File.ReadAllText(path));
    }

    [Theory]
    [InlineData(0.05, 2)]
    [InlineData(0.01, 2)]
    [InlineData(1, 0)]
    [InlineData(10, 0)]
    [InlineData(0.125, 3)]
    public void A_resolution_tells_its_decimal_places(double resolution, int decimals) =>
        Assert.Equal(decimals, CsvWriterColumn.DecimalsFor(resolution));

    [Fact]
    public void A_writer_given_up_leaves_nothing_behind()
    {
        using (var writer = new CsvRecordingWriter(_folder.PathOf("a.csv.gz"), [new CsvWriterColumn("x")]))
        {
            writer.WriteRow(0);
        }

        Assert.Empty(Directory.GetFiles(_folder.Folder));
    }

    [Fact]
    public void Frames_cross_the_side_file_bit_equal_and_come_at_their_instant()
    {
        var random = new Random(3);
        var axis = FrameAxis.Even(2);
        var frames = new List<Frame>();
        string recording = _folder.Write("n.csv", "time,air\n2026-03-01T21:00:00Z,1\n2026-03-01T21:00:01Z,2\n");
        long start = UtcText.ToNanoseconds(DateTimeOffset.Parse("2026-03-01T21:00:00.05Z", CultureInfo.InvariantCulture));
        using (var writer = new FrameCsvWriter(FrameFiles.PathFor(recording, "timing"), axis))
        {
            for (uint i = 0; i < 5; i++)
            {
                var frame = new Frame(uint.MaxValue - 4 + i, random.NextDouble() * 360, [.. Enumerable.Range(0, 8).Select(_ => (random.NextDouble() - 0.5) * 1e-7)]);
                frames.Add(frame);
                writer.Write(start + (i * 250_000_000L), frame.Sequence, frame.TachAngleDegrees, frame.Values);
            }

            writer.Complete();
        }

        using var inputs = new RecordingInputs(recording, RecordingFolder.Bench("air", "timing"));
        Assert.Empty(inputs.AbsentChannels);
        var read = new List<(long Milliseconds, Frame Frame)>();
        long last = -1;
        while (inputs.Next(out EngineInput input))
        {
            Assert.True(input.Time.Nanoseconds >= last);
            last = input.Time.Nanoseconds;
            if (input.Kind == InputKind.Frame)
            {
                read.Add((input.Time.Nanoseconds / 1_000_000, input.Frame));
            }
        }

        Assert.Equal(frames, read.Select(r => r.Frame));
        Assert.Equal([50, 300, 550, 800, 1050], read.Select(r => r.Milliseconds));
    }
}
