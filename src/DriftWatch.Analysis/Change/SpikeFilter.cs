using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Change;

/// <summary>
/// Finds spikes: values that lie far from the median of the values about them. A step of the level is none, for the median of
/// a window keeps edges (Hampel's identifier, Davies and Gather, JASA 88, 1993; in this moving form Pearson 2002, from memory).
/// The scale is that of all such distances in the record, so that it fits noise whose neighbours hang together, too. A second,
/// wider window finds those that came so close together that they made the narrow one's median, for a single one of ten
/// standard deviations left in spoils the correlation of a thousand values.
/// </summary>
public static class SpikeFilter
{
    /// <summary>Values on each side of the one that is judged, narrow and wide window. Common practice for the first, derived for the second.</summary>
    public const int Reach = 3, WideReach = 15;

    /// <summary>Distance that counts as a spike, in robust standard deviations of the distances: common practice, no source.</summary>
    public const double Threshold = 4, WideThreshold = 5;

    /// <summary>The places of the values that are no spikes, in order.</summary>
    /// <param name="values">Evenly sampled, in the order of time.</param>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static int[] Kept(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        int[] near = Near(values, Reach, Threshold);
        int[] wide = Near(Pick(values, near), WideReach, WideThreshold);
        return [.. wide.Select(i => near[i])];
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

    private static int[] Near(ReadOnlySpan<double> values, int reach, double threshold)
    {
        double[] distances = new double[values.Length];
        Span<double> window = stackalloc double[(2 * reach) + 1];
        for (int i = 0; i < values.Length; i++)
        {
            int from = Math.Max(0, i - reach);
            int count = Math.Min(values.Length, i + reach + 1) - from;
            values.Slice(from, count).CopyTo(window);
            distances[i] = Math.Abs(values[i] - Selection.Median(window[..count]));
        }

        double scale = values.Length == 0 ? 0 : RobustScale.MadFactor * Selection.Median([.. distances]);

        // Where more than half the values equal their neighbourhood's median there is no scale to judge spikes by.
        double limit = scale > 0 ? threshold * scale : double.PositiveInfinity;
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
}
