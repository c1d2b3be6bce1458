using System.Globalization;
using System.Runtime.CompilerServices;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Reads decimal numbers from UTF-8, equal to the last bit to <see cref="double.Parse(string)"/>. The fast path takes
/// what instruments write: a whole number up to 2⁵³ divided by a power of ten up to 10²². Both are exact doubles and
/// IEEE 754 division rounds once, so the result is the nearest double (Clinger 1990, "How to read floating point
/// numbers accurately"). Everything else goes to the library.
/// </summary>
internal static class DecimalText
{
    private const ulong LargestExact = 1UL << 53;

    private static readonly double[] PowersOfTen =
    [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
        1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
    ];

    /// <summary>
    /// Reads a plain decimal (sign, digits, point, digits) at <paramref name="position"/> and moves the position behind
    /// it. False, with the position unmoved, where the text is anything else; the caller then looks at the whole cell.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static bool TryReadPlain(ReadOnlySpan<byte> text, ref int position, out double value)
    {
        int i = position;
        bool negative = i < text.Length && text[i] == (byte)'-';
        if (negative)
        {
            i++;
        }

        ulong mantissa = 0;
        int first = i;
        while (i < text.Length && (uint)(text[i] - '0') <= 9)
        {
            mantissa = (mantissa * 10) + (uint)(text[i] - '0');
            i++;
        }

        int digits = i - first;
        int decimals = 0;
        if (i < text.Length && text[i] == (byte)'.')
        {
            i++;
            int afterPoint = i;
            while (i < text.Length && (uint)(text[i] - '0') <= 9)
            {
                mantissa = (mantissa * 10) + (uint)(text[i] - '0');
                i++;
            }

            decimals = i - afterPoint;
            digits += decimals;
        }

        // 18 digits can't overflow the mantissa; more are for the library.
        if (digits is 0 or > 18 || mantissa > LargestExact)
        {
            value = 0;
            return false;
        }

        double magnitude = mantissa / PowersOfTen[decimals];
        value = negative ? -magnitude : magnitude;
        position = i;
        return true;
    }

    /// <summary>Reads a whole cell. Infinite for a number too large, as the library has it; NaN for the word.</summary>
    public static bool TryParse(ReadOnlySpan<byte> cell, out double value)
    {
        int position = 0;
        if (TryReadPlain(cell, ref position, out value) && position == cell.Length)
        {
            return true;
        }

        return double.TryParse(cell, NumberStyles.Float, CultureInfo.InvariantCulture, out value)
            || IsWordForInfinity(cell, out value);
    }

    // The library knows "Infinity" and "∞"; other tools write these.
    private static bool IsWordForInfinity(ReadOnlySpan<byte> cell, out double value)
    {
        bool negative = cell.Length > 0 && cell[0] == (byte)'-';
        ReadOnlySpan<byte> word = negative || (cell.Length > 0 && cell[0] == (byte)'+') ? cell[1..] : cell;
        value = negative ? double.NegativeInfinity : double.PositiveInfinity;
        return System.Text.Ascii.EqualsIgnoreCase(word, "inf"u8);
    }
}
