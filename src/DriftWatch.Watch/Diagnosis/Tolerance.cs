using DriftWatch.Measurement.Channels;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// How far a channel or quantity may go from its baseline: to its nearest limit on that side, to that of the other side
/// where there is none on this, or what is usual for its unit where it has no limits at all.
/// </summary>
internal readonly record struct Tolerance(double Down, double Up)
{
    public static Tolerance Of(ChannelDefinition definition, double baseline)
    {
        double? down = LimitAhead.Of(definition.Limits, baseline, -1) is { } low ? baseline - low.Limit : null;
        double? up = LimitAhead.Of(definition.Limits, baseline, +1) is { } high ? high.Limit - baseline : null;
        double usual = Usual(definition.Unit, baseline);
        return new Tolerance(down ?? up ?? usual, up ?? down ?? usual);
    }

    /// <summary>A distance from the baseline in tolerances of its side.</summary>
    public double Share(double distance) => distance / (distance < 0 ? Down : Up);

    /// <summary>Source: common practice, no source; the steps of the threshold table for quantities of these units.</summary>
    private static double Usual(string unit, double baseline) => unit switch
    {
        "dB" => 2,
        "psi" => 2,
        "ns" => 100,
        "deg" => 11.5,
        "degC" => 3,
        "1" => 0.5,
        "%" => 5,
        _ => Math.Max(0.2 * Math.Abs(baseline), 1e-9),
    };
}
