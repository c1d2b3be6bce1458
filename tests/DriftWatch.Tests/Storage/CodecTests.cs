using System.Text;
using CsCheck;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Codec;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>The codec gives back every bit. CsCheck prints the seed of a failing case.</summary>
public sealed class CodecTests
{
    /// <summary>Edge values of binary64 as IEEE 754-2019 §3 defines them: signed zeros, subnormals, the largest and smallest normals.</summary>
    private static readonly double[] Ieee754Edges =
    [
        0.0, -0.0, double.Epsilon, -double.Epsilon, 2.2250738585072009e-308, 2.2250738585072014e-308, double.MaxValue, double.MinValue,
        1e308, -1e308, 1, -1, 9007199254740991, 9007199254740992, 9007199254740993, 0.1, 0.3, 0.1 + 0.2, 1.0 / 3, 4.35, 1e-12, 123456.789,
    ];

    private static readonly Gen<double> Any = Gen.OneOf(
        Gen.Double.Where(double.IsFinite),
        OneOf(Ieee754Edges),
        Gen.Int[-100_000, 100_000].Select(whole => whole / 1000.0),
        Gen.Int[0, 4095].Select(code => code * (2.5 / 4096)),
        Gen.Float.Where(float.IsFinite).Select(single => (double)single));

    [Fact]
    public void Doubles_come_back_to_the_bit() =>
        Gen.OneOf(Any.Array[0, 300], Gen.Int[-5000, 5000].Select(whole => whole / 100.0).Array[0, 300])
            .Sample(AssertValues, iter: 600);

    [Fact]
    public void Ieee_754_edge_values_come_back_to_the_bit_alone_and_among_decimals()
    {
        AssertValues(Ieee754Edges);
        foreach (double edge in Ieee754Edges)
        {
            AssertValues([edge]);
            AssertValues([1.25, 1.5, edge, 1.75, 1.5]);
        }
    }

    [Fact]
    public void Whole_numbers_come_back_whatever_the_predictor_overflows() =>
        Gen.OneOf(Gen.Long, Gen.Long[-300, 300], OneOf(long.MinValue, long.MaxValue, 0)).Array[0, 300].Sample(
            values =>
            {
                var writer = new ByteWriter();
                IntColumn.Write(writer, values);
                var again = new long[values.Length];
                var reader = new ByteReader(writer.Written);
                IntColumn.Read(ref reader, again);
                Assert.Equal(values, again);
                Assert.True(reader.AtEnd);
            },
            iter: 600);

    [Fact]
    public void Instants_come_back_even_jittered_or_with_gaps() =>
        Gen.Select(Gen.Long[-1_000_000_000_000, 1_000_000_000_000], OneOf(1L, 1_000, 1_000_000, 100_000_000), Gen.Int[1, 5000].Array[0, 300]).Sample(
            (first, unit, steps) =>
            {
                var times = new long[steps.Length + 1];
                times[0] = first;
                for (int i = 0; i < steps.Length; i++)
                {
                    times[i + 1] = times[i] + (steps[i] * unit);
                }

                var writer = new ByteWriter();
                TimeColumn.Write(writer, times);
                var again = new long[times.Length];
                var reader = new ByteReader(writer.Written);
                TimeColumn.Read(ref reader, again);
                Assert.Equal(times, again);
            },
            iter: 400);

    [Fact]
    public void A_series_with_extremes_and_faults_comes_back_to_the_bit() =>
        Gen.Select(Gen.Int[0, 20], Any, Any, Any).Array[0, 200].Sample(
            entries =>
            {
                var column = new SeriesColumn(3, 2);
                for (int i = 0; i < entries.Length; i++)
                {
                    (int what, double a, double b, double c) = entries[i];
                    column.Add(EngineInput.OfReading(new EngineTime(i * 1_000_000L), 3, what switch
                    {
                        < 3 => Reading.Failed((FaultCode)(what + 1)),
                        < 10 => Sorted(a, b, c),
                        _ => Reading.Of(a),
                    }));
                }

                var writer = new ByteWriter();
                column.Write(writer);
                (int codec, byte[] data) = Envelope.Wrap(writer.Written);
                SeriesColumn again = SeriesColumn.Read(Envelope.Unwrap(codec, data), 3, 2, column.Count, column.Times);
                for (int i = 0; i < entries.Length; i++)
                {
                    AssertSame(column.ReadingAt(i), again.ReadingAt(i));
                }
            },
            iter: 400);

