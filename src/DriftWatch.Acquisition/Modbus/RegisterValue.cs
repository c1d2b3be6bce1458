using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Modbus;

/// <summary>
/// A number in one or two registers. The word order names the bytes in the order in which they come over the wire, A
/// being the most significant: <c>ABCD</c> (as the specification sends), <c>CDAB</c> (low word first), <c>BADC</c>
/// (bytes swapped in each word), <c>DCBA</c>. In a single register only the swap of its two bytes matters.
/// </summary>
public static class RegisterValue
{
    /// <summary>Registers that a type takes: int16, uint16, int32, uint32, float32.</summary>
    /// <exception cref="ArgumentException">The type is not known.</exception>
    public static int RegistersOf(string type) => type switch
    {
        "int16" or "uint16" => 1,
        "int32" or "uint32" or "float32" => 2,
        _ => throw new ArgumentException($"Register type '{type}' is not known: write int16, uint16, int32, uint32 or float32.", nameof(type)),
    };

    public static Reading Decode(ReadOnlySpan<ushort> registers, string type, string wordOrder)
    {
        bool swapWords = wordOrder is "CDAB" or "DCBA";
        bool swapBytes = wordOrder is "BADC" or "DCBA";
        ushort first = Order(registers[0]);
        if (RegistersOf(type) == 1)
        {
            return Reading.Of(type == "int16" ? (short)first : first);
        }

        ushort second = Order(registers[1]);
        uint bits = swapWords ? ((uint)second << 16) | first : ((uint)first << 16) | second;
        return type switch
        {
            "int32" => Reading.Of((int)bits),
            "uint32" => Reading.Of(bits),
            _ => ReadingRules.FromNumber(BitConverter.UInt32BitsToSingle(bits)),
        };

        ushort Order(ushort word) => swapBytes ? System.Buffers.Binary.BinaryPrimitives.ReverseEndianness(word) : word;
    }
}
