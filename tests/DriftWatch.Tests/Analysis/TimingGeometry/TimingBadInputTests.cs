using System.Text.Json;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>Records that are wrong in the ways records are.</summary>
public class TimingBadInputTests
{
    private static readonly double[] Steps = [20, -30, 15, -5];

    [Fact]
    public void A_missing_head_is_named_and_the_rest_fitted()
    {
        TimingSamples whole = Frame(0.5, -0.4, 1);
        int[] heads = whole.Heads.ToArray();
        TimingDecomposition found = TimingFit.Decompose(whole.Where([.. heads.Select(h => h != 3)])).Value;
        Assert.Contains(found.Notes, n => n.Kind == TimingNoteKind.HeadMissing && n.Text.StartsWith("Head 3 has 0", StringComparison.Ordinal));
        Assert.Equal(0.5, found.PenetrationMil.Value, 4 * found.PenetrationMil.StandardUncertainty);
        Assert.Equal(-0.4, found.HeightMil.Value, 4 * found.HeightMil.StandardUncertainty);
        Assert.False(found.Terms.Step(3).IsKnown);
        Assert.Equal("points of head 3", found.Terms.Step(3).Missing!.What);

        // Steps are then counted from the mean of the three: −5 of 20, −30, −5.
        Assert.Equal(-25, found.Terms.Step(2).Value.Value, 4 * found.Terms.Step(2).Value.StandardUncertainty);
    }

    [Fact]
    public void One_head_alone_tells_guide_and_no_steps()
    {
        TimingSamples whole = Frame(0.5, -0.4, 1);
        int[] heads = whole.Heads.ToArray();
        TimingDecomposition found = TimingFit.Decompose(whole.Where([.. heads.Select(h => h == 2)])).Value;
        Assert.Equal(0.5, found.PenetrationMil.Value, 5 * found.PenetrationMil.StandardUncertainty);
        Assert.Equal("heads to compare", found.Terms.Step(2).Missing!.What);
        Assert.Null(found.Alternative);
    }

    [Theory]
    [InlineData(1, 0.5)]
    [InlineData(-1, 0.5)]
    [InlineData(1, -0.8)]
    public void A_mark_a_slot_off_is_seen_where_heads_switch_and_turned_back(int slots, double pMil)
    {
        TimingSamples sound = Frame(pMil, -0.4, 3);
        TimingDecomposition good = TimingFit.Decompose(sound).Value;
        Assert.Equal(AngleZeroVerdict.InPlace, good.Zero.Verdict);

        TimingDecomposition found = TimingFit.Decompose(sound.Turned(5.625 * slots)).Value;
        Assert.Equal(AngleZeroVerdict.Off, found.Zero.Verdict);
        Assert.InRange(found.Zero.OffsetDegrees, (-5.625 * slots) - 3, (-5.625 * slots) + 3);
        Assert.Contains(found.Notes, n => n.Kind == TimingNoteKind.AngleZeroCorrected);

        // Left as it was, a tenth of one term would have gone into the other.
        TimingTerms asRead = TimingDecomposer.For(sound.Turned(5.625 * slots)).Value.Decompose(sound.ErrorsNs);
        Assert.True(
            Math.Abs(found.HeightMil.Value + 0.4) < Math.Abs(asRead.HeightMil(TimingStandard.Mono525).Value + 0.4),
            $"{found.HeightMil.Value} is no better than {asRead.HeightMil(TimingStandard.Mono525).Value}");
    }

    [Fact]
    public void Real_lines_tell_a_mark_a_line_off_to_a_quarter_of_a_line()
    {
        JsonElement grid = TimingCases.Grids.First();
        double[] errors = grid.GetProperty("e_ns").Doubles();
        HeadMark[] late = [.. TimingCases.Marks(grid).Select(m => m with { Line = m.Line + 1 })];
        TimingDecomposition found = TimingFit.Decompose(LineGrid.Place(TimingStandard.Mono525, errors, late).Value.Samples).Value;
        Assert.Equal(AngleZeroVerdict.Off, found.Zero.Verdict);
        Assert.Equal(TimingStandard.Mono525.DegreesPerLine, found.Zero.OffsetDegrees, 0.2);
        Assert.Equal(0.35, found.PenetrationMil.Value, 0.01);
        Assert.Equal(-0.6, found.HeightMil.Value, 0.01);
    }

    [Fact]
    public void Where_nothing_changes_at_the_switch_it_says_that_the_zero_is_not_told()
    {
        // Height alone is a cosine that meets itself at the switch, and it is small against the noise.
        TimingDecomposition found = TimingFit.Decompose(TimingSamples.FromFrame(
            TimingStandard.Mono525, TimingCases.Axis, TimingCases.Noisy(new Random(3), 0, 0.01, [0, 0, 0, 0], 3))).Value;
        Assert.Equal(AngleZeroVerdict.NotTold, found.Zero.Verdict);
        Assert.Contains(found.Notes, n => n.Kind == TimingNoteKind.AngleZeroNotTold);
    }

