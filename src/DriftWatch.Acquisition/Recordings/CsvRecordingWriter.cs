using System.Buffers;
using System.Buffers.Text;
using System.Globalization;
using System.IO.Compression;
using System.Text;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>One column to be written: a channel's id, and the step to which its values are rounded.</summary>
/// <param name="Name">The heading; quoted where RFC 4180 asks for it.</param>
/// <param name="Decimals">Decimal places to round to, 0 to 15; null writes the shortest text that reads back equal.</param>
public sealed record CsvWriterColumn(string Name, int? Decimals = null)
{
    /// <summary>Decimal places that show a resolution in full: 2 for 0.05 and for 0.01, 0 for 1 and for 10.</summary>
    public static int DecimalsFor(double resolution)
    {
        int decimals = 0;
        for (double step = Math.Abs(resolution); decimals < 15 && Math.Abs(step - Math.Round(step)) > 1e-9 * Math.Max(1, step); step *= 10)
        {
            decimals++;
        }

        return decimals;
    }
}

/// <summary>
/// Writes a CSV recording, compressed where the name ends in <c>.gz</c>. The file appears whole or not at all: rows go
/// to a temporary file beside it that takes its name in <see cref="Complete"/>; a writer disposed without that leaves
/// nothing behind. Cells are set one by one, then the row is written; a cell not set is empty.
/// </summary>
public sealed class CsvRecordingWriter : IDisposable
{
    private readonly AtomicTextFile _file;
    private readonly CsvWriterColumn[] _columns;
    private readonly CsvCell[] _cells;
    private readonly StandardFormat?[] _formats;

    /// <exception cref="IOException">The file can't be made.</exception>
    public CsvRecordingWriter(string path, IReadOnlyList<CsvWriterColumn> columns)
    {
        _columns = [.. columns];
        _cells = new CsvCell[_columns.Length];
        _formats = [.. _columns.Select(c => c.Decimals is { } d ? new StandardFormat('F', (byte)d) : (StandardFormat?)null)];
        _file = new AtomicTextFile(path);
        _file.Write("time"u8);
        foreach (CsvWriterColumn column in _columns)
        {
            _file.Write(","u8);
            _file.Write(Encoding.UTF8.GetBytes(Quote(column.Name)));
        }

        _file.Write("\r\n"u8);
    }

    public long Rows { get; private set; }

    public void Set(int column, double value)
    {
        if (!double.IsFinite(value))
        {
            throw new ArgumentOutOfRangeException(nameof(value), value, "A cell holds a finite number; anything else is a fault.");
        }

        _cells[column] = CsvCell.Of(value);
    }

    public void Set(int column, FaultCode fault) => _cells[column] = CsvCell.Failed(fault);

    /// <summary>Writes the cells set since the last row and clears them.</summary>
    public void WriteRow(long utcNanoseconds)
    {
        Span<byte> text = stackalloc byte[400]; // the longest double in 'F' with 15 places has 309 + 17 characters
        _file.WriteTime(utcNanoseconds);
        for (int i = 0; i < _cells.Length; i++)
        {
            text[0] = (byte)',';
            int length = 1;
            ref CsvCell cell = ref _cells[i];
            if (cell.Kind == CsvCellKind.Value)
            {
                length += CsvNumber.Format(cell.Value, _formats[i], text[1..]);
            }
            else if (cell.Kind == CsvCellKind.Fault)
            {
                text[1] = (byte)'!';
                length += 1 + Encoding.ASCII.GetBytes(cell.Fault.ToSlug(), text[2..]);
            }

            cell = default;
            _file.Write(text[..length]);
        }

        _file.Write("\r\n"u8);
        Rows++;
    }

    /// <summary>Flushes to the disk and gives the file its name.</summary>
    public void Complete() => _file.Complete();

    public void Dispose() => _file.Dispose();

    /// <summary>Quotes after RFC 4180 where commas, quotes, line breaks or outer blanks ask for it.</summary>
    internal static string Quote(string text) =>
        text.AsSpan().ContainsAny(",\"\r\n") || (text.Length > 0 && (text[0] == ' ' || text[^1] == ' '))
            ? '"' + text.Replace("\"", "\"\"", StringComparison.Ordinal) + '"'
            : text;
}

/// <summary>Writes the side file of a frame channel; appears whole or not at all, as the recording itself.</summary>
public sealed class FrameCsvWriter : IDisposable
{
    private readonly AtomicTextFile _file;
    private readonly byte[][] _axis;

    public FrameCsvWriter(string path, Measurement.Channels.FrameAxis axis)
    {
        _axis = [.. Enumerable.Range(0, axis.Count).Select(i => Encoding.ASCII.GetBytes(
            string.Create(CultureInfo.InvariantCulture, $",{axis.Heads[i]},{axis.AnglesDegrees[i]:R},")))];
        _file = new AtomicTextFile(path);
        _file.Write("time,sequence,tach,head,angle,value\r\n"u8);
    }

