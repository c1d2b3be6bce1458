using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    private const double SecondsPerHour = 3600;

    /// <summary>
    /// Every channel and quantity that has a limit, the one that uses its tolerance fastest first; those of which nothing can
    /// be told last. Worked out anew when asked, about a millisecond a channel.
    /// </summary>
    public IReadOnlyList<ChannelDrift> Drifts =>
        [.. Watched.Where(w => w.Drift is not null).Select(DriftOf).OrderByDescending(d => d.UsedSharePerHour ?? double.NegativeInfinity)];

    private ChannelDrift DriftOf(ChannelWatch channel)
    {
        var drift = new ChannelDrift
        {
            Id = channel.Definition.Id,
            Label = channel.Definition.Label,
            Unit = channel.Definition.Unit,
            Baseline = channel.Baseline,
        };
        if (channel.Drift!.Best(channel, _context) is not { } seen)
        {
            return drift with { Untold = "too-little-seen" };
        }

        drift = drift with
        {
            Value = seen.Now,
            SlopePerHour = seen.Slope * SecondsPerHour,
            SlopePerHourLow = seen.Low * SecondsPerHour,
            SlopePerHourHigh = seen.High * SecondsPerHour,
            Significance = seen.ByNoise ?? seen.ByWalk,
            WindowMinutes = seen.Minutes,
        };
        if (channel.Baseline is not { } baseline)
        {
            return drift with { Untold = "no-baseline" };
        }

        if (channel.Drift.LimitAheadOf(baseline, seen.Slope < 0 ? -1 : 1) is not { } tolerance)
        {
            return drift with { Untold = "no-limit-that-way" };
        }

        (double earliest, double best, double latest) = seen.SecondsTo(tolerance.Limit);
        double horizon = DriftJudge.Horizon.TotalSeconds;
        return drift with
        {
            Limit = tolerance.Limit,
            UsedShare = tolerance.UsedShare(baseline, seen.Now),
            UsedSharePerHour = seen.Slope * SecondsPerHour / (tolerance.Limit - baseline),
            MinutesLeft = best <= horizon ? best / 60 : null,
            MinutesLeftLow = earliest <= horizon ? earliest / 60 : null,
            MinutesLeftHigh = DriftWords.Minutes(latest),
        };
    }
}
