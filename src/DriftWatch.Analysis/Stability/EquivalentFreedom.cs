namespace DriftWatch.Analysis.Stability;

/// <summary>
/// The equivalent degrees of freedom of a stability variance s²: edf·s²/σ² is very nearly χ² with so many. For Gaussian
/// noise edf = 2·E(s²)²/Var(s²) = M²R₀² / Σ(M−|k|)Rₖ² over the M squares averaged, with R the autocovariance of the d-th
/// difference of phase (Greenhall and Riley, 'Uncertainty of stability variances based on finite differences', 35th PTTI
/// meeting, 2003; NIST SP 1065, section 5.4.1). Where they approximate R by that of continuous noise and fit tables to save
/// time, the covariance of sampled power-law noise is summed here: derived, exact but for what is said below.
/// </summary>
/// <remarks>
/// Generalised autocovariances G of phase with spectrum |2 sin(ω/2)|^(α−2), up to terms that the differences remove:
/// α = 2: 1 at zero. α = 1: −(2/π)·Σ_{k≤j} 1/(2k−1), from ∫(1−cos jω)/(2 sin(ω/2)). Summing the noise once lowers α by two,
/// and −(G(j+1)−2G(j)+G(j−1)) of the sum is G of what was summed; all others follow so. Averaging the phase over m, as the
/// modified variance does, is one summation and one more difference of distance m.
/// </remarks>
internal static class EquivalentFreedom
{
    /// <summary>Averages this long of noise that is smooth at their scale are taken as if this long, the record with them.</summary>
    private const int Longest = 1024;

    /// <param name="kind">The noise; α + 2d must be above 1, which leaves all kinds for d = 2 but the two steepest.</param>
    /// <param name="difference">d: 2 for Allan, 3 for Hadamard.</param>
    /// <param name="m">Readings in an average.</param>
    /// <param name="phasePoints">N: readings plus one.</param>
    /// <param name="overlapping">Every step or every average.</param>
    /// <param name="modified">Phase averaged over m or not.</param>
    /// <returns>At least 1; null where the variance does not exist for this kind or the record is too short.</returns>
    public static double? Of(NoiseKind kind, int difference, int m, int phasePoints, bool overlapping, bool modified)
    {
        int alpha = (int)kind;
        if (alpha + (2 * difference) <= 1)
        {
            return null;
        }

        long span = ((long)m * difference) + (modified ? m : 1);
        if (phasePoints < span)
        {
            return null;
        }

        double count = 1 + ((phasePoints - span) / (overlapping ? 1 : m));
        if (m > Longest && (modified || alpha <= 0))
        {
            count = overlapping ? 1 + ((count - 1) * Longest / m) : count;
            m = Longest;
        }

        int differences = difference + (modified ? 1 : 0);
        int step = overlapping ? 1 : m;

        // Beyond the differences' own length their covariance is nothing (α even) or dies out (its square with the fourth power).
        int lengths = (alpha & 1) == 0 ? differences + 1 : 16;
        int reach = (int)Math.Min(count, ((long)lengths * m / step) + 1);
        double[] g = Covariances(alpha - (modified ? 2 : 0), (reach * step) + (differences * m) + 2);
        double origin = Difference(g, 0, m, differences);
        double sum = 0;
        for (int k = 1; k < reach; k++)
        {
            double ratio = Difference(g, k * step, m, differences) / origin;
            sum += (1 - (k / count)) * ratio * ratio;
        }

        return Math.Max(1, count / (1 + (2 * sum)));
    }

    /// <summary>R at lag t: the 2d-th central difference of G over distance m, by the binomials of 2d with alternating signs.</summary>
    private static double Difference(ReadOnlySpan<double> g, int t, int m, int d)
    {
        double sum = 0;
        double binomial = 1;
        for (int i = 0; i <= 2 * d; i++)
        {
            sum += ((i & 1) == 0 ? binomial : -binomial) * g[Math.Abs(t + ((i - d) * m))];
            binomial = binomial * ((2 * d) - i) / (i + 1);
        }

        return sum;
    }

    private static double[] Covariances(int alpha, int length)
    {
        var g = new double[length];
        if ((alpha & 1) == 0)
        {
            g[0] = 1;
        }
        else
        {
            for (int j = 1; j < length; j++)
            {
                g[j] = g[j - 1] - (2 / Math.PI / ((2 * j) - 1));
            }
        }

        for (int summed = (alpha & 1) == 0 ? 2 : 1; summed > alpha; summed -= 2)
        {
            // −δ²G = what was summed, G symmetric about zero and zero there.
            double slope = -g[0] / 2;
            double value = 0;
            for (int j = 0; j < length; j++)
            {
                double inner = g[j];
                g[j] = value;
                slope -= j == 0 ? 0 : inner;
                value += slope;
            }
        }

        return g;
    }
}
