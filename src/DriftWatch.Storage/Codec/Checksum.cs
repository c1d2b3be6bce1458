using System.Buffers.Binary;
using System.Numerics;

namespace DriftWatch.Storage.Codec;

/// <summary>CRC-32C (Castagnoli, the polynomial of RFC 3720) by the processor's own instruction where it has one.</summary>
internal static class Checksum
{
    /// <summary>The checksum of the bytes as RFC 3720 gives it.</summary>
    public static uint Of(ReadOnlySpan<byte> data) => ~Add(~0u, data);

    /// <summary>
    /// The checksum of a block together with the numbers in its row: a bit that flips in the row's channel, count or
    /// calibration version is found just as one in the block itself.
    /// </summary>
    public static uint Of(long first, long second, long third, ReadOnlySpan<byte> data)
    {
        uint crc = BitOperations.Crc32C(~0u, (ulong)first);
        crc = BitOperations.Crc32C(crc, (ulong)second);
        crc = BitOperations.Crc32C(crc, (ulong)third);
        return ~Add(crc, data);
    }

    private static uint Add(uint crc, ReadOnlySpan<byte> data)
    {
        while (data.Length >= sizeof(ulong))
        {
            crc = BitOperations.Crc32C(crc, BinaryPrimitives.ReadUInt64LittleEndian(data));
            data = data[sizeof(ulong)..];
        }

        foreach (byte value in data)
        {
            crc = BitOperations.Crc32C(crc, value);
        }

        return crc;
    }
}
