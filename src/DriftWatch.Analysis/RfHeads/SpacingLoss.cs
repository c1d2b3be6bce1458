namespace DriftWatch.Analysis.RfHeads;

/// <summary>
/// What a gap between head and tape costs: 54.6 dB·d/λ in reproducing. R. L. Wallace, 'The reproduction of magnetically recorded
/// signals', Bell System Technical Journal 30, part II (1951), 1145-1173: the amplitude falls as exp(−2πd/λ), and so
/// 20·lg e·2π = 40π·lg e = 54.575 dB a wavelength (derived). 1 µin = 0.0254 µm.
/// </summary>
public static class SpacingLoss
{
    /// <summary>40π·lg e dB: the loss at a gap of one wavelength.</summary>
    public static double DbPerWavelength { get; } = 40 * Math.PI * Math.Log10(Math.E);

    /// <summary>Micrometres in a microinch, exactly.</summary>
    public const double MicrometresPerMicroinch = 0.0254;

    /// <summary>Recorded wavelength: head-to-tape speed over frequency.</summary>
    /// <param name="speedMetresPerSecond">Of the head over the tape, above zero.</param>
    /// <param name="megahertz">Carrier, above zero.</param>
    /// <returns>In micrometres.</returns>
    public static double WavelengthMicrometres(double speedMetresPerSecond, double megahertz) =>
        Positive(speedMetresPerSecond, nameof(speedMetresPerSecond)) / Positive(megahertz, nameof(megahertz));

    /// <param name="gapMicrometres">Gap, 0 or above.</param>
    /// <param name="wavelengthMicrometres">Recorded wavelength, above zero.</param>
    /// <returns>The loss in dB, 0 or above.</returns>
    public static double LossDb(double gapMicrometres, double wavelengthMicrometres) =>
        DbPerWavelength * NotNegative(gapMicrometres, nameof(gapMicrometres)) / Positive(wavelengthMicrometres, nameof(wavelengthMicrometres));

    /// <summary>The gap that would cost so much, were spacing the only cause.</summary>
    /// <param name="lossDb">Loss in dB, 0 or above.</param>
    /// <param name="wavelengthMicrometres">Recorded wavelength, above zero.</param>
    /// <returns>In micrometres.</returns>
    public static double GapMicrometres(double lossDb, double wavelengthMicrometres) =>
        NotNegative(lossDb, nameof(lossDb)) * Positive(wavelengthMicrometres, nameof(wavelengthMicrometres)) / DbPerWavelength;

    private static double Positive(double value, string name) =>
        value > 0 && double.IsFinite(value) ? value : throw new ArgumentOutOfRangeException(name, value, "A number above zero is needed.");

    private static double NotNegative(double value, string name) =>
        value >= 0 && double.IsFinite(value) ? value : throw new ArgumentOutOfRangeException(name, value, "A number not below zero is needed.");
}

/// <summary>How far a figure may be trusted.</summary>
public enum FigureMark
{
    /// <summary>Named source.</summary>
    Published,

    /// <summary>Worked out from figures that have their own marks.</summary>
    Derived,

    /// <summary>Held by the trade; no source found.</summary>
    CommonPractice,

    /// <summary>Remembered and not verified.</summary>
    FromMemory,
}

/// <summary>A carrier standard: the frequencies of the frequency-modulated picture, MHz.</summary>
/// <param name="Name">In words of the trade.</param>
/// <param name="Lines">525 or 625.</param>
/// <param name="SyncTipMegahertz">At the tip of sync.</param>
/// <param name="BlankingMegahertz">At blanking; where two figures are about, the one of the colour practice.</param>
/// <param name="PeakWhiteMegahertz">At peak white.</param>
/// <param name="SpeedMetresPerSecond">Head over tape.</param>
/// <param name="Mark">Of the frequencies.</param>
/// <param name="Source">In words.</param>
public sealed record FmCarriers(
    string Name, int Lines, double SyncTipMegahertz, double BlankingMegahertz, double PeakWhiteMegahertz, double SpeedMetresPerSecond, FigureMark Mark, string Source)
{
    /// <summary>Diameter of the circle of the head tips, inches. Source: from memory.</summary>
    public const double TipCircleInches = 2.067;

    private const string Letter = "published: a trade mailing list, November 2013, citing SMPTE RP 6 and RP 10 and the EBU";

    /// <summary>Rim speed at 240 and 250 revolutions a second, m/s: 39.585 and 41.235. Derived from <see cref="TipCircleInches"/>; colour at 59.94 fields is 0.1 % slower.</summary>
    public static double RimSpeed525 { get; } = Math.PI * TipCircleInches * 0.0254 * 240;

    /// <inheritdoc cref="RimSpeed525"/>
    public static double RimSpeed625 { get; } = Math.PI * TipCircleInches * 0.0254 * 250;

    public static FmCarriers LowBandMono525 { get; } = new("525/60 low band, monochrome", 525, 4.28, 5.0, 6.8, RimSpeed525, FigureMark.Published, Letter);

    public static FmCarriers LowBandColour525 { get; } = new("525/60 low band, colour", 525, 5.5, 5.79, 6.5, RimSpeed525, FigureMark.Published, Letter);

    /// <summary>Sync tip 4.95 MHz; 5.00 is given as well.</summary>
    public static FmCarriers LowBand625 { get; } = new("625/50 low band", 625, 4.95, 5.54, 6.8, RimSpeed625, FigureMark.Published, Letter + "; sync tip 4.95 or 5.00");

    public static FmCarriers HighBand525 { get; } = new("525/60 high band", 525, 7.06, 7.9, 10.0, RimSpeed525, FigureMark.FromMemory, "from memory");

    public static FmCarriers HighBand625 { get; } = new("625/50 high band", 625, 7.16, 7.8, 9.3, RimSpeed625, FigureMark.FromMemory, "from memory");

    public static IReadOnlyList<FmCarriers> All { get; } = [LowBandMono525, LowBandColour525, LowBand625, HighBand525, HighBand625];

    /// <summary>The wavelength in sync tip, where levels are sampled: elsewhere they go with the picture's content.</summary>
    public double SyncTipWavelengthMicrometres => SpacingLoss.WavelengthMicrometres(SpeedMetresPerSecond, SyncTipMegahertz);

    /// <summary>The gap that would cost so many dB at the carrier in blanking, micrometres.</summary>
    public double GapMicrometres(double lossDb) =>
        SpacingLoss.GapMicrometres(lossDb, SpacingLoss.WavelengthMicrometres(SpeedMetresPerSecond, BlankingMegahertz));
}
