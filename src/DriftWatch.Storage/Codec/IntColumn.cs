using System.Numerics;

namespace DriftWatch.Storage.Codec;

/// <summary>
/// Whole numbers as the bytes of what a predictor missed them by: neighbours of a measured quantity are near each other,
/// so most bytes are small and a general compressor does the rest. Of four predictors the block takes the one whose
/// misses have the least entropy. Bytes of one weight stand together, so a lone spike costs a little in its own plane only.
/// </summary>
/// <remarks>Layout: byte predictor; base (signed varint); byte width 0–8; width planes of n bytes, lowest first.</remarks>
internal static class IntColumn
{
    private const int Offset = 0;   // x − base, base the least value: noise about a level
    private const int Difference = 1; // x − the one before: a walk
    private const int Quick = 2;    // x − mean of the last few: noise on a slope
    private const int Slow = 3;     // x − mean of the last many: noise on a slow drift
    private const int Predictors = 4;

    /// <summary>Numbers beyond this would overflow the running mean.</summary>
    public const long Limit = 1L << 53;

    private static readonly int[] Shift = [0, 0, 2, 4];

    public static void Write(ByteWriter writer, ReadOnlySpan<long> values)
    {
        if (values.Length == 0)
        {
            return;
        }

        long least = long.MaxValue;
        foreach (long value in values)
        {
            least = Math.Min(least, value);
        }

        int predictor = Choose(values, least);
        long start = predictor == Offset ? least : values[0];
        ulong[] misses = Scratch.UnsignedNumbers(values.Length);
        ulong all = 0;
        var state = new Predictor(predictor, start);
        for (int i = 0; i < values.Length; i++)
        {
            ulong miss = state.Miss(values[i]);
            all |= miss;
            misses[i] = miss;
        }

        int width = (71 - BitOperations.LeadingZeroCount(all)) / 8;
        writer.Byte((byte)predictor);
        writer.Signed(start);
        writer.Byte((byte)width);
        for (int plane = 0; plane < width; plane++)
        {
            Span<byte> bytes = writer.Take(values.Length);
            int shift = plane * 8;
            for (int i = 0; i < bytes.Length; i++)
            {
                bytes[i] = (byte)(misses[i] >> shift);
            }
        }
    }

    public static void Read(ref ByteReader reader, Span<long> values)
    {
        if (values.Length == 0)
        {
            return;
        }

        int predictor = reader.Byte();
        long start = reader.Signed();
        int width = reader.Byte();
        if (predictor >= Predictors || width > sizeof(ulong))
        {
            throw StoreException.Damaged("A block names an unknown predictor.");
        }

        ulong[] misses = Scratch.UnsignedNumbers(values.Length);
        Array.Clear(misses, 0, values.Length);
        for (int plane = 0; plane < width; plane++)
        {
            ReadOnlySpan<byte> bytes = reader.Take(values.Length);
            int shift = plane * 8;
            for (int i = 0; i < bytes.Length; i++)
            {
                misses[i] |= (ulong)bytes[i] << shift;
            }
        }

        var state = new Predictor(predictor, start);
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = state.Value(misses[i]);
        }
    }

    private static int Choose(ReadOnlySpan<long> values, long least)
    {
        int best = Difference;
        double fewest = double.MaxValue;
        Span<int> counts = stackalloc int[256];
        for (int predictor = 0; predictor < Predictors; predictor++)
        {
            counts.Clear();
            long long1 = 0;
            var state = new Predictor(predictor, predictor == Offset ? least : values[0]);
            foreach (long value in values)
            {
                ulong miss = state.Miss(value);
                counts[(byte)miss]++;
                if (miss > 255)
                {
                    long1 += 8 + (64 - BitOperations.LeadingZeroCount(miss >> 8));
                }
            }

            double bits = long1;
            foreach (int count in counts)
            {
                if (count > 0)
                {
                    bits -= count * Math.Log2((double)count / values.Length);
                }
            }

            if (bits < fewest)
            {
                fewest = bits;
                best = predictor;
            }
        }

        return best;
    }

    /// <summary>The predictor's state; writing and reading run the same steps.</summary>
    private struct Predictor(int kind, long start)
    {
        private const int Fraction = 6;
        private readonly int _shift = Shift[kind];
        private long _mean = kind >= Quick ? start << Fraction : start;

        public ulong Miss(long value)
        {
            long expected = kind >= Quick ? _mean >> Fraction : _mean;
            Learn(value);
            return kind == Offset ? (ulong)(value - expected) : ZigZag.Fold(value - expected);
        }

        public long Value(ulong miss)
        {
            long expected = kind >= Quick ? _mean >> Fraction : _mean;
            long value = expected + (kind == Offset ? (long)miss : ZigZag.Unfold(miss));
            Learn(value);
            return value;
        }

        private void Learn(long value)
        {
            if (kind == Difference)
            {
                _mean = value;
            }
            else if (kind >= Quick)
            {
                _mean += ((value << Fraction) - _mean) >> _shift;
            }
        }
    }
}

/// <summary>Arrays used again and again on one thread by the codec.</summary>
internal static class Scratch
{
    [ThreadStatic]
    private static ulong[]? _unsigned;

    [ThreadStatic]
    private static long[]? _signed;

    [ThreadStatic]
    private static long[]? _second;

    public static ulong[] UnsignedNumbers(int count) => Of(ref _unsigned, count);

    public static Span<long> Numbers(int count) => Of(ref _signed, count).AsSpan(0, count);

    public static Span<long> MoreNumbers(int count) => Of(ref _second, count).AsSpan(0, count);

    private static T[] Of<T>(ref T[]? array, int count)
    {
        if (array is null || array.Length < count)
        {
            array = new T[Math.Max(count, (array?.Length ?? 512) * 2)];
        }

        return array;
    }
}
