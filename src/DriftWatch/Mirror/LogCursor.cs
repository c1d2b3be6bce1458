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
internal sealed class LogCursor(string folder, IReadOnlyList<(string Name, string? Value)> tags) : IDisposable
{
    private readonly LineText _text = new();
    private BenchReader? _reader;
    private IEnumerator<EngineInput>? _inputs;
    private ReadingLines? _lines;
    private long _at = -1;

    /// <summary>Inputs that were gone, by retention, before they could be sent.</summary>
    public long Expired { get; private set; }

    /// <summary>The next batch after a number; null where the log ends.</summary>
    /// <param name="after">A number of the log, 0 for its beginning.</param>
    /// <param name="through">The last number wanted.</param>
    /// <param name="mostLines">How many lines at most.</param>
    /// <param name="each">Told of each reading: number of its input and milliseconds since 1970.</param>
    /// <param name="clock">Told of each thing that happened to the clock, in its place among them.</param>
    /// <exception cref="Storage.StoreException">The store can't be read there.</exception>
    public Batch? Read(long after, long through, int mostLines, Action<long, long>? each = null, Action<ClockEventKind>? clock = null)
    {
        if (after != _at)
        {
            Leave();
            _lines = null;
            _at = after;
        }

        (long first, long last) = (0, 0);
        try
        {
            while (_text.Lines < mostLines && _at < through && Next() is { } input)
            {
                if (input.Number > through)
                {
                    _at = through;
                    Leave();
                    break;
                }

                _at = input.Number;
                if (input.Kind == InputKind.Clock)
                {
                    clock?.Invoke(input.ClockEvent.Kind);
                }

                if (_lines!.Write(input, _text) is { } utc)
                {
                    first = _text.Lines == 1 ? utc : first;
                    last = utc;
                    each?.Invoke(input.Number, utc);
                }
            }
        }
        catch
        {
            _text.Take();
            Leave();
            (_lines, _at) = (null, -1);
            throw;
        }

        int lines = _text.Lines;
        return _at > after ? new Batch(after, _at, _text.Take(), lines, first, last) : null;
    }

    public void Dispose()
    {
        Leave();
        _reader?.Dispose();
    }

    private EngineInput? Next()
    {
        _reader ??= new BenchReader(folder);
        if (_inputs is null)
        {
            long gone = _lines is null ? _reader.ExpiredThrough() : 0;
            if (gone > _at)
            {
                Expired += gone - _at;
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
            _lines = new ReadingLines(tags);
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
