using CsCheck;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Xunit;

namespace DriftWatch.Tests.Running;

public sealed class SpanGridTests
{
    [Theory]
    [InlineData(3600, 1000, 5)] // 3.6 s at least
    [InlineData(43_200, 1200, 60)] // 36 s at least
    [InlineData(43_200, 1500, 30)]
    [InlineData(365 * 86_400, 1200, 8 * 3600)] // 7.3 h at least: hours are whole in it
    [InlineData(60, 1200, 0.05)]
    [InlineData(20 * 365 * 86_400.0, 100, 73 * 86_400)] // beyond the ladder whole days
    public void A_column_is_the_narrowest_whole_step_that_does(double seconds, int columns, double width)
    {
        SpanGrid grid = SpanGrid.Over(EngineTime.FromSeconds(1e6), EngineTime.FromSeconds(1e6 + seconds), columns);
        Assert.Equal(width, grid.Width / 1e9, 1e-9);
        Assert.InRange(grid.Count, 1, columns + 1);
    }

    [Fact]
    public void Any_span_is_covered_whole_and_columns_lie_on_multiples_of_their_width() =>
        Gen.Select(Gen.Double[-1e8, 1e9], Gen.Double[0.001, 1e9], Gen.Int[1, 5000]).Sample((begin, length, columns) =>
        {
            EngineTime from = EngineTime.FromSeconds(begin);
            EngineTime to = from + TimeSpan.FromSeconds(length);
            SpanGrid grid = SpanGrid.Over(from, to, columns);
            Assert.True(grid.From <= from && grid.To >= to);
            Assert.True(grid.From.Nanoseconds > from.Nanoseconds - grid.Width && grid.To.Nanoseconds < to.Nanoseconds + grid.Width);
            Assert.Equal(0, grid.From.Nanoseconds % grid.Width);
            Assert.InRange(grid.Count, 1, columns + 1);
        });

    [Fact]
    public void A_channel_that_is_read_seldom_gets_no_column_narrower_than_its_period() =>
        Assert.Equal(10e9, SpanGrid.Over(default, EngineTime.FromSeconds(600), 1000, TimeSpan.FromSeconds(7)).Width);
}
