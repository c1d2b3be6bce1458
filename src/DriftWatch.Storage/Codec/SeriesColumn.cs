using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage.Codec;

/// <summary>
/// The readings of one channel in order of time, by columns. <see cref="Marks"/> says what an entry is:
/// 0 a value, 1 a value with extremes, 128 + code a fault.
/// </summary>
internal sealed class SeriesColumn(int channel, int version)
{
    public const byte Value = 0;
    public const byte WithExtremes = 1;
    public const byte Fault = 128;

    private const int MostEntries = 1 << 27;

    public int Channel { get; } = channel;

    public int Version { get; } = version;

    public int Count { get; private set; }

    public long[] Times { get; private set; } = [];

    public byte[] Marks { get; private set; } = [];

    public double[] Raw { get; private set; } = [];

    /// <summary>Empty while no entry has extremes; else only filled where one has.</summary>
    public double[] Minimum { get; private set; } = [];

    public double[] Maximum { get; private set; } = [];

    public void Add(in EngineInput input)
    {
        Grow(1);
        int i = Count++;
        Times[i] = input.Time.Nanoseconds;
        if (input.Reading.IsFault)
        {
            Marks[i] = (byte)(Fault + (byte)input.Reading.Fault);
            return;
        }

        Raw[i] = input.Reading.Raw;
        Marks[i] = Value;
        if (input.Reading.HasExtremes)
        {
            Marks[i] = WithExtremes;
            NeedExtremes();
            Minimum[i] = input.Reading.Minimum;
            Maximum[i] = input.Reading.Maximum;
        }
    }

    public void AddRange(SeriesColumn other)
    {
        Grow(other.Count);
        if (other.Minimum.Length > 0)
        {
            NeedExtremes();
            Array.Copy(other.Minimum, 0, Minimum, Count, other.Count);
            Array.Copy(other.Maximum, 0, Maximum, Count, other.Count);
        }

        Array.Copy(other.Times, 0, Times, Count, other.Count);
        Array.Copy(other.Marks, 0, Marks, Count, other.Count);
        Array.Copy(other.Raw, 0, Raw, Count, other.Count);
        Count += other.Count;
    }

    public Reading ReadingAt(int i) => Marks[i] switch
    {
        Value => Reading.Of(Raw[i]),
        WithExtremes => Reading.Of(Raw[i], Minimum[i], Maximum[i]),
        _ => Reading.Failed((FaultCode)(Marks[i] - Fault)),
    };

    public EngineInput InputAt(int i, long number) => new()
    {
        Number = number,
        Time = new EngineTime(Times[i]),
        Kind = Marks[i] < Fault ? InputKind.Sample : InputKind.Fault,
        Channel = Channel,
        Reading = ReadingAt(i),
    };

    /// <summary>Layout: runs of marks (byte mark, varint length); values; then, where there are extremes, byte form, and the two as distances from the value in whole numbers, or as bits.</summary>
    public void Write(ByteWriter writer)
    {
        int values = 0;
        int extremes = 0;
        for (int i = 0; i < Count;)
        {
            byte mark = Marks[i];
            int start = i;
            while (i < Count && Marks[i] == mark)
            {
                i++;
            }

            writer.Byte(mark);
            writer.Unsigned((ulong)(i - start));
            values += mark < Fault ? i - start : 0;
            extremes += mark == WithExtremes ? i - start : 0;
        }

        ReadOnlySpan<double> raw = values == Count ? Raw.AsSpan(0, Count) : Pick(Raw, values, withFaults: false);
        ValueColumn.Write(writer, raw);
        if (extremes > 0)
        {
            ExtremesColumn.Write(
                writer,
                extremes == Count ? Raw.AsSpan(0, Count) : Pick(Raw, extremes, withFaults: false, onlyExtremes: true),
                extremes == Count ? Minimum.AsSpan(0, Count) : Pick(Minimum, extremes, withFaults: false, onlyExtremes: true),
                extremes == Count ? Maximum.AsSpan(0, Count) : Pick(Maximum, extremes, withFaults: false, onlyExtremes: true));
        }
    }

    /// <summary>Reads the columns of <paramref name="count"/> entries; the times are a column of their own.</summary>
    public static SeriesColumn Read(ReadOnlySpan<byte> body, int channel, int version, int count, long[] times)
    {
        if (count is < 0 or > MostEntries || times.Length < count)
        {
            throw StoreException.Damaged("A block's count does not agree with its times.");
        }

        var column = new SeriesColumn(channel, version)
        {
            Count = count,
            Times = times,
            Marks = new byte[count],
            Raw = new double[count],
        };
        var reader = new ByteReader(body);
        int values = 0;
        int extremes = 0;
        for (int i = 0; i < count;)
        {
            byte mark = reader.Byte();
            int run = reader.Count(count - i);
            if (run == 0 || (mark > WithExtremes && mark < Fault))
            {
                throw StoreException.Damaged("A block's runs are not sound.");
            }

            column.Marks.AsSpan(i, run).Fill(mark);
            values += mark < Fault ? run : 0;
            extremes += mark == WithExtremes ? run : 0;
            i += run;
        }

        if (values == count)
        {
            ValueColumn.Read(ref reader, column.Raw);
        }
        else
        {
            var some = new double[values];
            ValueColumn.Read(ref reader, some);
            column.Spread(some, column.Raw, onlyExtremes: false);
        }

        if (extremes > 0)
        {
            column.Minimum = new double[count];
            column.Maximum = new double[count];
            double[] raw = extremes == count ? column.Raw : column.Pick(column.Raw, extremes, withFaults: false, onlyExtremes: true);
            var least = new double[extremes];
            var greatest = new double[extremes];
            ExtremesColumn.Read(ref reader, raw, least, greatest);
            column.Spread(least, column.Minimum, onlyExtremes: true);
            column.Spread(greatest, column.Maximum, onlyExtremes: true);
        }

        return reader.AtEnd ? column : throw StoreException.Damaged("A block is longer than it says.");
    }

    private double[] Pick(double[] from, int count, bool withFaults, bool onlyExtremes = false)
    {
        var some = new double[count];
        int at = 0;
        for (int i = 0; i < Count; i++)
        {
            if (withFaults || (onlyExtremes ? Marks[i] == WithExtremes : Marks[i] < Fault))
            {
                some[at++] = from[i];
            }
        }

        return some;
    }

    private void Spread(double[] some, double[] into, bool onlyExtremes)
    {
        int at = 0;
        for (int i = 0; i < Count; i++)
        {
            if (onlyExtremes ? Marks[i] == WithExtremes : Marks[i] < Fault)
            {
                into[i] = some[at++];
            }
        }
    }

    private void NeedExtremes()
    {
        if (Minimum.Length < Raw.Length)
        {
            Minimum = Resized(Minimum, Raw.Length);
            Maximum = Resized(Maximum, Raw.Length);
        }
    }

    private void Grow(int more)
    {
        if (Count + more <= Raw.Length)
        {
            return;
        }

        int size = Math.Max(Raw.Length * 2, Math.Max(64, Count + more));
        Times = Resized(Times, size);
        Marks = Resized(Marks, size);
        Raw = Resized(Raw, size);
        if (Minimum.Length > 0)
        {
            NeedExtremes();
        }
    }

    private static T[] Resized<T>(T[] array, int size)
    {
        Array.Resize(ref array, size);
        return array;
    }
}
