using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.TimingGeometry;

/// <summary>Real lines: angles come from the marks, whatever is wrong with one of them.</summary>
public class LineGridTests
{
    [Fact]
    public void Lines_between_marks_get_the_head_and_angle_of_the_simulation()
    {
        foreach (JsonElement grid in TimingCases.Grids)
        {
            PlacedLines placed = Place(grid, TimingCases.Marks(grid));
            double[] angles = grid.GetProperty("theta_rad").Doubles();
            Assert.Empty(placed.Troubles);
            Assert.Equal(0, placed.AngleZeroDegrees);
            for (int i = 0; i < angles.Length; i++)
            {
                Assert.Equal(1 + (int)grid.GetProperty("head")[i].GetInt32(), placed.Samples.Heads[i]);
                Assert.Equal(angles[i] * 180 / Math.PI, placed.Samples.AnglesDegrees[i], 1e-6);
            }
        }
    }

    [Fact]
    public void A_mark_once_a_revolution_says_the_same()
    {
        JsonElement grid = TimingCases.Grids.First();
        HeadMark[] once = [.. TimingCases.Marks(grid).Where(m => m.Head == 1)];
        PlacedLines all = Place(grid, TimingCases.Marks(grid));
        PlacedLines few = Place(grid, once);
        for (int i = 0; i < all.Samples.Count; i++)
        {
            Assert.Equal(all.Samples.Heads[i], few.Samples.Heads[i]);
            Assert.Equal(all.Samples.AnglesDegrees[i], few.Samples.AnglesDegrees[i], 1e-6);
        }
    }

    [Fact]
    public void Several_revolutions_of_real_lines_give_the_terms_that_numpy_finds()
    {
        foreach (JsonElement grid in TimingCases.Grids)
        {
            JsonElement expect = grid.GetProperty("expect");
            TimingDecomposition found = TimingFit.Decompose(Place(grid, TimingCases.Marks(grid)).Samples).Value;
            Assert.Equal(expect.Number("mean"), found.Terms.Mean.Value, 1e-3);
            Assert.Equal(expect.Number("skew"), found.Terms.Skew.Value, 1e-3);
            Assert.Equal(expect.Number("scallop"), found.Terms.Scallop.Value, 1e-3);
            double[] steps = expect.GetProperty("steps").Doubles();
            double[] lag = grid.GetProperty("inputs").GetProperty("lag_arcmin").Doubles();
            for (int head = 1; head <= 4; head++)
            {
                Assert.Equal(steps[head - 1], found.Terms.Step(head).Value.Value, 1e-3);
                Assert.Equal(lag[head - 1], found.StepArcMinutes(head).Value.Value, 1e-4);
            }

            Assert.Equal(grid.GetProperty("inputs").Number("p"), found.PenetrationMil.Value, 1e-5);
            Assert.Equal(grid.GetProperty("inputs").Number("h"), found.HeightMil.Value, 1e-5);
            Assert.Equal(AngleZeroVerdict.InPlace, found.Zero.Verdict);
        }
    }

    [Fact]
    public void A_lost_mark_is_bridged_and_named()
    {
        JsonElement grid = TimingCases.Grids.First();
        List<HeadMark> marks = [.. TimingCases.Marks(grid)];
        marks.RemoveAt(10);
        PlacedLines placed = Place(grid, [.. marks]);
        Assert.Equal(MarkTroubleKind.MarkLost, Assert.Single(placed.Troubles).Kind);
        Assert.Equal(0.35, TimingFit.Decompose(placed.Samples).Value.PenetrationMil.Value, 1e-5);
    }

    [Fact]
    public void One_mark_a_line_late_is_left_out()
    {
        JsonElement grid = TimingCases.Grids.First();
        HeadMark[] marks = TimingCases.Marks(grid);
        marks[9] = marks[9] with { Line = marks[9].Line + 1 };
        PlacedLines placed = Place(grid, marks);
        MarkTrouble trouble = Assert.Single(placed.Troubles);
        Assert.Equal(MarkTroubleKind.MarkOff, trouble.Kind);
        Assert.Equal(1, trouble.Lines, 1e-6);
        Assert.Equal(0.35, TimingFit.Decompose(placed.Samples).Value.PenetrationMil.Value, 1e-5);
    }

