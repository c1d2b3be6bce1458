using DriftWatch.Measurement.Channels;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// How far a channel or quantity may go from its baseline: to its nearest limit on that side, to that of the other side
/// where there is none on this, or what is usual for its unit where it has no limits at all.
/// </summary>
internal readonly record struct Tolerance(double Down, double Up)
{
    public static Tolerance Of(ChannelDefinition definition, double baseline)
    {
        double down = Nearest(definition, LimitSide.Low, baseline);
        double up = Nearest(definition, LimitSide.High, baseline);
        if (double.IsInfinity(down) && double.IsInfinity(up))
        {
            double usual = Usual(definition.Unit, baseline);
            return new Tolerance(usual, usual);
        }

        return new Tolerance(double.IsInfinity(down) ? up : down, double.IsInfinity(up) ? down : up);
    }

    /// <summary>A distance from the baseline in tolerances of its side.</summary>
    public double Share(double distance) => distance / (distance < 0 ? Down : Up);

    private static double Nearest(ChannelDefinition definition, LimitSide side, double baseline)
    {
        double nearest = double.PositiveInfinity;
        foreach (LimitDefinition limit in definition.Limits)
        {
            if (limit.Side != side)
            {
                continue;
            }

            double threshold = limit.Reference switch
            {
                LimitReference.Baseline => baseline + limit.Value,
                LimitReference.BaselineFraction => baseline * limit.Value,
                _ => limit.Value,
            };
            double distance = side == LimitSide.Low ? baseline - threshold : threshold - baseline;
            if (distance > 0)
            {
                nearest = Math.Min(nearest, distance); // one that the baseline itself violates says nothing of how far it may go
            }
        }

        return nearest;
    }

    /// <summary>Source: common practice, no source; the steps of the threshold table for quantities of these units.</summary>
    private static double Usual(string unit, double baseline) => unit switch
    {
        "dB" => 2,
        "psi" => 2,
        "ns" => 100,
        "deg" => 11.5,
        "degC" => 3,
        "1" => 0.5,
        _ => Math.Max(0.2 * Math.Abs(baseline), 1e-9),
    };
}
