using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Modbus;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Tests.Acquisition.Modbus;

public class ModbusFrameTests
{
    /// <summary>MODBUS over Serial Line V1.02, section 6.2.2: message 02 07 gives CRC 1241 hex, sent as 41 12.</summary>
    [Fact]
    public void Crc_of_the_serial_line_specification()
    {
        Assert.Equal(0x1241, Checksums.Crc16([0x02, 0x07]));
    }

    /// <summary>
    /// MODBUS Application Protocol V1.1b3: the PDUs of the examples in sections 6.3 (read registers 108–110) and 6.4
    /// (read input register 9), addressed to unit 17 and closed with the CRC of the serial line specification.
    /// </summary>
    [Theory]
    [InlineData(3, 0x006B, 3, "11 03 00 6B 00 03")]
    [InlineData(4, 0x0008, 1, "11 04 00 08 00 01")]
    public void Requests_of_the_application_protocol_specification(int function, int address, int count, string body)
    {
        var request = new byte[ModbusFrame.RequestLength];
        int length = ModbusFrame.WriteRequest(request, 17, function, address, count);
        Assert.Equal(8, length);
        Assert.Equal(Bytes(body), request[..6]);
        Assert.Equal(0, Checksums.Crc16(request));
    }

    /// <summary>Section 6.3: registers 108–110 hold 022B, 0000 and 0064 hex. Section 6.4: input register 9 holds 000A hex.</summary>
    [Theory]
    [InlineData(3, "11 03 06 02 2B 00 00 00 64", new[] { 0x022B, 0x0000, 0x0064 })]
    [InlineData(4, "11 04 02 00 0A", new[] { 0x000A })]
    public void Replies_of_the_application_protocol_specification(int function, string body, int[] expected)
    {
        var registers = new ushort[expected.Length];
        ModbusReply reply = ModbusFrame.Read(WithCrc(body), 17, function, registers, out _);
        Assert.Equal(ModbusReply.Registers, reply);
        Assert.Equal(expected, registers.Select(r => (int)r));
    }

    /// <summary>Section 7: function with the top bit set, then the code.</summary>
    [Fact]
    public void An_exception_is_told_with_its_code()
    {
        Assert.Equal(ModbusReply.Exception, ModbusFrame.Read(WithCrc("11 84 02"), 17, 4, new ushort[1], out byte code));
        Assert.Equal(2, code);
        Assert.Equal("illegal data address", ModbusFrame.ExceptionName(code));
    }

    [Theory]
    [InlineData("12 04 02 00 0A", ModbusReply.Unexpected)]
    [InlineData("11 03 02 00 0A", ModbusReply.Unexpected)]
    [InlineData("11 04 04 00 0A 00 0B", ModbusReply.Unexpected)]
    [InlineData("11 04 03 00 0A", ModbusReply.Unexpected)]
    [InlineData("11 83 02", ModbusReply.Unexpected)]
    public void A_sound_frame_that_was_not_asked_for_is_refused(string body, ModbusReply expected)
    {
        Assert.Equal(expected, ModbusFrame.Read(WithCrc(body), 17, 4, new ushort[1], out _));
    }

    [Fact]
    public void Every_single_bit_flipped_in_a_reply_is_noticed()
    {
        byte[] sound = WithCrc("11 04 04 40 C8 00 00");
        for (int bit = 0; bit < sound.Length * 8; bit++)
        {
            byte[] bad = [.. sound];
            bad[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.Equal(ModbusReply.BadCrc, ModbusFrame.Read(bad, 17, 4, new ushort[2], out _));
        }
    }

    [Fact]
    public void Every_prefix_of_a_reply_and_every_noise_before_it_is_refused()
    {
        byte[] sound = WithCrc("11 04 04 40 C8 00 00");
        for (int length = 0; length < sound.Length; length++)
        {
            Assert.NotEqual(ModbusReply.Registers, ModbusFrame.Read(sound.AsSpan(0, length), 17, 4, new ushort[2], out _));
        }

        for (int noise = 1; noise < 4; noise++)
        {
            byte[] late = [.. Enumerable.Repeat((byte)0xFF, noise), .. sound];
            Assert.NotEqual(ModbusReply.Registers, ModbusFrame.Read(late.AsSpan(0, sound.Length), 17, 4, new ushort[2], out _));
        }
    }

    /// <summary>6.25 is 40C80000 hex in IEEE 754 single precision.</summary>
    [Theory]
    [InlineData(0x40C8, 0x0000, "float32", "ABCD", 6.25)]
    [InlineData(0x0000, 0x40C8, "float32", "CDAB", 6.25)]
    [InlineData(0xC840, 0x0000, "float32", "BADC", 6.25)]
    [InlineData(0x0000, 0xC840, "float32", "DCBA", 6.25)]
    [InlineData(0xFFFF, 0xFFFE, "int32", "ABCD", -2)]
    [InlineData(0xFFFF, 0xFFFE, "uint32", "ABCD", 4294967294)]
    [InlineData(0x0001, 0x0002, "uint32", "CDAB", 131073)]
    [InlineData(0xFFFE, 0, "int16", "ABCD", -2)]
    [InlineData(0xFFFE, 0, "uint16", "ABCD", 65534)]
    [InlineData(0x3412, 0, "uint16", "BADC", 0x1234)]
    public void Types_and_word_orders(int first, int second, string type, string order, double expected)
    {
        Reading reading = RegisterValue.Decode([(ushort)first, (ushort)second], type, order);
        Assert.Equal(expected, reading.Raw);
    }

    [Theory]
    [InlineData(0x7FC0, 0x0000)]
    [InlineData(0x7F80, 0x0000)]
    [InlineData(0xFF80, 0x0000)]
    public void Not_a_number_and_infinity_are_faults(int first, int second)
    {
        Reading reading = RegisterValue.Decode([(ushort)first, (ushort)second], "float32", "ABCD");
        Assert.True(reading.IsFault);
        Assert.Equal(FaultCode.NotANumber, reading.Fault);
    }

    private static byte[] WithCrc(string body)
    {
        byte[] bytes = Bytes(body);
        ushort crc = Checksums.Crc16(bytes);
        return [.. bytes, (byte)crc, (byte)(crc >> 8)];
    }

    private static byte[] Bytes(string hex) => Convert.FromHexString(hex.Replace(" ", "", StringComparison.Ordinal));
}
