namespace DriftWatch.Measurement.Time;

/// <summary>
/// Reads engine time: a monotonic counter that starts where the bench's last process left off. The wall clock is
/// only looked at through <see cref="ReadAnchor"/>, whose result becomes an input.
/// </summary>
public sealed class EngineClock(TimeProvider timeProvider, EngineTime startsAt)
{
    private readonly long _startStamp = timeProvider.GetTimestamp();

    public TimeProvider TimeProvider { get; } = timeProvider;

    public EngineTime Now => FromStamp(TimeProvider.GetTimestamp());

    /// <summary>The engine time of a stamp taken earlier with <see cref="TimeProvider.GetTimestamp"/>.</summary>
    public EngineTime FromStamp(long stamp)
    {
        long ticks = stamp - _startStamp;
        long frequency = TimeProvider.TimestampFrequency;
        long whole = ticks / frequency;
        long rest = ticks % frequency;
        return new EngineTime(startsAt.Nanoseconds
            + (whole * EngineTime.NanosecondsPerSecond)
            + (rest * EngineTime.NanosecondsPerSecond / frequency));
    }

    /// <summary>Engine time and UTC, read as close together as the platform allows.</summary>
    public TimeAnchor ReadAnchor()
    {
        EngineTime before = Now;
        DateTimeOffset utc = TimeProvider.GetUtcNow();
        EngineTime after = Now;
        return new TimeAnchor(
            new EngineTime(before.Nanoseconds + ((after.Nanoseconds - before.Nanoseconds) / 2)),
            UtcText.ToNanoseconds(utc));
    }
}
