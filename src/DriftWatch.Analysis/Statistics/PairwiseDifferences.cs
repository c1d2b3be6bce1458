using System.Buffers;

namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// The k-th smallest of the n(n−1)/2 differences of sorted values without making them: O(n log n) time, O(n) memory. The
/// differences xⱼ−xᵢ, j&gt;i, rise along each row i, so each row keeps a range that can still hold the answer; the weighted
/// median of the rows' middles splits what is left at least a quarter to three quarters (Johnson and Mizoguchi, 'Selecting
/// the Kth element in X+Y and X1+...+Xm', SIAM Journal on Computing 7, 1978).
/// </summary>
internal static class PairwiseDifferences
{
    /// <param name="sorted">Rising values, at least two.</param>
    /// <param name="k">From 1 to n(n−1)/2.</param>
    public static double Nth(ReadOnlySpan<double> sorted, long k)
    {
        int n = sorted.Length;
        int[] from = ArrayPool<int>.Shared.Rent(n);
        int[] to = ArrayPool<int>.Shared.Rent(n);
        int[] below = ArrayPool<int>.Shared.Rent(n);
        int[] within = ArrayPool<int>.Shared.Rent(n);
        double[] middles = ArrayPool<double>.Shared.Rent(n);
        double[] weights = ArrayPool<double>.Shared.Rent(n);
        try
        {
            return Narrow(sorted, k, from, to, below, within, middles, weights);
        }
        finally
        {
            ArrayPool<int>.Shared.Return(from);
            ArrayPool<int>.Shared.Return(to);
            ArrayPool<int>.Shared.Return(below);
            ArrayPool<int>.Shared.Return(within);
            ArrayPool<double>.Shared.Return(middles);
            ArrayPool<double>.Shared.Return(weights);
        }
    }

    /// <remarks>Row i still holds the columns from[i] up to, not including, to[i]; all before are too small, all after too great.</remarks>
    private static double Narrow(
        ReadOnlySpan<double> x, long k, Span<int> from, Span<int> to, Span<int> below, Span<int> within, double[] middles, double[] weights)
    {
        int n = x.Length;
        long left = 0;
        long before = 0;
        for (int i = 0; i < n; i++)
        {
            from[i] = i + 1;
            to[i] = n;
            left += n - i - 1;
        }

        while (left > n)
        {
            int rows = 0;
            for (int i = 0; i < n; i++)
            {
                if (to[i] > from[i])
                {
                    middles[rows] = x[(from[i] + to[i] - 1) / 2] - x[i];
                    weights[rows++] = to[i] - from[i];
                }
            }

            double trial = WeightedMedian.Low(middles.AsSpan(0, rows), weights.AsSpan(0, rows));

            // How far each row is below the trial, and how far not above it: both places move right with the row.
            int p = 1;
            int q = 1;
            long less = 0;
            long notMore = 0;
            for (int i = 0; i < n; i++)
            {
                p = Math.Max(p, i + 1);
                q = Math.Max(q, i + 1);
                while (p < n && x[p] - x[i] < trial)
                {
                    p++;
                }

                while (q < n && x[q] - x[i] <= trial)
                {
                    q++;
                }

                below[i] = p;
                within[i] = q;
                less += p - i - 1;
                notMore += q - i - 1;
            }

            if (k <= less)
            {
                left = 0;
                for (int i = 0; i < n; i++)
                {
                    to[i] = Math.Max(from[i], Math.Min(to[i], below[i]));
                    left += to[i] - from[i];
                }
            }
            else if (k > notMore)
            {
                before = 0;
                left = 0;
                for (int i = 0; i < n; i++)
                {
                    from[i] = Math.Min(to[i], Math.Max(from[i], within[i]));
                    before += from[i] - i - 1;
                    left += to[i] - from[i];
                }
            }
            else
            {
                return trial;
            }
        }

        double[] rest = middles;
        int count = 0;
        for (int i = 0; i < n; i++)
        {
            for (int j = from[i]; j < to[i]; j++)
            {
                rest[count++] = x[j] - x[i];
            }
        }

        return Selection.Nth(rest.AsSpan(0, count), (int)(k - before - 1));
    }
}
