using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>How level a head's signal is along its pass, each with its uncertainty, dB.</summary>
/// <param name="TiltDb">End less beginning of the pass: positive where it rises. Guide or contact on one side.</param>
/// <param name="BowDb">Middle less the mean of both ends: positive where it sags towards the ends.</param>
/// <param name="ScatterDb">Of the samples about the curve, dB.</param>
/// <param name="Points">Samples used.</param>
public readonly record struct PassShape(Uncertain TiltDb, Uncertain BowDb, double ScatterDb, int Points);

/// <summary>
/// Tilt and bow of the level within a pass: a parabola by least squares over the head's angle, read at the ends of a pass of
/// ±45° whatever the samples' reach, so that records can be compared. Neighbouring samples are taken as independent.
/// </summary>
public static class PassFlatness
{
    /// <summary>Half a pass: four heads share a turn.</summary>
    public const double HalfPassDegrees = 45;

    /// <summary>The samples must reach over this share of the pass, or the ends are guesswork. Source: common practice, no source.</summary>
    public const double LeastShare = 2.0 / 3;

    /// <param name="anglesDegrees">From the middle of the pass, in the sense of motion.</param>
    /// <param name="levelsDb">As many, dB.</param>
    /// <returns>A shortfall with fewer than 4 samples, 3 angles, or 60° of the pass.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or an angle lies outside ±90°: that is another head's.</exception>
    public static Answer<PassShape> Of(ReadOnlySpan<double> anglesDegrees, ReadOnlySpan<double> levelsDb)
    {
        foreach (double angle in anglesDegrees)
        {
            if (!(Math.Abs(angle) <= 2 * HalfPassDegrees))
            {
                throw new ArgumentException($"An angle of {angle}° from mid-pass belongs to another head.", nameof(anglesDegrees));
            }
        }

        Answer<CalibrationCurve> fit = CurveFit.LeastSquares(anglesDegrees, levelsDb, degree: 2);
        if (!fit.IsKnown)
        {
            return fit.Missing!;
        }

        CalibrationCurve curve = fit.Value;
        double reach = curve.Greatest - curve.Least;
        if (reach < LeastShare * 2 * HalfPassDegrees)
        {
            return new Shortfall("degrees of the pass", reach, LeastShare * 2 * HalfPassDegrees);
        }

        IReadOnlyList<Uncertain> powers = curve.Coefficients();
        return new PassShape(
            powers[1].Over(1 / (2 * HalfPassDegrees)), powers[2].Over(-1 / (HalfPassDegrees * HalfPassDegrees)), curve.ResidualDeviation, anglesDegrees.Length);
    }
}
