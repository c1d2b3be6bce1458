using System.Text;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Reads a plain CSV recording, optionally gzip: a <c>time</c> column (RFC 3339) and a column per channel id in
/// engineering units; an empty cell is no reading, <c>!slug</c> a fault. Rows come one at a time with no allocation.
/// What is wrong beyond repair throws <see cref="RecordingException"/>; what a person should merely know is in
/// <see cref="Notices"/>. Times are given as they stand: making sense of a clock that ran back is
/// <see cref="RecordingInputs"/>' part.
/// </summary>
public sealed class CsvRecordingReader : IDisposable
{
    private readonly RecordReader _records;
    private readonly CsvColumn?[] _columns;
    private readonly int[] _cellOf;
    private readonly CsvCell[] _cells;
    private readonly bool[] _holdsFaultsOnly;
    private readonly int _timeColumn;
    private TimeText _timeText;
    private bool _isFinished;

    /// <exception cref="RecordingException">The file is empty or its heading can't be understood.</exception>
    /// <exception cref="IOException">The file can't be opened.</exception>
    public CsvRecordingReader(string path, CsvRecordingOptions? options = null)
    {
        FileName = path;
        _records = new RecordReader(path);
        try
        {
            _columns = ReadHeading(options ?? new CsvRecordingOptions());
        }
        catch
        {
            _records.Dispose();
            throw;
        }

        _timeColumn = Array.FindIndex(_columns, c => c is null);
        Columns = [.. _columns.Where(c => c is not null).Select(c => c!)];
        _cells = new CsvCell[Columns.Count];
        _cellOf = new int[_columns.Length];
        _holdsFaultsOnly = new bool[_columns.Length];
        int cell = 0;
        for (int i = 0; i < _columns.Length; i++)
        {
            // An ignored column keeps its (empty) cell, so that cells and columns go together.
            int index = _columns[i] is null ? -1 : cell++;
            _cellOf[i] = _columns[i] is { IsIgnored: false } ? index : -1;
            _holdsFaultsOnly[i] = _columns[i] is { HoldsFaultsOnly: true };
        }
    }

    public string FileName { get; }

    /// <summary>The columns but for the time, in the order of the file; one cell each.</summary>
    public IReadOnlyList<CsvColumn> Columns { get; }

    public RecordingNotices Notices { get; } = new();

    /// <summary>The present row's time, floored to the millisecond.</summary>
    public long UtcNanoseconds { get; private set; }

    /// <summary>The present row's cells, one for each of <see cref="Columns"/>; overwritten by the next row.</summary>
    public ReadOnlySpan<CsvCell> Cells => _cells;

    /// <summary>The present row's line in the file, from 1.</summary>
    public long Line => _records.Line;

    public long Rows { get; private set; }

    /// <summary>Bytes of the file taken so far and in all, as they lie on disk, for a progress bar.</summary>
    public long BytesTaken => _records.BytesTaken;

    public long BytesInAll => _records.BytesInAll;

    /// <summary>Steps to the next row; false at the end of the recording.</summary>
    /// <exception cref="RecordingException">The row can't be read; the rows before it stand.</exception>
    public bool ReadRow()
    {
        while (!_isFinished && _records.Read())
        {
            ReadOnlySpan<byte> record = _records.Record;
            if (record.IsEmpty)
            {
                continue; // a blank line says nothing
            }

            if (!_records.HasLineEnd && IsCutShort(record))
            {
                break;
            }

            if (_records.HasQuotes || !TryReadFast(record))
            {
                ReadCarefully(record);
            }

            Rows++;
            return true;
        }

        Finish();
        return false;
    }

    public void Dispose() => _records.Dispose();