    [Fact]
    public void A_line_lost_in_the_count_costs_only_the_lines_between_two_marks()
    {
        JsonElement grid = TimingCases.Grids.First();
        double[] errors = grid.GetProperty("e_ns").Doubles();
        HeadMark[] marks = TimingCases.Marks(grid);

        // Line 200 was never counted: what follows, marks too, stands a line earlier.
        double[] short1 = [.. errors[..200], .. errors[201..]];
        HeadMark[] slipped = [.. marks.Select(m => m.Line > 200 ? m with { Line = m.Line - 1 } : m)];
        PlacedLines placed = LineGrid.Place(TimingStandard.Mono525, short1, slipped).Value;
        MarkTrouble trouble = Assert.Single(placed.Troubles);
        Assert.Equal(MarkTroubleKind.LinesSlipped, trouble.Kind);
        Assert.Equal(-1, trouble.Lines, 1e-6);
        Assert.InRange(placed.Samples.Count, 524 - 17, 524 - 15);
        TimingDecomposition found = TimingFit.Decompose(placed.Samples).Value;
        Assert.Equal(0.35, found.PenetrationMil.Value, 1e-5);
        Assert.Equal(-0.6, found.HeightMil.Value, 1e-4);
    }

    [Fact]
    public void Whole_numbered_marks_are_smoothed_and_say_how_unsure_the_zero_is()
    {
        JsonElement grid = TimingCases.Grids.First();
        HeadMark[] whole = [.. TimingCases.Marks(grid).Select(m => m with { Line = Math.Ceiling(m.Line) })];
        PlacedLines placed = Place(grid, whole);
        Assert.Empty(placed.Troubles);
        Assert.InRange(placed.AngleZeroDegrees, 0.1, 0.5);
        double[] angles = grid.GetProperty("theta_rad").Doubles();
        double off = Enumerable.Range(0, angles.Length)
            .Where(i => placed.Samples.Heads[i] == 1 + grid.GetProperty("head")[i].GetInt32())
            .Average(i => placed.Samples.AnglesDegrees[i] - (angles[i] * 180 / Math.PI));
        Assert.InRange(Math.Abs(off), 0, 3 * placed.AngleZeroDegrees);
    }

    [Fact]
    public void A_625_record_read_as_525_is_refused_and_its_standard_named()
    {
        JsonElement grid = TimingCases.Grids.Last();
        double[] errors = grid.GetProperty("e_ns").Doubles();
        HeadMark[] marks = TimingCases.Marks(grid);
        Answer<PlacedLines> answer = LineGrid.Place(TimingStandard.Mono525, errors, marks);
        Assert.False(answer.IsKnown);
        Assert.Equal(62.5, answer.Missing!.Has, 1e-6);
        Assert.Equal(65.625, answer.Missing.Needs, 1e-6);
        Assert.Same(TimingStandard.Line625, LineGrid.StandardOf(LineGrid.LinesPerRevolution(TimingStandard.Mono525, marks).Value));
        HeadMark[] once = [.. marks.Where(m => m.Head == 1)];
        Assert.False(LineGrid.Place(TimingStandard.Colour525, errors, once).IsKnown);
        Assert.True(LineGrid.Place(TimingStandard.Line625, errors, once).IsKnown);
    }

    [Fact]
    public void Without_marks_or_with_marks_that_make_no_sense_nothing_is_placed()
    {
        double[] errors = new double[100];
        Assert.Equal("head-switch marks", LineGrid.Place(TimingStandard.Mono525, errors, [new HeadMark(3, 1)]).Missing!.What);
        Assert.Throws<ArgumentException>(() => LineGrid.Place(TimingStandard.Mono525, errors, [new HeadMark(3, 1), new HeadMark(3, 2)]));
        Assert.Throws<ArgumentException>(() => LineGrid.Place(TimingStandard.Mono525, errors, [new HeadMark(3, 0), new HeadMark(20, 1)]));
        errors[4] = double.NaN;
        Assert.Throws<ArgumentException>(() => LineGrid.Place(TimingStandard.Mono525, errors, [new HeadMark(3, 1), new HeadMark(69, 1)]));
    }

    private static PlacedLines Place(JsonElement grid, HeadMark[] marks) =>
        LineGrid.Place(TimingCases.Standard(grid.GetProperty("std").GetString()!), grid.GetProperty("e_ns").Doubles(), marks).Value;
}
