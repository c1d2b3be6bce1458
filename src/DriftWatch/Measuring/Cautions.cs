namespace DriftWatch.Measuring;

/// <summary>Said wherever a measurement brings hands near the machine.</summary>
internal static class Cautions
{
    public const string Wheel =
        "Caution: the wheel turns at 14,400 to 15,000 rev/min. Covers on, no tools or fingers near it; adjust only what the machine's own manual says may be adjusted while it runs, and as it says. Never record on a tape that is to be preserved.";

    public const string Air =
        "Caution: compressed air can injure and a receiver holds enough of it to kill. Stop the wheel before its air is shut off; relieve the pressure before anything is opened; eye protection on. This is a measurement and no safety device.";
}