    /// <summary>Reads a row of plain decimals, empty cells and faults; false hands any other row to the careful path.</summary>
    private bool TryReadFast(ReadOnlySpan<byte> record)
    {
        int position = 0;
        int column = 0;
        int[] cellOf = _cellOf;
        while (true)
        {
            if (column == cellOf.Length)
            {
                return false;
            }

            int cell = cellOf[column];
            if (cell >= 0 && !_holdsFaultsOnly[column])
            {
                if ((uint)position >= (uint)record.Length || record[position] == (byte)',')
                {
                    _cells[cell] = default;
                }
                else if (DecimalText.TryReadPlain(record, ref position, out double value))
                {
                    _cells[cell] = CsvCell.Of(value);
                }
                else if (!TryReadFault(record, ref position, cell))
                {
                    return false;
                }
            }
            else
            {
                int length = record[position..].IndexOf((byte)',');
                ReadOnlySpan<byte> text = length < 0 ? record[position..] : record.Slice(position, length);
                if (column == _timeColumn && !TryTime(text))
                {
                    return false;
                }

                if (_holdsFaultsOnly[column])
                {
                    if (!text.IsEmpty)
                    {
                        return false; // few, and the careful path tells what is wrong
                    }

                    _cells[cell] = default;
                }

                position += text.Length;
            }

            column++;
            if (position == record.Length)
            {
                return column == cellOf.Length;
            }

            if (record[position] != (byte)',')
            {
                return false;
            }

            position++;
        }
    }

    private bool TryReadFault(ReadOnlySpan<byte> record, ref int position, int cell)
    {
        if (record[position] != (byte)'!')
        {
            return false;
        }

        int length = record[position..].IndexOf((byte)',');
        ReadOnlySpan<byte> text = length < 0 ? record[position..] : record.Slice(position, length);
        if (!TryFault(text[1..], out FaultCode fault))
        {
            return false;
        }

        _cells[cell] = CsvCell.Failed(fault);
        position += text.Length;
        return true;
    }

    /// <summary>Reads any row and says exactly what is wrong with one that can't be read.</summary>
    private void ReadCarefully(ReadOnlySpan<byte> record)
    {
        var cells = new RecordCells(record);
        int column = 0;
        while (cells.MoveNext())
        {
            if (cells.Mistake is { } mistake)
            {
                throw Mistake(record, cells.Start, mistake, "quote the whole cell and double the quotes inside it, as RFC 4180 says");
            }

            if (column < _columns.Length)
            {
                ReadCell(record, cells.Start, cells.Cell, column);
            }

            column++;
        }

        if (column != _columns.Length)
        {
            throw Mistake(
                record, 0,
                $"the row has {column} {(column == 1 ? "cell" : "cells")} where the heading has {_columns.Length}",
                column > _columns.Length
                    ? "write decimal numbers with a point, and quote text that holds a comma"
                    : "leave a cell empty where there is no reading, but keep its comma");
        }
    }

    private void ReadCell(ReadOnlySpan<byte> record, int start, ReadOnlySpan<byte> text, int column)
    {
        if (column == _timeColumn)
        {
            if (!TryTime(text))
            {
                throw Mistake(
                    record, start, $"'{Show(text)}' is not a time",
                    "write RFC 3339 with its offset, in UTC such as 2026-03-01T21:00:00.000Z");
            }

            return;
        }

        int cell = _cellOf[column];
        if (cell < 0)
        {
            return;
        }

        string name = _columns[column]!.Name;
        text = text.Trim((byte)' ');
        if (text.IsEmpty)
        {
            _cells[cell] = default;
        }
        else if (text[0] == (byte)'!')
        {
            if (!TryFault(text[1..], out FaultCode fault))
            {
                string slug = Show(text[1..]);
                throw Mistake(
                    record, start, $"'!{slug}' in column '{name}' is no fault",
                    NearestName.Hint(slug, FaultCodes.All) + "write one of !" + string.Join(", !", FaultCodes.All));
            }

            _cells[cell] = CsvCell.Failed(fault);
        }
        else if (_holdsFaultsOnly[column])
        {
            throw Mistake(
                record, start, $"'{Show(text)}' stands in column '{name}', whose channel holds frames",
                "leave the cell empty or write a fault; frames belong in the side file " + FrameFiles.PathFor(FileName, name));
        }
        else if (!DecimalText.TryParse(text, out double value))
        {
            throw Mistake(
                record, start, $"'{Show(text)}' in column '{name}' is not a number",
                "write a decimal number such as 49.85, nothing where there is no reading, or a fault such as !no-answer");
        }
        else if (double.IsFinite(value))
        {
            _cells[cell] = CsvCell.Of(value);
        }
        else
        {
            Notices.NotANumberCells++;
            if (Notices.NotANumberCells <= 5)
            {
                Notices.Add(FileName, Line, $"'{Show(text)}' in column '{name}' is no finite number; it is taken as the fault !not-a-number");
            }

            _cells[cell] = CsvCell.Failed(FaultCode.NotANumber);
        }
    }

