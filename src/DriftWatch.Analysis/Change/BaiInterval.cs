using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.RootFinding;

namespace DriftWatch.Analysis.Change;

/// <summary>
/// The classical interval for the instant of a step: the limit law of the least-squares cut for small steps and independent
/// noise, a two-sided random walk with drift (Bai, 'Estimation of a change point in multiple regression models', Review of
/// Economics and Statistics 79, 1997; Bai and Perron 2003; R's strucchange gives the same numbers). It stands here to be
/// compared: it covers too seldom where the step is large against the noise, and far too seldom under autocorrelation; the
/// product's claims use <see cref="StepFinder"/>.
/// </summary>
public static class BaiInterval
{
    /// <summary>First and last index of the first sample of the new regime; may reach beyond the record.</summary>
    /// <param name="values">Evenly sampled, in the order of time.</param>
    /// <param name="change">The cut: index of the first sample of the new regime, 2 … n − 2.</param>
    /// <param name="confidence">Between 0 and 1.</param>
    /// <returns>A shortfall where a side has no noise, so that there is no scale.</returns>
    /// <exception cref="ArgumentException">A value is not finite, or an argument is outside its range.</exception>
    public static Answer<(int From, int To)> Of(ReadOnlySpan<double> values, int change, double confidence = 0.95)
    {
        Finite.Require(values);
        if (change < 2 || change > values.Length - 2)
        {
            throw new ArgumentException("The cut leaves two values on each side.", nameof(change));
        }

        if (!(confidence > 0) || !(confidence < 1))
        {
            throw new ArgumentException("The confidence is between 0 and 1.", nameof(confidence));
        }

        (double meanBefore, double varianceBefore) = Moments(values[..change]);
        (double meanAfter, double varianceAfter) = Moments(values[change..]);
        double step = meanAfter - meanBefore;
        if (!(varianceBefore > 0) || !(varianceAfter > 0) || step == 0)
        {
            return new Shortfall("distinct values on a side", 1, 2);
        }

        double ratio = varianceAfter / varianceBefore;
        double unit = varianceBefore / (step * step);
        double tail = (1 - confidence) / 2;
        double low = Quantile(tail, ratio) * unit;
        double high = Quantile(1 - tail, ratio) * unit;
        return (change - (int)Math.Ceiling(high), change - (int)Math.Floor(low));
    }

    /// <summary>
    /// Distribution of argmax W(v) − |v|/2, W a two-sided Wiener process whose variance is 1 for v &lt; 0 and
    /// <paramref name="ratio"/> for v &gt; 0 (Bai 1997, appendix B).
    /// </summary>
    internal static double Law(double v, double ratio)
    {
        double x = Math.Abs(v);
        double root = Math.Sqrt(x);
        if (v < 0)
        {
            double inverse = 1 / ratio;
            double heavy = ratio * (ratio + 2) / (ratio + 1);
            return -(Math.Sqrt(x / (2 * Math.PI)) * Math.Exp(-x / 8))
                - (heavy * Scaled(inverse * (1 + inverse) * x / 2, (0.5 + inverse) * root))
                + (((x / 2) - 2 + ((ratio + 2) * (ratio + 2) / (ratio + 1))) * Scaled(0, root / 2));
        }

        double slow = 1 / ratio;
        double factor = (2 * ratio + 1) / (ratio * (ratio + 1));
        return 1 + (Math.Sqrt(slow * x / (2 * Math.PI)) * Math.Exp(-slow * x / 8))
            + (factor * Scaled((ratio + 1) * x / 2, (ratio + 0.5) / Math.Sqrt(ratio) * root))
            - ((((2 * ratio) + 1) * ((2 * ratio) + 1) / ((ratio + 1) * ratio) - 2 + (slow * x / 2)) * Scaled(0, Math.Sqrt(slow * x) / 2));
    }

    private static double Quantile(double p, double ratio)
    {
        double reach = 100;
        while (Law(reach, ratio) < 1 - 1e-9 && reach < 1e6)
        {
            reach *= 2;
        }

        double atZero = Law(0, ratio);
        return p < atZero
            ? Brent.FindRoot(v => Law(v, ratio) - p, -reach, 0, 1e-9, 500)
            : Brent.FindRoot(v => Law(v, ratio) - p, 0, reach, 1e-9, 500);
    }

    /// <summary>
    /// exp(a)·Φ(−z), a at most z²/2. Beyond z = 37 both leave the range of a double although the product does not: there the
    /// tail's series φ(z)/z·(1 − 1/z² + 3/z⁴ − 15/z⁶) is good to ten digits.
    /// </summary>
    private static double Scaled(double exponent, double z)
    {
        if (z < 37)
        {
            return Math.Exp(exponent) * Normal.CDF(0, 1, -z);
        }

        double inverse = 1 / (z * z);
        return Math.Exp(exponent - (z * z / 2)) / (z * Math.Sqrt(2 * Math.PI)) * (1 - (inverse * (1 - (inverse * (3 - (15 * inverse))))));
    }

    private static (double Mean, double Variance) Moments(ReadOnlySpan<double> values)
    {
        double origin = values[0], sum = 0, squares = 0;
        foreach (double value in values)
        {
            sum += value - origin;
        }

        double mean = sum / values.Length;
        foreach (double value in values)
        {
            squares += (value - origin - mean) * (value - origin - mean);
        }

        return (origin + mean, squares / values.Length);
    }
}
