namespace DriftWatch.Analysis.Calibrating;

/// <summary>One point of a calibration: the reference at one value, and what the channel's input said meanwhile.</summary>
/// <param name="Nominal">The value that was aimed at, in the channel's unit; points going up and down are paired by it.</param>
/// <param name="Reference">What the reference read, in the channel's unit.</param>
/// <param name="Raw">One or more readings of the input, in its raw unit.</param>
/// <param name="Falling">Approached from above.</param>
public sealed record CalibrationPoint(double Nominal, double Reference, IReadOnlyList<double> Raw, bool Falling);

/// <summary>What was measured in a calibration, and what is known of the reference and the input.</summary>
public sealed record CalibrationRun
{
    /// <summary>In the order in which they were made.</summary>
    public required IReadOnlyList<CalibrationPoint> Points { get; init; }

    /// <summary>1 (a line) … <see cref="CurveFit.HighestDegree"/>.</summary>
    public int Degree { get; init; } = 1;

    /// <summary>Standard uncertainty of the reference by its own certificate (U over its k), in the channel's unit; the same error at all points.</summary>
    public double ReferenceUncertainty { get; init; }

    /// <summary>Least step that the reference shows, in the channel's unit; 0 where it is of no account.</summary>
    public double ReferenceResolution { get; init; }

    /// <summary>Least step of the input, in its raw unit; 0 where it is of no account.</summary>
    public double RawResolution { get; init; }

    /// <summary>The raw value at which the budget is drawn up; null: in the middle of the range.</summary>
    public double? WorkingRaw { get; init; }

    /// <summary>Greatest error that is accepted, in the channel's unit, above zero; null where nobody said one.</summary>
    public double? Tolerance { get; init; }

    /// <summary>The calibration in force while the points were made: raw to the channel's unit.</summary>
    public required Func<double, double> InForce { get; init; }
}

/// <summary>What a point came to. Errors are value less reference, in the channel's unit.</summary>
/// <param name="Point">As it was measured.</param>
/// <param name="Raw">Mean of its readings, raw unit.</param>
/// <param name="Deviation">Standard deviation of its readings, raw unit; null of a single one.</param>
/// <param name="AsFound">Error by the calibration in force.</param>
/// <param name="AsLeft">Error by the new one.</param>
/// <param name="CurveUncertainty">Standard uncertainty of the new curve at this point, the reference left out.</param>
public sealed record WorkedPoint(CalibrationPoint Point, double Raw, double? Deviation, double AsFound, double AsLeft, double CurveUncertainty);

/// <summary>One source of uncertainty.</summary>
/// <param name="Source">What it is, in words.</param>
/// <param name="Type">A: from the scatter of these readings; B: by other knowledge (JCGM 100:2008, 4.2 and 4.3).</param>
/// <param name="Basis">How it was found.</param>
/// <param name="Standard">Standard uncertainty in the channel's unit; null where it was not measured, which is not the same as none.</param>
/// <param name="Freedom">Degrees of freedom; infinite where it is taken as known.</param>
public sealed record BudgetLine(string Source, char Type, string Basis, double? Standard, double Freedom);

/// <summary>The uncertainty of one reading that is turned with the new calibration, drawn up at one raw value.</summary>
/// <param name="AtRaw">Raw unit.</param>
/// <param name="Lines">Largest source not first: in the order in which they come about.</param>
/// <param name="Combined">Value there with its combined standard uncertainty and its effective degrees of freedom (G.4.1).</param>
public sealed record UncertaintyBudget(double AtRaw, IReadOnlyList<BudgetLine> Lines, Uncertain Combined)
{
    /// <summary>k of the expanded uncertainty that is stated; JCGM 100:2008, 6.3.1 and G.6.6.</summary>
    public const double CoverageFactor = 2;

    /// <summary>U = k·u in the channel's unit.</summary>
    public double Expanded => CoverageFactor * Combined.StandardUncertainty;

    /// <summary>The factor that would cover 95 % with these degrees of freedom; well above 2 where points were few.</summary>
    public double FactorFor95 => Coverage.Factor(Combined.Freedom);
}

/// <summary>Whether an error is within a tolerance once its uncertainty is counted in.</summary>
public enum Conformity
{
    /// <summary>No tolerance was given.</summary>
    NotJudged,

    /// <summary>Within by more than the expanded uncertainty.</summary>
    Within,

    /// <summary>So near to the tolerance that its uncertainty leaves it open.</summary>
    Undecided,

    /// <summary>Beyond by more than the expanded uncertainty.</summary>
    Outside,
}

/// <summary>The largest error of a calibration over its points.</summary>
/// <param name="Largest">With its sign, in the channel's unit.</param>
/// <param name="AtReference">The reference's value there.</param>
/// <param name="Expanded">Expanded uncertainty of that error, k = 2.</param>
/// <param name="Conformity">Against the tolerance, with a guard band of that width on both sides (JCGM 106:2012, 8.3).</param>
public sealed record ErrorSummary(double Largest, double AtReference, double Expanded, Conformity Conformity);

/// <summary>A calibration worked out.</summary>
/// <param name="Curve">Raw to the channel's unit, the reference's uncertainty left out.</param>
/// <param name="Points">In the order of the run.</param>
/// <param name="Loop">Hysteresis in the channel's unit; null with the reason in <paramref name="LoopMissing"/>.</param>
/// <param name="LoopMissing">Null where there is a loop.</param>
/// <param name="Budget">Of one corrected reading.</param>
/// <param name="AsFound">By the calibration in force.</param>
/// <param name="AsLeft">By the new one.</param>
public sealed record WorkedCalibration(
    CalibrationCurve Curve, IReadOnlyList<WorkedPoint> Points, HysteresisLoop? Loop, string? LoopMissing, UncertaintyBudget Budget, ErrorSummary AsFound, ErrorSummary AsLeft);
