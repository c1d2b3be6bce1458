using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Stability;

/// <summary>How readings differ from white noise.</summary>
public enum NoiseColour
{
    /// <summary>Nothing speaks against independent readings: averaging lowers their error as 1/√n.</summary>
    White,

    /// <summary>Neighbours are alike or there is drift: averages differ more than those of white noise would.</summary>
    Red,

    /// <summary>Neighbours oppose each other: averaging gains more than 1/√n.</summary>
    Blue,
}

/// <summary>
/// Whether noise is white, and which averaging time is best. Slow first-order noise makes a hump: the least deviation is at the
/// shortest time and the deviation falls again beyond the hump, where <paramref name="AveragingHelps"/> then says so.
/// </summary>
/// <param name="Colour">By a test whose false claims are rarer than its level.</param>
/// <param name="WhiteSeconds">The longest averaging time up to which nothing speaks against white; zero where the shortest already does.</param>
/// <param name="BestSeconds">The averaging time of the least Allan deviation.</param>
/// <param name="BestDeviation">That deviation, in the unit of the readings.</param>
/// <param name="TailSlope">Power of τ with which the deviation goes over the last octaves: −½ white, 0 flicker, ½ a walk, 1 a straight drift.</param>
/// <param name="AveragingHelps">At the longest time that the record shows the deviation still falls: longer averages are better still.</param>
/// <param name="RisesAtEnd">At the longest time the deviation is surely above the least one and does not fall: averages as long as that differ more from each other. A walk, a drift or slow first-order noise within some time constants: a trend is for the methods of Trend to claim.</param>
/// <param name="Points">What it was judged by.</param>
public sealed record NoiseVerdict(
    NoiseColour Colour, double WhiteSeconds, double BestSeconds, double BestDeviation, double TailSlope, bool AveragingHelps, bool RisesAtEnd,
    IReadOnlyList<AllanPoint> Points);

/// <summary>
/// Tells white noise from red by the octaves of the Allan deviation: of white readings m·s²(m) is the same variance at every
/// m, so m·s²(m)/s²(1) is near F-distributed with the equivalent degrees of freedom of both. Each octave is tested at the
/// level divided by their number (Bonferroni), on both sides. Derived from the distribution that NIST SP 1065, section 5.4
/// gives each variance; that both variances are taken as independent is an approximation held by simulation.
/// </summary>
public static class WhiteOrRed
{
    /// <summary>Readings needed: three octaves with eight averages each.</summary>
    public const int LeastReadings = 64;

    /// <summary>Halfway between white (−½) and flicker (0): common practice of rounding to the nearest kind.</summary>
    private const double SlopeOfHelp = -0.25;

    /// <summary>Octaves that the tail's slope is taken over.</summary>
    private const int TailOctaves = 4;

    /// <summary>Averages at the longest time that is judged.</summary>
    private const int LeastAverages = 8;

    /// <param name="values">Evenly sampled readings in time order.</param>
    /// <param name="sampleSeconds">Time between them, above zero.</param>
    /// <param name="level">How often white noise may be called something else, above 0, below 1.</param>
    /// <returns>A shortfall below 64 readings, or where all are the same.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<NoiseVerdict> Classify(ReadOnlySpan<double> values, double sampleSeconds, double level = 0.05)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(level, 0);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(level, 1);
        AllanPoints.RequireAbove(sampleSeconds);
        Finite.Require(values);
        if (values.Length < LeastReadings)
        {
            return new Shortfall("points", values.Length, LeastReadings);
        }

        Answer<AllanPoint[]> all = AllanPoints.Octaves(values, sampleSeconds);
        if (!all.IsKnown)
        {
            return all.Missing!;
        }

        int readings = values.Length;
        AllanPoint[] points = [.. all.Value.Where(p => readings / p.Averaged >= LeastAverages)];
        NoiseColour colour = NoiseColour.White;
        double whiteSeconds = 0;
        double share = level / (points.Length - 1) / 2;
        double first = points[0].Deviation * points[0].Deviation;
        double firstFreedom = Freedom(1, readings);
        for (int i = 1; i < points.Length; i++)
        {
            int m = points[i].Averaged;
            double freedom = Freedom(m, readings);
            double ratio = first > 0 ? m * points[i].Deviation * points[i].Deviation / first : double.MaxValue;
            double above = ratio == double.MaxValue ? 1 : FisherSnedecor.CDF(freedom, firstFreedom, ratio);
            NoiseColour here = above > 1 - share ? NoiseColour.Red : above < share ? NoiseColour.Blue : NoiseColour.White;
            if (here == NoiseColour.White && colour == NoiseColour.White)
            {
                whiteSeconds = points[i].Seconds;
            }

            // Red anywhere decides: that averages wander is what matters, whatever their neighbours do.
            colour = here == NoiseColour.Red || colour == NoiseColour.White ? here : colour;
        }

        AllanPoint best = points.MinBy(p => p.Deviation);
        AllanPoint last = points[^1];
        double slope = TailSlope(points.AsSpan(points.Length - TailOctaves));
        bool helps = slope < SlopeOfHelp;
        return new NoiseVerdict(
            colour, whiteSeconds, best.Seconds, best.Deviation, slope, helps, !helps && last.Low > best.High, points);
    }

    /// <summary>Least squares of log deviation on log time, weighted by degrees of freedom (the variance of a log variance is 2/edf).</summary>
    private static double TailSlope(ReadOnlySpan<AllanPoint> tail)
    {
        double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
        for (int i = 0; i < tail.Length; i++)
        {
            double y = Math.Log2(Math.Max(tail[i].Deviation, double.Epsilon));
            double weight = tail[i].Freedom;
            w += weight;
            wx += weight * i;
            wy += weight * y;
            wxx += weight * i * i;
            wxy += weight * i * y;
        }

        return ((w * wxy) - (wx * wy)) / ((w * wxx) - (wx * wx));
    }

    private static double Freedom(int m, int readings) =>
        EquivalentFreedom.Of(NoiseKind.WhiteFrequency, 2, m, readings + 1, overlapping: true, modified: false) ?? 1;
}
