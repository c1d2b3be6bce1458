using System.Numerics;
using MathNet.Numerics.IntegralTransforms;

namespace DriftWatch.Analysis.Statistics;

/// <summary>What had been taken out of the values before their autocorrelation was asked for; it decides the bias that is corrected.</summary>
public enum Removed
{
    /// <summary>Their mean, which every estimate here takes out itself.</summary>
    Mean,

    /// <summary>A straight line: the values are residuals of a trend.</summary>
    Line,
}

/// <summary>A first-order autoregressive estimate xₜ−μ = ρ(xₜ₋₁−μ) + noise.</summary>
/// <param name="Rho">The coefficient, corrected for the bias of small samples; within −1 … 1−2/n.</param>
/// <param name="Uncorrected">The lag-1 autocorrelation that was measured.</param>
/// <param name="StandardError">Of the coefficient, √((1−ρ²)/n): the large-sample one of Bartlett (1946) for a first-order series.</param>
/// <param name="EffectiveSampleSize">How many independent values say as much about the mean: <see cref="Autocorrelation.EffectiveSampleSize(int, double)"/>.</param>
public readonly record struct FirstOrderEstimate(double Rho, double Uncorrected, double StandardError, double EffectiveSampleSize);

/// <summary>
/// Autocorrelation of evenly sampled values and the effective sample size that it leaves. The estimate at lag k is
/// rₖ = Σ(xₜ−x̄)(xₜ₊ₖ−x̄) / Σ(xₜ−x̄)², the sum in the numerator over n−k products and not rescaled (Box and Jenkins; R's acf
/// and statsmodels' default): no unit, within −1 … 1, and a positive definite sequence. Values are finite and in time order.
/// </summary>
public static class Autocorrelation
{
    /// <summary>Above this many lags the transform takes over from the sum; either gives the same to rounding.</summary>
    private const int DirectLags = 64;

    /// <summary>Least points for a first-order estimate: its bias correction divides by n−4 or n−5.</summary>
    private const int LeastPoints = 8;

    /// <summary>The autocorrelation at one lag.</summary>
    /// <param name="values">Evenly sampled, in time order.</param>
    /// <param name="lag">0 … n−1, in samples.</param>
    /// <returns>A shortfall where all values are the same or there are not more than <paramref name="lag"/> of them.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    /// <exception cref="ArgumentOutOfRangeException">The lag is negative.</exception>
    public static Answer<double> AtLag(ReadOnlySpan<double> values, int lag)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(lag);
        Finite.Require(values);
        if (Lacking(values, lag) is { } shortfall)
        {
            return shortfall;
        }

