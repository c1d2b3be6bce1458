using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// The absolute sampling grid of one period: instants n · period of engine time, so that a slow reading never shifts
/// the ones after it and twelve hours hold exactly as many instants as they should.
/// </summary>
public sealed class SampleGrid
{
    private readonly long _periodNanoseconds;

    /// <param name="period">Greater than zero.</param>
    /// <param name="now">The first instant lies strictly after it.</param>
    public SampleGrid(TimeSpan period, EngineTime now)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(period, TimeSpan.Zero);
        _periodNanoseconds = period.Ticks * TimeSpan.NanosecondsPerTick;
        Next = After(now);
    }

    /// <summary>The next instant to sample at.</summary>
    public EngineTime Next { get; private set; }

    /// <summary>Instants that passed with nobody free to sample.</summary>
    public long Missed { get; private set; }

    /// <summary>Takes the newest instant that is due, if one is; older ones due are counted as missed.</summary>
    /// <param name="now">The present.</param>
    /// <param name="instant">The instant to sample at, now or a little before.</param>
    /// <param name="missed">How many instants were passed over since the last one taken.</param>
    public bool TryTake(EngineTime now, out EngineTime instant, out int missed)
    {
        missed = 0;
        instant = Next;
        if (now < Next)
        {
            return false;
        }

        missed = (int)Math.Min(int.MaxValue, (now.Nanoseconds - Next.Nanoseconds) / _periodNanoseconds);
        Missed += missed;
        instant = new EngineTime(Next.Nanoseconds + (missed * _periodNanoseconds));
        Next = new EngineTime(instant.Nanoseconds + _periodNanoseconds);
        return true;
    }

    /// <summary>Takes the oldest instant that is due.</summary>
    public bool TryTakeOldest(EngineTime now, out EngineTime instant)
    {
        instant = Next;
        if (now < Next)
        {
            return false;
        }

        Next = new EngineTime(Next.Nanoseconds + _periodNanoseconds);
        return true;
    }

    /// <summary>Moves on to the first instant after now, counting none as missed: for a reading taken off the grid.</summary>
    public void SkipTo(EngineTime now)
    {
        if (now >= Next)
        {
            Next = After(now);
        }
    }

    public void CountMissed(int missed = 1) => Missed += missed;

    private EngineTime After(EngineTime now)
    {
        long remainder = now.Nanoseconds % _periodNanoseconds;
        if (remainder < 0)
        {
            remainder += _periodNanoseconds;
        }

        return new EngineTime(now.Nanoseconds - remainder + _periodNanoseconds);
    }
}
