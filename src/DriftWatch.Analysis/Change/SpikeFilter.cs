using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Change;

/// <summary>
/// Finds spikes: values that lie far from the median of the values about them. A step of the level is none, for the median of
/// a window keeps edges (Hampel's identifier, Davies and Gather, JASA 88, 1993; in this moving form Pearson 2002, from memory).
/// The scale is that of all such distances in the record, so that it fits noise whose neighbours hang together, too.
/// </summary>
public static class SpikeFilter
{
    /// <summary>Values on each side of the one that is judged. With 7 in all, a tenth of outliers hardly ever makes 4.</summary>
    public const int Reach = 3;

    /// <summary>Distance that counts as a spike, in robust standard deviations of the distances: common practice, no source.</summary>
    public const double Threshold = 4;

    /// <summary>The places of the values that are no spikes, in order.</summary>
    /// <param name="values">Evenly sampled, in the order of time.</param>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static int[] Kept(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        double[] distances = new double[values.Length];
        Span<double> window = stackalloc double[(2 * Reach) + 1];
        for (int i = 0; i < values.Length; i++)
        {
            int from = Math.Max(0, i - Reach);
            int count = Math.Min(values.Length, i + Reach + 1) - from;
            values.Slice(from, count).CopyTo(window);
            distances[i] = Math.Abs(values[i] - Selection.Median(window[..count]));
        }

        double scale = values.Length == 0 ? 0 : RobustScale.MadFactor * Selection.Median([.. distances]);

        // Where more than half the values equal their neighbourhood's median there is no scale to judge spikes by.
        double limit = scale > 0 ? Threshold * scale : double.PositiveInfinity;
        var kept = new List<int>(values.Length);
        for (int i = 0; i < values.Length; i++)
        {
            if (distances[i] <= limit)
            {
                kept.Add(i);
            }
        }

        return [.. kept];
    }

    internal static double[] Pick(ReadOnlySpan<double> values, int[] places)
    {
        double[] picked = new double[places.Length];
        for (int i = 0; i < picked.Length; i++)
        {
            picked[i] = values[places[i]];
        }

        return picked;
    }
}
