using System.Globalization;

namespace DriftWatch.Measurement.Time;

/// <summary>
/// One point at which engine time and UTC were read together. UTC is kept as nanoseconds since 1970-01-01, leap
/// seconds not counted (POSIX).
/// </summary>
public readonly record struct TimeAnchor(EngineTime Engine, long UtcNanoseconds);

/// <summary>
/// Maps engine time to UTC and back. Between two anchors the older one holds: a wall step adds an anchor and so moves
/// everything after it, and nothing before. Before the first anchor the first one is extended backwards.
/// Anchors are added in order of engine time; an anchor that runs back throws.
/// </summary>
public sealed class AnchorTable
{
    private readonly List<TimeAnchor> _anchors = [];

    public IReadOnlyList<TimeAnchor> Anchors => _anchors;

    public void Add(TimeAnchor anchor)
    {
        if (_anchors.Count > 0 && anchor.Engine < _anchors[^1].Engine)
        {
            throw new ArgumentException(
                $"An anchor at {anchor.Engine} runs back behind the last one at {_anchors[^1].Engine}.", nameof(anchor));
        }

        _anchors.Add(anchor);
    }

    /// <summary>UTC nanoseconds since 1970 for an engine time.</summary>
    /// <exception cref="InvalidOperationException">The table is empty.</exception>
    public long ToUtcNanoseconds(EngineTime time)
    {
        TimeAnchor anchor = AnchorFor(time);
        return anchor.UtcNanoseconds + (time.Nanoseconds - anchor.Engine.Nanoseconds);
    }

    /// <summary>
    /// The engine time that shows the given UTC. After a backward step two engine times show the same UTC: the later
    /// one is returned. A UTC inside a forward step's gap gives the instant of the step.
    /// </summary>
    public EngineTime FromUtcNanoseconds(long utcNanoseconds)
    {
        if (_anchors.Count == 0)
        {
            throw new InvalidOperationException("No anchor: this log has no clock input yet.");
        }

        for (int i = _anchors.Count - 1; i > 0; i--)
        {
            if (utcNanoseconds >= _anchors[i].UtcNanoseconds)
            {
                return new EngineTime(_anchors[i].Engine.Nanoseconds + (utcNanoseconds - _anchors[i].UtcNanoseconds));
            }

            long shownJustBefore = _anchors[i - 1].UtcNanoseconds
                + (_anchors[i].Engine.Nanoseconds - _anchors[i - 1].Engine.Nanoseconds);
            if (utcNanoseconds >= shownJustBefore)
            {
                return _anchors[i].Engine;
            }
        }

        return new EngineTime(_anchors[0].Engine.Nanoseconds + (utcNanoseconds - _anchors[0].UtcNanoseconds));
    }

    private TimeAnchor AnchorFor(EngineTime time)
    {
        if (_anchors.Count == 0)
        {
            throw new InvalidOperationException("No anchor: this log has no clock input yet.");
        }

        for (int i = _anchors.Count - 1; i > 0; i--)
        {
            if (_anchors[i].Engine <= time)
            {
                return _anchors[i];
            }
        }

        return _anchors[0];
    }
}

/// <summary>UTC as text and back: RFC 3339 with milliseconds and <c>Z</c>, the one form used in files and on the API.</summary>
public static class UtcText
{
    private const string Format = "yyyy-MM-dd'T'HH:mm:ss.fff'Z'";

    /// <summary>Floors to the millisecond, so that text never shows an instant that has not been reached.</summary>
    public static string FromNanoseconds(long utcNanoseconds) =>
        ToDateTimeOffset(utcNanoseconds).ToString(Format, CultureInfo.InvariantCulture);

    public static DateTimeOffset ToDateTimeOffset(long utcNanoseconds) =>
        DateTimeOffset.UnixEpoch.AddTicks((long)Math.Floor(utcNanoseconds / (decimal)TimeSpan.NanosecondsPerTick));

    public static long ToNanoseconds(DateTimeOffset instant) =>
        (instant.UtcTicks - DateTimeOffset.UnixEpoch.Ticks) * TimeSpan.NanosecondsPerTick;

    /// <summary>Reads RFC 3339 with any fraction and offset; false when the text is not such a time, or one that nanoseconds since 1970 don't reach (1678 to 2261).</summary>
    public static bool TryParse(string text, out long utcNanoseconds)
    {
        bool ok = DateTimeOffset.TryParse(
            text,
            CultureInfo.InvariantCulture,
            DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal,
            out DateTimeOffset instant) && instant.Year is > 1677 and < 2262;
        utcNanoseconds = ok ? ToNanoseconds(instant) : 0;
        return ok;
    }
}
