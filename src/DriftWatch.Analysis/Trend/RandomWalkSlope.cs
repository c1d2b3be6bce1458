namespace DriftWatch.Analysis.Trend;

/// <summary>
/// Whether a slope is more than a random walk shows by itself: the question where the noise is so slow that
/// <see cref="Drift"/> has no answer. Asked of one number, the ratio of the rise of the least-squares line over the record to the standard
/// deviation about it (<c>n·|b|/s</c> for n even steps). Its distribution under a random walk knows no parameter, and among
/// first-order autoregressive noise a random walk is the worst: at φ = 0.995, 0.98 and 0.9 the ratio that is passed one time
/// in twenty is 8.6, 6.4 and 2.9 instead of 9.7. Source: derived by simulation, 15 million random walks of 120 steps; the
/// program is beside the golden numbers of this folder.
/// </summary>
public static class RandomWalkSlope
{
    /// <summary>Passed by one random walk in twenty.</summary>
    public const double RatioOf95 = 9.67;

    private static readonly (double Ratio, double Share)[] Tail =
    [
        (0, 1), (3.05, 0.5), (7.90, 0.1), (RatioOf95, 0.05), (13.53, 0.01), (18.9, 1e-3), (24.0, 1e-4), (28.8, 1e-5), (34.5, 1e-6),
    ];

    /// <summary>Share of random walks that show this ratio or a greater one; between the simulated points straight in the logarithm, and on like that beyond the last.</summary>
    /// <param name="ratio">Rise of the line over the record by the standard deviation about it, 0 or more; may be infinite.</param>
    /// <exception cref="ArgumentException">The ratio is negative or not a number.</exception>
    public static double Significance(double ratio)
    {
        if (!(ratio >= 0))
        {
            throw new ArgumentException("A ratio of sizes is 0 or more.", nameof(ratio));
        }

        int above = Array.FindIndex(Tail, 1, point => point.Ratio > ratio);
        int last = above < 0 ? Tail.Length - 1 : above;
        (double fromRatio, double fromShare) = Tail[last - 1];
        (double toRatio, double toShare) = Tail[last];
        double part = (ratio - fromRatio) / (toRatio - fromRatio);
        return double.IsInfinity(ratio) ? 0 : fromShare * Math.Pow(toShare / fromShare, part);
    }
}
