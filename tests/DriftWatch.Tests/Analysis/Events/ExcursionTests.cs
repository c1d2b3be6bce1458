using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis.Events;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Events;

public sealed class ExcursionTests
{
    private static readonly ExcursionRule Above = new(ExcursionSide.Above, 10, 8);

    private static readonly JsonElement FromScipy = Golden.Json("events/excursions");

    [Theory]
    [InlineData("Nile")]
    [InlineData("LakeHuron")]
    [InlineData("lh")]
    [InlineData("nhtemp")]
    public void Runs_agree_with_labelled_runs_of_scipy_and_areas_with_trapezoids_of_numpy(string set)
    {
        JsonElement kept = FromScipy.GetProperty(set);
        double[] y = Golden.DataSet(set);
        double[] t = [.. Enumerable.Range(1, y.Length).Select(i => (double)i)];
        double start = kept.Number("start");
        double end = kept.Number("end");
        Same(kept.GetProperty("above"), Excursions.Find(t, y, new ExcursionRule(ExcursionSide.Above, start, end)));
        Same(kept.GetProperty("below"), Excursions.Find(t, y, new ExcursionRule(ExcursionSide.Below, end, start)));
    }

    /// <summary>
    /// The worked example of scikit-image's apply_hysteresis_threshold, from memory: of 1 2 3 2 1 2 1 3 2 with 1.5 and 2.5 it keeps
    /// 0 1 1 1 0 0 0 1 1. An excursion is that from its first sample beyond the upper level on, since what comes later can't be known before.
    /// </summary>
    [Fact]
    public void The_documented_example_of_a_hysteresis_threshold_has_its_two_runs()
    {
        double[] y = [1, 2, 3, 2, 1, 2, 1, 3, 2];
        double[] t = [.. y.Select((_, i) => (double)i)];
        IReadOnlyList<Excursion> found = Excursions.Find(t, y, new ExcursionRule(ExcursionSide.Above, 2.5, 1.5));
        bool[] beyond = [.. t.Select(at => found.Any(e => e.Start <= at && at <= e.End))];
        Assert.Equal([false, false, true, true, false, false, false, true, true], beyond);
        Assert.Equal(3.5, found[0].End);
    }

    [Fact]
    public void One_hump_gives_start_end_extreme_and_area_as_worked_by_hand()
    {
        // 4 → 12 crosses 10 at 0.75; 12 → 14 → 6 crosses 8 at 2.75. Beyond 8: 2 at the crossing, 4, 6, 0.
        Excursion e = Assert.Single(Excursions.Find([0, 1, 2, 3, 4], [4, 12, 14, 6, 5], Above));
        Assert.Equal(new Excursion(0.75, 2.75, 14, 2, (0.25 * 3) + 5 + (0.75 * 3), 1, ExcursionEnd.CameBack), e);
        Assert.Equal(2, e.Duration);
    }

    [Fact]
    public void Noise_between_the_two_levels_makes_no_further_excursion() =>
        Assert.Single(Excursions.Find([0, 1, 2, 3, 4, 5, 6], [0, 11, 9, 11, 8.1, 10, 0], Above));

    [Fact]
    public void What_reaches_the_end_level_is_back() =>
        Assert.Equal(2, Excursions.Find([0, 1, 2, 3, 4], [0, 11, 8, 11, 0], Above).Count);

    [Fact]
    public void Two_nearer_than_the_least_separation_are_one_with_the_areas_of_both()
    {
        double[] t = [0, 1, 2, 3, 4, 5, 6];
        double[] y = [0, 12, 4, 4, 16, 0, 0];
        IReadOnlyList<Excursion> apart = Excursions.Find(t, y, Above);
        Assert.Equal(2, apart.Count);
        double between = apart[1].Start - apart[0].End;
        Assert.Equal(2, Excursions.Find(t, y, Above with { MinSeparationSeconds = between }).Count);
        Excursion one = Assert.Single(Excursions.Find(t, y, Above with { MinSeparationSeconds = between + 1e-9 }));
        Assert.Equal(new Excursion(apart[0].Start, apart[1].End, 16, 4, apart[0].Area + apart[1].Area, 2, ExcursionEnd.CameBack), one);
    }

