using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Tests.Acquisition.Lines;

public class LineTests
{
    private static readonly LineFormat Plain = new() { FieldCount = 2 };

    [Theory]
    [InlineData("1.5,-2", LineReject.None)]
    [InlineData(" 1.5 , -2 ", LineReject.None)]
    [InlineData("1e-3,+7", LineReject.None)]
    [InlineData("1.5", LineReject.FieldCount)]
    [InlineData("1.5,2,3", LineReject.FieldCount)]
    [InlineData("1.5,", LineReject.BadNumber)]
    [InlineData("1.5,2x", LineReject.BadNumber)]
    [InlineData("1.5,0x10", LineReject.BadNumber)]
    [InlineData("1.5,2 3", LineReject.BadNumber)]
    [InlineData("1.5,2\u0001", LineReject.NotPrintable)]
    [InlineData("1.5,2\u00B5", LineReject.NotPrintable)]
    public void A_plain_line_is_taken_whole_or_not_at_all(string line, LineReject expected)
    {
        var parser = new LineParser(Plain, []);
        LineKind kind = parser.Parse(Encoding.Latin1.GetBytes(line));
        Assert.Equal(expected, parser.Reject);
        Assert.Equal(expected == LineReject.None ? LineKind.Samples : LineKind.Rejected, kind);
    }

    [Theory]
    [InlineData("nan,1")]
    [InlineData("-NaN,1")]
    [InlineData("inf,1")]
    [InlineData("ovf,1")]
    [InlineData("1e999,1")]
    public void A_field_without_a_number_leaves_its_neighbour_standing(string line)
    {
        var parser = new LineParser(Plain, []);
        Assert.Equal(LineKind.Samples, parser.Parse(Encoding.ASCII.GetBytes(line)));
        Assert.True(double.IsNaN(parser.Fields[0]));
        Assert.Equal(1, parser.Fields[1]);
    }

    [Theory]
    [InlineData("S,17,1.25,2.5", 17u, LineReject.None)]
    [InlineData("S,4294967295,1,2", 4294967295u, LineReject.None)]
    [InlineData("S,4294967296,1,2", null, LineReject.BadSequence)]
    [InlineData("S,-1,1,2", null, LineReject.BadSequence)]
    [InlineData("S,1.0,1,2", null, LineReject.BadSequence)]
    [InlineData("X,17,1,2", null, LineReject.UnknownTag)]
    [InlineData("S17,1,2", null, LineReject.UnknownTag)]
    [InlineData("17,1,2", null, LineReject.UnknownTag)]
    [InlineData("S,17,1", null, LineReject.FieldCount)]
    public void Tag_and_sequence(string line, uint? sequence, LineReject expected)
    {
        var parser = new LineParser(Plain with { Tag = "S", HasSequence = true }, []);
        parser.Parse(Encoding.ASCII.GetBytes(line));
        Assert.Equal(expected, parser.Reject);
        Assert.Equal(sequence, parser.Sequence);
    }

    /// <summary>The exclusive or of "1,2" is 31 ^ 2C ^ 32 = 2F hex; the check value of CRC-16/MODBUS over "123456789" is 4B37 hex (catalogue of parametrised CRC algorithms).</summary>
    [Theory]
    [InlineData("xor8", 2, "1,2*2F", LineReject.None)]
    [InlineData("xor8", 2, "1,2*2f", LineReject.None)]
    [InlineData("xor8", 2, "1,3*2F", LineReject.BadChecksum)]
    [InlineData("xor8", 2, "1,2", LineReject.NoChecksum)]
    [InlineData("xor8", 2, "1,2*2", LineReject.NoChecksum)]
    [InlineData("xor8", 2, "1,2*2G", LineReject.NoChecksum)]
    [InlineData("xor8", 2, "1,2*02F", LineReject.NoChecksum)]
    [InlineData("crc16", 1, "123456789*4B37", LineReject.None)]
    [InlineData("crc16", 1, "123456780*4B37", LineReject.BadChecksum)]
    [InlineData("crc16", 1, "12345678*4B37", LineReject.BadChecksum)]
    [InlineData("crc16", 1, "123456789*374B", LineReject.BadChecksum)]
    public void Checksums_of_lines(string checksum, int fields, string line, LineReject expected)
    {
        var parser = new LineParser(new LineFormat { FieldCount = fields, Checksum = checksum }, []);
        parser.Parse(Encoding.ASCII.GetBytes(line));
        Assert.Equal(expected, parser.Reject);
    }

    [Fact]
    public void A_frame_crosses_the_wire_bit_for_bit()
    {
        const int seed = 20251;
        var random = new Random(seed);
        double[] sent = [.. Enumerable.Range(0, 64).Select(_ => (random.NextDouble() - 0.5) * Math.Pow(10, random.Next(-6, 6)))];
        sent[5] = -0.0;
        sent[6] = double.Epsilon;
        sent[7] = double.MaxValue;
        string body = "F,9,123.4375," + string.Join(',', sent.Select(v => v.ToString("R", CultureInfo.InvariantCulture)));
        byte[] bytes = Encoding.ASCII.GetBytes(body + $"*{Checksums.Crc16(Encoding.ASCII.GetBytes(body)):X4}\r\n");

        var parser = new LineParser(Plain, [FrameInput(64)]);
        var framer = new LineFramer(parser.MaximumLength);
        ReadOnlySpan<byte> stream = [.. "tail of a line\n"u8, .. bytes];
        Assert.True(framer.TryTake(ref stream, out ReadOnlySpan<byte> line));
        Assert.Equal(LineKind.Frame, parser.Parse(line));
        Assert.True(parser.Frame!.Equals(new Frame(9, 123.4375, sent)), $"seed {seed}");

        // One digit of one point changed.
        bytes[40] ^= 1;
        Assert.Equal(LineKind.Rejected, parser.Parse(bytes.AsSpan(0, bytes.Length - 2)));
        Assert.Equal(LineReject.BadChecksum, parser.Reject);
    }

