using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Trend;

/// <summary>
/// The Mann-Kendall test with its variance multiplied by n/n* = 1 + 2/(n(n−1)(n−2))·Σ(n−i)(n−i−1)(n−i−2)·ρᵢ, where ρᵢ are the
/// autocorrelations, significant at 95 % (|ρᵢ| over 1.96/√n), of the ranks of the values less their Theil-Sen line.
/// Hamed and Rao, 'A modified Mann-Kendall trend test for autocorrelated data', Journal of Hydrology 204 (1998). The sum is signed,
/// as in the paper: negative autocorrelation makes the variance smaller. It falls short under strong autocorrelation, as the
/// folder's README shows; it stands here as the classical method.
/// </summary>
public static class HamedRao
{
    /// <param name="values">In the order of time, evenly spaced.</param>
    /// <param name="lags">The lags looked at, from 1; null for all n−1, as in the paper. Fewer (3 is seen) are kinder to short series.</param>
    /// <exception cref="ArgumentException">A value is not finite, or lags are negative.</exception>
    public static Answer<MannKendallResult> Test(ReadOnlySpan<double> values, int? lags = null)
    {
        if (lags < 0)
        {
            throw new ArgumentException("Lags are 0 or more.", nameof(lags));
        }

        Answer<MannKendallResult> plain = MannKendall.Test(values);
        if (!plain.IsKnown || plain.Value.Variance == 0)
        {
            return plain;
        }

        double n = values.Length;
        double[] correlations = RankCorrelations(values);
        double limit = 1.959963984540054 / Math.Sqrt(n);
        double sum = 0;
        for (int i = 1; i <= Math.Min(lags ?? values.Length - 1, values.Length - 1); i++)
        {
            if (Math.Abs(correlations[i]) > limit)
            {
                sum += (n - i) * (n - i - 1) * (n - i - 2) * correlations[i];
            }
        }

        double factor = 1 + (2 / (n * (n - 1) * (n - 2)) * sum);

        // So negative a sum leaves no variance; the paper has no word on it.
        return factor > 0
            ? MannKendallResult.From(plain.Value.S, plain.Value.Variance * factor)
            : new Shortfall("points for so negative an autocorrelation", n, 2 * n);
    }

    private static double[] RankCorrelations(ReadOnlySpan<double> values)
    {
        int n = values.Length;
        double[] times = new double[n];
        for (int i = 0; i < n; i++)
        {
            times[i] = i;
        }

        double slope = PairwiseSlopes.Median(times, values);

        // Places count from 1: with R's own rounding, values that tie but for their last digit tie or not as they do there.
        double[] detrended = new double[n];
        int[] order = new int[n];
        for (int i = 0; i < n; i++)
        {
            detrended[i] = values[i] - (slope * (i + 1));
            order[i] = i;
        }

        Array.Sort(detrended, order);
        double[] ranks = new double[n];
        for (int start = 0; start < n;)
        {
            int end = start + 1;
            while (end < n && detrended[end] == detrended[start])
            {
                end++;
            }

            // The middle rank of those that tie.
            for (int k = start; k < end; k++)
            {
                ranks[order[k]] = (start + end + 1) / 2.0;
            }

            start = end;
        }

        Answer<double[]> correlations = Autocorrelation.UpTo(ranks, n - 1);
        return correlations.IsKnown ? correlations.Value : new double[n];
    }
}
