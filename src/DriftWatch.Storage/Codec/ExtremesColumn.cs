namespace DriftWatch.Storage.Codec;

/// <summary>
/// The least and greatest inside each period, as their distance from the value: small whole numbers where all three
/// columns are decimals of as many places, else the bits that differ from the value.
/// </summary>
/// <remarks>Layout: byte form as in <see cref="ValueColumn"/> (255 bits); then minimum and maximum as <see cref="IntColumn"/>, or as two <see cref="ValueColumn"/>s.</remarks>
internal static class ExtremesColumn
{
    private const byte Apart = 255;

    public static void Write(ByteWriter writer, ReadOnlySpan<double> raw, ReadOnlySpan<double> minimum, ReadOnlySpan<double> maximum)
    {
        var value = new long[raw.Length];
        var low = new long[raw.Length];
        var high = new long[raw.Length];
        int form = Math.Max(ValueColumn.Scale(raw, value), Math.Max(ValueColumn.Scale(minimum, low), ValueColumn.Scale(maximum, high)));
        if (form < 0
            || !ValueColumn.TryScale(raw, value, form) || !ValueColumn.TryScale(minimum, low, form) || !ValueColumn.TryScale(maximum, high, form))
        {
            writer.Byte(Apart);
            ValueColumn.Write(writer, minimum);
            ValueColumn.Write(writer, maximum);
            return;
        }

        writer.Byte((byte)form);
        for (int i = 0; i < value.Length; i++)
        {
            low[i] = value[i] - low[i];
            high[i] -= value[i];
        }

        IntColumn.Write(writer, low);
        IntColumn.Write(writer, high);
    }

    public static void Read(ref ByteReader reader, ReadOnlySpan<double> raw, Span<double> minimum, Span<double> maximum)
    {
        byte form = reader.Byte();
        if (form == Apart)
        {
            ValueColumn.Read(ref reader, minimum);
            ValueColumn.Read(ref reader, maximum);
            return;
        }

        ValueColumn.CheckForm(form);
        var value = new long[raw.Length];
        if (!ValueColumn.TryScale(raw, value, form))
        {
            throw StoreException.Damaged("A block's extremes do not agree with its values.");
        }

        Span<long> distance = Scratch.MoreNumbers(raw.Length);
        IntColumn.Read(ref reader, distance);
        for (int i = 0; i < value.Length; i++)
        {
            minimum[i] = ValueColumn.Unscale(form, value[i] - distance[i]);
        }

        IntColumn.Read(ref reader, distance);
        for (int i = 0; i < value.Length; i++)
        {
            maximum[i] = ValueColumn.Unscale(form, value[i] + distance[i]);
        }
    }
}