    [Fact]
    public void Sound_noisy_records_are_not_turned()
    {
        var random = new Random(20261128);
        for (int round = 0; round < 300; round++)
        {
            double[] e = TimingCases.Noisy(random, random.NextDouble() - 0.5, random.NextDouble() - 0.5, Steps, 5, round % 2 == 0 ? 0 : 0.5);
            TimingDecomposition found = TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e)).Value;
            Assert.True(found.Zero.Verdict != AngleZeroVerdict.Off, $"round {round}: turned by {found.Zero.OffsetDegrees}");
            Assert.DoesNotContain(found.Notes, n => n.Kind == TimingNoteKind.Clipped);
        }
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Samples_at_the_converters_end_are_left_out_and_named(bool endsKnown)
    {
        double[] e = TimingCases.Noisy(new Random(4), 1, 0.1, Steps, 2);
        for (int i = 0; i < e.Length; i++)
        {
            e[i] = Math.Clamp(e[i], -300, 300);
        }

        TimingDecomposition found = TimingFit.Decompose(
            TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e), ends: endsKnown ? (-300, 300) : null).Value;
        TimingNote note = Assert.Single(found.Notes, n => n.Kind == TimingNoteKind.Clipped);
        Assert.Contains("300 ns", note.Text, StringComparison.Ordinal);
        Assert.Equal(1, found.PenetrationMil.Value, 0.02);

        // Believed, the flat ends would have halved it.
        TimingTerms believed = TimingDecomposer.ForAxis(TimingCases.Axis).Value.Decompose(e);
        Assert.InRange(believed.PenetrationMil(TimingStandard.Mono525).Value, 0.5, 0.9);
    }

    [Fact]
    public void A_record_mostly_at_the_end_is_refused()
    {
        double[] e = [.. TimingCases.Noisy(new Random(4), 1, 0.1, Steps, 2).Select(v => Math.Clamp(v, -100, 100))];
        Assert.Equal(
            "points short of the converter's end",
            TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e), ends: (-100, 100)).Missing!.What);
    }

    [Fact]
    public void A_coarse_converter_is_not_taken_for_a_full_one()
    {
        double[] e = [.. TimingCases.Noisy(new Random(5), 0.01, 0, [0, 0, 0, 0], 3).Select(v => 5 * Math.Round(v / 5))];
        Assert.Equal(0, Saturation.Find(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, e)).Count);
    }

    [Fact]
    public void Constant_short_and_broken_records_are_answered_or_thrown_as_they_deserve()
    {
        double[] flat = new double[64];
        Assert.Equal("distinct values", TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, flat)).Missing!.What);
        Assert.Equal("points", TimingFit.Decompose(TimingSamples.From(TimingStandard.Mono525, [], [], [])).Missing!.What);
        Assert.False(TimingFit.Decompose(TimingSamples.From(TimingStandard.Mono525, [1, 1, 1], [-10, 0, 10], [1, 2, 4])).IsKnown);
        Assert.Equal(
            "different angles",
            TimingFit.Decompose(TimingSamples.From(TimingStandard.Mono525, [1, 1, 1, 1, 1, 1, 1, 1], [5, 5, 5, 5, 5, 5, 5, 5], [1, 2, 4, 1, 2, 1, 3, 2])).Missing!.What);
        flat[3] = double.NaN;
        Assert.Throws<ArgumentException>(() => TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, flat));
        Assert.Throws<ArgumentException>(() => TimingDecomposer.ForAxis(TimingCases.Axis).Value.Decompose(flat));
        Assert.Throws<ArgumentException>(() => TimingDecomposer.ForAxis(TimingCases.Axis).Value.Decompose(new double[63]));
        Assert.Throws<ArgumentException>(() => TimingSamples.From(TimingStandard.Mono525, [5], [0], [1]));
        Assert.Throws<ArgumentException>(() => TimingSamples.From(TimingStandard.Mono525, [1], [120], [1]));
        Assert.Throws<ArgumentException>(() => TimingSamples.From(TimingStandard.Mono525, [1, 2], [0], [1, 2]));
    }

    [Fact]
    public void A_narrow_window_says_that_terms_are_hardly_told_apart()
    {
        FrameAxis narrow = FrameAxis.Even(16, 8);
        double[] e = [.. narrow.AnglesDegrees.Select((a, i) => (50 * Math.Sin(a * Math.PI / 180)) + (i % 3))];
        TimingDecomposition found = TimingFit.Decompose(TimingSamples.FromFrame(TimingStandard.Mono525, narrow, e)).Value;
        Assert.True(found.Condition > 10);
        Assert.Contains(found.Notes, n => n.Kind == TimingNoteKind.Confounded);
        Assert.Equal(AngleZeroVerdict.NotTold, found.Zero.Verdict);
    }

    private static TimingSamples Frame(double pMil, double hMil, double sigmaNs) =>
        TimingSamples.FromFrame(TimingStandard.Mono525, TimingCases.Axis, TimingCases.Noisy(new Random(7), pMil, hMil, Steps, sigmaNs));
}
