using DriftWatch.Storage.Codec;

namespace DriftWatch.Storage.Months;

/// <summary>
/// Count, least, greatest and sum of a channel's values in even buckets of engine time, with the count of faults. Raw
/// units. Late readings are not in here: a reader adds them from their own rows.
/// </summary>
/// <remarks>
/// Layout: bucket numbers; counts; faults; then, of the buckets with values, byte form and least, greatest less least,
/// and sum less count times least as whole numbers; or 255 and the three as doubles.
/// </remarks>
internal sealed class RollupColumn
{
    public const int Seconds = 0;
    public const int Minutes = 1;
    public const int Hours = 2;

    /// <summary>A rollup of so few values a bucket would be larger than what it sums up.</summary>
    private const int LeastValuesInBucket = 4;

    private const byte Apart = 255;
    private const int Exact = 32; // forms below it are decimals whose sums are decimals too

    public static readonly IReadOnlyList<long> Widths = [1_000_000_000, 60_000_000_000, 3_600_000_000_000];

    private RollupColumn(int level, int channel, int version, int count)
    {
        Level = level;
        Channel = channel;
        Version = version;
        Count = count;
        Bucket = new long[count];
        Values = new long[count];
        Faults = new long[count];
        Minimum = new double[count];
        Maximum = new double[count];
        Sum = new double[count];
    }

    public int Level { get; }

    public int Channel { get; }

    public int Version { get; }

    public int Count { get; private set; }

    /// <summary>The bucket's start is this number times its width.</summary>
    public long[] Bucket { get; }

    public long[] Values { get; }

    public long[] Faults { get; }

    public double[] Minimum { get; }

    public double[] Maximum { get; }

    public double[] Sum { get; }

    private int Form { get; set; } = -1;

    public static IEnumerable<RollupColumn> Build(SegmentData data)
    {
        foreach (SeriesColumn column in data.Series)
        {
            var values = new List<double>(column.Count);
            for (int i = 0; i < column.Count; i++)
            {
                if (column.Marks[i] < SeriesColumn.Fault)
                {
                    values.Add(column.Raw[i]);
                }
            }

            int form = ValueColumn.Scale(values.ToArray(), Scratch.Numbers(values.Count));
            for (int level = Seconds; level <= Hours; level++)
            {
                RollupColumn rollup = Of(column, level, form);
                if (level > Seconds || column.Count >= LeastValuesInBucket * rollup.Count)
                {
                    yield return rollup;
                }
            }
        }
    }

    public void Write(ByteWriter writer)
    {
        var numbers = new long[Count];
        for (int i = 0; i < Count; i++)
        {
            numbers[i] = Bucket[i] - Bucket[0] - i;
        }

        writer.Signed(Bucket[0]);
        IntColumn.Write(writer, numbers);
        IntColumn.Write(writer, Values.AsSpan(0, Count));
        IntColumn.Write(writer, Faults.AsSpan(0, Count));
        int some = Compact(out double[] minimum, out double[] maximum, out double[] sum, out long[] values);
        if (some == 0)
        {
            return;
        }

        var low = new long[some];
        var high = new long[some];
        var total = new long[some];
        if (Form is < 0 or >= Exact || !ValueColumn.TryScale(minimum, low, Form) || !ValueColumn.TryScale(maximum, high, Form)
            || !ValueColumn.TryScale(sum, total, Form))
        {
            writer.Byte(Apart);
            ValueColumn.Write(writer, minimum);
            ValueColumn.Write(writer, maximum);
            ValueColumn.Write(writer, sum);
            return;
        }

        for (int i = 0; i < some; i++)
        {
            high[i] -= low[i];
            total[i] -= values[i] * low[i];
        }

        writer.Byte((byte)Form);
        IntColumn.Write(writer, low);
        IntColumn.Write(writer, high);
        IntColumn.Write(writer, total);
    }

