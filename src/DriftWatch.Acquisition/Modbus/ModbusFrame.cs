using System.Buffers.Binary;
using DriftWatch.Acquisition.Lines;

namespace DriftWatch.Acquisition.Modbus;

/// <summary>What a whole reply turned out to be.</summary>
public enum ModbusReply
{
    /// <summary>Registers, as asked.</summary>
    Registers,

    /// <summary>The instrument answers with an exception code.</summary>
    Exception,

    /// <summary>The CRC does not match.</summary>
    BadCrc,

    /// <summary>Sound by its CRC, but of another unit, function or length than asked.</summary>
    Unexpected,

    /// <summary>Shorter than any reply.</summary>
    Short,
}

/// <summary>
/// Modbus RTU frames for reading registers. Sources: MODBUS Application Protocol Specification V1.1b3, sections 6.3
/// (function 03), 6.4 (function 04) and 7 (exceptions); MODBUS over Serial Line V1.02, section 6.2.2 (CRC, low byte first).
/// </summary>
public static class ModbusFrame
{
    /// <summary>Unit, function, address, count, CRC.</summary>
    public const int RequestLength = 8;

    /// <summary>Unit, function with the top bit, code, CRC: the shortest reply.</summary>
    public const int ExceptionLength = 5;

    /// <summary>The most registers that one request may ask for.</summary>
    public const int MaximumRegisters = 125;

    public static int ReplyLength(int registers) => 5 + (2 * registers);

    /// <summary>Writes the request and returns its length.</summary>
    public static int WriteRequest(Span<byte> into, int unit, int function, int address, int registers)
    {
        into[0] = (byte)unit;
        into[1] = (byte)function;
        BinaryPrimitives.WriteUInt16BigEndian(into[2..], (ushort)address);
        BinaryPrimitives.WriteUInt16BigEndian(into[4..], (ushort)registers);
        BinaryPrimitives.WriteUInt16LittleEndian(into[6..], Checksums.Crc16(into[..6]));
        return RequestLength;
    }

    /// <summary>Holds a reply against its request.</summary>
    /// <param name="frame">All bytes of the reply.</param>
    /// <param name="unit">The unit asked.</param>
    /// <param name="function">The function asked.</param>
    /// <param name="into">Takes the registers; its length is the number asked for.</param>
    /// <param name="exceptionCode">The code of an exception.</param>
    public static ModbusReply Read(ReadOnlySpan<byte> frame, int unit, int function, Span<ushort> into, out byte exceptionCode)
    {
        exceptionCode = 0;
        if (frame.Length < ExceptionLength)
        {
            return ModbusReply.Short;
        }

        if (Checksums.Crc16(frame[..^2]) != BinaryPrimitives.ReadUInt16LittleEndian(frame[^2..]))
        {
            return ModbusReply.BadCrc;
        }

        if (frame[0] != unit)
        {
            return ModbusReply.Unexpected;
        }

        if (frame.Length == ExceptionLength && frame[1] == (function | 0x80))
        {
            exceptionCode = frame[2];
            return ModbusReply.Exception;
        }

        if (frame[1] != function || frame.Length != ReplyLength(into.Length) || frame[2] != 2 * into.Length)
        {
            return ModbusReply.Unexpected;
        }

        for (int i = 0; i < into.Length; i++)
        {
            into[i] = BinaryPrimitives.ReadUInt16BigEndian(frame[(3 + (2 * i))..]);
        }

        return ModbusReply.Registers;
    }

    /// <summary>The exception's name in the specification, section 7.</summary>
    public static string ExceptionName(byte code) => code switch
    {
        1 => "illegal function",
        2 => "illegal data address",
        3 => "illegal data value",
        4 => "device failure",
        5 => "acknowledge",
        6 => "device busy",
        8 => "memory parity error",
        10 => "gateway path unavailable",
        11 => "gateway target failed to respond",
        _ => "unknown exception",
    };
}
