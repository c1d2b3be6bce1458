using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Holds the wall clock against engine time once a second and tells what happened to it: a step, a sleep of the
/// machine, or slow drift that asks for a new anchor. It changes no reading: engine time goes on by itself.
/// </summary>
public sealed class ClockWatcher : IDisposable
{
    /// <summary>A wall clock further off than this was set, not drifting. Source: common practice, no source; clock discipline slews what is smaller.</summary>
    public static readonly TimeSpan Step = TimeSpan.FromMilliseconds(50);

    /// <summary>Drift below this is left alone: readings are stamped to the millisecond.</summary>
    public static readonly TimeSpan Drift = TimeSpan.FromMilliseconds(1);

    /// <summary>An anchor is renewed for drift at most this often.</summary>
    public static readonly TimeSpan RenewEvery = TimeSpan.FromMinutes(1);

    private static readonly TimeSpan Interval = TimeSpan.FromSeconds(1);

    private readonly EngineClock _clock;
    private readonly Action<ClockEvent> _tell;
    private readonly Func<TimeSpan>? _suspended;
    private readonly Lock _gate = new();
    private TimeAnchor _anchor;
    private TimeSpan _suspendedBefore;
    private ITimer? _timer;

    /// <param name="clock">Engine time and wall clock.</param>
    /// <param name="inForce">The anchor of the start, already an input.</param>
    /// <param name="tell">Gets each event, one at a time, on a timer's thread; its instant is its anchor's.</param>
    /// <param name="suspended">How long the machine has slept since it was started; null where that can't be known.</param>
    public ClockWatcher(EngineClock clock, TimeAnchor inForce, Action<ClockEvent> tell, Func<TimeSpan>? suspended = null)
    {
        _clock = clock;
        _anchor = inForce;
        _tell = tell;
        _suspended = suspended;
        _suspendedBefore = suspended?.Invoke() ?? TimeSpan.Zero;
    }

    public void Start() => _timer = _clock.TimeProvider.CreateTimer(_ => Check(), null, Interval, Interval);

    /// <summary>One comparison.</summary>
    public void Check()
    {
        lock (_gate)
        {
            TimeSpan suspended = _suspended?.Invoke() ?? TimeSpan.Zero;
            bool slept = suspended - _suspendedBefore > Step;
            TimeAnchor anchor = _clock.ReadAnchor();
            TimeSpan off = Off(anchor);
            if (!slept && off.Duration() > Step)
            {
                // The thread may have been held up between the two clocks: only what is there twice is a step.
                anchor = _clock.ReadAnchor();
                off = Off(anchor);
            }

            ClockEventKind? kind = slept ? ClockEventKind.Resumed
                : off.Duration() > Step ? ClockEventKind.WallStep
                : off.Duration() > Drift && anchor.Engine - _anchor.Engine >= RenewEvery ? ClockEventKind.Renewed
                : null;
            if (kind is null)
            {
                return;
            }

            _suspendedBefore = suspended;
            _anchor = anchor;
            _tell(new ClockEvent(kind.Value, anchor) { StepNanoseconds = off.Ticks * TimeSpan.NanosecondsPerTick });
        }
    }

    public void Dispose() => _timer?.Dispose();

    /// <summary>How far the wall is ahead of what the anchor in force makes due.</summary>
    private TimeSpan Off(TimeAnchor now)
    {
        long due = _anchor.UtcNanoseconds + (now.Engine.Nanoseconds - _anchor.Engine.Nanoseconds);
        return TimeSpan.FromTicks((now.UtcNanoseconds - due) / TimeSpan.NanosecondsPerTick);
    }
}

/// <summary>
/// How long the machine has slept: on Linux CLOCK_BOOTTIME counts sleep and CLOCK_MONOTONIC, on which engine time runs,
/// does not. Windows counts sleep in its monotonic clock, so there is nothing to find out and no event.
/// </summary>
public static partial class SuspendTime
{
    /// <summary>Null where the platform can't tell.</summary>
    public static Func<TimeSpan>? Source { get; } = OperatingSystem.IsLinux() ? Linux : null;

    [SupportedOSPlatform("linux")]
    private static TimeSpan Linux()
    {
        const int monotonic = 1;
        const int bootTime = 7;
        Read(monotonic, out TimeSpec before);
        Read(bootTime, out TimeSpec boot);
        return boot.Span - before.Span;
    }

    private static void Read(int clock, out TimeSpec time)
    {
        if (GetTime(clock, out time) != 0)
        {
            time = default;
        }
    }

    [LibraryImport("libc", EntryPoint = "clock_gettime")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int GetTime(int clock, out TimeSpec time);

    [StructLayout(LayoutKind.Sequential)]
    private struct TimeSpec
    {
        public long Seconds;
        public long Nanoseconds;

        public readonly TimeSpan Span => TimeSpan.FromTicks((Seconds * TimeSpan.TicksPerSecond) + (Nanoseconds / TimeSpan.NanosecondsPerTick));
    }
}
