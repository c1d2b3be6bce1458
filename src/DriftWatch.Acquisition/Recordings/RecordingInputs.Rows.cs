using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>Rows: where each lies in engine time, and which two are one.</summary>
public sealed partial class RecordingInputs
{
    /// <summary>Makes the reader's row the present one, joins what belongs to it, and looks one row ahead.</summary>
    private void TakeRow()
    {
        _hasRow = _hasUnread;
        if (!_hasRow)
        {
            return;
        }

        long before = _rowUtc;
        _rowUtc = _reader.UtcNanoseconds;
        _rowLine = _reader.Line;
        _reader.Cells.CopyTo(_row);
        PlaceRow(before);
        try
        {
            while (_hasUnread = _reader.ReadRow())
            {
                if (_reader.UtcNanoseconds != _rowUtc || !TryJoin())
                {
                    break;
                }
            }
        }
        catch (RecordingException failure)
        {
            // The row in hand is sound; it is judged first, then the bad one is reported.
            _hasUnread = false;
            _failure = failure;
        }
    }

    private void PlaceRow(long before)
    {
        long step = _rowUtc - before;
        if (!_isStarted)
        {
            _isStarted = true;
            _rowSteps = false;
            _rowTime = new EngineTime(_rowUtc - _anchor.UtcNanoseconds);
            return;
        }

        _rowRunsBack = step < 0;
        _rowSteps = step is <= 0 or > LongestGapNanoseconds;
        if (!_rowSteps)
        {
            _rowTime = new EngineTime(_rowTime.Nanoseconds + step);
            if (step <= LongestPeriodNanoseconds)
            {
                _periodNanoseconds = step;
            }

            return;
        }

        _rowTime = new EngineTime(_rowTime.Nanoseconds + _periodNanoseconds);
        string from = UtcText.FromNanoseconds(before);
        string to = UtcText.FromNanoseconds(_rowUtc);
        if (step <= 0)
        {
            Notices.StepsBack++;
            Notices.Add(
                _reader.FileName, _rowLine,
                step == 0
                    ? $"the time {to} repeats with other values; the row is kept, one period later, as a step of the wall clock (are fractions of a second missing?)"
                    : $"the time runs back from {from} to {to}; the rows from here on are kept and judged after a step of the wall clock");
        }
        else
        {
            Notices.Add(_reader.FileName, _rowLine, $"the time leaps from {from} to {to}; taken as a step of the wall clock, not as a gap");
        }
    }

    /// <summary>Joins the reader's row into the present one where both have the same time and no cell in common.</summary>
    private bool TryJoin()
    {
        ReadOnlySpan<CsvCell> cells = _reader.Cells;
        _row.CopyTo(_other, 0);
        for (int i = 0; i < cells.Length; i++)
        {
            if (cells[i].Kind == CsvCellKind.Empty)
            {
                continue;
            }

            if (_other[i].Kind != CsvCellKind.Empty)
            {
                return false;
            }

            _other[i] = cells[i];
        }

        (_row, _other) = (_other, _row);
        return true;
    }
}
