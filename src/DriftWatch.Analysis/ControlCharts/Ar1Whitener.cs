namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// Takes from values whose neighbours depend on each other (first-order autoregression: the deviation is ρ times the last one
/// plus something new) what the last value already said, so that a chart for independent values may see the rest:
/// eᵢ = (dᵢ − ρᵍ·dᵢ₋₁) / (σ·√(1 − ρ²ᵍ)) with d the deviation from the level and g the samples since the last value (more than 1
/// after a gap). In control these residuals are independent standard normal values for exact ρ, level and σ (Alwan and
/// Roberts, Journal of Business and Economic Statistics 6, 1988). No allocation.
/// </summary>
public sealed class Ar1Whitener
{
    private readonly double _level;
    private readonly double _rho;
    private readonly double _perSigma;
    private readonly double _perInnovation;
    private double _last;
    private bool _hasLast;

    /// <param name="level">The level in order, in the values' unit.</param>
    /// <param name="sigma">Standard deviation of the values themselves (not of the residuals), above 0.</param>
    /// <param name="rho">Correlation of neighbours, between −1 and 1.</param>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public Ar1Whitener(double level, double sigma, double rho)
    {
        Require.Finite(level, nameof(level));
        Require.Positive(sigma, nameof(sigma));
        CheckRho(rho);
        (_level, _rho, _perSigma) = (level, rho, 1 / sigma);
        _perInnovation = 1 / (sigma * Math.Sqrt(1 - (rho * rho)));
    }

    /// <summary>The residual of the next value, in standard deviations.</summary>
    /// <param name="value">Finite.</param>
    /// <param name="gap">Samples since the last value: 1 where none is missing.</param>
    public double Add(double value, int gap = 1)
    {
        double deviation = value - _level;
        double residual;
        if (!_hasLast)
        {
            residual = deviation * _perSigma;
        }
        else if (gap == 1)
        {
            residual = (deviation - (_rho * _last)) * _perInnovation;
        }
        else
        {
            double carried = Math.Pow(_rho, Math.Max(1, gap));
            residual = (deviation - (carried * _last)) * _perSigma / Math.Sqrt(1 - (carried * carried));
        }

        (_last, _hasLast) = (deviation, true);
        return residual;
    }

    /// <summary>Forgets the last value.</summary>
    public void Restart() => (_last, _hasLast) = (0, false);

    /// <summary>The residuals of a whole record without gaps.</summary>
    /// <exception cref="ArgumentException">A value is not finite, a number is outside its range, or the span for results is shorter than the values.</exception>
    public static void Run(double level, double sigma, double rho, ReadOnlySpan<double> values, Span<double> residuals)
    {
        Require.Finite(values, nameof(values));
        Require.Finite(level, nameof(level));
        Require.Positive(sigma, nameof(sigma));
        CheckRho(rho);
        if (residuals.Length < values.Length)
        {
            throw new ArgumentException("Room for as many residuals as values is needed.", nameof(residuals));
        }

        double innovation = sigma * Math.Sqrt(1 - (rho * rho));
        for (int i = 0; i < values.Length; i++)
        {
            residuals[i] = i == 0
                ? (values[0] - level) / sigma
                : (values[i] - level - (rho * (values[i - 1] - level))) / innovation;
        }
    }

    internal static void CheckRho(double rho)
    {
        if (!(rho > -1) || !(rho < 1))
        {
            throw new ArgumentException("The correlation of neighbours is between −1 and 1.", nameof(rho));
        }
    }
}
