using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Measuring;

/// <summary>
/// Reads a record of timing errors: rows of head, angle and error (a frame file of a recording is one), or rows of line and
/// error with a head number where a pass begins.
/// </summary>
internal sealed class TimingFile
{
    public const string Forms =
        "write the columns head, angle and error (one row a point, in the order of time), or line, error and head (a head's number on the first line of its pass, and edge where its switch lies between lines)";

    /// <summary>Angles of two revolutions that are this close are the same point: they are written rounded.</summary>
    private const double SameAngleDegrees = 0.01;

    /// <summary>Half a line: what a tach that is off by one would exceed.</summary>
    private const double HalfLineDegrees = 2.7;

    private TimingFile(TimingStandard standard, TimingSamples samples)
    {
        Standard = standard;
        Samples = samples;
    }

    public TimingStandard Standard { get; }

    /// <summary>What is fitted: the mean of the revolutions where they lie on one axis, else all samples.</summary>
    public TimingSamples Samples { get; }

    /// <summary>The revolutions, where they lie on one axis.</summary>
    public IReadOnlyList<double[]> Revolutions { get; private init; } = [];

    /// <summary>The revolutions follow each other with none left out.</summary>
    public bool IsEveryRevolution { get; private init; }

    /// <summary>What was read, in words.</summary>
    public string What { get; private init; } = "";

    /// <summary>What a reader must know.</summary>
    public IReadOnlyList<string> Notes { get; private init; } = [];

    /// <exception cref="RecordingException">A mistake in the file.</exception>
    /// <exception cref="CannotTellException">Heads can't be told apart.</exception>
    public static TimingFile Read(NumberTable table, TimingStandard standard, double nsPerUnit)
    {
        string? error = table.OneOf("error", "value");
        if (error is null || (!table.Has("angle") && !table.Has("line")) || !table.Has("head"))
        {
            throw table.Unfit("the heading names no record of timing errors", Forms);
        }

        return table.Has("angle") ? Angles(table, error, standard, nsPerUnit) : Lines(table, error, standard, nsPerUnit);
    }

    private static TimingFile Angles(NumberTable table, string error, TimingStandard standard, double nsPerUnit)
    {
        var revolutions = new List<List<int>>();
        var heads = new int[table.Count];
        var angles = new double[table.Count];
        var errors = new double[table.Count];
        for (int row = 0; row < table.Count; row++)
        {
            heads[row] = table.Whole(row, "head", 1, 4);
            angles[row] = table.Number(row, "angle", -90, 90);
            errors[row] = nsPerUnit * table.Number(row, error);
            bool begins = row == 0 || (table.Has("sequence")
                ? table.Text(row, "sequence") != table.Text(row - 1, "sequence") || table.Text(row, "time") != table.Text(row - 1, "time")
                : (heads[row] * 90) + angles[row] <= (heads[row - 1] * 90) + angles[row - 1]);
            if (begins)
            {
                revolutions.Add([]);
            }

            revolutions[^1].Add(row);
        }

        List<int> first = revolutions[0];
        bool oneAxis = revolutions.TrueForAll(r => r.Count == first.Count
            && r.Zip(first).All(p => heads[p.First] == heads[p.Second] && Math.Abs(angles[p.First] - angles[p.Second]) <= SameAngleDegrees));
        List<string> notes = TachNote(table, heads[0], angles[0], standard);
        if (!oneAxis)
        {
            return new TimingFile(standard, TimingSamples.From(standard, heads, angles, errors))
            {
                What = $"{table.Count} points of {revolutions.Count} revolutions, not on one axis",
                Notes = notes,
            };
        }

        double[][] each = [.. revolutions.Select(r => r.Select(row => errors[row]).ToArray())];
        double[] mean = [.. first.Select((_, i) => each.Average(e => e[i]))];
        return new TimingFile(standard, TimingSamples.From(standard, [.. first.Select(r => heads[r])], [.. first.Select(r => angles[r])], mean))
        {
            Revolutions = each,
            IsEveryRevolution = FollowEachOther(table, revolutions, standard),
            What = each.Length == 1 ? $"{first.Count} points of one revolution" : $"{first.Count} points a revolution, mean of {each.Length} revolutions",
            Notes = notes,
        };
    }

