using CsCheck;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Trend;

public class StreamingSlopeTests
{
    private static readonly Gen<(double[] Times, double[] Values)> Records =
        Gen.Select(Gen.Double[0.01, 2].Array[3, 80], Gen.Double[-1, 1].Array[80], Gen.Double[-1e6, 1e6], Gen.Double[-1e6, 1e6], Gen.Double[-2, 2])
            .Select((steps, noise, origin, offset, slope) =>
            {
                double[] times = new double[steps.Length];
                double[] values = new double[steps.Length];
                double time = 0;
                for (int i = 0; i < steps.Length; i++)
                {
                    time += steps[i];
                    times[i] = origin + time;
                    values[i] = offset + (slope * time) + noise[i];
                }

                return (times, values);
            });

    [Fact]
    public void The_windows_slope_and_level_are_those_of_least_squares_over_it() =>
        Gen.Select(Records, Gen.Int[3, 40]).Sample((record, capacity) =>
        {
            var window = new WindowSlope(capacity);
            for (int i = 0; i < record.Times.Length; i++)
            {
                window.Add(record.Times[i], record.Values[i]);
                int count = Math.Min(i + 1, capacity);
                if (count < 3)
                {
                    Assert.False(window.Slope.IsKnown);
                    continue;
                }

                LineFit line = LeastSquaresLine.Fit(record.Times.AsSpan(i + 1 - count, count), record.Values.AsSpan(i + 1 - count, count)).Value;
                double span = record.Times[i] - record.Times[i + 1 - count];
                Assert.Equal(line.Slope, window.Slope.Value, 1e-8 / span);
                Assert.Equal(line.At(record.Times[i]), window.Level.Value, 1e-7);
            }
        });

    [Fact]
    public void The_fading_slope_and_level_are_those_of_weighted_least_squares() =>
        Gen.Select(Records, Gen.Double[0.2, 100]).Sample((record, tau) =>
        {
            var fading = new FadingSlope(tau);
            int n = record.Times.Length;
            for (int i = 0; i < n; i++)
            {
                fading.Add(record.Times[i], record.Values[i]);
            }

            double w = 0, x = 0, y = 0;
            for (int i = 0; i < n; i++)
            {
                double weight = Math.Exp((record.Times[i] - record.Times[^1]) / tau);
                w += weight;
                x += weight * (record.Times[i] - record.Times[^1]);
                y += weight * (record.Values[i] - record.Values[0]);
            }

            double xx = 0, xy = 0;
            for (int i = 0; i < n; i++)
            {
                double weight = Math.Exp((record.Times[i] - record.Times[^1]) / tau);
                double dx = record.Times[i] - record.Times[^1] - (x / w);
                xx += weight * dx * dx;
                xy += weight * dx * (record.Values[i] - record.Values[0] - (y / w));
            }

            Assert.Equal(xy / xx, fading.Slope.Value, 1e-7 + (1e-7 / Math.Sqrt(xx)));
            Assert.Equal(record.Values[0] + (y / w) - (xy / xx * x / w), fading.Level.Value, 1e-6);
        });

    /// <summary>R's lm with weights 0.9^(100−t) on the Nile, t = 1..100.</summary>
    [Fact]
    public void The_fading_slope_of_the_Nile_is_that_of_Rs_weighted_line()
    {
        var fading = new FadingSlope(-1 / Math.Log(0.9));
        double[] y = Golden.DataSet("Nile");
        for (int i = 0; i < y.Length; i++)
        {
            fading.Add(i + 1, y[i]);
        }

        double[] expected = Golden.Json("trend/autoregressive-trend").GetProperty("fadingNile").Doubles();
        Assert.Equal(expected[1], fading.Slope.Value, 1e-9);
        Assert.Equal(expected[0] + (100 * expected[1]), fading.Level.Value, 1e-8);
    }

    [Fact]
    public void The_block_medians_slope_is_Theil_Sens_over_the_same_medians() =>
        Gen.Select(Records, Gen.Int[1, 7], Gen.Int[3, 9]).Sample((record, size, blocks) =>
        {
            var stream = new BlockMediansSlope(size, blocks);
            for (int i = 0; i < record.Times.Length; i++)
            {
                stream.Add(record.Times[i], record.Values[i]);
            }

            int full = record.Times.Length / size;
            int kept = Math.Min(full, blocks);
            Assert.Equal(kept, stream.Blocks);
            if (kept < TheilSen.LeastPoints)
            {
                return;
            }

            double[] t = [.. Enumerable.Range(full - kept, kept).Select(k => record.Times[(k * size)..((k + 1) * size)].Average())];
            double[] m = [.. Enumerable.Range(full - kept, kept).Select(k =>
            {
                double[] sorted = [.. record.Values[(k * size)..((k + 1) * size)].Order()];
                return (sorted[(size - 1) / 2] + sorted[size / 2]) / 2;
            })];
            Assert.Equal(TheilSen.Fit(t, m).Value.Slope, stream.Slope.Value, 1e-6);
        });

