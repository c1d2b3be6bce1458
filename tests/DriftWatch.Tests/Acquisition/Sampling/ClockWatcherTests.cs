using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Acquisition.Sampling;

public class ClockWatcherTests
{
    private readonly SteppingTime _time = new();
    private readonly List<ClockEvent> _events = [];
    private TimeSpan _slept;

    [Theory]
    [InlineData(3600_000)]
    [InlineData(-3600_000)]
    [InlineData(51)]
    [InlineData(-51)]
    public void A_wall_clock_that_is_set_is_told_once_with_its_step(int stepMilliseconds)
    {
        ClockWatcher watcher = Watch();
        Run(watcher, 10);
        _time.WallOffset += TimeSpan.FromMilliseconds(stepMilliseconds);
        Run(watcher, 10);
        ClockEvent step = Assert.Single(_events);
        Assert.Equal(ClockEventKind.WallStep, step.Kind);
        Assert.Equal(stepMilliseconds * 1_000_000L, step.StepNanoseconds);
        Assert.Equal(11, step.Anchor.Engine.Seconds);
        Assert.Equal(UtcText.ToNanoseconds(_time.GetUtcNow()) - 9_000_000_000, step.Anchor.UtcNanoseconds);
    }

    [Fact]
    public void A_wall_clock_that_runs_true_is_never_told()
    {
        Run(Watch(), 3600);
        Assert.Empty(_events);
    }

    /// <summary>30 parts in a million: 1.8 ms a minute, over the millisecond.</summary>
    [Fact]
    public void Slow_drift_renews_the_anchor_once_a_minute_and_is_never_a_step()
    {
        _time.DriftPerSecond = TimeSpan.FromTicks(300);
        Run(Watch(), 600);
        Assert.All(_events, e => Assert.Equal(ClockEventKind.Renewed, e.Kind));
        Assert.Equal(10, _events.Count);
    }

    /// <summary>5 parts in a million: the millisecond is passed after 200 s.</summary>
    [Fact]
    public void Drift_below_a_millisecond_is_left_alone()
    {
        _time.DriftPerSecond = TimeSpan.FromTicks(50);
        ClockWatcher watcher = Watch();
        Run(watcher, 190);
        Assert.Empty(_events);
        Run(watcher, 20);
        Assert.Single(_events);
    }

    [Fact]
    public void A_sleep_is_told_as_such_and_not_as_a_step()
    {
        ClockWatcher watcher = Watch();
        Run(watcher, 5);
        _slept += TimeSpan.FromHours(2);
        _time.WallOffset += TimeSpan.FromHours(2);
        Run(watcher, 5);
        ClockEvent resumed = Assert.Single(_events);
        Assert.Equal(ClockEventKind.Resumed, resumed.Kind);
        Assert.Equal(7200L * 1_000_000_000, resumed.StepNanoseconds);
    }

    [Fact]
    public void One_reading_held_up_between_the_two_clocks_is_no_step()
    {
        ClockWatcher watcher = Watch();
        Run(watcher, 3);
        _time.HoldUpNextWallReading = TimeSpan.FromMilliseconds(80);
        Run(watcher, 3);
        Assert.Empty(_events);
    }

    private ClockWatcher Watch()
    {
        var clock = new EngineClock(_time, new EngineTime(0));
        return new ClockWatcher(clock, clock.ReadAnchor(), _events.Add, () => _slept);
    }

    private void Run(ClockWatcher watcher, int seconds)
    {
        for (int i = 0; i < seconds; i++)
        {
            _time.Second();
            watcher.Check();
        }
    }

    private sealed class SteppingTime : TimeProvider
    {
        private static readonly DateTimeOffset Start = new(2026, 3, 1, 0, 0, 0, TimeSpan.Zero);
        private long _ticks;

        public TimeSpan WallOffset { get; set; }

        public TimeSpan DriftPerSecond { get; set; }

        public TimeSpan? HoldUpNextWallReading { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public void Second()
        {
            _ticks += TimeSpan.TicksPerSecond;
            WallOffset += DriftPerSecond;
        }

        public override long GetTimestamp() => _ticks;

        public override DateTimeOffset GetUtcNow()
        {
            TimeSpan held = HoldUpNextWallReading ?? TimeSpan.Zero;
            HoldUpNextWallReading = null;
            return Start + TimeSpan.FromTicks(_ticks) + WallOffset + held;
        }
    }
}
