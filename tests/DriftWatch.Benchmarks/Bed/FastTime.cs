namespace DriftWatch.Benchmarks.Bed;

/// <summary>A clock that runs so many times as fast as the world's, timers too.</summary>
internal sealed class FastTime(double times) : TimeProvider
{
    private readonly DateTimeOffset _begin = System.GetUtcNow();
    private readonly long _start = System.GetTimestamp();

    public override long TimestampFrequency => System.TimestampFrequency;

    public override long GetTimestamp() => _start + (long)((System.GetTimestamp() - _start) * times);

    public override DateTimeOffset GetUtcNow() => _begin + (System.GetElapsedTime(_start) * times);

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
        System.CreateTimer(callback, state, Real(dueTime), Real(period));

    /// <summary>A timer of the system has a millisecond at least.</summary>
    private TimeSpan Real(TimeSpan time) => time <= TimeSpan.Zero ? time : TimeSpan.FromMilliseconds(Math.Max(1, time.TotalMilliseconds / times));
}
