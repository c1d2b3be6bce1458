using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Turns a CSV recording into the numbered inputs that judgement reads: the clock, the bench, then readings, frames
/// and ticks in the order of judging. Streams; a row costs no allocation.
/// <para>
/// Engine time begins at zero with the first row and follows the recording's own clock. A row that does not lie after
/// the one before it means that the clock was set back: engine time goes on by one period and a
/// <see cref="ClockEventKind.WallStep"/> says so. A leap of more than a week is taken as a clock that was set forward,
/// likewise; anything shorter is a gap, and stays one. Two rows of one time with no channel in common are one row.
/// </para>
/// <para>
/// A CSV recording holds engineering units, so the bench it is judged with converts nothing: every channel's
/// calibration is the identity and its raw-side fault rules are off.
/// </para>
/// </summary>
public sealed partial class RecordingInputs : IDisposable
{
    /// <summary>Source: our own choice; nobody records a gap of a week into one file, and a mistyped year would otherwise make 10⁹ ticks.</summary>
    private const long LongestGapNanoseconds = 7L * 86_400 * EngineTime.NanosecondsPerSecond;

    /// <summary>Row distances beyond this are gaps and tell nothing of the period.</summary>
    private const long LongestPeriodNanoseconds = 10 * EngineTime.NanosecondsPerSecond;

    private readonly CsvRecordingReader _reader;
    private readonly RowColumn[] _columns;
    private readonly List<FrameQueue> _frames = [];
    private readonly Queue<EngineInput> _opening = new();
    private EngineInput[] _batch;
    private int _batchCount;
    private int _batchNext;
    private long _number;
    private TimeAnchor _anchor;
    private long _periodNanoseconds;
    private bool _isStarted;
    private int _stretch;
    private EngineTime _last;
    private EngineTime _closed = new(-EngineTime.NanosecondsPerMillisecond);
    private RecordingException? _failure;
    private EngineTime _nextTick;
    private CsvCell[] _row;
    private CsvCell[] _other;
    private bool _hasRow;
    private bool _hasUnread;
    private bool _rowSteps;
    private bool _rowRunsBack;
    private EngineTime _rowTime;
    private long _rowUtc;
    private long _rowLine;

    /// <exception cref="RecordingException">The recording or a side file can't be understood.</exception>
    /// <exception cref="IOException">A file can't be opened.</exception>
    public RecordingInputs(string path, BenchDefinition bench, bool ignoreUnknownColumns = false)
    {
        Bench = InEngineeringUnits(bench);
        _reader = new CsvRecordingReader(
            path, new CsvRecordingOptions { Channels = Bench.Channels, IgnoreUnknownColumns = ignoreUnknownColumns });
        try
        {
            _columns = RowColumn.Of(_reader.Columns, Bench.Channels);
            _row = new CsvCell[_reader.Columns.Count];
            _other = new CsvCell[_reader.Columns.Count];
            foreach (ChannelDefinition channel in Bench.Channels.Where(c => c.Kind == ChannelKind.Frame).OrderBy(c => c.Key))
            {
                if (FrameFiles.Find(path, channel.Id, channel.Aliases) is { } file)
                {
                    _frames.Add(new FrameQueue(new FrameCsvReader(file, channel.Axis, _reader.Notices), channel.Key));
                }
            }

            _batch = new EngineInput[_columns.Length + _frames.Count + 2];
            _periodNanoseconds = Bench.Channels.Count == 0
                ? EngineTime.TickGridNanoseconds
                : Math.Max(EngineTime.NanosecondsPerMillisecond, Bench.Channels.Min(c => c.Period).Ticks * TimeSpan.NanosecondsPerTick);
            Start();
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    /// <summary>The bench as these inputs carry it: identity calibrations, engineering units throughout.</summary>
    public BenchDefinition Bench { get; }

    /// <summary>Grows while the recording is read.</summary>
    public RecordingNotices Notices => _reader.Notices;

    /// <summary>UTC of the recording's first row or frame.</summary>
    public long FirstUtcNanoseconds { get; private set; }

    public long BytesTaken => _reader.BytesTaken;

    public long BytesInAll => _reader.BytesInAll;

    /// <summary>Channels of the bench for which the recording has neither a column nor a side file.</summary>
    public IReadOnlyList<string> AbsentChannels =>
    [
        .. Bench.Channels
            .Where(c => !_columns.Any(k => k.Key == c.Key) && !_frames.Any(f => f.Channel == c.Key))
            .Select(c => c.Id),
    ];

    /// <summary>A bench whose channels take engineering units as they come.</summary>
    public static BenchDefinition InEngineeringUnits(BenchDefinition bench) => bench with
    {
        Channels =
        [
            .. bench.Channels.Select(channel => channel with
            {
                RawUnit = channel.Unit,
                Calibration = LineCalibration.Identity with { Note = "Recording in engineering units: nothing to convert." },
                Faults = new FaultRules(),
            }),
        ],
    };

    /// <summary>The next input in the order of judging, numbered from 1; false at the end.</summary>
    /// <exception cref="RecordingException">A row can't be read; the inputs before it stand.</exception>
    public bool Next(out EngineInput input)
    {
        if (_batchNext == _batchCount && !Fill())
        {
            input = default;
            return false;
        }

        input = _batch[_batchNext++];
        return true;
    }

    public void Dispose()
    {
        _reader.Dispose();
        foreach (FrameQueue queue in _frames)
        {
            queue.Reader.Dispose();
        }
    }

    private void Start()
    {
        bool hasRow = _reader.ReadRow();
        foreach (FrameQueue queue in _frames)
        {
            queue.Advance();
        }

        long first = hasRow ? _reader.UtcNanoseconds : long.MaxValue;
        foreach (FrameQueue queue in _frames.Where(q => q.HasFrame))
        {
            first = Math.Min(first, queue.Reader.UtcNanoseconds);
        }

        if (first == long.MaxValue)
        {
            throw new RecordingException(
                _reader.FileName, 1, 1, "the recording has a heading and no rows", "record at least one row; nothing can be judged without one");
        }

        FirstUtcNanoseconds = first;
        _anchor = new TimeAnchor(default, first);
        _last = default;
        _nextTick = _last.NextTick();
        _opening.Enqueue(EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, _anchor)));
        _opening.Enqueue(EngineInput.OfBench(default, Bench));
        if (hasRow)
        {
            _hasUnread = true;
            TakeRow();
        }
    }

