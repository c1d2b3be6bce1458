namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Count, mean, variance, skewness, kurtosis, least and greatest of a stream, one value at a time or in parts that are
/// merged. Central moments about the first value are carried, never sums of powers, so a huge offset costs no digits: Welford, 'Note on a method
/// for calculating corrected sums of squares and products', Technometrics 4 (1962); third and fourth moments and merging by
/// Pébay, 'Formulas for robust, one-pass parallel computation of covariances and arbitrary-order statistical moments',
/// SAND2008-6212 (2008). Allocation-free.
/// </summary>
public sealed class Moments
{
    private double _m2;
    private double _m3;
    private double _m4;
    private double _mean; // from the origin
    private double _origin;

    /// <summary>How many values.</summary>
    public long Count { get; private set; }

    /// <summary>The arithmetic mean, in the unit of the values.</summary>
    public Answer<double> Mean => Count < 1 ? new Shortfall("points", Count, 1) : _origin + _mean;

    /// <summary>Of the sample: the sum of squares over n−1, in the unit squared.</summary>
    public Answer<double> Variance => Count < 2 ? new Shortfall("points", Count, 2) : _m2 / (Count - 1);

    /// <summary>√<see cref="Variance"/>, in the unit of the values.</summary>
    public Answer<double> StandardDeviation => Count < 2 ? new Shortfall("points", Count, 2) : Math.Sqrt(_m2 / (Count - 1));

    /// <summary>g₁ = m₃/m₂^1.5 with moments over n, no unit: SciPy's skew with its default bias. A constant has none.</summary>
    public Answer<double> Skewness => Shapeless ?? (Answer<double>)(Math.Sqrt(Count) * _m3 / (_m2 * Math.Sqrt(_m2)));

    /// <summary>g₂ = m₄/m₂²−3 with moments over n, no unit, 0 for normal values: SciPy's kurtosis with its defaults.</summary>
    public Answer<double> ExcessKurtosis => Shapeless ?? (Answer<double>)((Count * (_m4 / _m2 / _m2)) - 3);

    public Answer<double> Least => Count < 1 ? new Shortfall("points", Count, 1) : Lowest;

    public Answer<double> Greatest => Count < 1 ? new Shortfall("points", Count, 1) : Highest;

    private double Lowest { get; set; } = double.PositiveInfinity;

    private double Highest { get; set; } = double.NegativeInfinity;

    private Shortfall? Shapeless => Count < 2 ? new Shortfall("points", Count, 2) : _m2 > 0 ? null : new Shortfall("distinct values", 1, 2);

    /// <summary>All values of a span at once.</summary>
    public static Moments Of(ReadOnlySpan<double> values)
    {
        var moments = new Moments();
        foreach (double value in values)
        {
            moments.Add(value);
        }

        return moments;
    }

    /// <exception cref="ArgumentException">The value is not finite.</exception>
    public void Add(double value)
    {
        Finite.Require(value);
        double before = Count;
        _origin = Count == 0 ? value : _origin;
        double n = ++Count;
        double delta = value - _origin - _mean;
        double share = delta / n;
        double square = share * share;
        double step = delta * share * before;
        _mean += share;
        _m4 += (step * square * ((n * n) - (3 * n) + 3)) + (6 * square * _m2) - (4 * share * _m3);
        _m3 += (step * share * (n - 2)) - (3 * share * _m2);
        _m2 += step;
        Lowest = Math.Min(Lowest, value);
        Highest = Math.Max(Highest, value);
    }

    /// <summary>Takes the values of another stream in, as if they had been added here.</summary>
    public void Merge(Moments other)
    {
        if (other.Count == 0)
        {
            return;
        }

        if (Count == 0)
        {
            _origin = other._origin;
        }

        double a = Count;
        double b = other.Count;
        double n = a + b;
        double delta = other._origin - _origin + other._mean - _mean;
        double share = delta / n;
        double m2 = _m2 + other._m2 + (delta * share * a * b);
        double m3 = _m3 + other._m3 + (delta * share * share * a * b * (a - b)) + (3 * share * ((a * other._m2) - (b * _m2)));
        double m4 = _m4 + other._m4
            + (delta * share * share * share * a * b * ((a * a) - (a * b) + (b * b)))
            + (6 * share * share * ((a * a * other._m2) + (b * b * _m2)))
            + (4 * share * ((a * other._m3) - (b * _m3)));
        _mean += share * b;
        (_m2, _m3, _m4) = (m2, m3, m4);
        Count += other.Count;
        Lowest = Math.Min(Lowest, other.Lowest);
        Highest = Math.Max(Highest, other.Highest);
    }
}
