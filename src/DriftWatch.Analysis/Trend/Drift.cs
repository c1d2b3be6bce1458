using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.Trend;

/// <summary>A straight drift with an interval that allows for autocorrelation and wild points: what a claim of drift rests on.</summary>
/// <param name="Slope">In value units a second (a unit of the times given).</param>
/// <param name="Lower">Lower limit of the slope.</param>
/// <param name="Upper">Upper limit of the slope.</param>
/// <param name="MeanTime">Time at which the level stands.</param>
/// <param name="Level">The line's value at <paramref name="MeanTime"/>.</param>
/// <param name="SlopeVariance">Of the slope; all three variances are widened already by <see cref="Drift.Widening"/>.</param>
/// <param name="LevelVariance">Of the level.</param>
/// <param name="Covariance">Of level and slope.</param>
/// <param name="DegreesOfFreedom">Of Student's t for all of them.</param>
/// <param name="Correlation">From one step to the next of the slow part of the noise.</param>
/// <param name="SlowShare">Of the noise's variance, 0 to 1; the rest is new at every reading.</param>
/// <param name="NoiseDeviation">Standard deviation of a reading about the line, wild ones left out.</param>
/// <param name="Step">Usual time between readings.</param>
/// <param name="EffectiveSize">As how many independent readings these say about their mean.</param>
/// <param name="Points">Readings used.</param>
/// <param name="LeftOut">Wild readings left out.</param>
public readonly record struct DriftEstimate(
    double Slope,
    double Lower,
    double Upper,
    double MeanTime,
    double Level,
    double SlopeVariance,
    double LevelVariance,
    double Covariance,
    int DegreesOfFreedom,
    double Correlation,
    double SlowShare,
    double NoiseDeviation,
    double Step,
    double EffectiveSize,
    int Points,
    int LeftOut)
{
    /// <summary>There is a drift: the interval leaves 0 out. With an interval of 95 % this is false at most about one time in twenty.</summary>
    public bool IsClaimed => Lower > 0 || Upper < 0;

    /// <summary>How often noise alone shows a slope this steep, up or down: Student's t, two-sided. 0 for a line without noise.</summary>
    public double Significance => SlopeVariance > 0
        ? 2 * MathNet.Numerics.Distributions.StudentT.CDF(0, 1, DegreesOfFreedom, -Math.Abs(Slope) / Math.Sqrt(SlopeVariance))
        : Slope == 0 ? 1 : 0;

    public double At(double time) => Level + (Slope * (time - MeanTime));

    /// <summary>Variance of the line at a time.</summary>
    public double VarianceAt(double time)
    {
        double x = time - MeanTime;
        return Math.Max(0, LevelVariance + (2 * x * Covariance) + (x * x * SlopeVariance));
    }
}

/// <summary>
/// The drift that the product claims. Four steps: (1) a Theil-Sen line through block medians and the MAD about it; readings
/// further than four of it are left out as if they were missing. (2) The noise of the rest: ρ by restricted likelihood with the
/// holes kept as holes, and from how the autocorrelations fade whether a part of it is new at every reading, which
/// hides how slow the rest is: noise = slow part (correlation φ a step, share c of the variance) + reading noise.
/// (3) Means of 12 to 24 blocks of equal count and generalised least squares through them, with the blocks' covariance from φ
/// and c but their variance from the blocks themselves and Student's t with blocks − 2 degrees of freedom. So an error in φ, which
/// decides everything in the classical methods, only changes a correction. (4) Below an effective size of 30 the answer is a
/// shortfall; above, the interval is widened by 1 + (150 + 450(1 − c))/size², because it is the records whose size is judged too high that get through this gate.
/// Sources: Hampel's skipped mean ('The breakdown points of the mean combined with some rejection rules', Technometrics 27, 1985);
/// blocks for Student's t: Ibragimov and Müller, 't-statistic based correlation and heterogeneity robust inference' (Journal of
/// Business and Economic Statistics 28, 2010); restricted likelihood: Pinheiro and Bates (2000). All from memory. How they are put
/// together, the numbers 4, 12 to 24, 150 and 450, is our own: chosen by the simulation whose table is in the folder's README.
/// </summary>
public static class Drift
{
    /// <summary>Least effective size for an answer.</summary>
    public const double LeastEffectiveSize = 30;

