namespace DriftWatch.Storage.Codec;

/// <summary>
/// Doubles, bit-exact. An instrument says decimals of a few places, so a block whose every value is
/// <c>round(v·10^k)/10^k</c> to the bit is kept as whole numbers; so is one whose values went through single precision
/// on their way. Anything else is kept as the bits that differ from the value before, bytes of one weight together.
/// </summary>
/// <remarks>Layout: byte form: 0–12 decimal places; 32 + places for single precision; 255 for bits. Then the numbers, or eight planes.</remarks>
internal static class ValueColumn
{
    private const byte Bits = 255;
    private const byte Single = 32;
    private const int MostPlaces = 12;

    private static readonly double[] Powers = [1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12];

    public static void Write(ByteWriter writer, ReadOnlySpan<double> values)
    {
        if (values.Length == 0)
        {
            return;
        }

        Span<long> whole = Scratch.Numbers(values.Length);
        int form = Scale(values, whole);
        if (form >= 0)
        {
            writer.Byte((byte)form);
            IntColumn.Write(writer, whole);
            return;
        }

        writer.Byte(Bits);
        WriteBits(writer, values);
    }

    public static void Read(ref ByteReader reader, Span<double> values)
    {
        if (values.Length == 0)
        {
            return;
        }

        byte form = reader.Byte();
        if (form == Bits)
        {
            ReadBits(ref reader, values);
            return;
        }

        CheckForm(form);
        Span<long> whole = Scratch.Numbers(values.Length);
        IntColumn.Read(ref reader, whole);
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = Unscale(form, whole[i]);
        }
    }

    /// <summary>The form under which every value comes back to the bit, with the whole numbers; −1 when there is none.</summary>
    public static int Scale(ReadOnlySpan<double> values, Span<long> whole)
    {
        int form = ScaleTo(values, whole, 0);
        return form >= 0 ? form : ScaleTo(values, whole, Single);
    }

    public static void CheckForm(byte form)
    {
        if ((form & ~Single) > MostPlaces)
        {
            throw StoreException.Damaged("A block has an unknown form of numbers.");
        }
    }

    public static double Unscale(int form, long whole) =>
        form < Single ? whole / Powers[form] : (float)(whole / Powers[form - Single]);

    /// <summary>True when every value comes back to the bit under the form.</summary>
    public static bool TryScale(ReadOnlySpan<double> values, Span<long> whole, int form)
    {
        for (int i = 0; i < values.Length; i++)
        {
            if (!TryOne(values[i], form, out whole[i]))
            {
                return false;
            }
        }

        return true;
    }

    private static int ScaleTo(ReadOnlySpan<double> values, Span<long> whole, int form)
    {
        int most = form + MostPlaces;
        for (int i = 0; i < values.Length; i++)
        {
            if (TryOne(values[i], form, out whole[i]))
            {
                continue;
            }

            while (!TryOne(values[i], form, out _))
            {
                if (++form > most)
                {
                    return -1;
                }
            }

            i = -1; // those before must hold in the finer form too
        }

        return form;
    }

    private static bool TryOne(double value, int form, out long whole)
    {
        double scaled = Math.Round(value * Powers[form & ~Single]);
        if (!(Math.Abs(scaled) < IntColumn.Limit))
        {
            whole = 0;
            return false;
        }

        whole = (long)scaled;
        return BitConverter.DoubleToInt64Bits(Unscale(form, whole)) == BitConverter.DoubleToInt64Bits(value);
    }

    private static void WriteBits(ByteWriter writer, ReadOnlySpan<double> values)
    {
        for (int plane = 0; plane < sizeof(ulong); plane++)
        {
            Span<byte> bytes = writer.Take(values.Length);
            int shift = plane * 8;
            ulong before = 0;
            for (int i = 0; i < bytes.Length; i++)
            {
                ulong now = BitConverter.DoubleToUInt64Bits(values[i]);
                bytes[i] = (byte)((now ^ before) >> shift);
                before = now;
            }
        }
    }

    private static void ReadBits(ref ByteReader reader, Span<double> values)
    {
        ulong[] bits = Scratch.UnsignedNumbers(values.Length);
        Array.Clear(bits, 0, values.Length);
        for (int plane = 0; plane < sizeof(ulong); plane++)
        {
            ReadOnlySpan<byte> bytes = reader.Take(values.Length);
            int shift = plane * 8;
            for (int i = 0; i < bytes.Length; i++)
            {
                bits[i] |= (ulong)bytes[i] << shift;
            }
        }

        ulong before = 0;
        for (int i = 0; i < values.Length; i++)
        {
            before ^= bits[i];
            values[i] = BitConverter.UInt64BitsToDouble(before);
        }
    }
}
