using System.Buffers.Binary;

namespace DriftWatch.Storage.Codec;

/// <summary>A growing buffer that is used again and again; little-endian throughout.</summary>
internal sealed class ByteWriter
{
    private byte[] _buffer = new byte[4096];

    public int Length { get; private set; }

    public ReadOnlySpan<byte> Written => _buffer.AsSpan(0, Length);

    public void Clear() => Length = 0;

    /// <summary>The next <paramref name="count"/> bytes, for the caller to fill.</summary>
    public Span<byte> Take(int count)
    {
        Ensure(count);
        Span<byte> span = _buffer.AsSpan(Length, count);
        Length += count;
        return span;
    }

    public void Byte(byte value)
    {
        Ensure(1);
        _buffer[Length++] = value;
    }

    public void Double(double value) => BinaryPrimitives.WriteDoubleLittleEndian(Take(sizeof(double)), value);

    public void Bytes(ReadOnlySpan<byte> bytes) => bytes.CopyTo(Take(bytes.Length));

    /// <summary>Seven bits a byte, lowest first.</summary>
    public void Unsigned(ulong value)
    {
        Ensure(10);
        while (value >= 0x80)
        {
            _buffer[Length++] = (byte)(value | 0x80);
            value >>= 7;
        }

        _buffer[Length++] = (byte)value;
    }

    public void Signed(long value) => Unsigned(ZigZag.Fold(value));

    private void Ensure(int count)
    {
        if (_buffer.Length - Length < count)
        {
            Array.Resize(ref _buffer, Math.Max(_buffer.Length * 2, Length + count));
        }
    }
}

/// <summary>Reads what <see cref="ByteWriter"/> wrote. Anything that does not fit is a damaged block, never an index error.</summary>
internal ref struct ByteReader(ReadOnlySpan<byte> data)
{
    private readonly ReadOnlySpan<byte> _data = data;
    private int _at;

    public readonly bool AtEnd => _at == _data.Length;

    public ReadOnlySpan<byte> Take(int count)
    {
        if (count < 0 || _data.Length - _at < count)
        {
            throw StoreException.Damaged("A block ends too early.");
        }

        ReadOnlySpan<byte> span = _data.Slice(_at, count);
        _at += count;
        return span;
    }

    public byte Byte() => Take(1)[0];

    public double Double() => BinaryPrimitives.ReadDoubleLittleEndian(Take(sizeof(double)));

    public ulong Unsigned()
    {
        ulong value = 0;
        for (int shift = 0; shift < 64; shift += 7)
        {
            byte next = Byte();
            value |= (ulong)(next & 0x7F) << shift;
            if (next < 0x80)
            {
                return value;
            }
        }

        throw StoreException.Damaged("A number in a block is too long.");
    }

    public long Signed() => ZigZag.Unfold(Unsigned());

    /// <summary>A count that the rest of the program will allocate for.</summary>
    public int Count(int most)
    {
        ulong value = Unsigned();
        return value <= (ulong)most ? (int)value : throw StoreException.Damaged("A count in a block is too large.");
    }
}

/// <summary>Small negative and small positive numbers both become small unsigned ones.</summary>
internal static class ZigZag
{
    public static ulong Fold(long value) => (ulong)((value << 1) ^ (value >> 63));

    public static long Unfold(ulong value) => (long)(value >> 1) ^ -(long)(value & 1);
}