    /// <summary>A frame file's tach is the wheel's angle at the first point, which the axis says too.</summary>
    private static List<string> TachNote(NumberTable table, int head, double angle, TimingStandard standard)
    {
        if (!table.Has("tach") || table.Text(0, "tach").Length == 0)
        {
            return [];
        }

        double expected = angle + (90 * (head - 1));
        double off = Math.IEEERemainder(table.Number(0, "tach", 0, 360) - expected, 360);
        return Math.Abs(off) <= HalfLineDegrees
            ? []
            : [$"The tach says {Math.Abs(off):0.0} degrees ({Math.Abs(off) / standard.DegreesPerLine:0.0} lines) {(off > 0 ? "more" : "less")} than the axis at the first point: check the head-switch pulse."];
    }

    private static bool FollowEachOther(NumberTable table, List<List<int>> revolutions, TimingStandard standard)
    {
        if (!table.Has("time"))
        {
            return true;
        }

        if (revolutions.Count < 2
            || !DateTimeOffset.TryParse(table.Text(revolutions[0][0], "time"), out DateTimeOffset from)
            || !DateTimeOffset.TryParse(table.Text(revolutions[^1][0], "time"), out DateTimeOffset to))
        {
            return false;
        }

        double turns = (to - from).TotalSeconds * standard.RevolutionsPerSecond;
        return Math.Abs(turns - (revolutions.Count - 1)) < 0.5;
    }

    private static TimingFile Lines(NumberTable table, string error, TimingStandard standard, double nsPerUnit)
    {
        var errors = new double[table.Count];
        var marks = new List<HeadMark>();
        double first = table.Number(0, "line");
        for (int row = 0; row < table.Count; row++)
        {
            errors[row] = nsPerUnit * table.Number(row, error);
            if (table.Number(row, "line") != first + row)
            {
                throw table.Mistake(row, "line", $"line {table.Text(row, "line")} does not follow line {first + row - 1}", "write every line; leave none out");
            }

            if (table.Text(row, "head").Length > 0)
            {
                double edge = table.Text(row, "edge").Length > 0 ? table.Number(row, "edge") - first : row;
                if (marks.Count > 0 && !(edge > marks[^1].Line))
                {
                    throw table.Mistake(row, table.Has("edge") ? "edge" : "head", $"the head switch at {edge + first:0.###} does not come after that at {marks[^1].Line + first:0.###}", "write edges in the order of time");
                }

                marks.Add(new HeadMark(edge, table.Whole(row, "head", 1, 4)));
            }
        }

        HeadMark[] all = [.. marks];
        if (LineGrid.LinesPerRevolution(standard, all) is { IsKnown: true } measured
            && LineGrid.StandardOf(measured.Value) is { } other && other.LinesPerRevolution != standard.LinesPerRevolution)
        {
            throw table.Mistake(
                0, "line", $"heads switch every {measured.Value / 4:0.0} lines, as in {other.Name}, not {standard.Name}", $"write --standard {TimingAid.Standard.WordOf(other)}");
        }

        Answer<PlacedLines> placed = LineGrid.Place(standard, errors, all);
        if (!placed.IsKnown)
        {
            throw new CannotTellException($"{placed.Missing}. Write the head's number on the first line of each pass.");
        }

        List<string> notes = [.. placed.Value.Troubles.Select(t => $"{char.ToUpperInvariant(t.ToString()[0])}{t.ToString()[1..]}.")];
        if (placed.Value.AngleZeroDegrees > 0)
        {
            notes.Add($"Head switches are given to whole lines: the angles' zero is unsure by {placed.Value.AngleZeroDegrees:0.00} degrees, which turns {1.745 * placed.Value.AngleZeroDegrees:0.0} % of the scallop into skew. Give edges between lines to avoid it.");
        }

        return new TimingFile(standard, placed.Value.Samples)
        {
            What = $"{errors.Length} lines, {placed.Value.LinesPerRevolution:0.00} a revolution",
            Notes = notes,
        };
    }
}
