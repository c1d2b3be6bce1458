using System.Buffers;

namespace DriftWatch.Analysis.Statistics;

/// <summary>
/// Centre and spread that outliers do not move: median, MAD, and the scales Qn and Sn of Rousseeuw and Croux, 'Alternatives
/// to the median absolute deviation', Journal of the American Statistical Association 88 (1993). All are in the unit of the
/// values and estimate the standard deviation where the values are normal. Up to half of the values may be anything.
/// Efficiency for normal values, as that paper gives it: MAD 37 %, Sn 58 %, Qn 82 %. The order of values is of no account.
/// </summary>
public static class RobustScale
{
    /// <summary>1/Φ⁻¹(3/4): makes the MAD of normal values their standard deviation.</summary>
    public const double MadFactor = 1.482602218505602;

    /// <summary>1/(√2·Φ⁻¹(5/8)), the asymptotic factor of Qn; derived (the first quartile of |x−y| of normal values).</summary>
    public const double QnFactor = 2.219144465985076;

    /// <summary>The asymptotic factor of Sn as Rousseeuw and Croux print it.</summary>
    public const double SnFactor = 1.1926;

    // Factors for small samples: for Sn as printed in Croux and Rousseeuw, 'Time-efficient algorithms for two highly robust
    // estimators of scale' (1992); for Qn the simulated ones of R's robustbase (version 0.95; its note gives the method),
    // which replaced that paper's because QnFactor had been printed as 2.2219.
    private static readonly double[] SnSmall = [0.743, 1.851, 0.954, 1.351, 0.993, 1.198, 1.005, 1.131];
    private static readonly double[] QnSmall =
        [0.399356, 0.99365, 0.51321, 0.84401, 0.6122, 0.85877, 0.66993, 0.87344, 0.72014, 0.88906, 0.75743];

    /// <summary>The median.</summary>
    /// <param name="values">Finite values in any order, at least one.</param>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<double> Median(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        if (values.Length == 0)
        {
            return new Shortfall("points", 0, 1);
        }

        using var copy = new Copy(values);
        return Selection.Median(copy.Values);
    }

    /// <summary>The median absolute deviation from the median, times <see cref="MadFactor"/>; zero if more than half the values are the same.</summary>
    /// <inheritdoc cref="Qn"/>
    public static Answer<double> Mad(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        if (values.Length < 2)
        {
            return new Shortfall("points", values.Length, 2);
        }

        using var copy = new Copy(values);
        return MadInPlace(copy.Values).Scale;
    }

    /// <summary>Median and MAD (with its factor) without a copy: the span's contents are destroyed. At least one finite value.</summary>
    public static (double Centre, double Scale) MadInPlace(Span<double> values)
    {
        if (values.Length == 0)
        {
            throw new ArgumentException("At least one value is needed.", nameof(values));
        }

        double centre = Selection.Median(values);
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = Math.Abs(values[i] - centre);
        }

        return (centre, MadFactor * Selection.Median(values));
    }

    /// <summary>
    /// Qn: the k-th smallest of all |xᵢ−xⱼ|, i&lt;j, with k = h(h−1)/2 and h = ⌊n/2⌋+1, times its factor, corrected for small
    /// samples. O(n log n) time and O(n) memory by narrowing the sorted rows of differences (Croux and Rousseeuw 1992, after
    /// Johnson and Mizoguchi 1978). Zero if more than half the values are the same.
    /// </summary>
    /// <param name="values">Finite values in any order, at least two.</param>
    /// <returns>The scale in the unit of the values.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<double> Qn(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        int n = values.Length;
        if (n < 2)
        {
            return new Shortfall("points", n, 2);
        }

        using var copy = new Copy(values);
        copy.Values.Sort();
        return QnFactor * QnCorrection(n) * QnOfSorted(copy.Values);
    }

    /// <summary>
    /// Sn: the median over i of the median over j of |xᵢ−xⱼ| (low and high medians), times its factor, corrected for small
    /// samples; O(n log n). Zero if more than half the values are the same.
    /// </summary>
    /// <inheritdoc cref="Qn"/>
    public static Answer<double> Sn(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        int n = values.Length;
        if (n < 2)
        {
            return new Shortfall("points", n, 2);
        }

        using var copy = new Copy(values);
        copy.Values.Sort();
        double correction = n <= 9 ? SnSmall[n - 2] : n % 2 == 1 ? n / (n - 0.9) : 1;
        return SnFactor * correction * SnOfSorted(copy.Values);
    }

    /// <summary>The order statistic of Qn without its factors; the values are sorted and at least two.</summary>
    internal static double QnOfSorted(ReadOnlySpan<double> sorted)
    {
        long h = (sorted.Length / 2) + 1;
        return PairwiseDifferences.Nth(sorted, h * (h - 1) / 2);
    }

    private static double QnCorrection(int n)
    {
        if (n <= 12)
        {
            return QnSmall[n - 2];
        }

        double m = n;
        double excess = n % 2 == 1
            ? 1.60188 + ((-2.1284 - (5.172 / m)) / m)
            : 3.67561 + ((1.9654 + ((6.987 - (77 / m)) / m)) / m);
        return 1 / (1 + (excess / m));
    }

    private static double SnOfSorted(ReadOnlySpan<double> sorted)
    {
        int n = sorted.Length;
        double[] rented = ArrayPool<double>.Shared.Rent(n);
        Span<double> inner = rented.AsSpan(0, n);

        // The high median over j, j = i counted: the distance of rank n/2 (from 0) among those to the left and those to the
        // right, both of which rise away from i. It is found by halving on how many are taken from the left.
        int rank = n / 2;
        for (int i = 0; i < n; i++)
        {
            int low = Math.Max(0, rank - (n - 1 - i));
            int high = Math.Min(i, rank);
            while (low < high)
            {
                int fromLeft = (low + high) / 2;
                double nextLeft = sorted[i] - sorted[i - fromLeft - 1];
                double lastRight = sorted[i + (rank - fromLeft)] - sorted[i];
                if (nextLeft < lastRight)
                {
                    low = fromLeft + 1;
                }
                else
                {
                    high = fromLeft;
                }
            }

            inner[i] = Math.Max(sorted[i] - sorted[i - low], sorted[i + (rank - low)] - sorted[i]);
        }

        double result = Selection.Nth(inner, ((n + 1) / 2) - 1);
        ArrayPool<double>.Shared.Return(rented);
        return result;
    }

    /// <summary>A copy of a caller's values that may be reordered.</summary>
    private readonly ref struct Copy
    {
        private readonly double[] _rented;

        public Copy(ReadOnlySpan<double> values)
        {
            _rented = ArrayPool<double>.Shared.Rent(values.Length);
            Values = _rented.AsSpan(0, values.Length);
            values.CopyTo(Values);
        }

        public Span<double> Values { get; }

        public void Dispose() => ArrayPool<double>.Shared.Return(_rented);
    }
}
