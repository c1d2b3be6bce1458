using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Relations;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Relations;

public sealed class RecursiveLineTests
{
    private static readonly JsonElement FromR = Golden.Json("relations/relations");
    private static readonly JsonElement FromPython = Golden.Json("relations/huber");

    [Theory]
    [InlineData(1, "forgetting1.0")]
    [InlineData(0.98, "forgetting0.98")]
    [InlineData(0.9, "forgetting0.9")]
    public void It_agrees_with_weighted_least_squares_of_statsmodels(double forgetting, string name)
    {
        double[] kept = FromPython.GetProperty(name).Doubles();
        RecursiveLineState state = After(forgetting, 150).Line.Value;
        Assert.Equal(1, state.Slope / kept[0], 1e-10);
        Assert.Equal(1, state.Intercept / kept[1], 1e-10);
        Assert.Equal(1, state.ExplainedShare / kept[2], 1e-10);
    }

    [Fact]
    public void Without_forgetting_it_agrees_with_recursive_ls_of_statsmodels_on_the_way()
    {
        double[] slopes = FromPython.GetProperty("recursive")[0].Doubles();
        double[] intercepts = FromPython.GetProperty("recursive")[1].Doubles();
        foreach ((int count, int i) in new[] { (10, 0), (50, 1), (150, 2) })
        {
            RecursiveLineState state = After(1, count).Line.Value;
            Assert.Equal(1, state.Slope / slopes[i], 1e-6);
            Assert.Equal(1, state.Intercept / intercepts[i], 1e-6);
        }
    }

    [Fact]
    public void Streaming_is_batch_least_squares_with_weights_of_age() =>
        Gen.Select(Gen.Double[-5, 5].Array[4, 60], Gen.Double[-5, 5].Array[60], Gen.Double[0.5, 1]).Sample((x, effects, forgetting) =>
        {
            double[] y = effects[..x.Length];
            var line = new RecursiveLine(forgetting);
            double residual = 0;
            for (int i = 0; i < x.Length; i++)
            {
                line.Add(x[i], y[i], out residual);
            }

            (double slope, double intercept, double spread) = Batch(x, y, forgetting);
            if (spread > 1e-3)
            {
                Assert.Equal(slope, line.Line.Value.Slope, 1e-7 * (1 + Math.Abs(slope)));
                Assert.Equal(intercept, line.Line.Value.Intercept, 1e-6 * (1 + Math.Abs(intercept)));
                (double before, double level, double spreadBefore) = Batch(x[..^1], y[..^1], forgetting);
                if (spreadBefore > 1e-3)
                {
                    Assert.Equal(y[^1] - level - (before * x[^1]), residual, 1e-6 * (1 + Math.Abs(before)));
                }
            }
        });

    [Fact]
    public void It_allocates_nothing_on_the_way()
    {
        var line = new RecursiveLine(0.99);
        line.Add(0, 0, out _);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 10_000; i++)
        {
            line.Add(i % 17, i % 20, out _);
        }

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    [Fact]
    public void A_line_that_changes_is_forgotten()
    {
        var line = new RecursiveLine(0.95);
        for (int i = 0; i < 2000; i++)
        {
            double x = Math.Sin(i);
            line.Add(x, i < 1000 ? 2 * x : 5 - x, out _);
        }

        Assert.Equal(-1, line.Line.Value.Slope, 1e-9);
        Assert.Equal(5, line.Line.Value.Intercept, 1e-9);
        Assert.Equal(39, line.Line.Value.EffectivePairs, 1e-9);
    }

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        var near = new RecursiveLine(0.99);
        var far = new RecursiveLine(0.99);
        for (int i = 0; i < 1000; i++)
        {
            double x = Math.Sin(i);
            double y = (2 * x) + Math.Cos(1.7 * i);
            near.Add(x, y, out _);
            far.Add(1e9 + (1e-3 * x), 1e9 + (1e-3 * y), out _);
        }

        Assert.Equal(near.Line.Value.Slope, far.Line.Value.Slope, 1e-3);
    }

    [Fact]
    public void A_constant_cause_one_pair_and_nothing_but_faults_are_shortfalls()
    {
        var line = new RecursiveLine(1);
        Assert.Equal(new Shortfall("pairs", 0, 3), line.Line.Missing);
        Assert.False(line.Add(1e9 + 0.1, 1, out double residual));
        Assert.Equal((1, 0.0), (line.Line.Missing!.Has, residual));
        line.Add(1e9 + 0.1, 2, out _);
        line.Add(1e9 + 0.1, 3, out _);
        Assert.Equal(new Shortfall("different values of the cause", 1, 2), line.Line.Missing);
    }

    [Fact]
    public void A_constant_effect_is_explained_by_nothing()
    {
        var line = new RecursiveLine(1);
        for (int i = 0; i < 10; i++)
        {
            line.Add(i, 4, out _);
        }

        Assert.Equal((0.0, 4.0, 0.0), (line.Line.Value.Slope, line.Line.Value.Intercept, line.Line.Value.ExplainedShare));
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("forgetting", Assert.Throws<ArgumentException>(() => new RecursiveLine(0)).ParamName);
        Assert.Equal("forgetting", Assert.Throws<ArgumentException>(() => new RecursiveLine(1.01)).ParamName);
        Assert.Equal("effect", Assert.Throws<ArgumentException>(() => new RecursiveLine(1).Add(1, double.NaN, out _)).ParamName);
        Assert.Equal("cause", Assert.Throws<ArgumentException>(() => new RecursiveLine(1).Add(double.NaN, 1, out _)).ParamName);
    }

    private static RecursiveLine After(double forgetting, int count)
    {
        double[] x = FromR.GetProperty("lead").Doubles();
        double[] y = FromR.GetProperty("sales").Doubles();
        var line = new RecursiveLine(forgetting);
        for (int i = 0; i < count; i++)
        {
            line.Add(x[i], y[i], out _);
        }

        return line;
    }

    private static (double Slope, double Intercept, double Spread) Batch(double[] x, double[] y, double forgetting)
    {
        double[] w = [.. x.Select((_, i) => Math.Pow(forgetting, x.Length - 1 - i))];
        double total = w.Sum();
        double mx = w.Zip(x, (a, b) => a * b).Sum() / total;
        double my = w.Zip(y, (a, b) => a * b).Sum() / total;
        double xx = 0, xy = 0;
        for (int i = 0; i < x.Length; i++)
        {
            xx += w[i] * (x[i] - mx) * (x[i] - mx);
            xy += w[i] * (x[i] - mx) * (y[i] - my);
        }

        return (xy / xx, my - (xy / xx * mx), xx);
    }
}
