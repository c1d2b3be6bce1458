using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>Where a head's pass begins, on the count of lines.</summary>
/// <param name="Line">Place of the edge, counted in lines from the record's first sample at 0; may lie between lines and outside of the record.</param>
/// <param name="Head">Which head begins its pass there, 1 to 4. A mark once a revolution names head 1 each time.</param>
public readonly record struct HeadMark(double Line, int Head);

/// <summary>What was found amiss with the marks of a record, and what was done about it.</summary>
/// <param name="Kind">Which.</param>
/// <param name="Line">Where.</param>
/// <param name="Lines">How much, in lines: passes lost, or how far a mark is off.</param>
public readonly record struct MarkTrouble(MarkTroubleKind Kind, double Line, double Lines)
{
    public override string ToString() => Kind switch
    {
        MarkTroubleKind.MarkLost => $"a head-switch mark before line {Line:0.#} is missing; the {Lines:0.#} lines up to it were placed between the marks on either side",
        MarkTroubleKind.MarkOff => $"the head-switch mark at line {Line:0.#} is {Math.Abs(Lines):0.0} lines {(Lines > 0 ? "late" : "early")} against its neighbours and was left out",
        _ => $"{Math.Abs(Lines):0.0} lines were {(Lines > 0 ? "counted too many" : "lost")} before the mark at line {Line:0.#}; what lies between it and the mark before was left out",
    };
}

/// <summary>Kinds of <see cref="MarkTrouble"/>.</summary>
public enum MarkTroubleKind
{
    /// <summary>Two marks are a whole mark further apart than they should be.</summary>
    MarkLost,

    /// <summary>One mark is out of step with those on both sides.</summary>
    MarkOff,

    /// <summary>All marks from here on are out of step by whole lines with those before: lines were lost or counted twice.</summary>
    LinesSlipped,
}

/// <summary>A record placed on the real lines of the picture.</summary>
/// <param name="Samples">With head and angle worked out for every line.</param>
/// <param name="LinesPerRevolution">As the marks have it.</param>
/// <param name="AngleZeroDegrees">How unsure the angles' zero is, one standard deviation: whole-line marks leave something, edges timed between lines nothing.</param>
/// <param name="Troubles">What was amiss with the marks.</param>
public sealed record PlacedLines(TimingSamples Samples, double LinesPerRevolution, double AngleZeroDegrees, IReadOnlyList<MarkTrouble> Troubles);

/// <summary>
/// Head and angle of evenly spaced lines from the edges of a head-switch or tach signal. A pass has 16.406 lines (15.625), so lines
/// walk through it; an angle is never taken from a line's number in its pass. Between two marks the wheel turns evenly.
/// </summary>
public static class LineGrid
{
    /// <summary>Marks are out of step beyond this many lines: half of the one line by which counts go wrong.</summary>
    private const double OutOfStepLines = 0.5;

    /// <summary>Lines a revolution are this standard's within this share; the standards differ by 5 %.</summary>
    private const double StandardShare = 0.015;

