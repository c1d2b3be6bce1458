namespace DriftWatch.Analysis.Change;

/// <summary>
/// All ways to cut values in two, by least squares: for k values before the cut, what the two means explain beyond the one,
/// Gₖ = n/(k(n − k))·(Σᵢ≤ₖ(xᵢ − x̄))². The largest Gₖ is the least-squares cut; G over the noise's variance is twice the log
/// likelihood ratio for normal noise.
/// </summary>
internal sealed class StepScan
{
    private readonly double[] _sums; // of deviations from the mean, up to and including i − 1
    private readonly double _origin;
    private readonly double _mean;

    /// <param name="values">In the order of time.</param>
    /// <param name="least">Least number of values on each side of a cut.</param>
    public StepScan(ReadOnlySpan<double> values, int least)
    {
        int n = Count = values.Length;
        _origin = n > 0 ? values[0] : 0; // sums about it cost no digits to a huge offset
        double total = 0;
        foreach (double value in values)
        {
            total += value - _origin;
        }

        _mean = n > 0 ? total / n : 0;
        _sums = new double[n + 1];
        for (int i = 0; i < n; i++)
        {
            double deviation = values[i] - _origin - _mean;
            _sums[i + 1] = _sums[i] + deviation;
            Squares += deviation * deviation;
        }

        Best = -1;
        for (int k = Math.Max(1, least); k <= n - Math.Max(1, least); k++)
        {
            if (Best < 0 || Explained(k) > Explained(Best))
            {
                Best = k;
            }
        }
    }

    public int Count { get; }

    /// <summary>The cut that explains most; the earliest of equals; −1 where the values do not suffice for one.</summary>
    public int Best { get; }

    /// <summary>Sum of squares about the one mean.</summary>
    public double Squares { get; }

    /// <summary>Gₖ for k values before the cut, 1 … n − 1.</summary>
    public double Explained(int k) => _sums[k] * _sums[k] * Count / ((double)k * (Count - k));

    public double MeanBefore(int k) => _origin + _mean + (_sums[k] / k);

    public double MeanAfter(int k) => _origin + _mean - (_sums[k] / (Count - k));
}