    /// <summary>Writes a frame; numbers in the shortest form that reads back equal.</summary>
    public void Write(long utcNanoseconds, uint sequence, double tachAngleDegrees, ReadOnlySpan<double> values)
    {
        if (values.Length != _axis.Length)
        {
            throw new ArgumentException($"The frame has {values.Length} points where the axis has {_axis.Length}.", nameof(values));
        }

        Span<byte> text = stackalloc byte[40];
        byte[] head = Encoding.ASCII.GetBytes(string.Create(CultureInfo.InvariantCulture, $",{sequence},{tachAngleDegrees:R}"));
        for (int i = 0; i < values.Length; i++)
        {
            _file.WriteTime(utcNanoseconds);
            _file.Write(head);
            _file.Write(_axis[i]);
            _file.Write(text[..CsvNumber.Format(values[i], null, text)]);
            _file.Write("\r\n"u8);
        }
    }

    public void Complete() => _file.Complete();

    public void Dispose() => _file.Dispose();
}

internal static class CsvNumber
{
    /// <summary>Writes a number; with places, trailing zeros are dropped since they say nothing.</summary>
    public static int Format(double value, StandardFormat? places, Span<byte> text)
    {
        int length;
        if (places is { } format)
        {
            Utf8Formatter.TryFormat(value, text, out length, format);
            if (format.Precision > 0)
            {
                while (text[length - 1] == (byte)'0')
                {
                    length--;
                }

                if (text[length - 1] == (byte)'.')
                {
                    length--;
                }
            }

            if (length == 2 && text[0] == (byte)'-' && text[1] == (byte)'0')
            {
                text[0] = (byte)'0'; // rounded away: a sign on nothing misleads
                length = 1;
            }

            return length;
        }

        value.TryFormat(text, out length, "R", CultureInfo.InvariantCulture);
        return length;
    }
}

/// <summary>A text file that appears whole or not at all.</summary>
internal sealed class AtomicTextFile : IDisposable
{
    private readonly string _path;
    private readonly string _temporary;
    private readonly FileStream _disk;
    private readonly Stream _stream;
    private bool _isOpen = true;
    private long _day = long.MinValue;
    private readonly byte[] _time = new byte[24];

    public AtomicTextFile(string path)
    {
        _path = path;
        _temporary = path + ".part";
        _disk = new FileStream(_temporary, FileMode.Create, FileAccess.Write, FileShare.None, 1 << 16);
        _stream = path.EndsWith(".gz", StringComparison.OrdinalIgnoreCase)
            ? new BufferedStream(new GZipStream(_disk, CompressionLevel.Optimal), 1 << 16)
            : new BufferedStream(_disk, 1 << 16);
    }

    public void Write(ReadOnlySpan<byte> bytes) => _stream.Write(bytes);

    /// <summary>RFC 3339 with milliseconds, floored.</summary>
    public void WriteTime(long utcNanoseconds)
    {
        const long NanosecondsPerDay = 86_400 * EngineTime.NanosecondsPerSecond;
        long day = Math.DivRem(utcNanoseconds, NanosecondsPerDay, out long rest);
        if (rest < 0)
        {
            (day, rest) = (day - 1, rest + NanosecondsPerDay);
        }

        if (day != _day)
        {
            Encoding.ASCII.GetBytes(UtcText.FromNanoseconds(day * NanosecondsPerDay), _time);
            _day = day;
        }

        int milliseconds = (int)(rest / EngineTime.NanosecondsPerMillisecond);
        Digits(11, 2, milliseconds / 3_600_000);
        Digits(14, 2, milliseconds / 60_000 % 60);
        Digits(17, 2, milliseconds / 1000 % 60);
        Digits(20, 3, milliseconds % 1000);
        _stream.Write(_time);
    }

    public void Complete()
    {
        _stream.Flush();
        if (_path.EndsWith(".gz", StringComparison.OrdinalIgnoreCase))
        {
            _stream.Dispose(); // writes the gzip trailer, and closes the file
            using FileStream again = new(_temporary, FileMode.Open, FileAccess.ReadWrite, FileShare.None);
            again.Flush(flushToDisk: true);
        }
        else
        {
            _disk.Flush(flushToDisk: true);
            _stream.Dispose();
        }

        _isOpen = false;
        File.Move(_temporary, _path, overwrite: true);
    }

    public void Dispose()
    {
        if (!_isOpen)
        {
            return;
        }

        _isOpen = false;
        _stream.Dispose();
        _disk.Dispose();
        File.Delete(_temporary);
    }

    private void Digits(int at, int count, int value)
    {
        for (int i = at + count - 1; i >= at; i--)
        {
            _time[i] = (byte)('0' + (value % 10));
            value /= 10;
        }
    }
}
