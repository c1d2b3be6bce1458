namespace DriftWatch.Analysis.Statistics;

/// <summary>Weighted medians.</summary>
internal static class WeightedMedian
{
    /// <summary>
    /// The smallest value at or below which lies at least half of the weight; in linear time, reorders both spans alike.
    /// </summary>
    /// <param name="values">At least one.</param>
    /// <param name="weights">As many, positive.</param>
    public static double Low(Span<double> values, Span<double> weights)
    {
        double half = 0;
        foreach (double weight in weights)
        {
            half += weight;
        }

        half /= 2;
        int left = 0;
        int right = values.Length - 1;
        double settled = 0; // the weight of what is known to lie below left
        while (right > left)
        {
            double pivot = Middle(values[left], values[left + ((right - left) / 2)], values[right]);

            // Three parts: below, at, above the pivot.
            int lower = left;
            int upper = right;
            double below = 0;
            double at = 0;
            for (int i = left; i <= upper;)
            {
                if (values[i] < pivot)
                {
                    below += weights[i];
                    Swap(values, weights, i++, lower++);
                }
                else if (values[i] > pivot)
                {
                    Swap(values, weights, i, upper--);
                }
                else
                {
                    at += weights[i++];
                }
            }

            if (settled + below >= half && lower > left)
            {
                right = lower - 1;
            }
            else if (settled + below + at >= half || upper == right)
            {
                return pivot;
            }
            else
            {
                settled += below + at;
                left = upper + 1;
            }
        }

        return values[left];
    }

    private static double Middle(double a, double b, double c) => Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));

    private static void Swap(Span<double> values, Span<double> weights, int i, int j)
    {
        (values[i], values[j]) = (values[j], values[i]);
        (weights[i], weights[j]) = (weights[j], weights[i]);
    }
}
