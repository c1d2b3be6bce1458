using DriftWatch.Analysis;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>What to turn, and which way: p below 0 is a guide too far in.</summary>
public class GuideAdviceTests
{
    [Theory]
    [InlineData(-0.4, "OUT, away from the wheel")]
    [InlineData(0.4, "IN, towards the wheel")]
    public void A_guide_that_is_in_is_moved_out_and_the_other_way(double pMil, string way)
    {
        GuideAdviceItem item = For(pMil, 0, [0, 0, 0, 0]).First(i => i.Adjustment == Adjustment.GuideInOut);
        Assert.Equal(AdviceVerdict.Turn, item.Verdict);
        Assert.Contains(way, item.Text, StringComparison.Ordinal);
        Assert.Equal(pMil, item.Amount.Value, 4 * item.Amount.StandardUncertainty);
        Assert.InRange(item.SureOfSense, 0.9999, 1);
        Assert.Equal(3, item.Severity);
        Assert.Contains("10.", item.Text, StringComparison.Ordinal); // 0.4 mil is 10.2 µm
    }

    [Theory]
    [InlineData(-0.4, "along the heads' motion")]
    [InlineData(0.4, "against the heads' motion")]
    public void A_guide_that_is_along_the_motion_is_moved_against_it(double hMil, string way)
    {
        IReadOnlyList<GuideAdviceItem> items = For(0, hMil, [0, 0, 0, 0]);
        Assert.Contains(way, items.First(i => i.Adjustment == Adjustment.GuideHeight).Text, StringComparison.Ordinal);
        Assert.Equal(AdviceVerdict.LeaveWithinTolerance, items.First(i => i.Adjustment == Adjustment.GuideInOut).Verdict);
    }

    [Fact]
    public void A_late_head_loses_delay_and_an_early_one_gains_it()
    {
        IReadOnlyList<GuideAdviceItem> items = For(0, 0, [60, -60, 10, -10]);
        Assert.StartsWith("take ", Delay(1).Text, StringComparison.Ordinal);
        Assert.StartsWith("add ", Delay(2).Text, StringComparison.Ordinal);
        Assert.Equal(AdviceVerdict.LeaveWithinTolerance, Delay(3).Verdict);
        Assert.Equal(60 / TimingStandard.Mono525.NsPerArcMinute, Delay(1).Amount.Value, 0.05);
        Assert.Equal(2, Delay(1).Severity);

        GuideAdviceItem Delay(int head) => items.First(i => i.Head == head);
    }

    [Fact]
    public void What_is_beyond_tolerance_and_within_two_errors_is_left_for_now()
    {
        var seen = new HashSet<AdviceVerdict>();
        for (int seed = 0; seed < 40; seed++)
        {
            double[] e = TimingCases.Noisy(new Random(seed), 0, 0.16, [0, 0, 0, 0], 60);
            TimingDecomposition found = TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e)).Value;
            GuideAdviceItem height = GuideAdvice.For(found, TapePlayed.Reference).Value.First(i => i.Adjustment == Adjustment.GuideHeight);
            double size = Math.Abs(height.SeenNs.Value);
            AdviceVerdict expected = size <= 20 ? AdviceVerdict.LeaveWithinTolerance
                : size <= 2 * height.SeenNs.StandardUncertainty ? AdviceVerdict.LeaveNotSure : AdviceVerdict.Turn;
            Assert.Equal(expected, height.Verdict);
            Assert.InRange(height.SureOfSense, 0.5, 1);
            Assert.True(expected != AdviceVerdict.LeaveNotSure || height.SureOfSense < 0.98);
            seen.Add(expected);
        }

        Assert.Contains(AdviceVerdict.LeaveNotSure, seen);
    }

    [Fact]
    public void What_is_played_decides_what_the_advice_means()
    {
        TimingDecomposition found = TimingFit.Decompose(TimingSamples.FromFrame(
            TimingStandard.Mono525, TimingCases.Axis, TimingCases.Noisy(new Random(2), 0.5, 0.5, [0, 0, 0, 0], 1))).Value;
        Answer<IReadOnlyList<GuideAdviceItem>> own = GuideAdvice.For(found, TapePlayed.OwnUnmoved);
        Assert.False(own.IsKnown);
        Assert.Contains("its own, played unmoved, shows none", own.Missing!.ToString(), StringComparison.Ordinal);
        Assert.Contains("says nothing of the guide against the standard", GuideAdvice.For(found, TapePlayed.FromElsewhere).Value[0].Text, StringComparison.Ordinal);
        Assert.DoesNotContain("against the standard", GuideAdvice.For(found, TapePlayed.Reference).Value[0].Text, StringComparison.Ordinal);
    }

    private static IReadOnlyList<GuideAdviceItem> For(double pMil, double hMil, double[] stepsNs) => GuideAdvice.For(
        TimingFit.Decompose(TimingSamples.FromFrame(
            TimingStandard.Mono525, TimingCases.Axis, TimingCases.Noisy(new Random(2), pMil, hMil, stepsNs, 2))).Value,
        TapePlayed.Reference).Value;
}
