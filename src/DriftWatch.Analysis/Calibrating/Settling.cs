using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Calibrating;

/// <summary>Whether an input has come to rest, from its last readings.</summary>
/// <param name="Change">How much a line through them changes from the first to the last, in the unit of the readings.</param>
/// <param name="Scatter">Standard deviation from one reading to the next, by the median of their differences: a step among them does not swell it.</param>
/// <param name="Allowed">The change that is still rest.</param>
public readonly record struct Settling(double Change, double Scatter, double Allowed)
{
    /// <summary>Fewer readings tell no slope from noise; common practice, no source.</summary>
    public const int LeastReadings = 5;

    /// <summary>Median of the size of a difference of two normal values, in their standard deviation: √2 times 0.6745 (derived).</summary>
    private const double MedianDifference = 0.9539;

    public bool IsSettled => Math.Abs(Change) <= Allowed;

    /// <summary>
    /// At rest where the line through the readings changes by no more than twice their scatter, than two steps of the input, or
    /// than what was named. Common practice, no source.
    /// </summary>
    /// <param name="seconds">Rising.</param>
    /// <param name="values">As many readings.</param>
    /// <param name="resolution">Least step of the input; 0 where it is not known.</param>
    /// <param name="enough">A change that is of no account, such as a tenth of the tolerance; 0 for none.</param>
    /// <returns>A shortfall with fewer than <see cref="LeastReadings"/> readings.</returns>
    /// <exception cref="ArgumentException">A value is not finite, lengths differ or the seconds do not rise.</exception>
    public static Answer<Settling> Of(ReadOnlySpan<double> seconds, ReadOnlySpan<double> values, double resolution = 0, double enough = 0)
    {
        Finite.Require(seconds);
        Finite.Require(values);
        if (values.Length < LeastReadings)
        {
            return new Shortfall("readings", values.Length, LeastReadings);
        }

        if (!(seconds[^1] > seconds[0]))
        {
            throw new ArgumentException("The seconds do not rise.", nameof(seconds));
        }

        CalibrationCurve line = CurveFit.LeastSquares(seconds, values).Value;
        double change = line.At(seconds[^1]).Value - line.At(seconds[0]).Value;
        double[] steps = new double[values.Length - 1];
        for (int i = 0; i < steps.Length; i++)
        {
            steps[i] = Math.Abs(values[i + 1] - values[i]);
        }

        Array.Sort(steps);
        double scatter = (steps[(steps.Length - 1) / 2] + steps[steps.Length / 2]) / 2 / MedianDifference;
        return new Settling(change, scatter, Math.Max(Math.Max(2 * scatter, 2 * resolution), enough));
    }
}
