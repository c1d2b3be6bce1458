namespace DriftWatch.Analysis.Calibrating;

/// <summary>
/// Works a calibration out: the curve from raw readings to the reference's values, what the points say of hysteresis and
/// repeatability, and the budget of one reading that is turned with the curve (JCGM 100:2008, clauses 4, 5 and 6; the fit as in
/// example H.3). A source that was not measured stands in the budget as not measured.
/// </summary>
public static class CalibrationWork
{
    /// <param name="run">At least degree + 2 points, each with a reading.</param>
    /// <returns>A shortfall with too few points or different raw values, and where the curve turns within its range.</returns>
    /// <exception cref="ArgumentException">A value is not finite, a point has no reading, or an uncertainty is below zero.</exception>
    public static Answer<WorkedCalibration> Of(CalibrationRun run)
    {
        Check(run);
        double[] raw = [.. run.Points.Select(p => p.Raw.Average())];
        double[] reference = [.. run.Points.Select(p => p.Reference)];
        Answer<CalibrationCurve> fit = CurveFit.LeastSquares(raw, reference, run.Degree);
        if (!fit.IsKnown)
        {
            return fit.Missing!;
        }

        CalibrationCurve curve = fit.Value;
        if (!curve.IsMonotone)
        {
            return new Shortfall("calibrated ranges without a turn", 0, 1);
        }

        WorkedPoint[] points = [.. run.Points.Select((p, i) => Point(run, curve, p, raw[i]))];
        Answer<HysteresisLoop> loop = Loop(points);
        double working = run.WorkingRaw ?? (curve.Least + curve.Greatest) / 2;
        (double deviation, double freedom)? repeats = PooledDeviation(run.Points);
        UncertaintyBudget budget = Budget(run, curve, points, loop, working, repeats);
        double found = Expanded(budget, withCurve: false);
        return new WorkedCalibration(
            curve, points, loop.IsKnown ? loop.Value : null, loop.IsKnown ? null : LoopMissing(run.Points, loop.Missing!), budget,
            Summary(points, p => p.AsFound, found, run.Tolerance), Summary(points, p => p.AsLeft, Expanded(budget, withCurve: true), run.Tolerance));
    }

    /// <summary>
    /// Within where even the error and its expanded uncertainty together are; outside where the error is even without it; else open.
    /// The guard band on both sides is of JCGM 106:2012, 8.3.
    /// </summary>
    /// <param name="error">Channel's unit.</param>
    /// <param name="expanded">Zero or above.</param>
    /// <param name="tolerance">Above zero; null where there is none.</param>
    public static Conformity Judge(double error, double expanded, double? tolerance) =>
        tolerance is not { } most ? Conformity.NotJudged
        : Math.Abs(error) + expanded <= most ? Conformity.Within
        : Math.Abs(error) - expanded > most ? Conformity.Outside
        : Conformity.Undecided;

    private static void Check(CalibrationRun run)
    {
        foreach (CalibrationPoint point in run.Points)
        {
            if (point.Raw.Count == 0 || !point.Raw.All(double.IsFinite) || !double.IsFinite(point.Reference) || !double.IsFinite(point.Nominal))
            {
                throw new ArgumentException($"The point at {point.Nominal} has no finite reading.", nameof(run));
            }
        }

        if (!(run.ReferenceUncertainty >= 0) || !(run.ReferenceResolution >= 0) || !(run.RawResolution >= 0) || !(run.Tolerance is null or > 0))
        {
            throw new ArgumentException("Uncertainties and resolutions are not below zero, and a tolerance is above.", nameof(run));
        }
    }

    private static WorkedPoint Point(CalibrationRun run, CalibrationCurve curve, CalibrationPoint point, double raw)
    {
        Uncertain turned = curve.At(raw);
        return new WorkedPoint(
            point, raw, point.Raw.Count < 2 ? null : Deviation(point.Raw, raw), run.InForce(raw) - point.Reference, turned.Value - point.Reference,
            turned.StandardUncertainty);
    }

    private static double Deviation(IReadOnlyList<double> values, double mean) =>
        Math.Sqrt(values.Sum(v => (v - mean) * (v - mean)) / (values.Count - 1));

    /// <summary>Of all points that were read more than once, over their degrees of freedom (JCGM 100:2008, 4.2.4).</summary>
    private static (double Deviation, double Freedom)? PooledDeviation(IReadOnlyList<CalibrationPoint> points)
    {
        double squares = 0;
        int freedom = 0;
        foreach (CalibrationPoint point in points)
        {
            double mean = point.Raw.Average();
            squares += point.Raw.Sum(v => (v - mean) * (v - mean));
            freedom += point.Raw.Count - 1;
        }

        return freedom == 0 ? null : (Math.Sqrt(squares / freedom), freedom);
    }

