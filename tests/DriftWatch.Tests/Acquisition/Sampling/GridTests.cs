using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Acquisition.Sampling;

public class GridTests
{
    [Fact]
    public void Twelve_hours_at_ten_hertz_hold_exactly_432_000_instants_whatever_each_reading_takes()
    {
        const int seed = 7;
        var random = new Random(seed);
        var time = new FakeTimeProvider();
        var clock = new EngineClock(time, new EngineTime(0));
        var grid = new SampleGrid(TimeSpan.FromMilliseconds(100), clock.Now);
        EngineTime end = EngineTime.FromSeconds(12 * 3600);
        long taken = 0;
        while (grid.Next <= end)
        {
            time.Advance(grid.Next - clock.Now);
            Assert.True(grid.TryTake(clock.Now, out EngineTime instant, out int missed));
            Assert.Equal(0, missed);
            Assert.Equal(0, instant.Nanoseconds % 100_000_000);
            taken++;

            // A reading takes up to 99.9 ms; the grid does not care.
            time.Advance(TimeSpan.FromTicks(random.Next(999_000)));
        }

        Assert.Equal(432_000, taken);
        Assert.Equal(0, grid.Missed);
    }

    [Fact]
    public void Instants_passed_over_are_counted_and_the_newest_is_taken()
    {
        var grid = new SampleGrid(TimeSpan.FromMilliseconds(100), new EngineTime(0));
        Assert.False(grid.TryTake(new EngineTime(99_999_999), out _, out _));
        Assert.True(grid.TryTake(new EngineTime(450_000_000), out EngineTime instant, out int missed));
        Assert.Equal((400_000_000, 3, 3L), (instant.Nanoseconds, missed, grid.Missed));
        Assert.Equal(500_000_000, grid.Next.Nanoseconds);
    }

    [Theory]
    [InlineData(0, 100)]
    [InlineData(100, 200)]
    [InlineData(101, 200)]
    [InlineData(-150, -100)]
    public void The_grid_lies_on_whole_periods(long startMilliseconds, long firstMilliseconds)
    {
        var grid = new SampleGrid(TimeSpan.FromMilliseconds(100), new EngineTime(startMilliseconds * 1_000_000));
        Assert.Equal(firstMilliseconds * 1_000_000, grid.Next.Nanoseconds);
    }

    [Fact]
    public void Waits_double_from_a_quarter_second_to_the_cap_within_a_fifth_and_start_over_after_a_valid_reading()
    {
        foreach (int seed in Enumerable.Range(0, 200))
        {
            var backoff = new Backoff(Backoff.LocalCap, seed);
            double[] nominal = [0.25, 0.5, 1, 1.5, 1.5, 1.5];
            foreach (double seconds in nominal)
            {
                double wait = backoff.Next().TotalSeconds;
                Assert.InRange(wait, (seconds * 0.8) - 1e-6, Math.Min(seconds * 1.2, 1.5) + 1e-6);
            }

            backoff.Reset();
            Assert.InRange(backoff.Next().TotalSeconds, 0.2 - 1e-6, 0.3 + 1e-6);
        }
    }

    [Fact]
    public void The_same_seed_waits_the_same_and_lines_differ()
    {
        double[] Waits(string name)
        {
            Backoff backoff = Backoff.For(isLocal: false, name);
            return [.. Enumerable.Range(0, 12).Select(_ => backoff.Next().TotalSeconds)];
        }

        Assert.Equal(Waits("gauge"), Waits("gauge"));
        Assert.NotEqual(Waits("gauge"), Waits("meter"));
        Assert.All(Waits("gauge"), w => Assert.InRange(w, 0.2, 30));
    }

    [Theory]
    [InlineData(20, 5)]
    [InlineData(10, 10)]
    [InlineData(100, 1)]
    [InlineData(250, 1)]
    public void A_fast_stream_is_reduced_to_one_reading_a_period_with_its_extremes(int intervalMilliseconds, int linesPerReading)
    {
        var reducer = new StreamReducer(TimeSpan.FromMilliseconds(100));
        var readings = new List<Reading>();
        for (int i = 0; i < 1000; i++)
        {
            // A dip of one line must survive.
            double value = i == 500 ? -7 : i;
            if (reducer.Add(new EngineTime(i * intervalMilliseconds * 1_000_000L), Reading.Of(value), out Reading reading))
            {
                readings.Add(reading);
            }
        }

        // The first sixteen lines pass one by one: until then the rate is not known.
        Assert.InRange(readings.Count, (1000 / linesPerReading) - 1, (1000 / linesPerReading) + Math.Max(16, linesPerReading));
        Assert.Single(readings, r => r.Minimum == -7);
    }

    [Fact]
    public void A_stream_at_the_channels_own_rate_passes_line_for_line_whatever_its_jitter()
    {
        const int seed = 11;
        var random = new Random(seed);
        var reducer = new StreamReducer(TimeSpan.FromMilliseconds(100));
        int readings = 0;
        for (int i = 0; i < 5000; i++)
        {
            long jitter = random.Next(-30_000_000, 30_000_000);
            readings += reducer.Add(new EngineTime((i * 100_005_000L) + jitter), Reading.Of(i), out _) ? 1 : 0;
        }

        Assert.Equal(5000, readings);
    }
}
