namespace DriftWatch.Mirror;

/// <summary>Readings of a window of measured time that were sent, and which inputs they were.</summary>
/// <param name="FromUtcMilliseconds">Begin of the window.</param>
/// <param name="ToUtcMilliseconds">Its end, not in it.</param>
/// <param name="Count">Readings measured within it.</param>
/// <param name="After">The input before the first of them.</param>
/// <param name="Through">The last of them.</param>
internal sealed record CountedWindow(long FromUtcMilliseconds, long ToUtcMilliseconds, long Count, long After, long Through)
{
    /// <summary>When the first reading beyond it was sent, by a clock that only grows; null before.</summary>
    public TimeSpan? ClosedAt { get; init; }

    /// <summary>Of which stretch of the log it is.</summary>
    public int Stretch { get; init; }

    /// <summary>Whether they were sent again since they were found missing.</summary>
    public bool IsSentAgain { get; init; }
}

/// <summary>
/// Counts what is sent, by windows of measured time, to be held against what the server counts: one that says yes and drops a line, or was
/// killed and came back between two batches, shows in no other way. What is counted begins after the instant of the first reading and ends
/// before that of the last, because others of the same instant may have been sent by somebody else. A window across which the clock was set is
/// never asked for: its instants come twice.
/// </summary>
internal sealed class CountBook(TimeSpan window)
{
    /// <summary>
    /// How long after a window was sent it is asked for: late readings have come, what was acknowledged is safe, and a server shows what it took
    /// (up to half a minute later, by its documentation).
    /// </summary>
    public static readonly TimeSpan Settled = Outbox.SafeAfter + TimeSpan.FromSeconds(40);

    /// <summary>Beyond these the oldest go unasked. Derived: an hour of windows of 15 min passes in 2.4 s at 300,000 readings/s of 20 channels, so 200 are under way.</summary>
    private const int MostWindows = 400;

    private readonly SortedDictionary<long, CountedWindow> _windows = [];
    private int _stretch;
    private bool _isWhole;
    private long _counted;
    private long _begin = long.MinValue; // instant of the first reading
    private long _newest; // instant of the newest
    private long _atNewest; // how many have it
    private long _open; // begin of the newest window

    private readonly long _window = (long)window.TotalMilliseconds;

    /// <summary>Notes a reading that is sent; one that is sent again is not counted again.</summary>
    public void Note(long number, long utcMilliseconds, TimeSpan now)
    {
        if (number <= _counted)
        {
            return;
        }

        _counted = number;
        if (_begin == long.MinValue)
        {
            (_begin, _newest, _open) = (_isWhole ? utcMilliseconds - 1 : utcMilliseconds, utcMilliseconds, FromOf(utcMilliseconds));
            foreach (CountedWindow overlapped in _windows.Values.Where(w => w.ToUtcMilliseconds > utcMilliseconds && w.FromUtcMilliseconds <= utcMilliseconds + _window).ToList())
            {
                _windows.Remove(FromOf(overlapped.FromUtcMilliseconds)); // these instants come twice
            }
        }

        if (utcMilliseconds <= _begin)
        {
            return;
        }

        if (utcMilliseconds > _newest)
        {
            (_newest, _atNewest) = (utcMilliseconds, 0);
        }

        _atNewest += utcMilliseconds == _newest ? 1 : 0;
        long from = FromOf(utcMilliseconds);
        if (from > _open)
        {
            Close(_open, now);
            _open = from;
        }

        if (_windows.TryGetValue(from, out CountedWindow? counted) && counted.Stretch == _stretch)
        {
            _windows[from] = counted with { Count = counted.Count + 1, Through = Math.Max(counted.Through, number) };
        }
        else if (from == _open)
        {
            _windows[from] = new CountedWindow(Math.Max(from, _begin + 1), from + _window, 1, number - 1, number) { Stretch = _stretch };
        }
    }

    /// <summary>Nothing more comes: what was counted of the newest window can be asked for.</summary>
    public void End(TimeSpan now)
    {
        if (_begin != long.MinValue && _windows.TryGetValue(_open, out CountedWindow? last) && last.ClosedAt is null)
        {
            _windows[_open] = last with { ToUtcMilliseconds = _newest, Count = last.Count - _atNewest };
            Close(_open, now);
        }
    }

    /// <summary>Another stretch of the log begins, or the clock was set: what was counted before is over.</summary>
    /// <param name="isWhole">Whether nobody can have sent readings of its first instant before.</param>
    public void Turn(bool isWhole)
    {
        _stretch++;
        _isWhole = isWhole;
        (_counted, _begin, _atNewest) = (0, long.MinValue, 0);
    }

    /// <summary>The oldest window that can be asked for; null where there is none.</summary>
    public CountedWindow? Due(TimeSpan now) => _windows.Values.FirstOrDefault(w => w.ClosedAt is { } closed && closed + Settled <= now);

    /// <summary>It was asked for, and is not any more.</summary>
    public void Done(CountedWindow window) => _windows.Remove(FromOf(window.FromUtcMilliseconds));

    /// <summary>To be asked for later: it is on its way, once more where it was found short.</summary>
    public void Later(CountedWindow window, TimeSpan now, bool isSentAgain) =>
        _windows[FromOf(window.FromUtcMilliseconds)] = window with { ClosedAt = now, IsSentAgain = isSentAgain };

    private long FromOf(long utcMilliseconds) => utcMilliseconds - (utcMilliseconds % _window);

    private void Close(long from, TimeSpan now)
    {
        if (_windows.TryGetValue(from, out CountedWindow? window))
        {
            _windows[from] = window with { ClosedAt = now };
        }

        while (_windows.Count >= MostWindows)
        {
            _windows.Remove(_windows.First().Key);
        }
    }
}