    [Fact]
    public void Frames_come_back_to_the_bit_even_when_their_length_changes() =>
        Gen.Select(Gen.UInt, Gen.Double[0, 359.9], Gen.OneOf(Any.Array[64], Any.Array[0, 70], Gen.Int[-90, 90].Select(w => w / 10.0).Array[64])).Array[0, 30].Sample(
            frames =>
            {
                var column = new FrameColumn(5, 1);
                foreach ((uint sequence, double tach, double[] values) in frames)
                {
                    column.Times.Add(column.Times.Count * 250_000_000L);
                    column.Frames.Add(new Frame(sequence, tach, values));
                }

                var writer = new ByteWriter();
                column.Write(writer);
                FrameColumn again = FrameColumn.Read(writer.Written, 5, 1, column.Frames.Count, column.Times.ToArray());
                Assert.Equal(column.Frames, again.Frames);
            },
            iter: 100);

    [Fact]
    public void Decimals_of_an_instrument_take_about_a_byte_and_not_eight()
    {
        var random = new Random(7);
        var values = new double[3600];
        int code = 4137;
        for (int i = 0; i < values.Length; i++)
        {
            code += random.Next(-2, 3);
            values[i] = code / 1000.0;
        }

        var writer = new ByteWriter();
        ValueColumn.Write(writer, values);
        Assert.True(Envelope.Wrap(writer.Written).Data.Length < values.Length);
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = (float)values[i]; // as a register of single precision gives them
        }

        writer.Clear();
        ValueColumn.Write(writer, values);
        Assert.True(Envelope.Wrap(writer.Written).Data.Length < values.Length);
    }

    /// <summary>RFC 3720 appendix B.4 gives these checksums of 32 bytes.</summary>
    [Theory]
    [InlineData("0000000000000000000000000000000000000000000000000000000000000000", 0x8A9136AA)]
    [InlineData("FFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFF", 0x62A8AB43)]
    [InlineData("000102030405060708090A0B0C0D0E0F101112131415161718191A1B1C1D1E1F", 0x46DD794E)]
    [InlineData("1F1E1D1C1B1A191817161514131211100F0E0D0C0B0A09080706050403020100", 0x113FDB5C)]
    public void The_checksum_is_that_of_RFC_3720(string hex, uint expected) =>
        Assert.Equal(expected, Checksum.Of(Convert.FromHexString(hex)));

    [Fact]
    public void The_checksum_of_the_nine_digits_is_the_published_check_value() =>
        Assert.Equal(0xE3069283, Checksum.Of(Encoding.ASCII.GetBytes("123456789")));

    [Fact]
    public void Any_bytes_at_all_are_a_damaged_block_or_a_block_but_never_another_error() =>
        Gen.Byte.Array[0, 200].Sample(
            bytes =>
            {
                Try(() => SeriesColumn.Read(bytes, 1, 1, 20, new long[20]));
                Try(() => FrameColumn.Read(bytes, 1, 1, 3, new long[3]));
                Try(() => JournalCodec.Read([1, .. bytes], []));
                Try(() => Envelope.Unwrap(Envelope.Brotli, bytes));
            },
            iter: 1000);

    private static Gen<T> OneOf<T>(params T[] values) => Gen.Int[0, values.Length - 1].Select(i => values[i]);

    private static void Try(Action act)
    {
        try
        {
            act();
        }
        catch (StoreException exception)
        {
            Assert.Equal(StoreTrouble.Damaged, exception.Trouble);
        }
    }

    private static Reading Sorted(double a, double b, double c)
    {
        double[] three = [a, b, c];
        Array.Sort(three);
        return Reading.Of(three[1], three[0], three[2]);
    }

    private static void AssertValues(double[] values)
    {
        var writer = new ByteWriter();
        ValueColumn.Write(writer, values);
        var again = new double[values.Length];
        var reader = new ByteReader(writer.Written);
        ValueColumn.Read(ref reader, again);
        Assert.Equal(values.Select(BitConverter.DoubleToInt64Bits), again.Select(BitConverter.DoubleToInt64Bits));
    }

    private static void AssertSame(Reading left, Reading right)
    {
        Assert.Equal(left.IsFault, right.IsFault);
        if (left.IsFault)
        {
            Assert.Equal(left.Fault, right.Fault);
            return;
        }

        Assert.Equal(left.HasExtremes, right.HasExtremes);
        Assert.Equal(BitConverter.DoubleToInt64Bits(left.Raw), BitConverter.DoubleToInt64Bits(right.Raw));
        Assert.Equal(BitConverter.DoubleToInt64Bits(left.Minimum), BitConverter.DoubleToInt64Bits(right.Minimum));
        Assert.Equal(BitConverter.DoubleToInt64Bits(left.Maximum), BitConverter.DoubleToInt64Bits(right.Maximum));
    }
}
