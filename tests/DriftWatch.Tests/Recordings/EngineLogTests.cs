using System.IO.Compression;
using System.Text;
using CsCheck;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Recordings;

public class EngineLogTests
{
    /// <summary>IEEE 754 binary64: the edges of the format, which must cross as the same bits.</summary>
    private static readonly double[] EdgeValues =
    [
        0.0, -0.0, double.Epsilon, -double.Epsilon, 2.2250738585072014e-308, 2.2250738585072009e-308,
        double.MaxValue, double.MinValue, 0.1, 1.0 / 3, 9007199254740993, 4.9406564584124654e-324, 50.031,
    ];

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Every_kind_of_input_comes_back_equal(bool gzip)
    {
        EngineInput[] inputs = EveryKind();
        List<EngineInput> read = ReadAll(Write(inputs, gzip), out bool truncated);

        Assert.False(truncated);
        Assert.Equal(inputs.Length, read.Count);
        for (int i = 0; i < inputs.Length; i++)
        {
            AssertSame(inputs[i], read[i]);
        }
    }

    [Fact]
    public void Edge_values_of_IEEE_754_cross_as_the_same_bits()
    {
        EngineInput[] inputs = EdgeValues
            .Select((v, i) => EngineInput.OfReading(new EngineTime(i), 0, Reading.Of(v)) with { Number = i + 1 }).ToArray();
        List<EngineInput> read = ReadAll(Write(inputs, gzip: true), out _);
        Assert.Equal(
            EdgeValues.Select(BitConverter.DoubleToInt64Bits),
            read.Select(i => BitConverter.DoubleToInt64Bits(i.Reading.Raw)));
    }

    [Fact]
    public void Any_finite_double_crosses_as_the_same_bits() => Gen.Double.Where(double.IsFinite).Array[1, 50].Sample(values =>
    {
        EngineInput[] inputs = values
            .Select((v, i) => EngineInput.OfReading(new EngineTime(i), 0, Reading.Of(v)) with { Number = i + 1 }).ToArray();
        List<EngineInput> read = ReadAll(Write(inputs, gzip: false), out _);
        Assert.Equal(values.Select(BitConverter.DoubleToInt64Bits), read.Select(i => BitConverter.DoubleToInt64Bits(i.Reading.Raw)));
    });

    [Fact]
    public void A_64_point_frame_crosses_bit_equal()
    {
        double[] values = Enumerable.Range(0, 64).Select(i => Math.Sin(i) * 641.65 / 3).ToArray();
        var frame = new Frame(4294967295, 359.99999999999994, values);
        List<EngineInput> read = ReadAll(
            Write([EngineInput.OfFrame(new EngineTime(5), 2, frame) with { Number = 1 }], gzip: true), out _);
        Assert.Equal(frame, read[0].Frame);
    }

    [Fact]
    public void A_log_cut_anywhere_gives_what_came_before_and_says_that_it_is_truncated()
    {
        byte[] whole = Write(EveryKind(), gzip: false);
        List<EngineInput> all = ReadAll(whole, out _);
        for (int cut = Encoding.ASCII.GetByteCount("driftwatch-log 1 first=7\n"); cut < whole.Length; cut += 3)
        {
            List<EngineInput> read = ReadAll(whole[..cut], out bool truncated);
            Assert.True(truncated);
            for (int i = 0; i < read.Count; i++)
            {
                AssertSame(all[i], read[i]);
            }
        }
    }