    /// <summary>Makes the inputs of the next instant; false when there are none.</summary>
    private bool Fill()
    {
        _batchCount = 0;
        _batchNext = 0;
        while (_opening.TryDequeue(out EngineInput input))
        {
            Add(input);
        }

        if (_batchCount > 0)
        {
            return true;
        }

        if (!_hasRow && _failure is not null)
        {
            throw _failure;
        }

        EngineTime next = EngineTime.MaxValue;
        if (_hasRow)
        {
            next = _rowTime;
        }

        foreach (FrameQueue queue in _frames)
        {
            if (TimeOf(queue) is { } frameTime && frameTime < next)
            {
                next = frameTime;
            }
        }

        if (_nextTick < next)
        {
            // Past the end one more tick closes the last instant.
            if (next == EngineTime.MaxValue && _last <= _nextTick - TimeSpan.FromMilliseconds(100))
            {
                return false;
            }

            AddTick();
            return true;
        }

        _last = next;
        bool hasFaults = false;
        if (_hasRow && _rowTime == next)
        {
            hasFaults = AddSamples(next);
        }

        if (hasFaults)
        {
            AddFaults(next);
        }

        AddFrames(next);
        _closed = next;
        if (_hasRow && _rowTime == next)
        {
            TakeRow();
        }

        if (_nextTick == next)
        {
            AddTick();
        }

        return _batchCount > 0 || Fill();
    }

    private bool AddSamples(EngineTime time)
    {
        if (_rowSteps)
        {
            long due = _anchor.UtcNanoseconds + (time.Nanoseconds - _anchor.Engine.Nanoseconds);
            _anchor = new TimeAnchor(time, _rowUtc);
            _stretch += _rowRunsBack ? 1 : 0;
            Add(EngineInput.OfClock(time, new ClockEvent(ClockEventKind.WallStep, _anchor) { StepNanoseconds = _rowUtc - due }));
        }

        bool hasFaults = false;
        foreach (ref readonly RowColumn column in _columns.AsSpan())
        {
            ref readonly CsvCell cell = ref _row[column.Cell];
            if (cell.Kind == CsvCellKind.Value)
            {
                Add(new EngineInput { Time = time, Kind = InputKind.Sample, Channel = column.Key, Reading = ReadingOf(column, cell.Value) });
            }
            else
            {
                hasFaults |= cell.Kind == CsvCellKind.Fault;
            }
        }

        return hasFaults;
    }

    private Reading ReadingOf(in RowColumn column, double value)
    {
        if (column.MinimumCell < 0 && column.MaximumCell < 0)
        {
            return Reading.Of(value);
        }

        double minimum = column.MinimumCell >= 0 && _row[column.MinimumCell] is { Kind: CsvCellKind.Value } low ? low.Value : value;
        double maximum = column.MaximumCell >= 0 && _row[column.MaximumCell] is { Kind: CsvCellKind.Value } high ? high.Value : value;

        // Written rounded, an extreme can fall short of the value by half a digit.
        return Reading.Of(value, Math.Min(minimum, value), Math.Max(maximum, value));
    }

    private void AddFaults(EngineTime time)
    {
        foreach (ref readonly RowColumn column in _columns.AsSpan())
        {
            ref readonly CsvCell cell = ref _row[column.Cell];
            if (cell.Kind == CsvCellKind.Fault)
            {
                Add(EngineInput.OfReading(time, column.Key, Reading.Failed(cell.Fault)));
            }
        }
    }

    private void AddFrames(EngineTime time)
    {
        foreach (FrameQueue queue in _frames)
        {
            if (TimeOf(queue) is { } frameTime && frameTime <= time)
            {
                Add(EngineInput.OfFrame(time, queue.Channel, queue.Reader.Frame!));
                queue.LastTime = time;
                queue.Advance();
            }
        }
    }

    private void AddTick()
    {
        Add(EngineInput.OfTick(_nextTick));
        _nextTick = _nextTick.NextTick();
    }

    private void Add(in EngineInput input)
    {
        if (_batchCount == _batch.Length)
        {
            Array.Resize(ref _batch, _batch.Length * 2);
        }

        _batch[_batchCount++] = input with { Number = ++_number };
    }

    /// <summary>When a queue's frame is due, or null while it belongs to a stretch of the clock that has not begun.</summary>
    private EngineTime? TimeOf(FrameQueue queue)
    {
        if (!queue.HasFrame || (queue.Stretch > _stretch && _hasRow))
        {
            return null;
        }

        var time = new EngineTime(_anchor.Engine.Nanoseconds + (queue.Reader.UtcNanoseconds - _anchor.UtcNanoseconds));
        if (queue.Stretch < _stretch || time <= _closed)
        {
            time = _closed + TimeSpan.FromMilliseconds(1); // it belongs before what has been judged: said at once
        }

        return time > queue.LastTime ? time : queue.LastTime + TimeSpan.FromMilliseconds(1);
    }
}
