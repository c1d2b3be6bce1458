namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// The numbers of a chart of the exponentially weighted moving average (Roberts, Technometrics 1, 1959):
/// wᵢ = λ·zᵢ + (1 − λ)·wᵢ₋₁ with z = (value − target)/σ and w₀ = 0; a signal where |wᵢ| is above L·√(λ/(2 − λ)), the fixed
/// limit, or with limits that vary in time L·√(λ/(2 − λ)·(1 − (1 − λ)²ⁱ)), narrower just after a start
/// (NIST/SEMATECH e-Handbook 6.3.2.4 prints the fixed ones).
/// </summary>
public readonly record struct EwmaDesign
{
    /// <param name="weight">λ, above 0 and up to 1; small for small shifts.</param>
    /// <param name="limit">L, in standard deviations of the average; above 0.</param>
    /// <param name="limitsVary">Whether the limits follow the average's true spread just after a start.</param>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public EwmaDesign(double weight, double limit, bool limitsVary = false)
    {
        if (!(weight > 0) || !(weight <= 1))
        {
            throw new ArgumentException("The weight λ is above 0 and at most 1.", nameof(weight));
        }

        Require.Positive(limit, nameof(limit));
        (Weight, Limit, LimitsVary) = (weight, limit, limitsVary);
    }

    /// <summary>λ.</summary>
    public double Weight { get; }

    /// <summary>L.</summary>
    public double Limit { get; }

    public bool LimitsVary { get; }

    /// <summary>The limit of |w| that holds in the long run, in standard deviations of the charted value.</summary>
    public double FixedLimit => Limit * Math.Sqrt(Weight / (2 - Weight));

    /// <summary>The limit of |w| at the i-th value after a start, i from 1.</summary>
    public double LimitAt(long i) => LimitsVary
        ? FixedLimit * Math.Sqrt(1 - Math.Pow(1 - Weight, 2.0 * i))
        : FixedLimit;
}

/// <summary>An EWMA chart that takes values one by one, without allocation.</summary>
public sealed class EwmaChart
{
    private readonly double _target;
    private readonly double _sigma;
    private readonly double _perSigma;
    private readonly double _decay;
    private readonly double _fixedSquared;
    private double _remainder; // (1 − λ)²ⁱ, 0 for fixed limits

    /// <param name="design">The chart's numbers.</param>
    /// <param name="target">The level in order, in the values' unit.</param>
    /// <param name="sigma">The standard deviation in order, in the values' unit, above 0.</param>
    /// <exception cref="ArgumentException">Target or sigma is not usable.</exception>
    public EwmaChart(EwmaDesign design, double target, double sigma)
    {
        Require.Finite(target, nameof(target));
        Require.Positive(sigma, nameof(sigma));
        Require.Positive(design.Limit, nameof(design)); // a default design has none
        Design = design;
        (_target, _sigma, _perSigma) = (target, sigma, 1 / sigma);
        _decay = (1 - design.Weight) * (1 - design.Weight);
        _fixedSquared = design.FixedLimit * design.FixedLimit;
        Restart();
    }

    public EwmaDesign Design { get; }

    /// <summary>w, in standard deviations of the charted value.</summary>
    public double Deviation { get; private set; }

    /// <summary>The average in the values' unit.</summary>
    public double Average => _target + (Deviation * _sigma);

    /// <summary>The limit in force for the last value, as a distance from the target in the values' unit.</summary>
    public double HalfWidth => Math.Sqrt(_fixedSquared * (1 - _remainder)) * _sigma;

    /// <summary>Takes the next value. Must be finite: faults never reach a chart.</summary>
    public ChartSignal Add(double value)
    {
        double z = (value - _target) * _perSigma;
        Deviation += Design.Weight * (z - Deviation);
        _remainder *= _decay;
        return Deviation * Deviation <= _fixedSquared * (1 - _remainder) ? ChartSignal.None
            : Deviation > 0 ? ChartSignal.High : ChartSignal.Low;
    }

    /// <summary>Begins anew at the target.</summary>
    public void Restart() => (Deviation, _remainder) = (0, Design.LimitsVary ? 1 : 0);

    /// <summary>Charts a whole record: the average after each value, in the values' unit.</summary>
    /// <returns>Index of the first value that signals; −1 where none does.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or the span for results is shorter than the values.</exception>
    public static int Run(EwmaDesign design, double target, double sigma, ReadOnlySpan<double> values, Span<double> averages)
    {
        Require.Finite(values, nameof(values));
        Require.Finite(target, nameof(target));
        Require.Positive(sigma, nameof(sigma));
        if (averages.Length < values.Length)
        {
            throw new ArgumentException("Room for as many averages as values is needed.", nameof(averages));
        }

        int first = -1;
        double distance = 0;
        for (int i = 0; i < values.Length; i++)
        {
            distance = (design.Weight * (values[i] - target)) + ((1 - design.Weight) * distance);
            averages[i] = target + distance;
            if (first < 0 && Math.Abs(distance) > design.LimitAt(i + 1) * sigma)
            {
                first = i;
            }
        }

        return first;
    }
}