    [Fact]
    public void One_shorter_than_the_least_duration_is_not_told()
    {
        double[] t = [0, 1, 2, 3, 4];
        double[] y = [4, 12, 14, 6, 5];
        Assert.Single(Excursions.Find(t, y, Above with { MinDurationSeconds = 2 }));
        Assert.Empty(Excursions.Find(t, y, Above with { MinDurationSeconds = 2.01 }));
    }

    [Fact]
    public void What_has_not_come_back_at_the_end_is_open() =>
        Assert.Equal(ExcursionEnd.Open, Assert.Single(Excursions.Find([0, 1, 2], [0, 12, 12], Above)).Ended);

    [Fact]
    public void A_gap_ends_an_excursion_at_the_last_sample_before_it_and_joins_nothing_over_it()
    {
        IReadOnlyList<Excursion> found = Excursions.Find(
            [0, 1, 2, 100, 101, 102], [0, 12, 12, 12, 12, 0], Above with { LongestGapSeconds = 5, MinSeparationSeconds = 1000 });
        Assert.Equal([ExcursionEnd.Gap, ExcursionEnd.CameBack], found.Select(e => e.Ended));
        Assert.Equal((2, 100), (found[0].End, found[1].Start));
    }

    [Fact]
    public void The_detector_and_the_whole_record_agree()
    {
        Gen<(double, int)[]> samples = Gen.Select(Gen.Double[0.1, 3], Gen.Int[-8, 8]).Array[0, 120];
        Gen.Select(samples, Gen.Bool, Gen.Int[-3, 6], Gen.Int[0, 5], Gen.Double[0, 6], Gen.Double[0, 4], Gen.Bool).Sample(
            (steps, above, level, hysteresis, separation, duration, gaps) =>
            {
                double now = 1e6;
                double[] t = [.. steps.Select(s => now += s.Item1)];
                double[] y = [.. steps.Select(s => s.Item2 / 2.0)];
                var rule = new ExcursionRule(
                    above ? ExcursionSide.Above : ExcursionSide.Below, level / 2.0, (above ? level - hysteresis : level + hysteresis) / 2.0)
                {
                    MinSeparationSeconds = separation,
                    MinDurationSeconds = duration,
                    LongestGapSeconds = gaps ? 2.5 : double.PositiveInfinity,
                };
                IReadOnlyList<Excursion> whole = Excursions.Find(t, y, rule);
                List<Excursion> streamed = Stream(t, y, rule);
                Assert.Equal(whole.Count, streamed.Count);
                foreach ((Excursion a, Excursion b) in whole.Zip(streamed))
                {
                    Assert.Equal(a.Start, b.Start, 1e-8);
                    Assert.Equal(a.End, b.End, 1e-8);
                    Assert.Equal(a.Area, b.Area, 1e-7);
                    Assert.Equal((a.Extreme, a.ExtremeTime, a.Parts, a.Ended), (b.Extreme, b.ExtremeTime, b.Parts, b.Ended));
                }
            },
            iter: 20_000);
    }

    [Fact]
    public void The_current_excursion_grows_until_it_is_told()
    {
        var detector = new ExcursionDetector(Above with { MinSeparationSeconds = 3 });
        Assert.Null(detector.Current);
        Assert.False(detector.Add(0, 12, out _));
        Assert.True(detector.IsAway);
        Assert.Equal(12, detector.Current!.Value.Extreme);
        Assert.False(detector.Add(1, 0, out _));
        Assert.False(detector.IsAway);
        Assert.False(detector.Add(2, 15, out _));
        Assert.Equal((2, 15), (detector.Current!.Value.Parts, detector.Current.Value.Extreme));
        Assert.False(detector.Add(3, 0, out _));
        Assert.True(detector.Add(10, 0, out Excursion told));
        Assert.Equal((2, 15.0, ExcursionEnd.CameBack), (told.Parts, told.Extreme, told.Ended));
        Assert.Null(detector.Current);
        Assert.False(detector.Finish(out _));
    }