    /// <param name="standard">Of the machine.</param>
    /// <param name="errorsNs">One a line, evenly spaced, finite; positive is late.</param>
    /// <param name="marks">In rising order, 2 or more. Whole-numbered ones are taken to say 'before this line', so they are smoothed.</param>
    /// <returns>
    /// A shortfall below two marks, where no lines lie between good marks, and where the marks are as far apart as another
    /// standard's: <see cref="LinesPerRevolution"/> and <see cref="StandardOf"/> say whose.
    /// </returns>
    /// <exception cref="ArgumentException">An error or mark is not finite, marks don't rise, or a head is not 1 to 4.</exception>
    public static Answer<PlacedLines> Place(TimingStandard standard, ReadOnlySpan<double> errorsNs, ReadOnlySpan<HeadMark> marks)
    {
        ArgumentNullException.ThrowIfNull(standard);
        Finite.Require(errorsNs);
        Check(marks);
        if (marks.Length < 2)
        {
            return new Shortfall("head-switch marks", marks.Length, 2);
        }

        double perTurn = PerTurn(standard, marks);
        if (Math.Abs((perTurn / standard.LinesPerRevolution) - 1) > StandardShare)
        {
            return new Shortfall("lines a revolution between the marks", perTurn, standard.LinesPerRevolution);
        }

        var troubles = new List<MarkTrouble>();
        List<Mark> good = Straighten(marks, perTurn, troubles, out double zeroLines, out List<(double From, double To)> holes);
        if (good.Count < 2)
        {
            return new Shortfall("head-switch marks in step", good.Count, 2);
        }

        double slope = (good[^1].Turns - good[0].Turns) / (good[^1].Line - good[0].Line);
        var heads = new List<int>(errorsNs.Length);
        var angles = new List<double>(errorsNs.Length);
        var errors = new List<double>(errorsNs.Length);
        var slots = new List<int>(errorsNs.Length);
        int after = 0;
        for (int line = 0; line < errorsNs.Length; line++)
        {
            while (after < good.Count && good[after].Line <= line)
            {
                after++;
            }

            if (holes.Exists(h => line > h.From && line < h.To))
            {
                continue;
            }

            double turns = after == 0 ? good[0].Turns + ((line - good[0].Line) * slope)
                : after == good.Count ? good[^1].Turns + ((line - good[^1].Line) * slope)
                : good[after - 1].Turns + ((line - good[after - 1].Line) * (good[after].Turns - good[after - 1].Turns) / (good[after].Line - good[after - 1].Line));
            (int head, double angle) = TimingSamples.Wrap(1, (360 * (turns - Math.Floor(turns))) - TimingStandard.HalfPassDegrees);
            heads.Add(head);
            angles.Add(angle);
            errors.Add(errorsNs[line]);
            slots.Add(line);
        }

        if (heads.Count == 0)
        {
            return new Shortfall("lines between good marks", 0, 1);
        }

        return new PlacedLines(
            TimingSamples.Placed(standard, [.. heads], [.. angles], [.. errors], [.. slots]), perTurn, zeroLines * 360 / perTurn, troubles);
    }

    /// <summary>The standard whose lines a revolution are these, or null: 62.5 or 65.625 within 1.5 %. Mono and colour are not told apart.</summary>
    public static TimingStandard? StandardOf(double linesPerRevolution) =>
        TimingStandard.All.FirstOrDefault(s => Math.Abs((linesPerRevolution / s.LinesPerRevolution) - 1) <= StandardShare);

    /// <summary>
    /// Lines a revolution as the marks have them: the median over neighbours, or over pairs half the record apart where marks are rounded to lines. Each
    /// distance of neighbours counts as the whole revolutions that suit it best: a lost mark must not look like another standard.
    /// </summary>
    /// <returns>A shortfall below two marks.</returns>
    public static Answer<double> LinesPerRevolution(TimingStandard standard, ReadOnlySpan<HeadMark> marks)
    {
        ArgumentNullException.ThrowIfNull(standard);
        Check(marks);
        return marks.Length < 2 ? new Shortfall("head-switch marks", marks.Length, 2) : PerTurn(standard, marks);
    }

    private static double PerTurn(TimingStandard standard, ReadOnlySpan<HeadMark> marks)
    {
        var turns = new double[marks.Length];
        for (int i = 1; i < marks.Length; i++)
        {
            turns[i] = turns[i - 1] + Turns(marks[i - 1].Head, marks[i].Head, marks[i].Line - marks[i - 1].Line, standard.LinesPerRevolution);
        }

        int apart = Whole(marks) ? Math.Max(1, marks.Length / 2) : 1;
        var perTurn = new List<double>(marks.Length);
        for (int i = apart; i < marks.Length; i++)
        {
            perTurn.Add((marks[i].Line - marks[i - apart].Line) / (turns[i] - turns[i - apart]));
        }

        perTurn.Sort();
        return perTurn[perTurn.Count / 2];
    }

    /// <summary>Turns between two marks: what their heads say, and the whole revolutions that suit the distance best.</summary>
    private static double Turns(int from, int to, double lines, double perTurn)
    {
        double part = ((to - from + 4) % 4) / 4.0;
        double whole = Math.Round((lines / perTurn) - part);
        return Math.Max(part + whole, part > 0 ? part : 1);
    }

