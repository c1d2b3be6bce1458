using System.Buffers;
using System.Buffers.Binary;
using System.Text;
using DriftWatch.Analysis;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Snapshots;

/// <summary>
/// Writes or reads the state of the judges with one and the same code: each judge names its fields once, in order, and
/// the archive either takes them down or fills them in. So a field can't be written and forgotten on reading.
/// </summary>
internal sealed class StateArchive : IStateFields
{
    private readonly ArrayBufferWriter<byte>? _writer;
    private readonly ReadOnlyMemory<byte> _source;
    private int _position;

    private StateArchive(ArrayBufferWriter<byte>? writer, ReadOnlyMemory<byte> source)
    {
        _writer = writer;
        _source = source;
    }

    public bool IsWriting => _writer is not null;

    /// <summary>Bytes not read yet; 0 for a sound snapshot that was read whole.</summary>
    public int Unread => _source.Length - _position;

    public static StateArchive ForWriting(ArrayBufferWriter<byte> writer) => new(writer, default);

    public static StateArchive ForReading(ReadOnlyMemory<byte> source) => new(null, source);

    public void Sync(ref long value)
    {
        if (_writer is { } writer)
        {
            BinaryPrimitives.WriteInt64LittleEndian(writer.GetSpan(8), value);
            writer.Advance(8);
        }
        else
        {
            value = BinaryPrimitives.ReadInt64LittleEndian(Take(8));
        }
    }

    public void Sync(ref int value)
    {
        if (_writer is { } writer)
        {
            BinaryPrimitives.WriteInt32LittleEndian(writer.GetSpan(4), value);
            writer.Advance(4);
        }
        else
        {
            value = BinaryPrimitives.ReadInt32LittleEndian(Take(4));
        }
    }

    public void Sync(ref byte value)
    {
        if (_writer is { } writer)
        {
            writer.GetSpan(1)[0] = value;
            writer.Advance(1);
        }
        else
        {
            value = Take(1)[0];
        }
    }

    public void Sync(ref bool value)
    {
        byte asByte = value ? (byte)1 : (byte)0;
        Sync(ref asByte);
        value = asByte != 0;
    }

    public void Sync(ref double value)
    {
        long bits = BitConverter.DoubleToInt64Bits(value);
        Sync(ref bits);
        value = BitConverter.Int64BitsToDouble(bits);
    }

    public void Sync(ref double? value)
    {
        bool has = value.HasValue;
        Sync(ref has);
        double inner = value.GetValueOrDefault();
        if (has)
        {
            Sync(ref inner);
        }

        value = has ? inner : null;
    }

    public void Sync(ref EngineTime value)
    {
        long nanoseconds = value.Nanoseconds;
        Sync(ref nanoseconds);
        value = new EngineTime(nanoseconds);
    }

    public void Sync(ref EngineTime? value)
    {
        bool has = value.HasValue;
        Sync(ref has);
        EngineTime inner = value.GetValueOrDefault();
        if (has)
        {
            Sync(ref inner);
        }

        value = has ? inner : null;
    }

    public void Sync<T>(ref T value)
        where T : struct, Enum
    {
        int number = IsWriting ? Convert.ToInt32(value) : 0;
        Sync(ref number);
        if (!IsWriting)
        {
            value = (T)Enum.ToObject(typeof(T), number);
            if (!Enum.IsDefined(value))
            {
                throw new FormatException($"{number} is no {typeof(T).Name}.");
            }
        }
    }

    public void Sync(ref string? value)
    {
        byte[]? utf8 = value is null ? null : Encoding.UTF8.GetBytes(value);
        Sync(ref utf8);
        value = utf8 is null ? null : Encoding.UTF8.GetString(utf8);
    }

    public void Sync(ref byte[]? value)
    {
        int length = value?.Length ?? -1;
        Sync(ref length);
        if (length < 0)
        {
            value = null;
            return;
        }

        if (_writer is { } writer)
        {
            writer.Write(value);
        }
        else
        {
            value = Take(length).ToArray();
        }
    }

    /// <summary>Length of a list: written as given, or read and checked to be sane.</summary>
    public int SyncCount(int count)
    {
        Sync(ref count);
        if (count < 0 || (!IsWriting && count > Unread))
        {
            throw new FormatException($"A list of {count} entries does not fit into what is left of the snapshot.");
        }

        return count;
    }

    /// <summary>A list of names: written as it is, or filled.</summary>
    public void SyncNames(List<string> names)
    {
        int count = SyncCount(names.Count);
        for (int i = 0; i < count; i++)
        {
            string? name = IsWriting ? names[i] : null;
            Sync(ref name);
            if (!IsWriting)
            {
                names.Add(name ?? "");
            }
        }
    }

    private ReadOnlySpan<byte> Take(int count)
    {
        if (count > Unread)
        {
            throw new FormatException("The snapshot ends too early.");
        }

        ReadOnlySpan<byte> taken = _source.Span.Slice(_position, count);
        _position += count;
        return taken;
    }
}