    /// <summary>Readings further from the first line than this many MAD (scaled to normal noise) are left out. Common practice, no source.</summary>
    public const double WildFrom = 4;

    private const int FewestBlocks = 12;
    private const int MostBlocks = 24;

    /// <summary>
    /// What the interval is wider by, since the size itself is an estimate, and one that is harder to get where a part of the noise is new at
    /// every reading; both numbers by simulation.
    /// </summary>
    /// <param name="effectiveSize">As judged from the record.</param>
    /// <param name="slowShare">Of the noise's variance, 0 to 1.</param>
    public static double Widening(double effectiveSize, double slowShare = 1) =>
        1 + ((150 + (450 * (1 - slowShare))) / (effectiveSize * effectiveSize));

    /// <param name="times">In seconds, rising, about evenly spaced; holes where faults were are allowed for.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="confidence">Of the interval, two-sided.</param>
    /// <returns>A shortfall of independent points below <see cref="LeastEffectiveSize"/>.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise.</exception>
    public static Answer<DriftEstimate> Estimate(ReadOnlySpan<double> times, ReadOnlySpan<double> values, double confidence = 0.95)
    {
        Points.Check(times, values);
        Points.CheckRising(times);
        Points.CheckConfidence(confidence);
        if (times.Length < LeastEffectiveSize)
        {
            return new Shortfall("independent points", times.Length, LeastEffectiveSize);
        }

        KeptReadings kept = KeptReadings.From(times, values, WildFrom);
        NoiseModel noise = NoiseModel.Of(kept);
        double size = noise.EffectiveSize(kept.Places);
        if (!(size >= LeastEffectiveSize))
        {
            return new Shortfall("independent points", size, LeastEffectiveSize);
        }

        int blocks = (int)Math.Clamp(size / 4, FewestBlocks, MostBlocks);
        (double slope, double level, Matrix<double> covariance) = ThroughBlocks(kept, noise, blocks);
        double widening = Widening(size, noise.SlowShare);
        covariance *= widening * widening;
        int freedom = blocks - 2;
        double reach = LeastSquaresLine.StudentQuantile(confidence, freedom) * Math.Sqrt(covariance[1, 1]);
        return new DriftEstimate(
            slope, slope - reach, slope + reach, kept.MeanTime, kept.MeanValue + level, covariance[1, 1], covariance[0, 0], covariance[0, 1],
            freedom, noise.Correlation, noise.SlowShare, noise.Deviation, kept.Step, size, kept.Places.Length, times.Length - kept.Places.Length);
    }

    private static (double Slope, double Level, Matrix<double> Covariance) ThroughBlocks(KeptReadings kept, NoiseModel noise, int blocks)
    {
        int n = kept.Places.Length;
        var design = Matrix<double>.Build.Dense(blocks, 2, 1);
        var means = Vector<double>.Build.Dense(blocks);
        for (int k = 0; k < blocks; k++)
        {
            (int start, int end) = Block(k, blocks, n);
            design[k, 1] = Points.Mean(kept.X.AsSpan(start, end - start));
            means[k] = Points.Mean(kept.Y.AsSpan(start, end - start));
        }

        var factor = noise.BlockCovariance(kept.Places, blocks).Cholesky();
        Matrix<double> weighted = factor.Solve(design).Transpose();
        Matrix<double> inverse = (weighted * design).Inverse();
        Vector<double> line = inverse * (weighted * means);
        Vector<double> residual = means - (design * line);
        double variance = Math.Max(0, residual * factor.Solve(residual) / (blocks - 2));
        return (line[1], line[0], inverse * variance);
    }

    internal static (int Start, int End) Block(int k, int blocks, int n) => ((int)((long)k * n / blocks), (int)((long)(k + 1) * n / blocks));
}
