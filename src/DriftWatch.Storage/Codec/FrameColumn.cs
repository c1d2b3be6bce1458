using DriftWatch.Measurement.Samples;

namespace DriftWatch.Storage.Codec;

/// <summary>
/// The frames of one channel in order of time. A point is foretold by the same point of the frame before, so a steady
/// pattern over the wheel costs little.
/// </summary>
/// <remarks>
/// Layout: varint points a frame plus 1, or 0 when frames differ in length (then the lengths as numbers); sequence
/// numbers; tach angles; all values, frame after frame: byte form, and either whole numbers less those of the frame
/// before, or bits.
/// </remarks>
internal sealed class FrameColumn(int channel, int version)
{
    private const int MostPoints = 1 << 20;
    private const byte Apart = 255;

    public int Channel { get; } = channel;

    public int Version { get; } = version;

    public List<long> Times { get; } = [];

    public List<Frame> Frames { get; } = [];

    public void AddRange(FrameColumn other)
    {
        Times.AddRange(other.Times);
        Frames.AddRange(other.Frames);
    }

    public void Write(ByteWriter writer)
    {
        int points = Frames.Count == 0 ? 0 : Frames[0].Count;
        bool even = Frames.TrueForAll(frame => frame.Count == points);
        writer.Unsigned(even ? (ulong)points + 1 : 0);
        if (!even)
        {
            IntColumn.Write(writer, Frames.Select(frame => (long)frame.Count).ToArray());
        }

        IntColumn.Write(writer, Frames.Select(frame => (long)frame.Sequence).ToArray());
        ValueColumn.Write(writer, Frames.Select(frame => frame.TachAngleDegrees).ToArray());
        var values = new double[Frames.Sum(frame => frame.Count)];
        int at = 0;
        foreach (Frame frame in Frames)
        {
            frame.Values.CopyTo(values.AsSpan(at));
            at += frame.Count;
        }

        var whole = new long[values.Length];
        int form = even ? ValueColumn.Scale(values, whole) : -1;
        if (form < 0)
        {
            writer.Byte(Apart);
            ValueColumn.Write(writer, values);
            return;
        }

        writer.Byte((byte)form);
        for (int i = whole.Length - 1; i >= points; i--)
        {
            whole[i] -= whole[i - points];
        }

        IntColumn.Write(writer, whole);
    }

    public static FrameColumn Read(ReadOnlySpan<byte> body, int channel, int version, int count, ReadOnlySpan<long> times)
    {
        if (count != times.Length)
        {
            throw StoreException.Damaged("A block of frames does not agree with its times.");
        }

        var reader = new ByteReader(body);
        int points = reader.Count(MostPoints) - 1;
        var lengths = new long[count];
        Array.Fill(lengths, points);
        if (points < 0)
        {
            IntColumn.Read(ref reader, lengths);
        }

        var sequences = new long[count];
        IntColumn.Read(ref reader, sequences);
        var tach = new double[count];
        ValueColumn.Read(ref reader, tach);
        long total = 0;
        foreach (long length in lengths)
        {
            total += length is >= 0 and < MostPoints ? length : throw StoreException.Damaged("A frame's length is not sound.");
        }

        var values = new double[total];
        byte form = reader.Byte();
        if (form == Apart)
        {
            ValueColumn.Read(ref reader, values);
        }
        else
        {
            ValueColumn.CheckForm(form);
            var whole = new long[total];
            IntColumn.Read(ref reader, whole);
            for (int i = 0; i < whole.Length; i++)
            {
                whole[i] += i >= points ? whole[i - points] : 0;
                values[i] = ValueColumn.Unscale(form, whole[i]);
            }
        }

        var column = new FrameColumn(channel, version);
        int at = 0;
        for (int i = 0; i < count; i++)
        {
            column.Times.Add(times[i]);
            column.Frames.Add(Make((uint)sequences[i], tach[i], values.AsSpan(at, (int)lengths[i]).ToArray()));
            at += (int)lengths[i];
        }

        return reader.AtEnd ? column : throw StoreException.Damaged("A block is longer than it says.");
    }

    private static Frame Make(uint sequence, double tachAngleDegrees, double[] values)
    {
        try
        {
            return new Frame(sequence, tachAngleDegrees, values);
        }
        catch (ArgumentException exception)
        {
            throw StoreException.Damaged($"A frame can't be read back: {exception.Message}", exception);
        }
    }
}
