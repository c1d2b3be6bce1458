using System.Buffers.Text;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Scpi;

/// <summary>
/// Numbers as instruments answer them. Grammar: IEEE 488.2, 8.7.2–8.7.4, NR1 (whole), NR2 (with a decimal point), NR3
/// (with an exponent), read with the tolerance that 7.7.2 (NRf) asks of listeners. SCPI-99 volume 1, 7.2.1, gives
/// three values a meaning: 9.91E37 is not a number, ±9.9E37 is infinity.
/// </summary>
public static class ScpiNumber
{
    private const double Infinity = 9.9e37;
    private const double NotANumber = 9.91e37;

    /// <summary>False when the text is no number; units, lists and words are none.</summary>
    public static bool TryParse(ReadOnlySpan<byte> text, out Reading reading)
    {
        reading = default;
        text = text.Trim((byte)' ');
        if (!IsNumber(text) || !Utf8Parser.TryParse(text, out double value, out int used) || used != text.Length)
        {
            return false;
        }

        reading = ReadingOf(value);
        return true;
    }

    private static Reading ReadingOf(double value)
    {
        // Instruments print these with more or fewer digits; nothing real is near.
        if (Math.Abs(value - NotANumber) <= NotANumber * 1e-4)
        {
            return Reading.Failed(FaultCode.NotANumber);
        }

        if (Math.Abs(value) >= Infinity * (1 - 1e-4))
        {
            return Reading.Failed(value > 0 ? FaultCode.OverRange : FaultCode.UnderRange);
        }

        return Reading.Of(value);
    }

    private static bool IsNumber(ReadOnlySpan<byte> text)
    {
        int i = 0;
        Sign(text, ref i);
        int digits = Digits(text, ref i);
        if (i < text.Length && text[i] == '.')
        {
            i++;
            digits += Digits(text, ref i);
        }

        if (digits == 0)
        {
            return false;
        }

        if (i < text.Length && text[i] is (byte)'E' or (byte)'e')
        {
            i++;
            Sign(text, ref i);
            if (Digits(text, ref i) == 0)
            {
                return false;
            }
        }

        return i == text.Length;
    }

    private static void Sign(ReadOnlySpan<byte> text, ref int i)
    {
        if (i < text.Length && text[i] is (byte)'+' or (byte)'-')
        {
            i++;
        }
    }

    private static int Digits(ReadOnlySpan<byte> text, ref int i)
    {
        int start = i;
        while (i < text.Length && text[i] is >= (byte)'0' and <= (byte)'9')
        {
            i++;
        }

        return i - start;
    }
}
