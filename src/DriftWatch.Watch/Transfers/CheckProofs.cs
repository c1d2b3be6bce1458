using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>What the readings, and the book, hold that can prove an item of the check list at an instant.</summary>
public sealed record ProofReadings
{
    /// <summary>The instant, nanoseconds since 1970.</summary>
    public required long AtUtc { get; init; }

    /// <summary>Regulated air: mean of the last half minute and its setpoint, in the channel's unit; null where there is none.</summary>
    public double? Air { get; init; }

    public double? AirSetpoint { get; init; }

    /// <summary>That unit's symbol.</summary>
    public string AirUnit { get; init; } = "";

    /// <summary>When the wheel last began to turn, and the air's share of its setpoint then; null where it was not seen to begin.</summary>
    public (long Utc, double AirShare)? WheelBegan { get; init; }

    /// <summary>Least share of the setpoint that counts as up.</summary>
    public double AirUpShare { get; init; }

    public double? DewPointCelsius { get; init; }

    /// <summary>How many channels have a date, and those that are past it.</summary>
    public int CalibrationsDated { get; init; }

    public IReadOnlyList<string> CalibrationsOverdue { get; init; } = [];

    /// <summary>When the result of a leak-down test was last written down; null for never.</summary>
    public long? LeakDownUtc { get; init; }

    /// <summary>The hour meter as it was last written down, and when.</summary>
    public (long Utc, double Hours)? HeadHours { get; init; }

    /// <summary>Hours that tape was seen to run since then.</summary>
    public double RanHours { get; init; }
}

/// <summary>
/// What readings say of an item that a person signs. A test that readings can't make is no proof: then it rests on
/// the signature, and that is said.
/// </summary>
public static class CheckProofs
{
    // Derived: a meter shows whole hours, so it may lag by one.
    private const double MeterStepHours = 1;
    private const double NanosecondsPerDay = 86_400e9;

    /// <param name="check">The item.</param>
    /// <param name="value">What the person wrote down, if the item asks.</param>
    /// <param name="readings">At the instant of signing.</param>
    /// <returns>Null where the item asks for no proof.</returns>
    public static TelemetryProof? Of(CheckDefinition check, double? value, ProofReadings readings)
    {
        ArgumentNullException.ThrowIfNull(check);
        ArgumentNullException.ThrowIfNull(readings);
        return check.Proof switch
        {
            ProofKind.AirBeforeWheel => AirBeforeWheel(readings),
            ProofKind.Setpoint => Setpoint(check.Limit!.Value, readings),
            ProofKind.DewPoint => DewPoint(check.Limit!.Value, readings),
            ProofKind.CalibrationInDate => Calibrations(readings),
            ProofKind.LeakDown => LeakDown(check, value, readings),
            ProofKind.HeadHours => HeadHours(check.Limit!.Value, value, readings),
            _ => null,
        };
    }

    private static TelemetryProof AirBeforeWheel(ProofReadings readings) => readings.WheelBegan is { } began
        ? Held(began.AirShare >= readings.AirUpShare,
            $"When the wheel began to turn at {UtcText.FromNanoseconds(began.Utc)} the air was at {Say(100 * began.AirShare)} % of its setpoint; it is up from {Say(100 * readings.AirUpShare)} %.")
        : CannotTell("The wheel was not seen to begin: no channel of the wheel's speed, or it has turned for longer than is looked back.");

    private static TelemetryProof Setpoint(double percent, ProofReadings readings)
    {
        if (readings is not { Air: { } air, AirSetpoint: > 0 and var setpoint })
        {
            return CannotTell("No reading of the regulated air in the last half minute.");
        }

        double off = 100 * ((air / setpoint) - 1);
        return Held(Math.Abs(off) <= percent, $"Regulated air is {Say(air)} {readings.AirUnit}".TrimEnd() + $", {Say(off)} % off its setpoint of {Say(setpoint)} {readings.AirUnit}".TrimEnd() + $"; allowed are {Say(percent)} %.");
    }

    private static TelemetryProof DewPoint(double limit, ProofReadings readings) => readings.DewPointCelsius is { } point
        ? Held(point <= limit, $"The dew point is {Say(point)} °C; allowed is {Say(limit)} °C at most.")
        : CannotTell("No reading of the dew point in the last half minute.");

    private static TelemetryProof Calibrations(ProofReadings readings) => readings.CalibrationsDated == 0
        ? CannotTell("No calibration of this bench has a date on which it is due again.")
        : Held(readings.CalibrationsOverdue.Count == 0, readings.CalibrationsOverdue.Count == 0
            ? $"All {readings.CalibrationsDated} calibrations that have a date are within it."
            : $"Past its date: {string.Join(", ", readings.CalibrationsOverdue)}.");

    private static TelemetryProof LeakDown(CheckDefinition check, double? value, ProofReadings readings)
    {
        if (value is { } leak)
        {
            return CannotTell($"Tested now, {Say(leak)} {check.Unit} as written down.");
        }

        if (readings.LeakDownUtc is not { } last)
        {
            return CannotTell("No leak-down test was written down here before.");
        }

        double days = Math.Floor((readings.AtUtc - last) / NanosecondsPerDay);
        return Held(days <= check.Limit!.Value, $"The last leak-down test was {Say(days)} days ago; it is due after {Say(check.Limit.Value)}.");
    }

    private static TelemetryProof HeadHours(double limit, double? value, ProofReadings readings)
    {
        if (value is not { } hours)
        {
            return CannotTell("The hours were not written down.");
        }

        if (readings.HeadHours is { } before && hours + MeterStepHours < before.Hours + readings.RanHours)
        {
            return Held(false, $"{Say(hours)} h are fewer than the {Say(before.Hours)} h of {UtcText.FromNanoseconds(before.Utc)} and the {Say(readings.RanHours)} h that tape ran since: another wheel, or a slip of the pen.");
        }

        return Held(hours <= limit, $"{Say(hours)} h of {Say(limit)} h.");
    }

    private static TelemetryProof Held(bool holds, string text) => new(holds ? ProofStanding.Proved : ProofStanding.Contradicted, text);

    private static TelemetryProof CannotTell(string why) => new(ProofStanding.CannotTell, why);

    private static string Say(double number) => number.ToString("0.##", CultureInfo.InvariantCulture);
}
