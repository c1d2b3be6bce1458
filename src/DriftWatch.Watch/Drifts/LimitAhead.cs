using DriftWatch.Measurement.Channels;

namespace DriftWatch.Watch.Drifts;

/// <summary>How far a channel may move from its baseline in one direction: to the nearest limit that lies there.</summary>
/// <param name="Limit">In the channel's unit.</param>
/// <param name="Severity">Of what happens there.</param>
/// <param name="Source">Where the limit's number comes from.</param>
internal readonly record struct LimitAhead(double Limit, Severity Severity, string Source)
{
    /// <summary>The nearest limit strictly beyond the baseline, up (<paramref name="sign"/> +1) or down (−1); null where there is none.</summary>
    public static LimitAhead? Of(IReadOnlyList<LimitDefinition> limits, double baseline, int sign)
    {
        LimitSide side = sign > 0 ? LimitSide.High : LimitSide.Low;
        LimitAhead? nearest = null;
        foreach (LimitDefinition limit in limits)
        {
            if (limit.Side != side || limit.At(baseline) is not { } at)
            {
                continue;
            }

            double room = sign * (at - baseline);
            if (room > 0 && (nearest is not { } known || room < sign * (known.Limit - baseline)))
            {
                nearest = new LimitAhead(at, limit.Severity, limit.Source);
            }
        }

        return nearest;
    }

    /// <summary>Share of the way from the baseline to the limit; below 0 on the other side of the baseline, above 1 beyond the limit.</summary>
    public double UsedShare(double baseline, double value) => (value - baseline) / (Limit - baseline);
}
