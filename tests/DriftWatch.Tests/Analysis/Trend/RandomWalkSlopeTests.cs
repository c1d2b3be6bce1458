using System.Text.Json;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Support;
using Xunit;

namespace DriftWatch.Tests.Analysis.Trend;

public class RandomWalkSlopeTests
{
    [Fact]
    public void The_share_of_random_walks_that_pass_a_ratio_is_that_of_a_million_simulated_ones()
    {
        JsonElement golden = Golden.Json("trend/random-walk-slope");
        foreach ((double share, double ratio) in golden.GetProperty("shares").Doubles().Zip(golden.GetProperty("ratios").Doubles()))
        {
            // A million walks give the share of 1e-4 to a tenth.
            Assert.InRange(RandomWalkSlope.Significance(ratio) / share, 0.85, 1.15);
        }
    }

    [Fact]
    public void It_falls_steadily_to_nothing_and_a_ratio_below_zero_is_the_callers_mistake()
    {
        Assert.Equal(1, RandomWalkSlope.Significance(0));
        Assert.Equal(0, RandomWalkSlope.Significance(double.PositiveInfinity));
        double before = 1;
        for (double ratio = 0.5; ratio < 80; ratio += 0.5)
        {
            double share = RandomWalkSlope.Significance(ratio);
            Assert.InRange(share, double.Epsilon, before * 0.999999);
            before = share;
        }

        Assert.Equal("ratio", Assert.Throws<ArgumentException>(() => RandomWalkSlope.Significance(double.NaN)).ParamName);
        Assert.Equal("ratio", Assert.Throws<ArgumentException>(() => RandomWalkSlope.Significance(-1)).ParamName);
    }

    [Fact]
    public void A_drifts_significance_is_the_confidence_at_which_its_interval_reaches_nothing()
    {
        double[] times = [.. Enumerable.Range(0, 120).Select(i => (double)i)];
        var random = new Random(4);
        double[] values = [.. times.Select(t => (0.003 * t) + random.NextDouble())];
        DriftEstimate drift = Drift.Estimate(times, values).Value;
        DriftEstimate wider = Drift.Estimate(times, values, 1 - drift.Significance).Value;
        Assert.InRange(Math.Min(Math.Abs(wider.Lower), Math.Abs(wider.Upper)), 0, 1e-9);
    }
}
