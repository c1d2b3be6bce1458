namespace DriftWatch.Mirror;

/// <summary>Readings of a window of measured time that were sent, and which inputs they were.</summary>
/// <param name="FromUtcMilliseconds">Begin of the window.</param>
/// <param name="Count">Readings measured within it.</param>
/// <param name="After">The input before the first of them.</param>
/// <param name="Through">The last of them.</param>
internal sealed record CountedWindow(long FromUtcMilliseconds, long Count, long After, long Through)
{
    /// <summary>When the first reading beyond it was sent, by a clock that only grows; null before.</summary>
    public TimeSpan? ClosedAt { get; init; }

    /// <summary>Whether they were sent again since they were found missing.</summary>
    public bool IsSentAgain { get; init; }
}

/// <summary>
/// Counts what is sent, by windows of measured time, to be held against what the server counts: one that says yes and drops a line, or was
/// killed and came back between two batches, shows in no other way. The first window is seen in part, so it is never asked for, and neither
/// is one across which the clock was set: its instants come twice.
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
    private long _counted;
    private long _open = long.MinValue; // begin of the newest window

    public long WindowMilliseconds { get; } = (long)window.TotalMilliseconds;

    /// <summary>Notes a reading that is sent; one that is sent again is not counted again.</summary>
    public void Note(long number, long utcMilliseconds, TimeSpan now)
    {
        if (number <= _counted)
        {
            return;
        }

        _counted = number;
        long from = utcMilliseconds - (utcMilliseconds % WindowMilliseconds);
        if (_open == long.MinValue)
        {
            _open = from;
        }
        else if (from > _open)
        {
            Close(now);
            _open = from;
            _windows[from] = new CountedWindow(from, 1, number - 1, number);
            return;
        }

        if (_windows.TryGetValue(from, out CountedWindow? window))
        {
            _windows[from] = window with { Count = window.Count + 1, Through = Math.Max(window.Through, number) };
        }
    }

    /// <summary>Nothing of what was counted can be held against a server's count: the clock was set, or another stretch begins.</summary>
    public void Forget()
    {
        _windows.Clear();
        (_counted, _open) = (0, long.MinValue);
    }

    /// <summary>The oldest window that can be asked for; null where there is none.</summary>
    public CountedWindow? Due(TimeSpan now) => _windows.Values.FirstOrDefault(w => w.ClosedAt is { } closed && closed + Settled <= now);

    /// <summary>It was asked for, and is not any more.</summary>
    public void Done(CountedWindow window) => _windows.Remove(window.FromUtcMilliseconds);

    /// <summary>To be asked for later: it is on its way, once more where it was found short.</summary>
    public void Later(CountedWindow window, TimeSpan now, bool isSentAgain) =>
        _windows[window.FromUtcMilliseconds] = window with { ClosedAt = now, IsSentAgain = isSentAgain };

    private void Close(TimeSpan now)
    {
        if (_windows.TryGetValue(_open, out CountedWindow? window))
        {
            _windows[_open] = window with { ClosedAt = now };
        }

        while (_windows.Count >= MostWindows)
        {
            _windows.Remove(_windows.First().Key);
        }
    }
}
