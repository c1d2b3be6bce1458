using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Relations;

/// <summary>
/// Correlation of two evenly sampled channels at a lag: r(k) = Σ (xₜ−x̄)(yₜ₊ₖ−ȳ) / (n·sₓ·s_y), deviations with divisor n, as R's
/// <c>ccf</c> has it with the sign of k turned: a positive lag says that the second follows the first. No unit, −1 … 1.
/// Two slow channels that have nothing to do with each other correlate strongly by chance: r against ±1.96/√n says nothing
/// then. <see cref="IndependenceError"/> is what r scatters by; <see cref="LeadLag"/> judges.
/// </summary>
public static class CrossCorrelation
{
    /// <summary>r at lags −maxLag … maxLag; index k + maxLag.</summary>
    /// <param name="first">Evenly sampled, in time order.</param>
    /// <param name="second">At the same instants.</param>
    /// <param name="maxLag">In samples, 0 or more.</param>
    /// <returns>A shortfall where one is constant or there are not more points than lags.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a value is not finite, or the lag is negative.</exception>
    public static Answer<double[]> UpTo(ReadOnlySpan<double> first, ReadOnlySpan<double> second, int maxLag)
    {
        Finite.Require(first);
        Finite.Require(second);
        if (first.Length != second.Length)
        {
            throw new ArgumentException($"As many values in both are needed: {first.Length} and {second.Length}.", nameof(second));
        }

        ArgumentOutOfRangeException.ThrowIfNegative(maxLag);
        int n = first.Length;
        if (n < Math.Max(2, maxLag + 1))
        {
            return new Shortfall("points", n, Math.Max(2, maxLag + 1));
        }

        double[] x = Centred(first);
        double[] y = Centred(second);
        double size = Math.Sqrt(LinearSolve.Dot(x, x)) * Math.Sqrt(LinearSolve.Dot(y, y));
        if (!(size > 0) || !double.IsFinite(size))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        double[] r = new double[(2 * maxLag) + 1];
        for (int k = 0; k <= maxLag; k++)
        {
            r[maxLag + k] = LinearSolve.Dot(x.AsSpan(0, n - k), y.AsSpan(k)) / size;
            r[maxLag - k] = LinearSolve.Dot(x.AsSpan(k), y.AsSpan(0, n - k)) / size;
        }

        return r;
    }

    /// <summary>
    /// Standard error of r at any lag where the channels are independent of each other but each is correlated with itself:
    /// √((1 + 2Σ rₓ(j)·r_y(j))/n) (Bartlett 1935; Box and Jenkins, chapter 11), the sum over lags up to √n·2 and tapered to their end.
    /// </summary>
    /// <inheritdoc cref="UpTo"/>
    public static Answer<double> IndependenceError(ReadOnlySpan<double> first, ReadOnlySpan<double> second)
    {
        if (first.Length != second.Length)
        {
            throw new ArgumentException($"As many values in both are needed: {first.Length} and {second.Length}.", nameof(second));
        }

        int n = first.Length;
        int lags = Math.Max(1, Math.Min(n - 1, (int)(2 * Math.Sqrt(n))));
        Answer<double[]> x = Autocorrelation.UpTo(first, lags);
        Answer<double[]> y = Autocorrelation.UpTo(second, lags);
        if (!x.IsKnown || !y.IsKnown)
        {
            return x.Missing ?? y.Missing!;
        }

        double sum = 1;
        for (int j = 1; j <= lags; j++)
        {
            sum += 2 * (1 - (j / (lags + 1.0))) * x.Value[j] * y.Value[j];
        }

        return Math.Sqrt(Math.Max(sum, 1.0 / n) / n);
    }

    private static double[] Centred(ReadOnlySpan<double> values)
    {
        double origin = values[0];
        double sum = 0;
        double[] centred = new double[values.Length];
        for (int i = 0; i < centred.Length; i++)
        {
            centred[i] = values[i] - origin;
            sum += centred[i];
        }

        double mean = sum / centred.Length;
        for (int i = 0; i < centred.Length; i++)
        {
            centred[i] -= mean;
        }

        return centred;
    }
}
