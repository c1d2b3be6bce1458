using DriftWatch.Analysis.Relations;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>What the record says of where its angles have their zero.</summary>
public enum AngleZeroVerdict
{
    /// <summary>Nothing in the record changes where heads switch, so it can't be told.</summary>
    NotTold,

    /// <summary>The heads switch where the angles say.</summary>
    InPlace,

    /// <summary>They switch elsewhere: the mark is off by a line or so, and the record says by how much.</summary>
    Off,
}

/// <summary>Where the angles' zero is.</summary>
/// <param name="Verdict">Which.</param>
/// <param name="OffsetDegrees">What to add to the angles, in degrees of the wheel; 0 unless it is off.</param>
/// <param name="LeastDegrees">Least that the record allows.</param>
/// <param name="GreatestDegrees">Greatest.</param>
public readonly record struct AngleZeroAnswer(AngleZeroVerdict Verdict, double OffsetDegrees, double LeastDegrees, double GreatestDegrees);

/// <summary>
/// Looks for a head-switch mark that is off by a line (5.5°), as a pulse lost or counted twice leaves it. Samples next to the switch
/// then stand with the wrong head, where a skewed or stepped record jumps: the fit with the marks turned back is far better. An
/// offset that leaves every sample with its own head can't be seen in a record at all, since sin(θ+δ) and cos(θ+δ) are mixtures
/// of the terms; it turns p and h into each other by 1.75 % a degree.
/// </summary>
public static class AngleZero
{
    private const double StepsPerLine = 4;
    private const double FarthestLines = 2;

    /// <summary>
    /// Twice the logarithm of a likelihood ratio beyond which the marks are said to be off. 15 is a χ² of one degree that chance
    /// exceeds once in 9000 records; some seventeen offsets are tried.
    /// </summary>
    private const double Beyond = 20;

    /// <summary>What 95 % of χ² with one degree stay below.</summary>
    private const double Allowed = 3.84;

    /// <summary>Residuals below this are rounding and second-order geometry, in ns.</summary>
    private const double FloorNs = 0.01;

    /// <param name="samples">Covering whole passes of ±45°; where they don't, nothing is told.</param>
    public static AngleZeroAnswer Find(TimingSamples samples)
    {
        ArgumentNullException.ThrowIfNull(samples);
        double line = LineDegrees(samples);
        int[] present = [.. samples.Heads.ToArray().Distinct().Order()];
        if (line == 0 || present.Length < 4 || samples.Count < 40)
        {
            return new AngleZeroAnswer(AngleZeroVerdict.NotTold, 0, -FarthestLines * line, FarthestLines * line);
        }

        int half = (int)(FarthestLines * StepsPerLine);
        double step = line / StepsPerLine;
        var squares = new double[(2 * half) + 1];
        double floor = samples.Count * FloorNs * FloorNs;
        double effective = samples.Count;
        double least = double.PositiveInfinity;
        for (int k = 0; k < squares.Length; k++)
        {
            TimingSamples turned = k == half ? samples : samples.Turned((k - half) * step);
            squares[k] = floor + Squares(turned, present, out double rho);
            if (squares[k] < least)
            {
                least = squares[k];
                effective = samples.Count * (1 - rho) / (1 + rho);
            }
        }

        double Deviance(int k) => effective * Math.Log(squares[k] / least);
        int low = Array.FindIndex(squares, s => effective * Math.Log(s / least) <= Allowed);
        int high = Array.FindLastIndex(squares, s => effective * Math.Log(s / least) <= Allowed);
        double lowest = (low - half) * step;
        double highest = (high - half) * step;
        if (Deviance(half) > Beyond)
        {
            return new AngleZeroAnswer(AngleZeroVerdict.Off, (lowest + highest) / 2, lowest, highest);
        }

        // Told only if marks a whole line off on either side would have shown.
        int oneLine = (int)StepsPerLine;
        bool told = Deviance(half - oneLine) > Beyond && Deviance(half + oneLine) > Beyond;
        return new AngleZeroAnswer(told ? AngleZeroVerdict.InPlace : AngleZeroVerdict.NotTold, 0, lowest, highest);
    }

    /// <summary>The angle between neighbours in degrees, or 0 where the record doesn't cover whole passes.</summary>
    private static double LineDegrees(TimingSamples samples)
    {
        double widest = 0;
        double between = double.PositiveInfinity;
        for (int i = 0; i < samples.Count; i++)
        {
            widest = Math.Max(widest, Math.Abs(samples.AnglesDegrees[i]));
            if (i > 0 && samples.Heads[i] == samples.Heads[i - 1] && samples.AnglesDegrees[i] > samples.AnglesDegrees[i - 1])
            {
                between = Math.Min(between, samples.AnglesDegrees[i] - samples.AnglesDegrees[i - 1]);
            }
        }

        bool whole = double.IsFinite(between) && widest <= TimingStandard.HalfPassDegrees + 1e-6 && widest >= TimingStandard.HalfPassDegrees - between;
        return whole ? between : 0;
    }

    private static double Squares(TimingSamples samples, int[] present, out double rho)
    {
        var layout = new TermLayout(TimingModel.PerHeadSlopes, present);
        double[][] columns = [.. Enumerable.Range(0, layout.Columns).Select(_ => new double[samples.Count])];
        double[] rest = samples.ErrorsNs.ToArray();
        double[] row = new double[layout.Columns];
        for (int i = 0; i < samples.Count; i++)
        {
            layout.Fill(row, samples.Heads[i], samples.AnglesDegrees[i]);
            for (int j = 0; j < row.Length; j++)
            {
                columns[j][i] = row[j];
            }
        }

        rho = 0;
        if (LinearSolve.Solve(columns, rest, samples.Count) is not { } solution)
        {
            return double.PositiveInfinity;
        }

        double nexts = 0;
        for (int i = 1; i < rest.Length; i++)
        {
            nexts += rest[i] * rest[i - 1];
        }

        rho = solution.Squares > 0 ? Math.Clamp(nexts / solution.Squares, 0, 0.95) : 0;
        return solution.Squares;
    }
}
