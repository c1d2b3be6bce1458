using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Change;

/// <summary>Pettitt's test for one change.</summary>
/// <param name="Change">Index of the first sample of the new regime: after it the ranks differ most; the earliest of equals.</param>
/// <param name="Statistic">K = max |2·ΣRᵢ − k(n + 1)|, the sum over the first k midranks.</param>
/// <param name="IndependentPValue">2·exp(−6K²/(n³ + n²)), at most 1: the published approximation, for independent values only.</param>
/// <param name="Rho">Correlation of neighbouring ranks about the two regimes' mean ranks.</param>
/// <param name="PValue">
/// The same with K² divided by the ranks' long-run variance over their variance, (1 + ρ)/(1 − ρ) for first-order ranks, where
/// that is above 1. Equal to the first where the ranks are not correlated.
/// </param>
public readonly record struct PettittResult(int Change, double Statistic, double IndependentPValue, double Rho, double PValue);

/// <summary>
/// Pettitt's rank test for a change of the level at an unknown instant ('A non-parametric approach to the change-point
/// problem', Applied Statistics 28, 1979); no shape of the noise is assumed, and outliers count as a rank. O(n log n).
/// Autocorrelated noise looks like a change to it: of series without a change, with ρ = 0.7, most are called changed (this
/// folder's README), so the answer carries a second p that is corrected for the ranks' correlation. The correction is
/// first-order (derived: the long-run variance of the ranks), and for claims <see cref="StepFinder"/> is the one to use.
/// </summary>
public static class Pettitt
{
    /// <summary>Below this the approximation of p says nothing (from memory: 'n not small' in the paper).</summary>
    public const int LeastPoints = 10;

    /// <param name="values">Evenly sampled, in the order of time.</param>
    /// <returns>A shortfall for fewer than 10 values or where all are the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<PettittResult> Test(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        int n = values.Length;
        if (n < LeastPoints)
        {
            return new Shortfall("points", n, LeastPoints);
        }

        double[] ranks = Midranks(values);
        double sum = 0, most = 0;
        int change = 0;
        for (int k = 1; k < n; k++)
        {
            sum += ranks[k - 1];
            double distance = Math.Abs((2 * sum) - (k * (n + 1.0)));
            if (distance > most)
            {
                (most, change) = (distance, k);
            }
        }

        if (change == 0)
        {
            return new Shortfall("distinct values", 1, 2);
        }

        StepNoise noise = Noise(ranks, change);
        return new PettittResult(change, most, P(most * most, n), noise.Rho, P(most * most / Math.Max(1, noise.Inflation), n));
    }

    private static double P(double square, int n) => Math.Min(1, 2 * Math.Exp(-6 * square / (((double)n * n * n) + ((double)n * n))));

    private static double[] Midranks(ReadOnlySpan<double> values)
    {
        double[] sorted = values.ToArray();
        int[] order = new int[sorted.Length];
        for (int i = 0; i < order.Length; i++)
        {
            order[i] = i;
        }

        Array.Sort(sorted, order);
        double[] ranks = new double[sorted.Length];
        for (int i = 0; i < sorted.Length;)
        {
            int next = i + 1;
            while (next < sorted.Length && sorted[next] == sorted[i])
            {
                next++;
            }

            for (int j = i; j < next; j++)
            {
                ranks[order[j]] = (i + 1 + next) / 2.0;
            }

            i = next;
        }

        return ranks;
    }

    private static StepNoise Noise(double[] ranks, int change)
    {
        (double before, double after) = (ranks[..change].Average(), ranks[change..].Average());
        int[] places = [.. Enumerable.Range(0, ranks.Length)];
        return StepNoise.About(ranks, places, change, before, after, new double[ranks.Length]);
    }
}
