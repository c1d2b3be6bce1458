using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>What to do about oxide that comes off the tape.</summary>
public enum ShedAdvice
{
    /// <summary>The level doesn't fall, or not faster than is normal.</summary>
    GoOn,

    /// <summary>It falls faster than normal; there is time.</summary>
    Watch,

    /// <summary>Stop and clean while there is still picture.</summary>
    StopAndClean,

    /// <summary>The picture is lost already: stop, clean, and take this stretch again.</summary>
    PictureLost,
}

/// <summary>When shed is normal, when to stop, and when the picture counts as lost. Levels are of the common part, dB.</summary>
public sealed record ShedLimits
{
    /// <summary>Fall of the common part below its line-up at which the picture is given up, dB: half of the amplitude. Source: common practice, no source.</summary>
    public double LostBelowLineUpDb { get; init; } = 6;

    /// <summary>Slower falls are normal, dB in 10 min. Source: common practice, no source.</summary>
    public double NormalDbPerTenMinutes { get; init; } = 0.5;

    /// <summary>Faster falls are an alarm whatever is left, dB in 10 min. Source: common practice, no source.</summary>
    public double AlarmDbPerTenMinutes { get; init; } = 3;

    /// <summary>Stop when the picture may be lost in less than this: time to reach a cut and to stop the tape gently. Source: common practice, no source.</summary>
    public double StopMarginSeconds { get; init; } = 300;

    /// <summary>How far ahead a loss is of interest, seconds: a tape of 90 min. Source: common practice, no source.</summary>
    public double HorizonSeconds { get; init; } = 5400;
}

/// <summary>How the common part falls.</summary>
/// <param name="DbPerTenMinutes">Slope of the common part: negative where it falls.</param>
/// <param name="Lower">Lower limit of it at the confidence asked for.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="IsFalling">The whole interval is below zero.</param>
/// <param name="BelowLineUpDb">How far the line lies below the line-up at the last reading, dB.</param>
/// <param name="LeftSeconds">From the last reading until the level is lost, if it goes on so.</param>
/// <param name="Advice">What to do.</param>
public readonly record struct ShedForecast(
    double DbPerTenMinutes, double Lower, double Upper, bool IsFalling, double BelowLineUpDb, LimitForecast LeftSeconds, ShedAdvice Advice);

/// <summary>
/// Shed: oxide that clogs all heads alike, so that the common part sinks over minutes. Rate by <see cref="Drift"/>, time left by
/// <see cref="TimeToLimit"/>, with their intervals; a straight fall is assumed, and one that gathers speed is lost earlier.
/// A clog of one head is <see cref="HeadClog"/>'s.
/// </summary>
public static class Shed
{
    private const double TenMinutes = 600;

    /// <param name="times">In seconds, rising, about evenly spaced.</param>
    /// <param name="commonDb">As many, dB: see <see cref="HeadRecord.Common"/>.</param>
    /// <param name="lineUpDb">The common part at line-up, dB over the same reference.</param>
    /// <param name="limits">Null for the defaults.</param>
    /// <param name="confidence">Of all intervals, two-sided.</param>
    /// <returns>A shortfall where <see cref="Drift"/> has one.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or a limit is not above zero.</exception>
    public static Answer<ShedForecast> Judge(
        ReadOnlySpan<double> times, ReadOnlySpan<double> commonDb, double lineUpDb, ShedLimits? limits = null, double confidence = 0.95)
    {
        Finite.Require(lineUpDb);
        Answer<DriftEstimate> drift = Drift.Estimate(times, commonDb, confidence);
        return drift.IsKnown ? Judge(drift.Value, times[^1], lineUpDb, limits, confidence) : drift.Missing!;
    }

    /// <param name="drift">Of the common part, dB a second.</param>
    /// <param name="now">The last reading's time in the drift's own seconds.</param>
    /// <param name="lineUpDb">The common part at line-up, dB over the same reference.</param>
    /// <param name="limits">Null for the defaults.</param>
    /// <param name="confidence">Of the interval of the time left.</param>
    public static ShedForecast Judge(DriftEstimate drift, double now, double lineUpDb, ShedLimits? limits = null, double confidence = 0.95)
    {
        Finite.Require(lineUpDb);
        limits ??= new ShedLimits();
        Check(limits);
        LimitForecast lost = TimeToLimit.Of(
            drift, lineUpDb - limits.LostBelowLineUpDb, LimitSide.Below, now, limits.HorizonSeconds, confidence);
        var left = lost with { Earliest = lost.Earliest - now, Best = lost.Best - now, Latest = lost.Latest - now };
        bool falls = drift.Upper < 0;
        double rate = TenMinutes * drift.Slope;
        ShedAdvice advice = lost.Outlook == LimitOutlook.AlreadyBeyond ? ShedAdvice.PictureLost
            : !falls || -rate <= limits.NormalDbPerTenMinutes ? ShedAdvice.GoOn
            : -rate >= limits.AlarmDbPerTenMinutes || left.Earliest < limits.StopMarginSeconds ? ShedAdvice.StopAndClean
            : ShedAdvice.Watch;
        return new ShedForecast(rate, TenMinutes * drift.Lower, TenMinutes * drift.Upper, falls, lineUpDb - drift.At(now), left, advice);
    }

    private static void Check(ShedLimits limits)
    {
        double[] numbers = [limits.LostBelowLineUpDb, limits.NormalDbPerTenMinutes, limits.AlarmDbPerTenMinutes, limits.StopMarginSeconds, limits.HorizonSeconds];
        if (numbers.Any(n => !(n > 0 && double.IsFinite(n))))
        {
            throw new ArgumentException("Limits are above zero.", nameof(limits));
        }
    }
}
