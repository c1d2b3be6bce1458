using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>How one head's level goes against the others over weeks.</summary>
/// <param name="Head">1 to 4.</param>
/// <param name="DbPerWeek">Slope of its level less the median of the others; negative where it sinks.</param>
/// <param name="Lower">Lower limit at the confidence asked for, shared among the heads.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="PValue">How often a head that doesn't change would show such a slope, times the number of heads asked.</param>
/// <param name="IsClaimed">It sinks, and the interval leaves zero out.</param>
/// <param name="Baselines">Line-ups used.</param>
/// <param name="Weeks">From first to last.</param>
public readonly record struct HeadWearTrend(
    int Head, double DbPerWeek, double Lower, double Upper, double PValue, bool IsClaimed, int Baselines, double Weeks);

/// <summary>
/// Wear of one head from line-ups of months: each head's level less the median of the others of the same line-up, because the level itself goes
/// with the tape that was on the machine. A line by least squares over the dates, Student's t, and Bonferroni's share of the error for
/// each head. What all heads do alike (all worn, another reference tape) can't be seen in differences, and a head that another took out
/// of its place among the three others moves theirs a little. Line-ups weeks apart are taken as independent.
/// </summary>
public static class HeadWear
{
    /// <summary>A slope and its error need more than this has to spare. Source: common practice, no source.</summary>
    public const int LeastBaselines = 5;

    /// <summary>Wear takes weeks; what happens within days is dirt. Source: common practice, no source.</summary>
    public const double LeastWeeks = 3;

    /// <param name="dates">Of the line-ups, rising.</param>
    /// <param name="levelsDb">As many, dB; heads may be missing.</param>
    /// <param name="head">1 to 4.</param>
    /// <param name="confidence">For all heads together.</param>
    /// <returns>A shortfall with too few line-ups that have this head and two others, or too few weeks between them.</returns>
    /// <exception cref="ArgumentException">Lengths differ, dates don't rise, or the head doesn't exist.</exception>
    public static Answer<HeadWearTrend> Of(
        IReadOnlyList<DateTimeOffset> dates, IReadOnlyList<FourHeads> levelsDb, int head, double confidence = 0.95)
    {
        ArgumentNullException.ThrowIfNull(dates);
        Points.CheckConfidence(confidence);
        double[] days = [.. dates.Select(d => (d - dates[0]).TotalDays)];
        (double[] times, double[] differences) = new HeadRecord(days, levelsDb).AgainstOthers(head);
        if (times.Length < LeastBaselines)
        {
            return new Shortfall("line-ups with this head and two others", times.Length, LeastBaselines);
        }

        double weeks = (times[^1] - times[0]) / 7;
        if (weeks < LeastWeeks)
        {
            return new Shortfall("weeks between first and last line-up", weeks, LeastWeeks);
        }

        Answer<LineFit> fit = LeastSquaresLine.Fit(times, differences);
        if (!fit.IsKnown)
        {
            return fit.Missing!;
        }

        LineFit line = fit.Value;
        double slope = 7 * line.Slope;
        double error = 7 * line.SlopeError;
        double reach = LeastSquaresLine.StudentQuantile(1 - ((1 - confidence) / FourHeads.Count), line.DegreesOfFreedom) * error;
        double p = error > 0
            ? Math.Min(1, FourHeads.Count * 2 * MathNet.Numerics.Distributions.StudentT.CDF(0, 1, line.DegreesOfFreedom, -Math.Abs(slope) / error))
            : slope == 0 ? 1 : 0;
        return new HeadWearTrend(head, slope, slope - reach, slope + reach, p, slope + reach < 0, times.Length, weeks);
    }
}
