using DriftWatch.Measurement.Units;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>What the practice rig measures. A channel names one of these as its input, by <see cref="RigInputs.NameOf"/>.</summary>
public enum RigInput
{
    SupplyAir,
    SupplyLoop,
    RegulatedAirVolts,
    SensorRail,
    GuideVacuum,
    RfHead1,
    RfHead2,
    RfHead3,
    RfHead4,
    ControlTrack,
    CorrectorUse,
    ServoLock,
    WheelSpeed,
    SyncLevel,
    AudioLevel,
    AmbientTemperature,
    AmbientHumidity,
    DewPoint,
    CompressorRunning,

    /// <summary>The only frame: 64 points of timing error over one revolution, in ns.</summary>
    TimingError,

    /// <summary>Phase between wheel and control track, degrees; 0 while there is no control track.</summary>
    ControlTrackPhase,

    /// <summary>Level at the end of the pass minus that at its beginning, all heads together, dB; 0 while the heads read nothing.</summary>
    RfTilt,
}

/// <summary>Names, native units and scales of the rig's inputs.</summary>
public static class RigInputs
{
    /// <summary>Full scale of the regulated-air sensor, psi; 0.5 to 4.5 V of a 5 V rail.</summary>
    public const double RegulatedFullScalePsi = 100;

    /// <summary>Full scale of both supply-air sensors, psi; 0.5 to 4.5 V of the rail, and 4 to 20 mA.</summary>
    public const double SupplyFullScalePsi = 150;

    /// <summary>Full scale of the vacuum sensor, inches of water; 0.5 to 4.5 V, not ratiometric.</summary>
    public const double VacuumFullScaleInH2O = 25;

    /// <summary>Slope of the logarithmic detectors, V/dB. Source: log-amplifier data sheets (25 mV/dB).</summary>
    public const double DetectorVoltsPerDb = 0.025;

    /// <summary>Where the detectors' line meets 0 V, dBm. Source: from memory, typical of logarithmic amplifiers.</summary>
    public const double DetectorInterceptDb = -84;

    public const double NominalRailVolts = 5;

    public const double LoopOhms = 250;

    public const int FramePointsPerHead = 16;

    private static readonly string[] Names =
    [
        "supply-air", "supply-loop", "regulated-air-volts", "sensor-rail", "guide-vacuum",
        "rf-head-1", "rf-head-2", "rf-head-3", "rf-head-4", "control-track", "corrector-use", "servo-lock",
        "wheel-speed", "sync-level", "audio-level", "ambient-temperature", "ambient-humidity", "dew-point",
        "compressor-running", "timing-error", "control-track-phase", "rf-tilt",
    ];

    private static readonly string[] NativeUnits =
    [
        "V", "mA", "V", "V", "V", "V", "V", "V", "V", "V", "%", "1", "rev/s", "IRE", "dB", "degC", "%RH", "degC", "1", "ns",
        "deg", "dB",
    ];

    public static int Count => Names.Length;

    public static IReadOnlyList<string> All => Names;

    public static string NameOf(RigInput input) => Names[(int)input];

    public static bool TryParse(string? name, out RigInput input)
    {
        int index = Array.IndexOf(Names, name);
        input = (RigInput)Math.Max(index, 0);
        return index >= 0;
    }

    /// <summary>The unit in which the rig's sensor speaks.</summary>
    public static string NativeUnit(RigInput input) => NativeUnits[(int)input];

    /// <summary>Inputs whose period carries its least and greatest value: those that can sag or drop out inside a period.</summary>
    public static bool HasExtremes(RigInput input) => input <= RigInput.ControlTrack && input != RigInput.SensorRail;

    /// <summary>
    /// The line from the native unit to the raw unit a channel asks for: the rig may stand for an instrument that
    /// gives volts or for one that has already converted them.
    /// </summary>
    /// <exception cref="ArgumentException">The input can't be had in that unit.</exception>
    public static (double Gain, double Offset) LineTo(RigInput input, string rawUnit)
    {
        string native = NativeUnit(input);
        if (rawUnit == native)
        {
            return (1, 0);
        }

        Unit to = Unit.Parse(rawUnit);
        Unit from = Unit.Parse(native);
        if (from.ConvertsTo(to))
        {
            return Line(from, to, 1, 0);
        }

        switch (input)
        {
            case RigInput.GuideVacuum when Unit.Parse("inH2O").ConvertsTo(to):
                return Line(Unit.Parse("inH2O"), to, VacuumFullScaleInH2O / 4, -VacuumFullScaleInH2O / 8);
            case RigInput.RegulatedAirVolts when Unit.Parse("psi").ConvertsTo(to):
                return Line(Unit.Parse("psi"), to, RegulatedFullScalePsi / 4, -RegulatedFullScalePsi / 8);
            case RigInput.SupplyAir when Unit.Parse("psi").ConvertsTo(to):
                return Line(Unit.Parse("psi"), to, SupplyFullScalePsi / 4, -SupplyFullScalePsi / 8);
            case RigInput.SupplyLoop when Unit.Parse("psi").ConvertsTo(to):
                return Line(Unit.Parse("psi"), to, SupplyFullScalePsi / 16, -SupplyFullScalePsi / 4);
            case RigInput.SupplyLoop when Unit.Parse("V").ConvertsTo(to):
                return Line(Unit.Parse("V"), to, LoopOhms / 1000, 0);
            case RigInput.SyncLevel when rawUnit == "mV":
                return (1000.0 / 140, 0); // 140 IRE are 1 V
            case RigInput.ServoLock or RigInput.CompressorRunning when rawUnit is "count":
                return (1, 0);
            case >= RigInput.RfHead1 and <= RigInput.ControlTrack when rawUnit == "dB":
                return (1 / DetectorVoltsPerDb, DetectorInterceptDb);
            default:
                throw new ArgumentException(
                    $"The practice rig gives '{NameOf(input)}' in {native}; it can't be had in {rawUnit}.", nameof(rawUnit));
        }
    }

    private static (double Gain, double Offset) Line(Unit from, Unit to, double gain, double offset)
    {
        double zero = from.Convert(0, to);
        double slope = from.Convert(1, to) - zero;
        return (gain * slope, (offset * slope) + zero);
    }
}
