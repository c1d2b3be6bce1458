using System.Globalization;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>Tells a wrong standard by the head wheel's rate.</summary>
public static class WheelRate
{
    /// <summary>Revolutions a second at 525/60. Source: derived, 240 make 960 passes, 16 for each of 60 fields (239.76 for colour); 250 make 1000, 20 for each of 50.</summary>
    public const double Of525 = 240;

    /// <summary>Revolutions a second at 625/50.</summary>
    public const double Of625 = 250;

    /// <summary>A wheel further off runs at neither. Source: derived, half of what lies between the two.</summary>
    public const double Near = 5;

    /// <param name="revolutionsPerSecond">Mean over some seconds; null where nothing measures it.</param>
    /// <param name="standard">Of the tape, "525/60" or "625/50".</param>
    /// <returns>
    /// That it can't be told, and why, where nothing measures it, the wheel is at rest, or it turns at neither rate, as one that runs up does:
    /// what was not checked is said.
    /// </returns>
    public static TelemetryProof Check(double? revolutionsPerSecond, string standard)
    {
        if (revolutionsPerSecond is not { } rate)
        {
            return new TelemetryProof(ProofStanding.CannotTell, "No reading of the head wheel's speed: the standard was not checked.");
        }

        if (rate < Of525 / 2)
        {
            return new TelemetryProof(
                ProofStanding.CannotTell, string.Create(CultureInfo.InvariantCulture, $"The wheel was not up to speed ({rate:0.0} turns a second): the standard was not checked."));
        }

        if (Math.Abs(rate - Of525) >= Near && Math.Abs(rate - Of625) >= Near)
        {
            return new TelemetryProof(
                ProofStanding.CannotTell,
                string.Create(CultureInfo.InvariantCulture, $"The wheel turns {rate:0.0} times a second, which is neither standard's rate: it runs up, or is off its speed. The standard was not checked."));
        }

        string seen = Math.Abs(rate - Of525) < Near ? "525/60" : "625/50";
        string text = string.Create(CultureInfo.InvariantCulture, $"The wheel turns {rate:0.0} times a second, which is {seen}; the tape is {standard}.");
        return new TelemetryProof(seen == standard ? ProofStanding.Proved : ProofStanding.Contradicted, text);
    }
}