    [Theory]
    [InlineData("F,1,0,1,2", LineReject.None)]
    [InlineData("F,1,359.99,1,2", LineReject.None)]
    [InlineData("F,1,360,1,2", LineReject.BadAngle)]
    [InlineData("F,1,-1,1,2", LineReject.BadAngle)]
    [InlineData("F,1,nan,1,2", LineReject.BadAngle)]
    [InlineData("F,1,0,1", LineReject.FieldCount)]
    [InlineData("F,1,0,1,2,3", LineReject.FieldCount)]
    [InlineData("F,x,0,1,2", LineReject.BadSequence)]
    [InlineData("F,1,0,1,y", LineReject.BadNumber)]
    public void Frame_grammar(string body, LineReject expected)
    {
        var parser = new LineParser(Plain, [FrameInput(2)]);
        parser.Parse(Encoding.ASCII.GetBytes(body + $"*{Checksums.Crc16(Encoding.ASCII.GetBytes(body)):X4}"));
        Assert.Equal(expected, parser.Reject);
    }

    [Fact]
    public void A_frame_with_a_point_that_is_no_number_is_a_fault_not_a_frame()
    {
        const string body = "F,1,0,1,nan";
        var parser = new LineParser(Plain, [FrameInput(2)]);
        Assert.Equal(LineKind.Frame, parser.Parse(Encoding.ASCII.GetBytes(body + $"*{Checksums.Crc16(Encoding.ASCII.GetBytes(body)):X4}")));
        Assert.Null(parser.Frame);
    }

    [Fact]
    public void The_first_line_after_opening_is_dropped_and_the_rest_comes_in_any_cut()
    {
        byte[] stream = Encoding.ASCII.GetBytes("2.5\n1,2\r\n\n3,4\n5,");
        for (int cut = 1; cut <= stream.Length; cut++)
        {
            var framer = new LineFramer(16);
            var lines = new List<string>();
            for (int at = 0; at < stream.Length; at += cut)
            {
                ReadOnlySpan<byte> bytes = stream.AsSpan(at, Math.Min(cut, stream.Length - at));
                while (framer.TryTake(ref bytes, out ReadOnlySpan<byte> line))
                {
                    lines.Add(Encoding.ASCII.GetString(line));
                }
            }

            Assert.Equal(["1,2", "", "3,4"], lines);
            Assert.True(framer.HasPart);
        }
    }

    [Fact]
    public void A_line_that_outgrows_its_length_is_dropped_to_the_next_newline()
    {
        var framer = new LineFramer(4);
        ReadOnlySpan<byte> bytes = "\n1234\r\n12345\n12345678901234567890\nab\n"u8;
        var lines = new List<string>();
        while (framer.TryTake(ref bytes, out ReadOnlySpan<byte> line))
        {
            lines.Add(Encoding.ASCII.GetString(line));
        }

        // Five characters without a carriage return still fit the buffer's spare byte only as "1234\r".
        Assert.Equal(["1234", "ab"], lines);
        Assert.Equal(2, framer.TooLong);
    }

    [Fact]
    public void An_expired_part_does_not_join_what_comes_later()
    {
        var framer = new LineFramer(64);
        ReadOnlySpan<byte> bytes = "\n12.34,5"u8;
        Assert.False(framer.TryTake(ref bytes, out _));
        framer.ExpirePart();
        bytes = "6\n7,8\n"u8;
        Assert.True(framer.TryTake(ref bytes, out ReadOnlySpan<byte> line));
        Assert.Equal("7,8", Encoding.ASCII.GetString(line));
        Assert.Equal(1, framer.Expired);
    }

    [Fact]
    public void Gaps_repeats_and_restarts_of_the_sequence_are_counted()
    {
        var counts = new LineCounts();
        foreach (uint sequence in new uint[] { 5, 6, 9, 9, 10, 0, 1 })
        {
            counts.CountValid(sequence, isChecked: true);
        }

        Assert.Equal(7, counts.Valid);
        Assert.Equal(0, counts.Unchecked);
        Assert.Equal(2, counts.SequenceGaps);
        Assert.Equal(1, counts.SequenceRepeats);
        Assert.Equal(1, counts.SequenceRestarts);
    }

    [Fact]
    public void Parsing_samples_allocates_nothing()
    {
        var parser = new LineParser(new LineFormat { FieldCount = 2, HasSequence = true, Checksum = "xor8" }, []);
        byte[] body = Encoding.ASCII.GetBytes("12,1.25,-3.5");
        byte[] line = [.. body, (byte)'*', .. Encoding.ASCII.GetBytes($"{Checksums.Xor8(body):X2}")];
        Assert.Equal(LineKind.Samples, parser.Parse(line));
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 1000; i++)
        {
            parser.Parse(line);
        }

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    private static ProfileInput FrameInput(int points) =>
        new() { Name = "timing", Kind = ChannelKind.Frame, RawUnit = "us", Points = points, Tag = "F" };
}
