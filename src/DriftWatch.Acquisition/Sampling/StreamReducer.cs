using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Brings a stream that is faster than its channel's period down to about one reading a period: the last value, with
/// the least and the greatest of all lines since the reading before. How many lines make a period is measured
/// from the arrivals and rounded to a whole number, so that a stream at the channel's own rate passes line for line
/// whatever its jitter, and a burst after a stall does too: the stall counts among the intervals.
/// </summary>
public sealed class StreamReducer(TimeSpan period)
{
    private const int Window = 16;
    private readonly long[] _arrivals = new long[Window];
    private readonly long _periodNanoseconds = period.Ticks * TimeSpan.NanosecondsPerTick;
    private long _seen;
    private int _count;
    private double _last;
    private double _minimum;
    private double _maximum;
    private bool _hasExtremes;
    private EngineTime? _postedAt;

    /// <summary>The instant of the newest line that is held back; null when none is.</summary>
    public EngineTime? HeldSince { get; private set; }

    /// <summary>Takes a value; true when a reading is due, stamped with this instant.</summary>
    public bool Add(EngineTime at, in Reading value, out Reading reading)
    {
        int lines = LinesPerPeriod(at);
        if (_count == 0)
        {
            (_minimum, _maximum, _hasExtremes) = (value.Minimum, value.Maximum, value.HasExtremes);
        }
        else
        {
            _minimum = Math.Min(_minimum, value.Minimum);
            _maximum = Math.Max(_maximum, value.Maximum);
            _hasExtremes = true;
        }

        _last = value.Raw;
        _count++;
        HeldSince = at;

        // Lines lost on the way must not stretch the period: a quarter over it is long enough.
        if (_count >= lines || (_postedAt is EngineTime posted && at - posted >= period * 1.25))
        {
            return Flush(out reading);
        }

        reading = default;
        return false;
    }

    /// <summary>Gives what is held back, if anything: before a fault, and when the stream falls silent.</summary>
    public bool Flush(out Reading reading)
    {
        if (_count == 0)
        {
            reading = default;
            return false;
        }

        reading = _hasExtremes ? Reading.Of(_last, _minimum, _maximum) : Reading.Of(_last);
        _postedAt = HeldSince;
        HeldSince = null;
        _count = 0;
        return true;
    }

    private int LinesPerPeriod(EngineTime at)
    {
        int slot = (int)(_seen % Window);
        long intervals = Math.Min(_seen, Window);
        long oldest = _seen >= Window ? _arrivals[slot] : _arrivals[0];
        _arrivals[slot] = at.Nanoseconds;
        _seen++;
        if (intervals < Window)
        {
            return 1; // too few to tell a fast stream from lines that waited in a buffer: keep each
        }

        double interval = (at.Nanoseconds - oldest) / (double)intervals;
        return interval <= 0 ? 1 : (int)Math.Clamp(Math.Round(_periodNanoseconds / interval), 1, 1_000_000);
    }
}
