using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Vocabulary;

public class TimeTests
{
    private const long Second = EngineTime.NanosecondsPerSecond;

    [Theory]
    [InlineData(0, 100_000_000)]
    [InlineData(1, 100_000_000)]
    [InlineData(100_000_000, 200_000_000)]
    [InlineData(-1, 0)]
    [InlineData(-100_000_000, 0)]
    public void The_next_tick_lies_strictly_after(long from, long expected) =>
        Assert.Equal(expected, new EngineTime(from).NextTick().Nanoseconds);

    [Theory]
    [InlineData(1_999_999, 1_000_000)]
    [InlineData(1_000_000, 1_000_000)]
    [InlineData(-1, -1_000_000)]
    public void A_stamp_is_floored_to_the_millisecond(long from, long expected) =>
        Assert.Equal(expected, new EngineTime(from).FloorToMillisecond().Nanoseconds);

    [Fact]
    public void A_backward_step_moves_what_comes_after_it_and_nothing_before()
    {
        AnchorTable table = Of((0, 1000), (10, 950));
        Assert.Equal((1009 * Second) + 1, table.ToUtcNanoseconds(new EngineTime((9 * Second) + 1)));
        Assert.Equal(950 * Second, table.ToUtcNanoseconds(new EngineTime(10 * Second)));
    }

    [Fact]
    public void A_utc_shown_twice_means_the_later_instant_and_one_never_shown_the_step()
    {
        Assert.Equal(new EngineTime(15 * Second), Of((0, 1000), (10, 1000)).FromUtcNanoseconds(1005 * Second));
        Assert.Equal(new EngineTime(10 * Second), Of((0, 1000), (10, 2000)).FromUtcNanoseconds(1500 * Second));
    }

    [Fact]
    public void Before_the_first_anchor_it_is_extended_backwards() =>
        Assert.Equal(990 * Second, Of((0, 1000)).ToUtcNanoseconds(new EngineTime(-10 * Second)));

    [Fact]
    public void An_anchor_that_runs_back_is_refused() =>
        Assert.Throws<ArgumentException>(() => Of((10, 1000), (9, 1001)));

    [Fact]
    public void An_empty_table_tells_no_time() =>
        Assert.Throws<InvalidOperationException>(() => new AnchorTable().ToUtcNanoseconds(default));

    [Theory]
    [InlineData("2026-10-25T00:59:59.999Z")]
    [InlineData("2024-02-29T23:59:59.000Z")]
    [InlineData("1969-12-31T23:59:59.001Z")]
    public void UTC_text_comes_back_the_same(string text)
    {
        Assert.True(UtcText.TryParse(text, out long utc));
        Assert.Equal(text, UtcText.FromNanoseconds(utc));
    }

    [Theory]
    [InlineData("2999-01-01T00:00:00Z")]
    [InlineData("2262-04-12T00:00:00Z")] // 2^63 ns end a quarter of an hour before it
    [InlineData("1600-01-01T00:00:00Z")]
    [InlineData("0001-01-01T00:00:00Z")]
    public void A_year_that_nanoseconds_don_t_reach_is_no_time_and_never_another_one(string text) => Assert.False(UtcText.TryParse(text, out _));

    [Fact]
    public void UTC_text_never_shows_an_instant_that_has_not_been_reached() =>
        Assert.Equal("1970-01-01T00:00:00.999Z", UtcText.FromNanoseconds(999_999_999));

    [Fact]
    public void The_engines_clock_goes_on_when_the_wall_clock_is_set_back()
    {
        var time = new SteppingWall { Wall = new DateTimeOffset(2026, 11, 3, 20, 0, 0, TimeSpan.Zero) };
        var clock = new EngineClock(time, new EngineTime(5 * Second));
        time.Monotonic += 2_000;
        time.Wall += TimeSpan.FromSeconds(2) - TimeSpan.FromHours(1);
        TimeAnchor anchor = clock.ReadAnchor();
        Assert.Equal(new EngineTime(7 * Second), anchor.Engine);
        Assert.Equal("2026-11-03T19:00:02.000Z", UtcText.FromNanoseconds(anchor.UtcNanoseconds));
    }

    private static AnchorTable Of(params (long Engine, long Utc)[] anchors)
    {
        var table = new AnchorTable();
        foreach ((long engine, long utc) in anchors)
        {
            table.Add(new TimeAnchor(new EngineTime(engine * Second), utc * Second));
        }

        return table;
    }

    /// <summary>A wall clock that is set while the monotonic one goes on, in milliseconds.</summary>
    private sealed class SteppingWall : TimeProvider
    {
        public DateTimeOffset Wall { get; set; }

        public long Monotonic { get; set; }

        public override long TimestampFrequency => 1000;

        public override DateTimeOffset GetUtcNow() => Wall;

        public override long GetTimestamp() => Monotonic;
    }
}
