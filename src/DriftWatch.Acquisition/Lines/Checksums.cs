namespace DriftWatch.Acquisition.Lines;

/// <summary>The two checks a line or frame may carry.</summary>
public static class Checksums
{
    private static readonly ushort[] Crc16Table = MakeTable();

    /// <summary>
    /// CRC-16 of the Modbus serial line specification (MODBUS over Serial Line V1.02, section 6.2.2): polynomial
    /// 0xA001 reflected, start 0xFFFF; on a Modbus wire the low byte goes first.
    /// </summary>
    public static ushort Crc16(ReadOnlySpan<byte> bytes)
    {
        ushort crc = 0xFFFF;
        foreach (byte b in bytes)
        {
            crc = (ushort)((crc >> 8) ^ Crc16Table[(crc ^ b) & 0xFF]);
        }

        return crc;
    }

    /// <summary>All bytes combined by exclusive or.</summary>
    public static byte Xor8(ReadOnlySpan<byte> bytes)
    {
        byte xor = 0;
        foreach (byte b in bytes)
        {
            xor ^= b;
        }

        return xor;
    }

    private static ushort[] MakeTable()
    {
        var table = new ushort[256];
        for (int i = 0; i < 256; i++)
        {
            ushort crc = (ushort)i;
            for (int bit = 0; bit < 8; bit++)
            {
                crc = (ushort)((crc & 1) != 0 ? (crc >> 1) ^ 0xA001 : crc >> 1);
            }

            table[i] = crc;
        }

        return table;
    }
}