    [Fact]
    public void The_block_medians_slope_does_not_mind_a_tenth_of_wild_readings()
    {
        double[] y = new SeededNoise(9).Next(2000, 0.3, Wild.OneSide, slope: 0.01);
        var stream = new BlockMediansSlope(51, 30);
        for (int i = 0; i < y.Length; i++)
        {
            stream.Add(i, y[i]);
        }

        Assert.Equal(0.01, stream.Slope.Value, 0.0005);
    }

    [Fact]
    public void Rounding_does_not_pile_up_over_a_long_run()
    {
        const int n = 2_000_000;
        var window = new WindowSlope(601);
        var random = new Random(2);
        double[] t = new double[n];
        double[] y = new double[n];
        for (int i = 0; i < n; i++)
        {
            t[i] = 1.8e9 + (0.1 * i);
            y[i] = 1e9 + (1e-3 * random.NextDouble());
            window.Add(t[i], y[i]);
        }

        Assert.Equal(LeastSquaresLine.Fit(t.AsSpan(n - 601), y.AsSpan(n - 601)).Value.Slope, window.Slope.Value, 1e-12);
    }

    [Fact]
    public void A_constant_has_slope_nought()
    {
        var window = new WindowSlope(10);
        var fading = new FadingSlope(3);
        var medians = new BlockMediansSlope(2, 4);
        for (int i = 0; i < 50; i++)
        {
            window.Add(i, 4.2);
            fading.Add(i, 4.2);
            medians.Add(i, 4.2);
        }

        Assert.Equal((0, 4.2, 0, 4.2, 0), (window.Slope.Value, window.Level.Value, fading.Slope.Value, fading.Level.Value, medians.Slope.Value));
    }

    [Fact]
    public void One_point_is_not_enough()
    {
        var window = new WindowSlope(10);
        var fading = new FadingSlope(3);
        var medians = new BlockMediansSlope(1, 4);
        Assert.Equal(0, window.Slope.Missing!.Has);
        window.Add(0, 1);
        fading.Add(0, 1);
        medians.Add(0, 1);
        Assert.Equal(3, window.Slope.Missing!.Needs);
        Assert.Equal(3, window.Level.Missing!.Needs);
        Assert.Equal(2, fading.Slope.Missing!.Needs);
        Assert.Equal(2, fading.Level.Missing!.Needs);
        Assert.Equal("blocks", medians.Slope.Missing!.What);
    }

    [Fact]
    public void Programmers_errors_are_named_and_change_nothing()
    {
        var window = new WindowSlope(10);
        var fading = new FadingSlope(3);
        var medians = new BlockMediansSlope(1, 4);
        window.Add(0, 1);
        fading.Add(0, 1);
        medians.Add(0, 1);
        foreach (Action<double, double> add in (Action<double, double>[])[window.Add, fading.Add, medians.Add])
        {
            Assert.Equal("time", Assert.Throws<ArgumentException>(() => add(0, 1)).ParamName);
            Assert.Equal("time", Assert.Throws<ArgumentException>(() => add(double.NaN, 1)).ParamName);
            Assert.Equal("value", Assert.Throws<ArgumentException>(() => add(1, double.NaN)).ParamName);
        }

        Assert.Equal((1, 1L, 1), (window.Count, fading.Count, medians.Blocks));
        Assert.Equal("capacity", Assert.Throws<ArgumentException>(() => new WindowSlope(2)).ParamName);
        Assert.Equal("timeConstantSeconds", Assert.Throws<ArgumentException>(() => new FadingSlope(0)).ParamName);
        Assert.Equal("blockSize", Assert.Throws<ArgumentException>(() => new BlockMediansSlope(0, 4)).ParamName);
        Assert.Equal("blocks", Assert.Throws<ArgumentException>(() => new BlockMediansSlope(3, 2)).ParamName);
    }

    [Fact]
    public void Nothing_is_allocated_on_the_way()
    {
        var window = new WindowSlope(100);
        var fading = new FadingSlope(30);
        var medians = new BlockMediansSlope(25, 20);
        void Feed(int from, int to)
        {
            for (int i = from; i < to; i++)
            {
                window.Add(i, i % 7);
                fading.Add(i, i % 7);
                medians.Add(i, i % 7);
            }
        }

        Feed(0, 2000);
        long before = GC.GetAllocatedBytesForCurrentThread();
        Feed(2000, 20000);
        Assert.True(GC.GetAllocatedBytesForCurrentThread() - before < 200, "the hot path allocates");
    }
}