    private static Answer<HysteresisLoop> Loop(WorkedPoint[] points)
    {
        // Shown at the nominal value with the error that was seen: a slightly different setting of the reference is of no account.
        (double[] up, double[] upShown) = Run(falling: false);
        (double[] down, double[] downShown) = Run(falling: true);
        return Hysteresis.Of(up, upShown, [.. down.Reverse()], [.. downShown.Reverse()]);

        (double[] At, double[] Shown) Run(bool falling)
        {
            (double At, double Shown)[] run = [.. points.Where(p => p.Point.Falling == falling)
                .GroupBy(p => p.Point.Nominal).OrderBy(g => g.Key)
                .Select(g => (g.Key, g.Key + g.Average(p => p.AsLeft)))];
            return ([.. run.Select(r => r.At)], [.. run.Select(r => r.Shown)]);
        }
    }

    private static string LoopMissing(IReadOnlyList<CalibrationPoint> points, Shortfall shortfall) =>
        points.All(p => !p.Falling) ? "not measured: all points were approached from below"
        : points.All(p => p.Falling) ? "not measured: all points were approached from above"
        : $"not measured: {shortfall}";

    private static UncertaintyBudget Budget(
        CalibrationRun run, CalibrationCurve curve, WorkedPoint[] points, Answer<HysteresisLoop> loop, double working, (double Deviation, double Freedom)? repeats)
    {
        double slope = Math.Abs(curve.Slope(working));
        Uncertain there = curve.At(working);
        BudgetLine[] lines =
        [
            new(CurveSource, 'A', $"least squares, {points.Length} points, scatter {curve.ResidualDeviation:G3} about the curve", there.StandardUncertainty, curve.Freedom),
            repeats is { } known
                ? new(RepeatSource, 'A', $"pooled over repeated readings, {known.Freedom:0} degrees of freedom", slope * known.Deviation, known.Freedom)
                : new(RepeatSource, 'A', "each point was read once: the scatter about the curve stands for it", curve.ResidualDeviation, curve.Freedom),
            repeats is null
                ? new("shape that the curve does not follow", 'B', "not told apart from repeatability: each point was read once", null, double.PositiveInfinity)
                : new("shape that the curve does not follow", 'B', "largest mean error of a point, rectangular: over √3", ShapeError(points) / Math.Sqrt(3), double.PositiveInfinity),
            loop.IsKnown
                ? new("hysteresis", 'B', "largest difference going down and up, rectangular: over √12", loop.Value.StandardUncertainty, double.PositiveInfinity)
                : new("hysteresis", 'B', LoopMissing(run.Points, loop.Missing!), null, double.PositiveInfinity),
            new("resolution of the input", 'B', run.RawResolution > 0 ? "one step, rectangular: over √12" : "taken as none: no step was given", slope * run.RawResolution / Math.Sqrt(12), double.PositiveInfinity),
            new(ReferenceSource, 'B', run.ReferenceUncertainty > 0 ? "expanded uncertainty of its certificate over its k; common to all points" : "taken as none: none was given", run.ReferenceUncertainty, double.PositiveInfinity),
            new("resolution of the reference", 'B', run.ReferenceResolution > 0 ? "one step, rectangular: over √12" : "taken as none: no step was given", run.ReferenceResolution / Math.Sqrt(12), double.PositiveInfinity),
        ];
        return new UncertaintyBudget(working, lines, Combine(there.Value, lines));
    }

    private const string CurveSource = "fitted curve";
    private const string RepeatSource = "repeatability of a reading";
    private const string ReferenceSource = "the reference itself";

    /// <summary>An error at a point was seen: shape and hysteresis are in it, and for the calibration that was found no curve was fitted.</summary>
    private static double Expanded(UncertaintyBudget budget, bool withCurve) => UncertaintyBudget.CoverageFactor * Combine(
        0, [.. budget.Lines.Where(l => (withCurve && l.Source == CurveSource) || l.Source == RepeatSource || l.Source == ReferenceSource || l.Source.StartsWith("resolution", StringComparison.Ordinal))]).StandardUncertainty;

    private static Uncertain Combine(double value, IReadOnlyList<BudgetLine> lines) =>
        Coverage.Combine(value, [.. lines.Where(l => l.Standard is not null).Select(l => (l.Standard!.Value, l.Freedom))]);

    /// <summary>The largest error of a nominal value, going up and down taken together, so that hysteresis is not counted twice.</summary>
    private static double ShapeError(WorkedPoint[] points) =>
        points.GroupBy(p => p.Point.Nominal).Max(g => Math.Abs(g.Average(p => p.AsLeft)));

    private static ErrorSummary Summary(WorkedPoint[] points, Func<WorkedPoint, double> error, double expanded, double? tolerance)
    {
        WorkedPoint worst = points.MaxBy(p => Math.Abs(error(p)))!;
        return new ErrorSummary(error(worst), worst.Point.Reference, expanded, Judge(error(worst), expanded, tolerance));
    }
}
