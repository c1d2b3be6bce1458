namespace DriftWatch.Analysis.Calibrating;

/// <summary>
/// A level detector whose voltage goes with the logarithm of power: V = slope·(P − intercept), slope in volts per decibel,
/// intercept the level in dBm at which the line meets zero volts (the trade's definition on data sheets of such detectors).
/// The line is fitted to voltages at known levels, and levels are read from it inversely.
/// </summary>
public sealed class LogDetector
{
    private LogDetector(CalibrationCurve line, Uncertain interceptDbm, double conformanceDb) =>
        (Line, InterceptDbm, ConformanceDb) = (line, interceptDbm, conformanceDb);

    /// <summary>Volts over dBm.</summary>
    public CalibrationCurve Line { get; }

    /// <summary>Volts per decibel; some tens of millivolts are usual, of either sign.</summary>
    public Uncertain SlopeVoltsPerDb => Line.Coefficients()[1];

    /// <summary>The level at which the line meets zero volts; its uncertainty keeps the covariance of offset and slope.</summary>
    public Uncertain InterceptDbm { get; }

    /// <summary>Log conformance: the farthest that a calibration point lies from the line, in decibels.</summary>
    public double ConformanceDb { get; }

    /// <param name="levelsDbm">Known levels at the detector's input.</param>
    /// <param name="volts">As many voltages.</param>
    /// <param name="standardDb">The standard uncertainty of the levels that all have in common (source, attenuator), in decibels.</param>
    /// <returns>A shortfall with fewer than 3 points or 2 different levels, or where the slope is not known from zero at 95 %.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or lengths differ.</exception>
    public static Answer<LogDetector> Fit(ReadOnlySpan<double> levelsDbm, ReadOnlySpan<double> volts, double standardDb = 0)
    {
        if (!(standardDb >= 0 && double.IsFinite(standardDb)))
        {
            throw new ArgumentOutOfRangeException(nameof(standardDb), standardDb, "An uncertainty is not below zero.");
        }

        Answer<CalibrationCurve> fit = CurveFit.LeastSquares(levelsDbm, volts);
        if (!fit.IsKnown)
        {
            return fit.Missing!;
        }

        Uncertain slope = fit.Value.Coefficients()[1];
        if (!slope.IsSignificant())
        {
            return new Shortfall("standard uncertainties of slope", Math.Abs(slope.Value) / Math.Max(slope.StandardUncertainty, double.Epsilon), Coverage.Factor(slope.Freedom));
        }

        // An error of all levels by so many decibels moves the line by slope times that.
        CalibrationCurve line = fit.Value.WithCommonUncertainty(Math.Abs(slope.Value) * standardDb);
        double offset = line.Coefficients()[0].Value;
        double intercept = -offset / slope.Value;

        // ∂P₀/∂a = −1/b, ∂P₀/∂b = a/b² = −P₀/b: u²(P₀) = u²(line at P₀)/b².
        Uncertain zero = line.At(intercept);
        double worst = 0;
        for (int i = 0; i < volts.Length; i++)
        {
            worst = Math.Max(worst, Math.Abs((volts[i] - line.At(levelsDbm[i]).Value) / slope.Value));
        }

        return new LogDetector(line, new Uncertain(intercept, zero.StandardUncertainty / Math.Abs(slope.Value), zero.Freedom), worst);
    }

    /// <summary>The level that a voltage stands for, in dBm with its standard uncertainty in decibels.</summary>
    /// <param name="volts">With the uncertainty of the reading.</param>
    /// <returns>A shortfall where the voltage is not of the calibrated range.</returns>
    public Answer<Uncertain> LevelDbm(Uncertain volts) => Line.Inverse(volts);

    /// <summary>The level that a single reading stands for which scatters as the calibration's own readings did.</summary>
    /// <inheritdoc cref="LevelDbm(Uncertain)"/>
    public Answer<Uncertain> LevelDbm(double volts) => Line.InverseObservation(volts);
}

/// <summary>Levels across a load: 0 dBm is 1 mW, 0 dBµV is 1 µV. dBµV = dBm + 90 + 10·lg(R/Ω), from P = U²/R (derived).</summary>
public static class Levels
{
    /// <param name="dbm">Level in dBm.</param>
    /// <param name="ohms">Load, above zero: 50 or 75 usually.</param>
    public static double DbmToDbuv(double dbm, double ohms) => dbm + Offset(ohms);

    /// <param name="dbuv">Level in dBµV.</param>
    /// <param name="ohms">Load, above zero: 50 or 75 usually.</param>
    public static double DbuvToDbm(double dbuv, double ohms) => dbuv - Offset(ohms);

    private static double Offset(double ohms) => ohms > 0 && double.IsFinite(ohms)
        ? 90 + (10 * Math.Log10(ohms))
        : throw new ArgumentOutOfRangeException(nameof(ohms), ohms, "A load is above zero.");
}