    private bool TryTime(ReadOnlySpan<byte> text)
    {
        if (!_timeText.TryParse(text, out long nanoseconds))
        {
            return false;
        }

        UtcNanoseconds = new EngineTime(nanoseconds).FloorToMillisecond().Nanoseconds;
        return true;
    }

    private static bool TryFault(ReadOnlySpan<byte> slug, out FaultCode fault)
    {
        Span<char> characters = stackalloc char[32];
        if (slug.Length > characters.Length)
        {
            fault = FaultCode.Missing;
            return false;
        }

        int length = Encoding.Latin1.GetChars(slug, characters);
        return FaultCodes.TryParse(characters[..length], out fault);
    }

    /// <summary>
    /// A last line with no line end is whole where it has all its cells, since RFC 4180 leaves the last line end out;
    /// but not in a compressed stream known to be cut, and never with cells missing.
    /// </summary>
    private bool IsCutShort(ReadOnlySpan<byte> record)
    {
        int cells = 0;
        var walk = new RecordCells(record);
        bool isMalformed = false;
        while (walk.MoveNext())
        {
            cells++;
            isMalformed |= walk.Mistake is not null;
        }

        if (isMalformed && record.Contains((byte)'\n'))
        {
            throw Mistake(record, walk.Start, "a quote is opened and never closed", "close the quote; everything behind it was taken as one cell");
        }

        if (_records.IsTruncated || cells < _columns.Length || isMalformed)
        {
            Notices.IsTruncated = true;
            Notices.Add(FileName, Line, "the last line is cut short and was left out; everything before it was read");
            return true;
        }

        Notices.Add(FileName, Line, "the last line has no line end; it was read as whole, but its last value may be cut short");
        return false;
    }

    private void Finish()
    {
        if (_isFinished)
        {
            return;
        }

        _isFinished = true;
        if (_records.IsTruncated)
        {
            Notices.IsTruncated = true;
            Notices.Add(FileName, 0, $"{_records.TruncatedBecause}; the {Rows} rows before that were read");
        }

        if (Notices.NotANumberCells > 5)
        {
            Notices.Add(FileName, 0, $"{Notices.NotANumberCells} cells in all were no finite numbers and were taken as the fault !not-a-number");
        }
    }

    private CsvColumn?[] ReadHeading(CsvRecordingOptions options)
    {
        while (_records.Read())
        {
            ReadOnlySpan<byte> record = _records.Record;
            if (record.IsEmpty)
            {
                continue;
            }

            var headings = new List<(string, int)>();
            var cells = new RecordCells(record);
            while (cells.MoveNext())
            {
                if (cells.Mistake is { } mistake)
                {
                    throw Mistake(record, cells.Start, mistake, "quote the whole cell and double the quotes inside it, as RFC 4180 says");
                }

                headings.Add((Encoding.UTF8.GetString(cells.Cell).Trim(), RecordCells.ColumnAt(record, cells.Start)));
            }

            return CsvHeading.Read(FileName, _records.Line, headings, options, Notices);
        }

        throw new RecordingException(
            FileName, 1, 1,
            _records.IsTruncated ? $"{_records.TruncatedBecause} before its first line" : "the file is empty",
            "a recording begins with a heading line such as 'time,regulated-air'");
    }

    private RecordingException Mistake(ReadOnlySpan<byte> record, int start, string what, string remedy) =>
        new(FileName, Line, RecordCells.ColumnAt(record, start), what, remedy);

    private static string Show(ReadOnlySpan<byte> text)
    {
        string shown = Encoding.UTF8.GetString(text.Length <= 40 ? text : text[..40]);
        return text.Length <= 40 ? shown : shown + "…";
    }
}