    public static RollupColumn Read(ReadOnlySpan<byte> body, int level, int channel, int version, int count)
    {
        var rollup = new RollupColumn(level, channel, version, count);
        var reader = new ByteReader(body);
        long first = reader.Signed();
        IntColumn.Read(ref reader, rollup.Bucket);
        IntColumn.Read(ref reader, rollup.Values);
        IntColumn.Read(ref reader, rollup.Faults);
        int some = 0;
        for (int i = 0; i < count; i++)
        {
            rollup.Bucket[i] += first + i;
            some += rollup.Values[i] > 0 ? 1 : 0;
        }

        if (some == 0)
        {
            return rollup;
        }

        var low = new double[some];
        var high = new double[some];
        var total = new double[some];
        byte form = reader.Byte();
        if (form == Apart)
        {
            ValueColumn.Read(ref reader, low);
            ValueColumn.Read(ref reader, high);
            ValueColumn.Read(ref reader, total);
        }
        else
        {
            ValueColumn.CheckForm(form);
            var numbers = new long[some];
            var distance = new long[some];
            var over = new long[some];
            IntColumn.Read(ref reader, numbers);
            IntColumn.Read(ref reader, distance);
            IntColumn.Read(ref reader, over);
            for (int i = 0, at = 0; i < count; i++)
            {
                if (rollup.Values[i] > 0)
                {
                    low[at] = ValueColumn.Unscale(form, numbers[at]);
                    high[at] = ValueColumn.Unscale(form, numbers[at] + distance[at]);
                    total[at] = ValueColumn.Unscale(form, over[at] + (rollup.Values[i] * numbers[at]));
                    at++;
                }
            }
        }

        for (int i = 0, at = 0; i < count; i++)
        {
            if (rollup.Values[i] > 0)
            {
                rollup.Minimum[i] = low[at];
                rollup.Maximum[i] = high[at];
                rollup.Sum[i] = total[at++];
            }
        }

        return rollup;
    }

    private static RollupColumn Of(SeriesColumn column, int level, int form)
    {
        long width = Widths[level];
        int count = 0;
        long before = long.MinValue;
        for (int i = 0; i < column.Count; i++)
        {
            long bucket = FloorDivide(column.Times[i], width);
            count += bucket != before ? 1 : 0;
            before = bucket;
        }

        var rollup = new RollupColumn(level, column.Channel, column.Version, count) { Form = form };
        int at = -1;
        for (int i = 0; i < column.Count; i++)
        {
            long bucket = FloorDivide(column.Times[i], width);
            if (at < 0 || rollup.Bucket[at] != bucket)
            {
                at++;
                rollup.Bucket[at] = bucket;
                rollup.Minimum[at] = double.PositiveInfinity;
                rollup.Maximum[at] = double.NegativeInfinity;
            }

            if (column.Marks[i] >= SeriesColumn.Fault)
            {
                rollup.Faults[at]++;
                continue;
            }

            bool extremes = column.Marks[i] == SeriesColumn.WithExtremes;
            rollup.Values[at]++;
            rollup.Sum[at] += column.Raw[i];
            rollup.Minimum[at] = Math.Min(rollup.Minimum[at], extremes ? column.Minimum[i] : column.Raw[i]);
            rollup.Maximum[at] = Math.Max(rollup.Maximum[at], extremes ? column.Maximum[i] : column.Raw[i]);
        }

        if (form is >= 0 and < Exact)
        {
            rollup.RoundSums(form);
        }

        return rollup;
    }

    /// <summary>The sum of decimals is a decimal; what floating addition put behind its last place is taken off again.</summary>
    private void RoundSums(int form)
    {
        for (int i = 0; i < Count; i++)
        {
            double scaled = Math.Round(Sum[i] * Math.Pow(10, form));
            if (Math.Abs(scaled) < IntColumn.Limit)
            {
                Sum[i] = ValueColumn.Unscale(form, (long)scaled);
            }
        }
    }

    private int Compact(out double[] minimum, out double[] maximum, out double[] sum, out long[] values)
    {
        int some = 0;
        for (int i = 0; i < Count; i++)
        {
            some += Values[i] > 0 ? 1 : 0;
        }

        minimum = new double[some];
        maximum = new double[some];
        sum = new double[some];
        values = new long[some];
        int at = 0;
        for (int i = 0; i < Count; i++)
        {
            if (Values[i] > 0)
            {
                minimum[at] = Minimum[i];
                maximum[at] = Maximum[i];
                sum[at] = Sum[i];
                values[at++] = Values[i];
            }
        }

        return some;
    }

    public static long FloorDivide(long value, long divisor) =>
        (value / divisor) - (value % divisor < 0 ? 1 : 0);
}
