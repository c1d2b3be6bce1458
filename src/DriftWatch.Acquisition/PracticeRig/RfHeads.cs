namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>The hidden numbers of four heads.</summary>
public sealed record RfHeadParameters
{
    /// <summary>Level of each head on track and in contact, dBm at the detector.</summary>
    public required IReadOnlyList<double> LevelDb { get; init; }

    /// <summary>Loss by wear, dB an hour of running.</summary>
    public required IReadOnlyList<double> WearDbPerHour { get; init; }

    /// <summary>Axial misplacement of each head, mil.</summary>
    public required IReadOnlyList<double> AxialMil { get; init; }

    /// <summary>How much programme moves the level, dB (one deviation).</summary>
    public double ProgrammeDb { get; init; } = 0.2;

    public double NoiseDb { get; init; } = 0.12;

    /// <summary>Carrier at which spacing is felt, MHz.</summary>
    public double CarrierMHz { get; init; } = 7.9;

    /// <summary>Head-to-tape speed, inches a second.</summary>
    public double WritingSpeedInchesPerSecond { get; init; } = 1558.48;
}

/// <summary>
/// Levels of the four heads. Tracking by the triangle A = 1 − |x|/10 mil of two equal widths of 10 mil (derived);
/// contact by spacing loss 54.6 dB·d/λ (Wallace, Bell Syst. Tech. J. 30, 1951), where the spacing follows the guide's
/// hold; clogs, shed and wear as losses in dB; programme moves all heads alike through the carrier's frequency.
/// </summary>
public sealed class RfHeads(RfHeadParameters parameters)
{
    /// <summary>What the detectors show without RF, dBm. Assumption.</summary>
    public const double FloorDb = -62;

    /// <summary>40π·log10(e): derived from Wallace's exp(−2πd/λ).</summary>
    private const double SpacingDbPerWavelength = 54.575;

    /// <summary>Spacing at no hold at all, µin. Assumption: 22 dB at 7.9 MHz, so that the picture is gone.</summary>
    private const double LooseSpacingMicroinches = 80;

    private const double HeadWidthMil = 10;

    // Copies: four times a step, an array is several times quicker to read than a list behind an interface.
    private readonly double[] _sound = [.. parameters.LevelDb];
    private readonly double[] _wear = [.. parameters.WearDbPerHour];
    private readonly double[] _axial = [.. parameters.AxialMil];
    private readonly double[] _level = [FloorDb, FloorDb, FloorDb, FloorDb];
    private double _worn;

    public ReadOnlySpan<double> LevelDb => _level;

    /// <summary>Loss in dB at x mil beside the track.</summary>
    public static double TrackingDb(double offsetMil)
    {
        double amplitude = 1 - (Math.Abs(offsetMil) / HeadWidthMil);
        return amplitude <= 0.001 ? -60 : 20 * Math.Log10(amplitude);
    }

    /// <summary>Loss in dB through a spacing in µin at a wavelength in µin.</summary>
    public static double SpacingDb(double spacingMicroinches, double wavelengthMicroinches) =>
        -SpacingDbPerWavelength * spacingMicroinches / wavelengthMicroinches;

    /// <param name="seconds">The step.</param>
    /// <param name="reads">True while tape runs and the wheel turns.</param>
    /// <param name="hold">The guide's hold, see <see cref="GuideVacuum.Hold"/>.</param>
    /// <param name="trackingMil">Tracking error common to all heads.</param>
    /// <param name="programmeDb">What the picture does to the level now.</param>
    /// <param name="lossDb">Clog, shed and splice of each head, dB ≥ 0.</param>
    /// <param name="random">The heads' stream.</param>
    public void Step(
        double seconds, bool reads, double hold, double trackingMil, double programmeDb, ReadOnlySpan<double> lossDb, RigRandom random)
    {
        if (!reads)
        {
            for (int head = 0; head < 4; head++)
            {
                _level[head] = FloorDb + (0.3 * random.Normal());
            }

            return;
        }

        _worn += seconds / 3600;
        double wavelength = parameters.WritingSpeedInchesPerSecond / parameters.CarrierMHz; // in/s over MHz is µin
        double loose = Math.Clamp(1 - hold, 0, 1);
        double contact = SpacingDb(LooseSpacingMicroinches * loose * Math.Sqrt(loose), wavelength);
        for (int head = 0; head < 4; head++)
        {
            double level = _sound[head]
                - (_wear[head] * _worn)
                + TrackingDb(trackingMil + _axial[head])
                + contact
                + (parameters.ProgrammeDb * programmeDb)
                - lossDb[head]
                + (parameters.NoiseDb * random.Normal());
            _level[head] = Math.Max(level, FloorDb);
        }
    }
}
