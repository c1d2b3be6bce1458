using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Calibrating;

/// <summary>A value with its standard uncertainty, in the same unit, and the degrees of freedom of that uncertainty.</summary>
/// <param name="Value">The estimate.</param>
/// <param name="StandardUncertainty">u, zero or above.</param>
/// <param name="Freedom">ν above zero; infinite where u is known.</param>
public readonly record struct Uncertain(double Value, double StandardUncertainty, double Freedom = double.PositiveInfinity)
{
    /// <summary>U = k·u with <see cref="Coverage.Factor"/>.</summary>
    public double Expanded(double confidence = 0.95) => Coverage.Factor(Freedom, confidence) * StandardUncertainty;

    /// <summary>Whether the value is away from zero by more than its expanded uncertainty.</summary>
    public bool IsSignificant(double confidence = 0.95) => Math.Abs(Value) > Expanded(confidence);

    internal Uncertain Over(double divisor) => new(Value / divisor, StandardUncertainty / Math.Abs(divisor), Freedom);
}

/// <summary>Combining uncertainties and covering a share of what may be: JCGM 100:2008 (GUM), clauses 5.1.2, G.3 and G.4.</summary>
public static class Coverage
{
    /// <summary>
    /// k: Student's t for this confidence, both sides, with the degrees of freedom cut down to a whole number (GUM G.4.1 allows
    /// cutting or interpolating; cutting is the careful one).
    /// </summary>
    /// <param name="freedom">ν above zero; below one it counts as one, infinite gives the normal distribution's k.</param>
    /// <param name="confidence">Above 0, below 1.</param>
    public static double Factor(double freedom, double confidence = 0.95)
    {
        if (!(freedom > 0))
        {
            throw new ArgumentOutOfRangeException(nameof(freedom), freedom, "Degrees of freedom are above zero.");
        }

        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(confidence, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(confidence, 1);
        double upper = 0.5 + (confidence / 2);

        // A rounding away from a whole number is that number. From 1e6 on Student's t is the normal distribution to 1e-6.
        double whole = Math.Max(1, Math.Floor(freedom + 1e-9));
        return whole > 1e6 ? Normal.InvCDF(0, 1, upper) : StudentT.InvCDF(0, 1, whole, upper);
    }

    /// <summary>
    /// The root of the sum of squares of independent components already in the unit of the result, and the effective degrees of
    /// freedom of Welch and Satterthwaite, u⁴/Σ(uᵢ⁴/νᵢ) (GUM G.4.1).
    /// </summary>
    /// <param name="value">What the uncertainty is of.</param>
    /// <param name="components">Standard uncertainties, zero or above, with degrees of freedom above zero.</param>
    public static Uncertain Combine(double value, params ReadOnlySpan<(double StandardUncertainty, double Freedom)> components)
    {
        double squares = 0;
        double fourths = 0;
        foreach ((double u, double freedom) in components)
        {
            if (!(u >= 0 && double.IsFinite(u)) || !(freedom > 0))
            {
                throw new ArgumentException($"A component of {u} with {freedom} degrees of freedom can't be combined.", nameof(components));
            }

            squares += u * u;
            fourths += u * u * u * u / freedom;
        }

        return new Uncertain(value, Math.Sqrt(squares), fourths > 0 ? squares * squares / fourths : double.PositiveInfinity);
    }
}
