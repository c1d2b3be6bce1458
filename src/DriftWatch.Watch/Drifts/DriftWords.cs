using System.Globalization;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Drifts;

/// <summary>A drift as a finding: its numbers by name, and its sentence.</summary>
internal static class DriftWords
{
    private const double SecondsPerHour = 3600;

    public static string Cause(int sign) => sign > 0 ? "drifts-up" : "drifts-down";

    public static FindingFacts Facts(
        ChannelWatch channel,
        EngineTime now,
        OpenFinding? finding,
        WindowDrift drift,
        LimitAhead tolerance,
        double baseline,
        double used,
        (double Earliest, double Best, double Latest) left,
        Severity severity)
    {
        ChannelDefinition definition = channel.Definition;
        int sign = tolerance.Limit > baseline ? 1 : -1;
        return new FindingFacts
        {
            Kind = FindingKinds.Drift,
            Channel = definition.Id,
            Severity = severity,
            Start = finding?.Line.Start ?? Began(now, drift, baseline),
            Value = drift.Now,
            Limit = tolerance.Limit,
            Unit = definition.Unit,
            LimitSource = tolerance.Source,
            Cause = Cause(sign),
            Text = Sentence(definition, drift, tolerance, used, left, sign),
            Details =
            [
                new("slopePerHour", drift.Slope * SecondsPerHour),
                new("slopeLow", drift.Low * SecondsPerHour),
                new("slopeHigh", drift.High * SecondsPerHour),
                new("usedShare", used),
                new("minutesLeft", Minutes(left.Best)),
                new("minutesLeftLow", Minutes(left.Earliest)),
                new("minutesLeftHigh", Minutes(left.Latest)),
                new("windowMinutes", drift.Minutes),
                new("baseline", baseline),
            ],
        };
    }

    public static string Ended(ChannelDefinition definition, string endedBy) => endedBy switch
    {
        "limit-took-over" => $"{definition.Label} has drifted to its limit, which is said by itself.",
        "state-left" => $"Whether {definition.Label} drifts is no longer judged: the machine has left the state in which it means something.",
        "new-baseline" => $"{definition.Label} has a new baseline, from which it has not drifted.",
        _ => $"{definition.Label} drifts no longer.",
    };

    /// <summary>Finite minutes, or null for a time without an end.</summary>
    public static double? Minutes(double seconds) => double.IsFinite(seconds) ? seconds / 60 : null;

    /// <summary>When the line left the baseline, but not before the window.</summary>
    private static EngineTime Began(EngineTime now, WindowDrift drift, double baseline)
    {
        double ago = Math.Clamp((drift.Now - baseline) / drift.Slope, 0, drift.Minutes * 60);
        return new EngineTime(now.Nanoseconds - (long)(ago * 1e9));
    }

    private static string Sentence(
        ChannelDefinition definition, WindowDrift drift, LimitAhead tolerance, double used, (double Earliest, double Best, double Latest) left, int sign)
    {
        string range = double.IsFinite(left.Latest)
            ? $"{Rounded(left.Earliest)} to {Rounded(left.Latest)}"
            : $"{Rounded(left.Earliest)} at the earliest";
        return $"{definition.Label} drifts {(sign > 0 ? "up" : "down")} by {Say.Number(Math.Abs(drift.Slope) * SecondsPerHour)} {definition.Unit} an hour and has used {Math.Round(100 * used).ToString(CultureInfo.InvariantCulture)} % of its tolerance: "
            + $"going on like this it is at {Say.Number(tolerance.Limit)} {definition.Unit} in {Rounded(left.Best)} ({range}).";
    }

    /// <summary>Whole minutes; seconds would promise more than an extrapolation can hold.</summary>
    private static string Rounded(double seconds)
    {
        long minutes = (long)Math.Round(Math.Min(seconds, 1e9) / 60);
        return minutes < 120 ? $"{minutes} min" : $"{minutes / 60} h {minutes % 60} min";
    }
}
