namespace DriftWatch.Storage.Codec;

/// <summary>
/// Instants as their deviation from an even grid, in the coarsest unit that divides all of them: a channel read every
/// 100 ms costs nearly nothing, a jitter of a millisecond its few bits, a gap one larger step.
/// </summary>
/// <remarks>Layout: first instant (signed varint, ns); byte unit; period (signed varint, units); deviations as <see cref="IntColumn"/>.</remarks>
internal static class TimeColumn
{
    private static readonly long[] Units = [1, 1_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000];

    public static void Write(ByteWriter writer, ReadOnlySpan<long> times)
    {
        if (times.Length == 0)
        {
            return;
        }

        long first = times[0];
        int unit = Units.Length - 1;
        foreach (long time in times)
        {
            while ((time - first) % Units[unit] != 0)
            {
                unit--;
            }
        }

        long size = Units[unit];
        long period = MedianStep(times) / size;
        writer.Signed(first);
        writer.Byte((byte)unit);
        writer.Signed(period);
        Span<long> deviations = Scratch.Numbers(times.Length);
        for (int i = 0; i < times.Length; i++)
        {
            deviations[i] = ((times[i] - first) / size) - (i * period);
        }

        IntColumn.Write(writer, deviations);
    }

    public static void Read(ref ByteReader reader, Span<long> times)
    {
        if (times.Length == 0)
        {
            return;
        }

        long first = reader.Signed();
        int unit = reader.Byte();
        long period = reader.Signed();
        if (unit >= Units.Length)
        {
            throw StoreException.Damaged("A block has an unknown unit of time.");
        }

        IntColumn.Read(ref reader, times);
        for (int i = 0; i < times.Length; i++)
        {
            times[i] = first + ((times[i] + (i * period)) * Units[unit]);
        }
    }

    private static long MedianStep(ReadOnlySpan<long> times)
    {
        int count = Math.Min(times.Length - 1, 63);
        if (count == 0)
        {
            return 0;
        }

        Span<long> steps = stackalloc long[count];
        for (int i = 0; i < count; i++)
        {
            steps[i] = times[i + 1] - times[i];
        }

        steps.Sort();
        return steps[count / 2];
    }
}
