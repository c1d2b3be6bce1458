namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// The k-th smallest value of a span, in place and in linear time: the SELECT algorithm of Floyd and Rivest, 'Expected time
/// bounds for selection', Communications of the ACM 18 (1975). Should an order of values defeat its guesses, the rest is
/// sorted, so that the worst case is O(n log n).
/// </summary>
internal static class Selection
{
    /// <summary>Below this many values a sample to choose the pivot from does not pay (Floyd and Rivest's own figure).</summary>
    private const int SampleFrom = 600;

    /// <summary>Puts the k-th smallest (from 0) at index k, smaller or equal ones before it, greater or equal ones after it.</summary>
    public static double Nth(Span<double> values, int k)
    {
        Narrow(values, 0, values.Length - 1, k);
        return values[k];
    }

    /// <summary>The middle value, or the mean of the two middle ones; reorders the values.</summary>
    public static double Median(Span<double> values)
    {
        int half = values.Length / 2;
        double upper = Nth(values, half);
        if (values.Length % 2 == 1)
        {
            return upper;
        }

        double lower = values[0];
        for (int i = 1; i < half; i++)
        {
            lower = Math.Max(lower, values[i]);
        }

        return (lower + upper) / 2;
    }

    private static void Narrow(Span<double> a, int left, int right, int k)
    {
        int patience = 64;
        while (right > left)
        {
            if (--patience == 0)
            {
                a[left..(right + 1)].Sort();
                return;
            }

            if (right - left > SampleFrom)
            {
                double n = right - left + 1;
                double m = k - left + 1;
                double z = Math.Log(n);
                double s = 0.5 * Math.Exp(2 * z / 3);
                double spread = 0.5 * Math.Sqrt(z * s * (n - s) / n) * Math.Sign(m - (n / 2));
                int from = Math.Max(left, (int)(k - (m * s / n) + spread));
                int to = Math.Min(right, (int)(k + ((n - m) * s / n) + spread));
                Narrow(a, Math.Min(from, k), Math.Max(to, k), k);
            }

            double pivot = a[k];
            int i = left;
            int j = right;
            (a[left], a[k]) = (a[k], a[left]);
            if (a[right] > pivot)
            {
                (a[left], a[right]) = (a[right], a[left]);
            }

            while (i < j)
            {
                (a[i], a[j]) = (a[j], a[i]);
                i++;
                j--;
                while (a[i] < pivot)
                {
                    i++;
                }

                while (a[j] > pivot)
                {
                    j--;
                }
            }

            if (a[left] == pivot)
            {
                (a[left], a[j]) = (a[j], a[left]);
            }
            else
            {
                j++;
                (a[j], a[right]) = (a[right], a[j]);
            }

            if (j <= k)
            {
                left = j + 1;
            }

            if (k <= j)
            {
                right = j - 1;
            }
        }
    }
}
