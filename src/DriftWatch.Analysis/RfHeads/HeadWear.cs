using DriftWatch.Analysis.Forecast;
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
/// <param name="IsOneStep">One step between two line-ups explains the levels better than the line does: an exchange or a clog, no wear.</param>
/// <param name="Line">The line itself, dB over the days since the first date.</param>
public readonly record struct HeadWearTrend(
    int Head, double DbPerWeek, double Lower, double Upper, double PValue, bool IsClaimed, int Baselines, double Weeks, bool IsOneStep, LineFit Line)
{
    /// <summary>What the line falls by from the first line-up to the last, dB; negative where it rises.</summary>
    public double FallDb => -DbPerWeek * Weeks;

    /// <summary>Slope in dB a month of 365.25/12 days with its interval, for this head alone.</summary>
    /// <param name="confidence">Of the interval, two-sided.</param>
    public (double Slope, double Lower, double Upper) DbPerMonth(double confidence = 0.95)
    {
        const double DaysPerMonth = 365.25 / 12;
        double reach = LeastSquaresLine.StudentQuantile(confidence, Line.DegreesOfFreedom) * Line.SlopeError;
        return (DaysPerMonth * Line.Slope, DaysPerMonth * (Line.Slope - reach), DaysPerMonth * (Line.Slope + reach));
    }

    /// <summary>
    /// Days from the last line-up until the line is at a level below it, and how many at the earliest by Fieller's interval (<see cref="CrossingInterval"/>);
    /// 0 where it is there already, a shortfall where the line does not fall.
    /// </summary>
    /// <param name="levelDb">Over the median of the others, dB.</param>
    /// <param name="confidence">Of the interval, two-sided.</param>
    public Answer<(double Best, double Earliest)> DaysTo(double levelDb, double confidence = 0.95)
    {
        if (!(Line.Slope < 0))
        {
            return new Shortfall("dB of fall a week", -DbPerWeek, 0);
        }

        double last = 7 * Weeks;
        double best = Math.Max(0, ((levelDb - Line.Level) / Line.Slope) + Line.MeanTime - last);
        CrossingInterval.Edges? edges = CrossingInterval.Find(
            Line.MeanTime, Line.Level - levelDb, Line.Slope, Line.LevelError * Line.LevelError, 0, Line.SlopeError * Line.SlopeError,
            LeastSquaresLine.StudentQuantile(confidence, Line.DegreesOfFreedom));
        return (best, edges is { } known ? Math.Clamp(known.Lower - last, 0, best) : 0);
    }
}

/// <summary>
/// Wear of one head from line-ups of months: each head's level less the median of the others of the same line-up, because the level itself goes
/// with the tape that was on the machine. A line by least squares over the dates, Student's t, and Bonferroni's share of the error for
/// each head. What all heads do alike (all worn, another reference tape) can't be seen in differences, and a head that another took out
/// of its place among the three others moves theirs a little. Line-ups weeks apart are taken as independent.
/// </summary>
public static class HeadWear
{
    /// <summary>A line and its error from fewer rest on one degree of freedom. Source: common practice, no source.</summary>
    public const int LeastBaselines = 4;

    /// <summary>Wear takes weeks; what happens within days is dirt. Source: common practice, no source.</summary>
    public const double LeastWeeks = 2;

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
        bool isOneStep = LeastOfOneStep(differences) < line.ResidualDeviation * line.ResidualDeviation * line.DegreesOfFreedom;
        return new HeadWearTrend(head, slope, slope - reach, slope + reach, p, slope + reach < 0, times.Length, weeks, isOneStep, line);
    }

    /// <summary>Least sum of squares about two levels, one before and one after some line-up.</summary>
    private static double LeastOfOneStep(ReadOnlySpan<double> levels)
    {
        double least = double.PositiveInfinity;
        for (int split = 1; split < levels.Length; split++)
        {
            least = Math.Min(least, SquaresAboutMean(levels[..split]) + SquaresAboutMean(levels[split..]));
        }

        return least;
    }

    private static double SquaresAboutMean(ReadOnlySpan<double> levels)
    {
        double mean = Points.Mean(levels);
        double squares = 0;
        foreach (double level in levels)
        {
            squares += (level - mean) * (level - mean);
        }

        return squares;
    }
}
