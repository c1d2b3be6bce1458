using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Trend;

/// <summary>A test of whether values tend to rise or fall in their order.</summary>
/// <param name="S">Rising pairs less falling pairs.</param>
/// <param name="Variance">Of S without a trend, as the test that made this has it.</param>
/// <param name="Z">S less its sign, in standard deviations (continuity correction).</param>
/// <param name="P">Two-sided, by the normal approximation: from about ten points on.</param>
public readonly record struct MannKendallResult(long S, double Variance, double Z, double P)
{
    internal static MannKendallResult From(long s, double variance)
    {
        double z = variance > 0 ? (s - Math.Sign(s)) / Math.Sqrt(variance) : 0;
        return new MannKendallResult(s, variance, z, Math.Min(1, 2 * Normal.CDF(0, 1, -Math.Abs(z))));
    }
}

/// <summary>
/// S = Σ sgn(xⱼ−xᵢ) over pairs, Var S = [n(n−1)(2n+5) − Σt(t−1)(2t+5)]/18 over groups of t ties, Z = (S ∓ 1)/√Var.
/// Mann, Econometrica 13 (1945); Kendall, 'Rank Correlation Methods' (1975). In O(n log n) by a merge sort that counts
/// exchanges: Knight, 'A computer method for calculating Kendall's tau with ungrouped data', JASA 61 (1966).
/// Values are given in the order of time. Holds for independent noise only.
/// </summary>
public static class MannKendall
{
    /// <summary>Below this the normal approximation is poor. Source: Gilbert, 'Statistical Methods for Environmental Pollution Monitoring' (1987), from memory.</summary>
    public const int LeastPoints = 10;

    /// <param name="values">In the order of time, any unit; fewer than <see cref="LeastPoints"/> are too few.</param>
    /// <returns>With a variance of 0 and P = 1 where all values are equal: no trend at all, which is an answer.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<MannKendallResult> Test(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        if (values.Length < LeastPoints)
        {
            return new Shortfall("points", values.Length, LeastPoints);
        }

        (long s, double variance) = Score(values);
        return MannKendallResult.From(s, variance);
    }

    /// <summary>S and its variance for independent values, ties allowed for.</summary>
    internal static (long S, double Variance) Score(ReadOnlySpan<double> values)
    {
        double[] sorted = values.ToArray();
        long falling = SortCountingFalls(sorted);
        long s = Points.Pairs(values.Length) - TiedPairs(sorted) - (2 * falling);
        return (s, (Cubic(values.Length) - TiesCubic(sorted)) / 18);
    }

    /// <summary>
    /// Variance of Kendall's S with ties in both times and values, as the limits of Sen have it: the cubic terms of both (SciPy's
    /// <c>theilslopes</c>, which follows Sen 1968; the mixed terms of Kendall are left out by both).
    /// </summary>
    internal static double Variance(ReadOnlySpan<double> times, ReadOnlySpan<double> values)
    {
        double[] sortedTimes = times.ToArray();
        double[] sortedValues = values.ToArray();
        Array.Sort(sortedTimes);
        Array.Sort(sortedValues);
        return Math.Max(0, Cubic(times.Length) - TiesCubic(sortedTimes) - TiesCubic(sortedValues)) / 18;
    }

    private static double Cubic(double n) => n * (n - 1) * ((2 * n) + 5);

    private static double TiesCubic(double[] sorted)
    {
        double sum = 0;
        for (int i = 0, run = 1; i < sorted.Length; i++, run++)
        {
            if (i + 1 == sorted.Length || sorted[i + 1] != sorted[i])
            {
                sum += Cubic(run);
                run = 0;
            }
        }

        return sum;
    }

    private static long TiedPairs(double[] sorted)
    {
        long sum = 0;
        for (int i = 0, run = 1; i < sorted.Length; i++, run++)
        {
            if (i + 1 == sorted.Length || sorted[i + 1] != sorted[i])
            {
                sum += Points.Pairs(run);
                run = 0;
            }
        }

        return sum;
    }

    /// <summary>Sorts, and tells how many pairs stood in falling order.</summary>
    private static long SortCountingFalls(double[] values)
    {
        int n = values.Length;
        double[] from = values;
        double[] to = new double[n];
        long count = 0;
        for (int width = 1; width < n; width *= 2)
        {
            for (int start = 0; start < n; start += 2 * width)
            {
                int middle = Math.Min(start + width, n);
                int end = Math.Min(start + (2 * width), n);
                int left = start;
                int right = middle;
                for (int k = start; k < end; k++)
                {
                    if (left < middle && (right >= end || from[left] <= from[right]))
                    {
                        to[k] = from[left++];
                    }
                    else
                    {
                        to[k] = from[right++];
                        count += middle - left;
                    }
                }
            }

            (from, to) = (to, from);
        }

        if (!ReferenceEquals(from, values))
        {
            from.CopyTo(values, 0);
        }

        return count;
    }
}
