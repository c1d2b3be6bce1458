using System.Text;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Reads the side file of a frame channel: <c>time,sequence,tach,head,angle,value</c>, one row a point, the points of
/// a frame in a row under one time and sequence number. Head and angle must be the channel's axis.
/// </summary>
public sealed class FrameCsvReader : IDisposable
{
    private const string Heading = "time,sequence,tach,head,angle,value";

    /// <summary>How far an angle may lie from the axis: they are written rounded.</summary>
    private const double AngleToleranceDegrees = 0.01;

    private readonly RecordReader _records;
    private readonly FrameAxis? _axis;
    private readonly List<double> _values = [];
    private readonly double[] _numbers = new double[6];
    private TimeText _timeText;
    private bool _hasPoint;
    private long _pointUtc;
    private long _pointLine;

    /// <exception cref="RecordingException">The file is empty or has another heading.</exception>
    public FrameCsvReader(string path, FrameAxis? axis, RecordingNotices? notices = null)
    {
        FileName = path;
        _axis = axis;
        Notices = notices ?? new RecordingNotices();
        _records = new RecordReader(path);
        try
        {
            if (!_records.Read() || !_records.Record.SequenceEqual("time,sequence,tach,head,angle,value"u8))
            {
                throw new RecordingException(path, 1, 1, "the heading is not that of a frame file", $"write '{Heading}' as the first line");
            }
        }
        catch
        {
            _records.Dispose();
            throw;
        }
    }

    public string FileName { get; }

    public RecordingNotices Notices { get; }

    public long UtcNanoseconds { get; private set; }

    /// <summary>Line of the present frame's first point.</summary>
    public long Line { get; private set; }

    public Frame? Frame { get; private set; }

    /// <summary>Steps to the next frame. A last frame with points missing is left out, and a notice says so.</summary>
    public bool Read()
    {
        if (!_hasPoint && !ReadPoint())
        {
            return End();
        }

        UtcNanoseconds = _pointUtc;
        Line = _pointLine;
        double sequence = _numbers[1];
        double tach = _numbers[2];
        _values.Clear();
        do
        {
            CheckAxis();
            _values.Add(_numbers[5]);
            _hasPoint = false;
        }
        while ((_axis is null || _values.Count < _axis.Count)
            && ReadPoint() && _pointUtc == UtcNanoseconds && _numbers[1] == sequence);

        if (_axis is not null && _values.Count < _axis.Count)
        {
            if (!_hasPoint)
            {
                Notices.IsTruncated = true;
                Notices.Add(FileName, Line, $"the last frame has {_values.Count} of {_axis.Count} points and was left out");
                return End();
            }

            throw new RecordingException(
                FileName, Line, 1, $"the frame has {_values.Count} points where the channel's axis has {_axis.Count}",
                "write one row for each point of the axis");
        }

        if (sequence is not (>= 0 and <= uint.MaxValue) || sequence != Math.Floor(sequence))
        {
            throw new RecordingException(FileName, Line, 1, $"{sequence} is no sequence number", "write a whole number from 0 to 4294967295");
        }

        if (tach is not (>= 0 and < 360))
        {
            throw new RecordingException(FileName, Line, 1, $"{tach} is no tach angle", "write degrees from 0 up to, not including, 360");
        }

        Frame = new Frame((uint)sequence, tach, [.. _values]);
        return true;
    }

    public void Dispose() => _records.Dispose();

    private bool End()
    {
        Frame = null;
        if (_records.IsTruncated)
        {
            Notices.IsTruncated = true;
            Notices.Add(FileName, 0, $"{_records.TruncatedBecause}; the frames before that were read");
        }

        return false;
    }

    private void CheckAxis()
    {
        if (_axis is null)
        {
            return;
        }

        int point = _values.Count;
        if (_numbers[3] != _axis.Heads[point] || Math.Abs(_numbers[4] - _axis.AnglesDegrees[point]) > AngleToleranceDegrees)
        {
            throw new RecordingException(
                FileName, _pointLine, 1,
                $"point {point + 1} is head {_numbers[3]} at {_numbers[4]} degrees, where the axis has head {_axis.Heads[point]} at {_axis.AnglesDegrees[point]}",
                "write the points in the order of the channel's axis in the bench file");
        }
    }

    private bool ReadPoint()
    {
        while (_records.Read())
        {
            ReadOnlySpan<byte> record = _records.Record;
            if (record.IsEmpty)
            {
                continue;
            }

            if (!_records.HasLineEnd && _records.IsTruncated)
            {
                return false; // the line the cut fell in
            }

            _pointLine = _records.Line;
            var cells = new RecordCells(record);
            int column = 0;
            while (cells.MoveNext())
            {
                if (column < _numbers.Length)
                {
                    ReadCell(record, cells.Start, cells.Cell, column);
                }

                column++;
            }

            if (column != _numbers.Length)
            {
                if (!_records.HasLineEnd)
                {
                    return false;
                }

                throw new RecordingException(FileName, _pointLine, 1, $"the row has {column} cells where a frame file has {_numbers.Length}", $"write '{Heading}'");
            }

            return _hasPoint = true;
        }

        return false;
    }

    private void ReadCell(ReadOnlySpan<byte> record, int start, ReadOnlySpan<byte> text, int column)
    {
        if (column == 0)
        {
            if (_timeText.TryParse(text, out long utc))
            {
                _pointUtc = new EngineTime(utc).FloorToMillisecond().Nanoseconds;
                return;
            }
        }
        else if (DecimalText.TryParse(text, out double value) && double.IsFinite(value))
        {
            _numbers[column] = value;
            return;
        }
        else if (!_records.HasLineEnd)
        {
            return; // the cut last line: the count of cells tells
        }

        throw new RecordingException(
            FileName, _pointLine, RecordCells.ColumnAt(record, start),
            $"'{Encoding.UTF8.GetString(text)}' is not {(column == 0 ? "a time" : "a finite number")}",
            column == 0 ? "write RFC 3339 in UTC such as 2026-03-01T21:00:00.000Z" : "write a decimal number; a faulty frame is a fault in the main file's column");
    }
}
