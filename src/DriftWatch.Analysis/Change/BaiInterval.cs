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
    /// <summary>More samples than any record has: an end so far out means that the record tells nothing on that side.</summary>
    private const double FarOut = 1 << 30;

    /// <summary>
    /// Variances further apart: the quieter side has no noise to speak of, and the law is a difference of numbers so great that nothing
    /// is left of it.
    /// </summary>
    private const double MostUnequal = 1e8;

    /// <summary>First and last index of the first sample of the new regime; may reach beyond the record.</summary>
    /// <param name="values">Evenly sampled, in the order of time.</param>
    /// <param name="change">The cut: index of the first sample of the new regime, 2 … n − 2.</param>
    /// <param name="confidence">Between 0 and 1.</param>
    /// <returns>A shortfall where a side has no noise, or a ten-thousandth of the other's, so that there is no scale.</returns>
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
        if (!(ratio is > 1 / MostUnequal and < MostUnequal))
        {
            return new Shortfall("distinct values on a side", 1, 2);
        }

        double unit = varianceBefore / (step * step);
        double tail = (1 - confidence) / 2;
        double low = Quantile(tail, ratio) * unit;
        double high = Quantile(1 - tail, ratio) * unit;
        return (change - Whole(Math.Ceiling(high)), change - Whole(Math.Floor(low)));

        static int Whole(double samples) => (int)Math.Clamp(samples, -FarOut, FarOut);
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
                - (heavy * Scaled(-x / 8, (0.5 + inverse) * root))
                + (((x / 2) - 2 + ((ratio + 2) * (ratio + 2) / (ratio + 1))) * Scaled(-x / 8, root / 2));
        }

        double slow = 1 / ratio;
        double factor = (2 * ratio + 1) / (ratio * (ratio + 1));
        return 1 + (Math.Sqrt(slow * x / (2 * Math.PI)) * Math.Exp(-slow * x / 8))
            + (factor * Scaled(-slow * x / 8, (ratio + 0.5) / Math.Sqrt(ratio) * root))
            - ((((2 * ratio) + 1) * ((2 * ratio) + 1) / ((ratio + 1) * ratio) - 2 + (slow * x / 2)) * Scaled(-slow * x / 8, Math.Sqrt(slow * x) / 2));
    }

    private static double Quantile(double p, double ratio)
    {
        // The positive side is as wide as the ratio, which has no bound: two values before the cut may be all but equal.
        bool before = p < 1 / (1 + ratio); // the law at zero
        double reach = before ? 100 : 100 * Math.Max(1, ratio);
        while (before ? Law(-reach, ratio) > p : Law(reach, ratio) < p)
        {
            reach *= 2;
        }

        double accuracy = 1e-9 * Math.Max(1, reach / 1e4);
        return before
            ? Brent.FindRoot(v => Law(v, ratio) - p, -reach, 0, accuracy, 500)
            : Brent.FindRoot(v => Law(v, ratio) - p, 0, reach, accuracy, 500);
    }

    /// <summary>
    /// exp(d + z²/2)·Φ(−z), d at most 0: given so, because what is left when two great exponents cancel is known exactly. Beyond
    /// z = 37 the factors leave the range of a double although the product does not: there the tail's series
    /// φ(z)/z·(1 − 1/z² + 3/z⁴ − 15/z⁶) is good to ten digits.
    /// </summary>
    private static double Scaled(double d, double z)
    {
        if (z < 37)
        {
            return Math.Exp(d + (z * z / 2)) * Normal.CDF(0, 1, -z);
        }

        double inverse = 1 / (z * z);
        return Math.Exp(d) / (z * Math.Sqrt(2 * Math.PI)) * (1 - (inverse * (1 - (inverse * (3 - (15 * inverse))))));
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
