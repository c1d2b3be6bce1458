using System.Buffers.Binary;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage.Codec;

/// <summary>
/// One commit of the journal as bytes: the inputs in number order, each with a tag, the time since its neighbour and
/// its body. Made to be written fast and kept for a minute; blocks are what is kept for good. The same form keeps
/// a sealed stretch whose order can't be worked out again from its times.
/// </summary>
/// <remarks>
/// Layout, format 1: byte format; first number (unsigned varint); count (varint); time of the first (signed varint,
/// ns). Then for each input a tag: bits 0–2 kind, bit 3 late, bit 4 has extremes, bit 5 same time as its neighbour, bit 6
/// time difference in whole milliseconds, bit 7 channel is the neighbour's plus one. Then, as the tag says, the time
/// difference (signed varint) and the channel (varint); then the body: sample 1 or 3 doubles; fault 1 byte; frame
/// sequence, tach angle, count, doubles; tick nothing; anything else a length and its JSON.
/// </remarks>
internal static class JournalCodec
{
    private const byte Format = 1;
    private const int MostInputs = 1 << 28;
    private const int MostPoints = 1 << 20;

    /// <summary>The bits of an input's tag.</summary>
    private static class Tag
    {
        public const int KindMask = 7;
        public const int Late = 8;
        public const int Extremes = 16;
        public const int SameTime = 32;
        public const int Milliseconds = 64;
        public const int NextChannel = 128;
    }

    public static void Write(ByteWriter writer, ReadOnlySpan<EngineInput> inputs)
    {
        writer.Byte(Format);
        writer.Unsigned((ulong)(inputs.Length == 0 ? 0 : inputs[0].Number));
        writer.Unsigned((ulong)inputs.Length);
        long time = inputs.Length == 0 ? 0 : inputs[0].Time.Nanoseconds;
        writer.Signed(time);
        int channel = -1;
        foreach (ref readonly EngineInput input in inputs)
        {
            long step = input.Time.Nanoseconds - time;
            time = input.Time.Nanoseconds;
            int tag = (int)input.Kind;
            bool hasChannel = input.Kind is InputKind.Sample or InputKind.Fault or InputKind.Frame or InputKind.Calibration;
            if (input.IsLate)
            {
                tag |= Tag.Late;
            }

            if (input.Kind == InputKind.Sample && input.Reading.HasExtremes)
            {
                tag |= Tag.Extremes;
            }

            if (step == 0)
            {
                tag |= Tag.SameTime;
            }
            else if (step % EngineTime.NanosecondsPerMillisecond == 0)
            {
                tag |= Tag.Milliseconds;
                step /= EngineTime.NanosecondsPerMillisecond;
            }

            if (hasChannel && input.Channel == channel + 1)
            {
                tag |= Tag.NextChannel;
            }

            writer.Byte((byte)tag);
            if (step != 0)
            {
                writer.Signed(step);
            }

            if (hasChannel)
            {
                if ((tag & Tag.NextChannel) == 0)
                {
                    writer.Unsigned((ulong)input.Channel);
                }

                channel = input.Channel;
            }

            if (input.Kind != InputKind.Tick)
            {
                WriteBody(writer, input);
            }
        }
    }

    /// <summary>The body alone; a late or otherwise explicit input is kept so in its own row.</summary>
    public static void WriteBody(ByteWriter writer, in EngineInput input)
    {
        switch (input.Kind)
        {
            case InputKind.Sample:
                if (input.Reading.HasExtremes)
                {
                    Span<byte> three = writer.Take(3 * sizeof(double));
                    BinaryPrimitives.WriteDoubleLittleEndian(three, input.Reading.Raw);
                    BinaryPrimitives.WriteDoubleLittleEndian(three[8..], input.Reading.Minimum);
                    BinaryPrimitives.WriteDoubleLittleEndian(three[16..], input.Reading.Maximum);
                }
                else
                {
                    writer.Double(input.Reading.Raw);
                }

                break;
            case InputKind.Fault:
                writer.Byte((byte)input.Reading.Fault);
                break;
            case InputKind.Frame:
                Frame frame = input.Frame;
                writer.Unsigned(frame.Sequence);
                writer.Double(frame.TachAngleDegrees);
                writer.Unsigned((ulong)frame.Count);
                foreach (double value in frame.Values)
                {
                    writer.Double(value);
                }

                break;
            case InputKind.Tick:
                break;
            default:
                byte[] json = PayloadJson.ToUtf8(input);
                writer.Unsigned((ulong)json.Length);
                writer.Bytes(json);
                break;
        }
    }

