using DriftWatch.Measurement.Inputs;
using DriftWatch.Storage.Mirror;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Mirror;

/// <summary>Lines of a stretch of the log, ready to be sent.</summary>
/// <param name="After">The input before the stretch.</param>
/// <param name="Through">Its last input.</param>
/// <param name="Text">Its lines.</param>
/// <param name="Lines">How many; none where the stretch holds no reading.</param>
/// <param name="FirstUtcMilliseconds">Of its first reading.</param>
/// <param name="LastUtcMilliseconds">Of its last.</param>
internal sealed record Batch(long After, long Through, string Text, int Lines, long FirstUtcMilliseconds, long LastUtcMilliseconds);

/// <summary>
/// Reads a bench's store from any number on and makes batches of lines. It reads on connections of its own, so neither the writer nor the
/// page waits for it; as long as it is asked for what follows, no part of the store is read twice.
/// </summary>
/// <param name="folder">Of the store.</param>
/// <param name="make">Makes the lines; told whether the log's beginning is read.</param>
internal sealed class LogCursor(string folder, Func<bool, ILogLines> make) : IDisposable
{
    private readonly LineText _text = new();
    private BenchReader? _reader;
    private IEnumerator<EngineInput>? _inputs;
    private ILogLines? _lines;
    private long _at = -1; // the last input that was read
    private long _told = -1; // the last of the batch before
    private long _firstUtc;
    private long _lastUtc;

    /// <summary>Inputs that were gone, by retention, before they could be sent.</summary>
    public long Expired { get; private set; }

    /// <summary>Whether lines of the stretch wait for readings that are still to come.</summary>
    public bool IsWaiting { get; private set; }

    /// <summary>The next batch after a number; null where the log ends, or has no lines yet that are complete.</summary>
    /// <param name="after">A number of the log, 0 for its beginning; that of the batch before goes on from there, another begins anew.</param>
    /// <param name="through">The last number wanted.</param>
    /// <param name="mostLines">How many lines at most, or a few more.</param>
    /// <param name="each">Told of each reading: number of its input and milliseconds since 1970.</param>
    /// <param name="clock">Told of each thing that happened to the clock, in its place among them.</param>
    /// <exception cref="Storage.StoreException">The store can't be read there.</exception>
    public Batch? Read(long after, long through, int mostLines, Action<long, long>? each = null, Action<ClockEventKind>? clock = null)
    {
        if (after != _told)
        {
            Leave();
            _text.Take();
            _lines = null;
            (_at, _told) = (after, after);
        }

        IsWaiting = false;
        long taken = after;
        try
        {
            while ((_text.Lines < mostLines || taken <= after) && taken < through && Next() is { } input)
            {
                if (input.Number > through)
                {
                    _lines!.Close(input);
                }

                if (!_lines!.IsClosed)
                {
                    Take(input, each, clock);
                }

                taken = _lines.IsClosed ? through : Math.Max(after, _lines.Resume(_at));
            }
        }
        catch
        {
            _text.Take();
            Leave();
            (_lines, _at, _told) = (null, -1, -1);
            throw;
        }

        if (taken <= after)
        {
            IsWaiting = _lines?.Waits == true;
            return null;
        }

        _told = taken;
        if (_lines?.IsClosed == true)
        {
            Leave(); // what follows is begun anew
            (_lines, _at) = (null, taken);
        }

        int lines = _text.Lines;
        return new Batch(after, taken, _text.Take(), lines, _firstUtc, _lastUtc);
    }

    public void Dispose()
    {
        Leave();
        _reader?.Dispose();
    }

    private void Take(in EngineInput input, Action<long, long>? each, Action<ClockEventKind>? clock)
    {
        _at = input.Number;
        if (input.Kind == InputKind.Clock)
        {
            clock?.Invoke(input.ClockEvent.Kind);
        }

        bool isFirst = _text.Lines == 0;
        _lines!.Write(input, _text, each);
        if (_text.Lines > 0)
        {
            _lastUtc = _lines.LastUtcMilliseconds;
            _firstUtc = isFirst ? _lastUtc : _firstUtc;
        }
    }

    private EngineInput? Next()
    {
        _reader ??= new BenchReader(folder);
        if (_inputs is null)
        {
            long gone = _lines is null ? _reader.ExpiredThrough() : 0;
            if (gone > _at)
            {
                Expired += _at > 0 ? gone - _at : 0; // what was gone before the mirror was set up it never had to have
                _at = gone;
            }

            _inputs = _reader.ReadInputs(_at).GetEnumerator();
        }

        if (!_inputs.MoveNext())
        {
            Leave(); // the log's end of this moment
            return null;
        }

        EngineInput input = _inputs.Current;
        if (_lines is null)
        {
            _lines = make(_at == 0);
            _lines.BeginAt(input, _reader);
        }

        return input;
    }

    private void Leave()
    {
        _inputs?.Dispose();
        _inputs = null;
    }
}
