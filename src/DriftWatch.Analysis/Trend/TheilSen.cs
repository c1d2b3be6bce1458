using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Trend;

/// <summary>How the ranks of Sen's limits, which are rarely whole, become slopes.</summary>
public enum SenLimits
{
    /// <summary>The rank is rounded, half to even: what SciPy's <c>theilslopes</c> does.</summary>
    Rounded,

    /// <summary>Between the two slopes next to it, linearly: Gilbert, 'Statistical Methods for Environmental Pollution Monitoring' (1987).</summary>
    Interpolated,
}

/// <summary>The median of the pairwise slopes with Sen's limits.</summary>
/// <param name="Slope">In value units a second (a unit of the times given).</param>
/// <param name="Lower">Sen's lower limit.</param>
/// <param name="Upper">Sen's upper limit.</param>
/// <param name="Intercept">The median of value − slope·time: the line's value at time 0.</param>
/// <param name="Pairs">How many pairs of different times there were.</param>
public readonly record struct TheilSenFit(double Slope, double Lower, double Upper, double Intercept, long Pairs);

/// <summary>
/// Slope of a line that bears up to 29 % of wild points: the median of the slopes of all pairs of points with different times
/// (Theil 1950), and limits from the pairs' order statistics at ranks (N ∓ z·σ)/2, where N is the number of pairs and σ² the variance of
/// Kendall's S with ties in both times and values (Sen, 'Estimates of the regression coefficient based on Kendall's tau',
/// Journal of the American Statistical Association 63, 1968).
/// O(n log n) time and O(n) memory, see <see cref="PairwiseSlopes"/>. The limits hold for independent noise only; under
/// autocorrelation they are too narrow, and no claim rests on them.
/// </summary>
public static class TheilSen
{
    /// <summary>Below this even the widest of Sen's limits means little: at three points the normal ranks fall outside. Source: common practice, no source.</summary>
    public const int LeastPoints = 4;

    /// <param name="times">In seconds, in any order; equal ones make no pair.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="confidence">Of the limits, two-sided.</param>
    /// <param name="limits">How ranks that are not whole are read.</param>
    /// <exception cref="ArgumentException">Lengths differ, or a number is not finite.</exception>
    public static Answer<TheilSenFit> Fit(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, double confidence = 0.95, SenLimits limits = SenLimits.Rounded)
    {
        Points.Check(times, values);
        Points.CheckConfidence(confidence);
        if (times.Length < LeastPoints)
        {
            return new Shortfall("points", times.Length, LeastPoints);
        }

        var slopes = new PairwiseSlopes(times, values);
        if (slopes.Count == 0)
        {
            return new Shortfall("different times", 1, 2);
        }

        double slope = slopes.Median();
        double reach = Normal.InvCDF(0, 1, (1 + confidence) / 2) * Math.Sqrt(MannKendall.Variance(times, values));
        (double lower, double upper) = Limits(slopes, reach, limits);
        double[] residuals = new double[times.Length];
        for (int i = 0; i < residuals.Length; i++)
        {
            residuals[i] = values[i] - (slope * times[i]);
        }

        return new TheilSenFit(slope, lower, upper, Selection.Median(residuals), slopes.Count);
    }

    private static (double Lower, double Upper) Limits(PairwiseSlopes slopes, double reach, SenLimits limits)
    {
        double low = (slopes.Count - reach) / 2;
        double high = (slopes.Count + reach) / 2;
        if (limits == SenLimits.Rounded)
        {
            long lowRank = Math.Max((long)Math.Round(low) - 1, 0);
            long highRank = Math.Min((long)Math.Round(high), slopes.Count - 1);
            return (slopes.Select(lowRank), slopes.Select(highRank));
        }

        return (Between(slopes, low - 1), Between(slopes, high));
    }

    /// <summary>The slope at a rank that need not be whole, counted from 0.</summary>
    private static double Between(PairwiseSlopes slopes, double rank)
    {
        double clamped = Math.Clamp(rank, 0, slopes.Count - 1);
        long whole = (long)Math.Floor(clamped);
        double part = clamped - whole;
        double at = slopes.Select(whole);
        return part == 0 ? at : at + (part * (slopes.Select(whole + 1) - at));
    }
}