    /// <summary>Adds the inputs to <paramref name="inputs"/>, bit-equal to what was written.</summary>
    /// <exception cref="StoreException">The bytes are not such a commit.</exception>
    public static void Read(ReadOnlySpan<byte> data, List<EngineInput> inputs)
    {
        var reader = new ByteReader(data);
        if (reader.Byte() != Format)
        {
            throw StoreException.Damaged("A journal row has an unknown format.");
        }

        long number = (long)reader.Unsigned();
        int count = reader.Count(MostInputs);
        long time = reader.Signed();
        int channel = -1;
        inputs.EnsureCapacity(inputs.Count + Math.Min(count, data.Length));
        for (int i = 0; i < count; i++, number++)
        {
            int tag = reader.Byte();
            if ((tag & Tag.SameTime) == 0)
            {
                long step = reader.Signed();
                time += (tag & Tag.Milliseconds) != 0 ? step * EngineTime.NanosecondsPerMillisecond : step;
            }

            var kind = (InputKind)(tag & Tag.KindMask);
            int own = -1;
            if (kind is InputKind.Sample or InputKind.Fault or InputKind.Frame or InputKind.Calibration)
            {
                channel = (tag & Tag.NextChannel) != 0 ? channel + 1 : reader.Count(int.MaxValue);
                own = channel;
            }

            inputs.Add(ReadBody(
                ref reader, number, new EngineTime(time), kind, (tag & Tag.Late) != 0, (tag & Tag.Extremes) != 0, own));
        }

        if (!reader.AtEnd)
        {
            throw StoreException.Damaged("A journal row is longer than it says.");
        }
    }

    public static EngineInput ReadBody(
        ref ByteReader reader, long number, EngineTime time, InputKind kind, bool late, bool extremes, int channel)
    {
        Reading reading = default;
        object? payload = null;
        try
        {
            switch (kind)
            {
                case InputKind.Sample:
                    reading = extremes
                        ? ReadExtremes(ref reader)
                        : Reading.Of(reader.Double());
                    break;
                case InputKind.Fault:
                    reading = Reading.Failed((FaultCode)reader.Byte());
                    break;
                case InputKind.Frame:
                    uint sequence = (uint)reader.Unsigned();
                    double tach = reader.Double();
                    var values = new double[reader.Count(MostPoints)];
                    for (int i = 0; i < values.Length; i++)
                    {
                        values[i] = reader.Double();
                    }

                    payload = new Frame(sequence, tach, values);
                    break;
                case InputKind.Tick:
                    break;
                default:
                    payload = PayloadJson.FromUtf8(kind, reader.Take(reader.Count(int.MaxValue)));
                    break;
            }
        }
        catch (Exception exception) when (exception is ArgumentException or FormatException)
        {
            throw StoreException.Damaged($"Input {number} can't be read back: {exception.Message}", exception);
        }

        return new EngineInput
        {
            Number = number,
            Time = time,
            Kind = kind,
            IsLate = late,
            Channel = channel,
            Reading = reading,
            Payload = payload,
        };
    }

    private static Reading ReadExtremes(ref ByteReader reader)
    {
        double raw = reader.Double();
        double minimum = reader.Double();
        return Reading.Of(raw, minimum, reader.Double());
    }
}
