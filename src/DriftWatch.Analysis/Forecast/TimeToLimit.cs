using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Forecast;

/// <summary>On which side of a limit it is bad.</summary>
public enum LimitSide
{
    /// <summary>At or above the limit is beyond it.</summary>
    Above,

    /// <summary>At or below the limit is beyond it.</summary>
    Below,
}

/// <summary>What is to be expected of a limit.</summary>
public enum LimitOutlook
{
    /// <summary>The level is at the limit or beyond it now.</summary>
    AlreadyBeyond,

    /// <summary>The level drifts to the limit, and both the earliest and the latest time of it can be told.</summary>
    Crosses,

    /// <summary>
    /// The level drifts away from the limit, shows no drift, or can't be there before the horizon. Where it shows no drift, the earliest
    /// time may lie within the horizon all the same: then nothing is foreseen, but nothing is ruled out.
    /// </summary>
    NotWithinHorizon,
}

/// <summary>When a level is to cross a limit; times in the seconds of the readings.</summary>
/// <param name="Outlook">What is to be expected.</param>
/// <param name="Earliest">No crossing before this, at the confidence asked for; infinite if none is to be expected ever; now if beyond already.</param>
/// <param name="Best">Where the line itself crosses; infinite where it doesn't, now if beyond already.</param>
/// <param name="Latest">Crossed by then; infinite where that can't be told.</param>
public readonly record struct LimitForecast(LimitOutlook Outlook, double Earliest, double Best, double Latest);

/// <summary>
/// Time until the level, the straight drift without the noise about it, crosses a limit: the crossing of <see cref="Drift"/>'s line with
/// Fieller's interval (<see cref="CrossingInterval"/>), so the interval knows of autocorrelation and wild readings what the drift
/// knows, and widens with the distance until, where the drift itself is in doubt, it has no end. Single readings cross earlier,
/// because of the noise: <see cref="FirstReading"/>. All rests on the drift going on as it is.
/// </summary>
public static class TimeToLimit
{
    /// <param name="times">In seconds, rising, about evenly spaced.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="limit">In the unit of the values.</param>
    /// <param name="side">On which side of the limit it is bad.</param>
    /// <param name="horizonSeconds">How far ahead of the last reading is of interest.</param>
    /// <param name="confidence">Of the interval, two-sided.</param>
    /// <returns>A shortfall where <see cref="Drift"/> has one.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, the horizon is not positive.</exception>
    public static Answer<LimitForecast> Of(
        ReadOnlySpan<double> times, ReadOnlySpan<double> values, double limit, LimitSide side, double horizonSeconds, double confidence = 0.95)
    {
        Finite.Require(limit);
        CheckHorizon(horizonSeconds);
        Answer<DriftEstimate> drift = Drift.Estimate(times, values, confidence);
        return drift.IsKnown ? Of(drift.Value, limit, side, times[^1], horizonSeconds, confidence) : drift.Missing!;
    }

    /// <param name="drift">As estimated up to now.</param>
    /// <param name="limit">In the unit of the values.</param>
    /// <param name="side">On which side of the limit it is bad.</param>
    /// <param name="now">In the drift's own time, usually that of the last reading.</param>
    /// <param name="horizonSeconds">How far ahead of now is of interest.</param>
    /// <param name="confidence">Of the interval, two-sided.</param>
    /// <exception cref="ArgumentException">A number is not finite, or the horizon is not positive.</exception>
    public static LimitForecast Of(
        DriftEstimate drift, double limit, LimitSide side, double now, double horizonSeconds, double confidence = 0.95)
    {
        Finite.Require(limit);
        Finite.Require(now);
        CheckHorizon(horizonSeconds);
        Points.CheckConfidence(confidence);

        // Turned so that beyond is above: then below 0 is this side of the limit.
        double sign = side == LimitSide.Above ? 1 : -1;
        double above = sign * (drift.At(now) - limit);
        if (above >= 0)
        {
            return new LimitForecast(LimitOutlook.AlreadyBeyond, now, now, now);
        }

        double slope = sign * drift.Slope;
        CrossingInterval.Edges? edges = CrossingInterval.Find(
            drift.MeanTime, sign * (drift.Level - limit), slope, drift.LevelVariance, drift.Covariance, drift.SlopeVariance,
            LeastSquaresLine.StudentQuantile(confidence, drift.DegreesOfFreedom));
        double best = slope > 0 ? now - (above / slope) : double.PositiveInfinity;
        if (edges is { IsFinite: true } known)
        {
            if (slope <= 0)
            {
                return new LimitForecast(LimitOutlook.NotWithinHorizon, double.PositiveInfinity, best, double.PositiveInfinity);
            }

            double earliest = Math.Max(now, known.Lower);
            return new LimitForecast(
                earliest > now + horizonSeconds ? LimitOutlook.NotWithinHorizon : LimitOutlook.Crosses, earliest, best, known.Upper);
        }

        // Outside the gap, or at all times: if now is in the gap, the next edge is the earliest time not excluded.
        bool excludedNow = edges is { } gap && now > gap.Lower && now < gap.Upper;
        return new LimitForecast(LimitOutlook.NotWithinHorizon, excludedNow ? edges!.Value.Upper : now, best, double.PositiveInfinity);
    }

    internal static void CheckHorizon(double horizonSeconds)
    {
        if (!(horizonSeconds > 0 && double.IsFinite(horizonSeconds)))
        {
            throw new ArgumentException("A horizon is a positive number of seconds.", nameof(horizonSeconds));
        }
    }
}