    private static List<Mark> Straighten(
        ReadOnlySpan<HeadMark> marks, double perTurn, List<MarkTrouble> troubles, out double zeroLines, out List<(double From, double To)> holes)
    {
        double usual = Usual(marks);
        holes = [];
        bool whole = Whole(marks);
        var all = new List<Mark>(marks.Length);
        double turns = (marks[0].Head - 1) / 4.0;
        for (int i = 0; i < marks.Length; i++)
        {
            if (i > 0)
            {
                double lines = marks[i].Line - marks[i - 1].Line;
                double step = Turns(marks[i - 1].Head, marks[i].Head, lines, perTurn);
                if (step > usual + 0.01)
                {
                    troubles.Add(new MarkTrouble(MarkTroubleKind.MarkLost, marks[i].Line, lines));
                }

                turns += step;
            }

            all.Add(new Mark(marks[i].Line, turns));
        }

        // Whole-numbered marks wander by half a line by their rounding alone: only a whole line is out of step.
        double limit = whole ? 2 * OutOfStepLines : OutOfStepLines;
        var good = new List<Mark> { all[0] };
        for (int i = 1; i < all.Count; i++)
        {
            double off = Off(good[^1], all[i], perTurn);
            if (Math.Abs(off) <= limit)
            {
                good.Add(all[i]);
                continue;
            }

            bool nextInStep = i + 1 < all.Count && Math.Abs(Off(good[^1], all[i + 1], perTurn)) <= limit;
            bool lastOne = i + 1 == all.Count;
            bool firstOff = good.Count == 1 && i + 1 < all.Count && Math.Abs(Off(all[i], all[i + 1], perTurn)) <= limit && i == 1;
            if (nextInStep || lastOne)
            {
                troubles.Add(new MarkTrouble(MarkTroubleKind.MarkOff, all[i].Line, off));
                if (lastOne)
                {
                    // Nothing after it tells a mark that is off from lines that slipped.
                    holes.Add((good[^1].Line, double.PositiveInfinity));
                }
            }
            else if (firstOff)
            {
                troubles.Add(new MarkTrouble(MarkTroubleKind.MarkOff, all[0].Line, -off));
                good[0] = all[i];
            }
            else
            {
                troubles.Add(new MarkTrouble(MarkTroubleKind.LinesSlipped, all[i].Line, off));
                holes.Add((good[^1].Line, all[i].Line));
                good.Add(all[i]);
            }
        }

        zeroLines = 0;
        if (whole && holes.Count == 0 && good.Count >= 2)
        {
            // 'Before line n' is half a line early on average and even within the line: 0.29 line, less what a straight wheel averages.
            zeroLines = 1 / Math.Sqrt(12.0 * good.Count);
            return Smooth(good);
        }

        return good;
    }

    private static bool Whole(ReadOnlySpan<HeadMark> marks)
    {
        foreach (HeadMark mark in marks)
        {
            if (mark.Line != Math.Floor(mark.Line))
            {
                return false;
            }
        }

        return true;
    }

    private static double Off(Mark from, Mark to, double perTurn) => to.Line - from.Line - ((to.Turns - from.Turns) * perTurn);

    private static double Usual(ReadOnlySpan<HeadMark> marks)
    {
        // Four marks a revolution are a quarter turn apart, one a whole turn: the heads say which.
        for (int i = 1; i < marks.Length; i++)
        {
            if (marks[i].Head != marks[i - 1].Head)
            {
                return 0.25;
            }
        }

        return 1;
    }

    private static List<Mark> Smooth(List<Mark> marks)
    {
        double meanTurns = marks.Average(m => m.Turns);
        double meanLine = marks.Average(m => m.Line - 0.5);
        double slope = marks.Sum(m => (m.Turns - meanTurns) * (m.Line - 0.5 - meanLine)) / marks.Sum(m => (m.Turns - meanTurns) * (m.Turns - meanTurns));
        return [.. marks.Select(m => new Mark(meanLine + (slope * (m.Turns - meanTurns)), m.Turns))];
    }

    private static void Check(ReadOnlySpan<HeadMark> marks)
    {
        for (int i = 0; i < marks.Length; i++)
        {
            if (marks[i].Head is < 1 or > 4)
            {
                throw new ArgumentException($"Mark {i} begins head {marks[i].Head}; heads are 1 to 4.", nameof(marks));
            }

            if (!double.IsFinite(marks[i].Line) || (i > 0 && !(marks[i].Line > marks[i - 1].Line)))
            {
                throw new ArgumentException($"Mark {i} is at line {marks[i].Line}; marks are finite and rise.", nameof(marks));
            }
        }
    }

    private readonly record struct Mark(double Line, double Turns);
}