        (double origin, double mean, double squares) = Centre(values);
        return Products(values, lag, origin, mean) / squares;
    }

    /// <summary>The autocorrelations at lags 0 … <paramref name="maxLag"/>, by the sum for few lags and by Fourier transform for many.</summary>
    /// <inheritdoc cref="AtLag"/>
    public static Answer<double[]> UpTo(ReadOnlySpan<double> values, int maxLag)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(maxLag);
        Finite.Require(values);
        if (Lacking(values, maxLag) is { } shortfall)
        {
            return shortfall;
        }

        return maxLag <= DirectLags ? Direct(values, maxLag) : ByTransform(values, maxLag);
    }

    /// <summary>
    /// How many independent values say as much about the mean as n values of a first-order series do: n(1−ρ)/(1+ρ), the
    /// limit for n ≫ 1/(1−ρ) (Bayley and Hammersley, 'The effective number of independent observations in an
    /// autocorrelated time series', 1946). Within 1 … n: a negative ρ would give more than n, which nothing here may
    /// claim from an estimate, and counts as none.
    /// </summary>
    /// <param name="count">n ≥ 1.</param>
    /// <param name="rho">ρ within −1 … 1.</param>
    public static double EffectiveSampleSize(int count, double rho)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(count, 1);
        if (!(rho >= -1 && rho <= 1))
        {
            throw new ArgumentOutOfRangeException(nameof(rho), rho, "A correlation is within -1 and 1.");
        }

        return Math.Clamp(count * (1 - rho) / (1 + rho), 1, count);
    }

    /// <summary>
    /// The effective sample size without a model: n / (1 + 2Σρₖ), the sum ended by Geyer's initial monotone sequence: pairs
    /// Γⱼ = ρ₂ⱼ+ρ₂ⱼ₊₁ are added while they are positive, none counted as more than the one before (Geyer, 'Practical Markov
    /// chain Monte Carlo', Statistical Science 7, 1992, section 3.3). Taking out the own mean lowers every covariance by its
    /// variance σ²/n_eff, so ρₖ is taken as rₖ(1−1/m) + 1/m with m a first n_eff from the rₖ themselves (derived). Within 1 … n.
    /// </summary>
    /// <inheritdoc cref="AtLag"/>
    public static Answer<double> EffectiveSampleSize(ReadOnlySpan<double> values) => BySequence(values, allowForOwnMean: true);

    /// <summary>The same, and without the allowance for the own mean: Geyer's estimate as it stands in the paper.</summary>
    internal static Answer<double> BySequence(ReadOnlySpan<double> values, bool allowForOwnMean)
    {
        Finite.Require(values);
        if (Lacking(values, 3) is { } shortfall)
        {
            return shortfall;
        }

        // Rarely are many lags needed: look at a few, and at more only if their pairs are all still positive.
        int n = values.Length;
        int lags = Math.Min(n - 1, DirectLags - 1);
        while (true)
        {
            double[] r = lags < DirectLags ? Direct(values, lags) : ByTransform(values, lags);
            double? first = Monotone(r, n, 0);
            double? second = allowForOwnMean && first is { } size ? Monotone(r, n, 1 / size) : first;
            if (second is { } found)
            {
                return found;
            }

            lags = (int)Math.Min(n - 1, 16L * lags);
        }
    }

    /// <summary>n over the sum of the initial monotone sequence; null where it has not ended within the lags given.</summary>
    private static double? Monotone(double[] r, int n, double shift)
    {
        double sum = 0;
        double last = double.MaxValue;
        for (int j = 0; j + 1 < r.Length; j += 2)
        {
            double pair = Math.Min(last, ((r[j] + r[j + 1]) * (1 - shift)) + (2 * shift));
            if (pair <= 0)
            {
                return Math.Clamp(n / Math.Max((2 * sum) - 1, 1.0 / n), 1, n);
            }

            sum += pair;
            last = pair;
        }

        return r.Length == n ? Math.Clamp(n / Math.Max((2 * sum) - 1, 1.0 / n), 1, n) : null;
    }

    /// <summary>
    /// The first-order coefficient from r₁, corrected for its bias, which is −(1+4ρ)/n where the mean was taken out (Marriott
    /// and Pope, 'Bias in the estimation of autocorrelations', Biometrika 41, 1954) and −(2+5ρ)/n where a line was (Shaman
    /// and Stine, 'The bias of autoregressive coefficient estimators', JASA 83, 1988, give −(2+4ρ)/n for least squares;
    /// the sum that is not rescaled adds −ρ/n). From memory of these papers; held by simulation.
    /// </summary>
    /// <param name="values">Evenly sampled, in time order.</param>
    /// <param name="removed">What had been taken out before.</param>
    /// <returns>A shortfall below 8 points or where all values are the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<FirstOrderEstimate> FirstOrder(ReadOnlySpan<double> values, Removed removed = Removed.Mean)
    {
        Finite.Require(values);
        if (Lacking(values, LeastPoints - 1) is { } shortfall)
        {
            return shortfall;
        }

        (double origin, double mean, double squares) = Centre(values);
        return Corrected(Products(values, 1, origin, mean) / squares, values.Length, removed);
    }

    /// <summary>
    /// The first-order coefficient where outliers may be: ρ from the scales of sums and differences of neighbours,
    /// (Q²(u+v)−Q²(u−v)) / (Q²(u+v)+Q²(u−v)) with Q = Qn (Ma and Genton, 'Highly robust estimation of the autocovariance
    /// function', Journal of Time Series Analysis 21, 2000), then corrected as in <see cref="FirstOrder"/>. A lone outlier
    /// spoils two pairs, so about a quarter of the values may be anything.
    /// </summary>
    /// <inheritdoc cref="FirstOrder"/>
    public static Answer<FirstOrderEstimate> RobustFirstOrder(ReadOnlySpan<double> values, Removed removed = Removed.Mean)
    {
        Answer<double> raw = RobustAtLag(values, 1);
        if (!raw.IsKnown)
        {
            return raw.Missing!;
        }

        return values.Length < LeastPoints ? new Shortfall("points", values.Length, LeastPoints) : Corrected(raw.Value, values.Length, removed);
    }

    /// <summary>The autocorrelation at one lag where outliers may be, as <see cref="RobustFirstOrder"/> has it, not corrected for bias.</summary>
    /// <inheritdoc cref="AtLag"/>
    public static Answer<double> RobustAtLag(ReadOnlySpan<double> values, int lag)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(lag);
        Finite.Require(values);
        if (Lacking(values, lag + 1) is { } shortfall)
        {
            return shortfall;
        }

        int pairs = values.Length - lag;
        var sums = new double[pairs];
        var differences = new double[pairs];
        double origin = values[0];
        for (int i = 0; i < pairs; i++)
        {
            sums[i] = (values[i] - origin) + (values[i + lag] - origin);
            differences[i] = values[i + lag] - values[i];
        }

        Array.Sort(sums);
        Array.Sort(differences);
        double sum = RobustScale.QnOfSorted(sums);
        double difference = RobustScale.QnOfSorted(differences);
        double together = (sum * sum) + (difference * difference);
        if (!(together > 0))
        {
            // More than half the neighbours are the same pair: nothing is left to measure.
            return new Shortfall("distinct values", 1, 2);
        }

        return ((sum * sum) - (difference * difference)) / together;
    }

    internal static double[] Direct(ReadOnlySpan<double> values, int maxLag)
    {
        (double origin, double mean, double squares) = Centre(values);
        var r = new double[maxLag + 1];
        r[0] = 1;
        for (int k = 1; k <= maxLag; k++)
        {
            r[k] = Products(values, k, origin, mean) / squares;
        }

        return r;
    }

    /// <summary>
    /// Block by block, so that the work stays in the processor's cache and memory is of the size of the lags: each block is
    /// multiplied with itself and the lags that follow it, both real rows in one complex transform, and the products are added
    /// up as spectra (overlap-save; Stockham, 'High-speed convolution and correlation', AFIPS 1966).
    /// </summary>
    internal static double[] ByTransform(ReadOnlySpan<double> values, int maxLag)
    {
        (double origin, double mean, double squares) = Centre(values);
        int whole = (int)BitOperations.RoundUpToPowerOf2((uint)(values.Length + maxLag));
        int length = (int)Math.Min(whole, (long)BitOperations.RoundUpToPowerOf2((ulong)Math.Max(4096, 4L * maxLag)));
        int block = length - maxLag;
        var rows = new Complex[length];
        var sum = new Complex[length];
        for (int start = 0; start < values.Length; start += block)
        {
            for (int i = 0; i < length; i++)
            {
                double x = start + i < values.Length ? values[start + i] - origin - mean : 0;
                rows[i] = new Complex(i < block ? x : 0, x);
            }

            Fourier.Forward(rows, FourierOptions.AsymmetricScaling);
            for (int i = 0; i < length; i++)
            {
                // The rows' own spectra are the even and the odd part; the block's conjugate times the other's.
                Complex one = rows[i];
                Complex other = Complex.Conjugate(rows[i == 0 ? 0 : length - i]);
                Complex first = (one + other) / 2;
                Complex second = (one - other) * new Complex(0, -0.5);
                sum[i] += Complex.Conjugate(first) * second;
            }
        }

        Fourier.Inverse(sum, FourierOptions.AsymmetricScaling);
        var r = new double[maxLag + 1];
        r[0] = 1;
        for (int k = 1; k <= maxLag; k++)
        {
            r[k] = sum[k].Real / squares;
        }

        return r;
    }

    private static FirstOrderEstimate Corrected(double raw, int n, Removed removed)
    {
        double corrected = removed == Removed.Mean ? ((n * raw) + 1) / (n - 4) : ((n * raw) + 2) / (n - 5);

        // At 1−2/n one independent value is left; more than that no record can tell from a random walk.
        double rho = Math.Clamp(corrected, -1, 1 - (2.0 / n));
        return new FirstOrderEstimate(rho, raw, Math.Sqrt((1 - (rho * rho)) / n), EffectiveSampleSize(n, rho));
    }

    private static Shortfall? Lacking(ReadOnlySpan<double> values, int lag)
    {
        if (values.Length < Math.Max(2, lag + 1))
        {
            return new Shortfall("points", values.Length, Math.Max(2, lag + 1));
        }

        // Of values that differ by less than 1e-154 or more than 1e154 the squares can't be represented.
        return Centre(values).Squares is > 0 and < double.MaxValue ? null : new Shortfall("distinct values", 1, 2);
    }

    /// <summary>Mean and sum of squares about it, measured from the first value so that a huge offset costs no digits.</summary>
    private static (double Origin, double Mean, double Squares) Centre(ReadOnlySpan<double> values)
    {
        double origin = values[0];
        double sum = 0;
        foreach (double value in values)
        {
            sum += value - origin;
        }

        double mean = sum / values.Length;
        double squares = 0;
        foreach (double value in values)
        {
            double deviation = value - origin - mean;
            squares += deviation * deviation;
        }

        return (origin, mean, squares);
    }

    private static double Products(ReadOnlySpan<double> values, int lag, double origin, double mean)
    {
        double sum = 0;
        for (int i = lag; i < values.Length; i++)
        {
            sum += (values[i] - origin - mean) * (values[i - lag] - origin - mean);
        }

        return sum;
    }
}