    [Fact]
    public void The_detector_allocates_nothing_on_the_way()
    {
        var detector = new ExcursionDetector(Above);
        detector.Add(-1, 0, out _);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 10_000; i++)
        {
            detector.Add(i, i % 20, out _);
        }

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    [Fact]
    public void A_constant_series_at_the_level_is_one_excursion_and_beside_it_none()
    {
        double[] t = [1, 2, 3];
        Assert.Equal(ExcursionEnd.Open, Assert.Single(Excursions.Find(t, [10, 10, 10], Above)).Ended);
        Assert.Empty(Excursions.Find(t, [9, 9, 9], Above));
    }

    [Fact]
    public void One_point_is_an_excursion_without_duration()
    {
        Excursion e = Assert.Single(Excursions.Find([5], [11], Above));
        Assert.Equal((5, 5, 0, 0), (e.Start, e.End, e.Duration, e.Area));
    }

    [Fact]
    public void Nothing_but_faults_is_no_excursion()
    {
        Assert.Empty(Excursions.Find([], [], Above));
        Assert.False(new ExcursionDetector(Above).Finish(out _));
    }

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        double[] t = [.. Enumerable.Range(0, 500).Select(i => 1e9 + i)];
        double[] y = [.. t.Select(x => 1e-3 * Math.Sin((x - 1e9) / 20))];
        double[] shifted = [.. y.Select(v => 1e9 + v)];
        IReadOnlyList<Excursion> plain = Excursions.Find(t, y, new ExcursionRule(ExcursionSide.Above, 5e-4, 1e-4));
        IReadOnlyList<Excursion> far = Excursions.Find(t, shifted, new ExcursionRule(ExcursionSide.Above, 1e9 + 5e-4, 1e9 + 1e-4));
        Assert.Equal(plain.Count, far.Count);
        Assert.All(plain.Zip(far), pair => Assert.Equal(pair.First.Area, pair.Second.Area, 1e-5));
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => Excursions.Find([1, 1], [1, 2], Above)).ParamName);
        Assert.Equal("times", Assert.Throws<ArgumentException>(() => Excursions.Find([2, 1], [1, 2], Above)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Excursions.Find([1, 2], [1], Above)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => Excursions.Find([1], [double.NaN], Above)).ParamName);
        Assert.Equal("endLevel", Assert.Throws<ArgumentException>(() => new ExcursionRule(ExcursionSide.Above, 1, 2)).ParamName);
        Assert.Equal("endLevel", Assert.Throws<ArgumentException>(() => new ExcursionRule(ExcursionSide.Below, 2, 1)).ParamName);
        Assert.Throws<ArgumentException>(() => Above with { MinSeparationSeconds = -1 });
        Assert.Throws<ArgumentException>(() => Above with { MinDurationSeconds = double.NaN });
        Assert.Throws<ArgumentException>(() => Above with { LongestGapSeconds = 0 });
        var detector = new ExcursionDetector(Above);
        detector.Add(5, 1, out _);
        Assert.Equal("time", Assert.Throws<ArgumentException>(() => detector.Add(5, 1, out _)).ParamName);
        Assert.Equal("value", Assert.Throws<ArgumentException>(() => detector.Add(6, double.NaN, out _)).ParamName);
    }

    private static List<Excursion> Stream(double[] t, double[] y, ExcursionRule rule)
    {
        var detector = new ExcursionDetector(rule);
        var told = new List<Excursion>();
        for (int i = 0; i < t.Length; i++)
        {
            if (detector.Add(t[i], y[i], out Excursion e))
            {
                told.Add(e);
            }
        }

        if (detector.Finish(out Excursion last))
        {
            told.Add(last);
        }

        return told;
    }

    private static void Same(JsonElement kept, IReadOnlyList<Excursion> found)
    {
        Assert.Equal(kept.GetArrayLength(), found.Count);
        foreach ((JsonElement row, Excursion e) in kept.EnumerateArray().Zip(found))
        {
            double[] expected = row.Doubles();
            double[] actual = [e.Start, e.End, e.Extreme, e.ExtremeTime, e.Area, e.Ended == ExcursionEnd.Open ? 1 : 0];
            Assert.All(expected.Zip(actual), pair => Assert.Equal(pair.First, pair.Second, 1e-9 * Math.Max(1, Math.Abs(pair.First))));
        }
    }
}