    [Theory]
    [InlineData("s 5 0 1.5x", "log(2): the raw value is missing or no number")]
    [InlineData("s 5 0 NaN", "log(2): A reading is a finite number or a fault.")]
    [InlineData("f 5 0 mystery", "log(2): 'mystery' is no fault")]
    [InlineData("q 5", "log(2): 'q' is no kind of input")]
    [InlineData("s x 0 1", "log(2): the delta is missing or no whole number")]
    [InlineData("end 4", "log(2): the end line counts 4 inputs, but 0 were read")]
    public void A_line_outside_the_grammar_is_named_with_its_place_and_a_remedy(string line, string expected)
    {
        byte[] bytes = Encoding.ASCII.GetBytes("driftwatch-log 1 first=1\n" + line + "\n");
        RecordingException error = Assert.Throws<RecordingException>(() => ReadAll(bytes, out _));
        Assert.StartsWith(expected, error.Message, StringComparison.Ordinal);
        Assert.EndsWith("export the log again, or judge the part before this line", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_newer_version_is_refused() =>
        Assert.Contains("use a newer DriftWatch", Assert.Throws<RecordingException>(
            () => ReadAll(Encoding.ASCII.GetBytes("driftwatch-log 2 first=1\n"), out _)).Message, StringComparison.Ordinal);

    [Fact]
    public void A_hole_in_the_numbers_is_refused_by_the_writer()
    {
        using var writer = new EngineLogWriter(new MemoryStream(), gzip: false);
        writer.Write(EngineInput.OfTick(new EngineTime(1)) with { Number = 1 });
        Assert.Throws<ArgumentException>(() => writer.Write(EngineInput.OfTick(new EngineTime(2)) with { Number = 3 }));
    }

    private static EngineInput[] EveryKind()
    {
        BenchDefinition bench = SampleBench.Create();
        var anchor = new TimeAnchor(new EngineTime(1), 1_795_600_000_123_456_789);
        EngineInput[] inputs =
        [
            EngineInput.OfClock(new EngineTime(1), new ClockEvent(ClockEventKind.Started, anchor)),
            EngineInput.OfBench(new EngineTime(1), bench),
            EngineInput.OfReading(new EngineTime(5_000_000), 0, Reading.Of(2.5)),
            EngineInput.OfReading(new EngineTime(5_000_000), 1, Reading.Of(1.25, 1.125, 1.5)),
            EngineInput.OfReading(new EngineTime(6_000_000), 0, Reading.Failed(FaultCode.OpenLoop)),
            EngineInput.OfFrame(new EngineTime(7_000_000), 2, new Frame(1, 12.5, new double[64])),
            EngineInput.OfTick(new EngineTime(100_000_000)),
            EngineInput.OfReading(new EngineTime(4_000_000), 1, Reading.Of(1)) with { IsLate = true },
            EngineInput.OfCalibration(new EngineTime(120_000_001), 0, new LineCalibration(25.01, -12.4) { Version = 2, Note = "µ gauge" }),
            EngineInput.OfCommand(new EngineTime(120_000_002), new AcknowledgeCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Finding = "x" }),
            EngineInput.OfCommand(new EngineTime(120_000_003), new ShelveCommand { Id = Guid.CreateVersion7(), By = "R. Thrift", Finding = "x", For = TimeSpan.FromMinutes(5) }),
            EngineInput.OfClock(new EngineTime(130_000_000), new ClockEvent(ClockEventKind.WallStep, anchor) { StepNanoseconds = -3_600_000_000_000 }),
        ];
        return [.. inputs.Select((input, i) => input with { Number = 7 + i })];
    }

    private static void AssertSame(in EngineInput expected, in EngineInput actual)
    {
        Assert.Equal(expected with { Payload = null }, actual with { Payload = null });
        if (expected.Kind == InputKind.Frame)
        {
            Assert.Equal(expected.Frame, actual.Frame);
        }
        else if (PayloadJson.Carries(expected.Kind))
        {
            Assert.Equal(Encoding.UTF8.GetString(PayloadJson.ToUtf8(expected)), Encoding.UTF8.GetString(PayloadJson.ToUtf8(actual)));
        }
    }

    private static byte[] Write(IEnumerable<EngineInput> inputs, bool gzip)
    {
        var stream = new MemoryStream();
        using (var writer = new EngineLogWriter(stream, gzip))
        {
            foreach (EngineInput input in inputs)
            {
                writer.Write(input);
            }

            writer.Complete();
        }

        return stream.ToArray();
    }

    private static List<EngineInput> ReadAll(byte[] bytes, out bool truncated)
    {
        using var reader = new EngineLogReader("log", new MemoryStream(bytes));
        var inputs = new List<EngineInput>();
        while (reader.TryRead(out EngineInput input))
        {
            inputs.Add(input);
        }

        truncated = reader.Truncated;
        return inputs;
    }
}
