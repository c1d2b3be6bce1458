using System.Globalization;

namespace DriftWatch.Measurement.Time;

/// <summary>
/// An instant on the bench's own clock: whole nanoseconds, ever increasing, never set back or re-anchored while
/// a process runs. It is not a wall clock; <see cref="AnchorTable"/> maps it to UTC. Durations, rates and delays are
/// differences of engine times and so are never disturbed by a step of the wall clock.
/// <c>default</c> is zero, the instant at which the first process of a bench folder began.
/// </summary>
public readonly record struct EngineTime(long Nanoseconds) : IComparable<EngineTime>
{
    public const long NanosecondsPerMillisecond = 1_000_000;
    public const long NanosecondsPerSecond = 1_000_000_000;

    /// <summary>The grid, in nanoseconds, on which <see cref="Inputs.InputKind.Tick"/> inputs fall.</summary>
    public const long TickGridNanoseconds = 100 * NanosecondsPerMillisecond;

    public static readonly EngineTime MinValue = new(long.MinValue);
    public static readonly EngineTime MaxValue = new(long.MaxValue);

    public double Seconds => Nanoseconds / 1e9;

    public static EngineTime FromSeconds(double seconds) => new((long)Math.Round(seconds * 1e9));

    /// <summary>
    /// Rounds down to a whole millisecond. Readings are stamped so: an arrival over a serial line is not known better
    /// than that, and a coarser stamp is a smaller store.
    /// </summary>
    public EngineTime FloorToMillisecond() =>
        new(Nanoseconds - PositiveRemainder(Nanoseconds, NanosecondsPerMillisecond));

    /// <summary>The first point of the tick grid that lies strictly after this instant.</summary>
    public EngineTime NextTick() =>
        new(Nanoseconds - PositiveRemainder(Nanoseconds, TickGridNanoseconds) + TickGridNanoseconds);

    public int CompareTo(EngineTime other) => Nanoseconds.CompareTo(other.Nanoseconds);

    /// <summary>The elapsed time; resolution 100 ns, as of <see cref="TimeSpan"/>.</summary>
    public static TimeSpan operator -(EngineTime left, EngineTime right) =>
        TimeSpan.FromTicks((left.Nanoseconds - right.Nanoseconds) / TimeSpan.NanosecondsPerTick);

    public static EngineTime operator +(EngineTime left, TimeSpan right) =>
        new(left.Nanoseconds + (right.Ticks * TimeSpan.NanosecondsPerTick));

    public static EngineTime operator -(EngineTime left, TimeSpan right) =>
        new(left.Nanoseconds - (right.Ticks * TimeSpan.NanosecondsPerTick));

    public static bool operator <(EngineTime left, EngineTime right) => left.Nanoseconds < right.Nanoseconds;
    public static bool operator >(EngineTime left, EngineTime right) => left.Nanoseconds > right.Nanoseconds;
    public static bool operator <=(EngineTime left, EngineTime right) => left.Nanoseconds <= right.Nanoseconds;
    public static bool operator >=(EngineTime left, EngineTime right) => left.Nanoseconds >= right.Nanoseconds;

    public override string ToString() =>
        (Nanoseconds / 1e9).ToString("0.000######", CultureInfo.InvariantCulture) + " s";

    private static long PositiveRemainder(long value, long divisor)
    {
        long remainder = value % divisor;
        return remainder < 0 ? remainder + divisor : remainder;
    }
}
