using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>
/// What tracking off the middle costs: the signal is in proportion to the width of track under the head, so the amplitude over the offset
/// is a triangle, A = 1 − |x|/10 mil, where head and track are equally wide, and a triangle with its top cut flat where they are
/// not (derived). Offsets in mil (0.001 in).
/// </summary>
public static class TrackingTriangle
{
    /// <summary>Width of track and head. Source: from memory.</summary>
    public const double TrackMil = 10;

    /// <summary>From track to track. Source: published, a trade mailing list quoting ANSI C98.6-1965: four pitches are 0.0625 in.</summary>
    public const double PitchMil = 15.625;

    /// <summary>At this offset the head reaches the neighbouring track: pitch less track.</summary>
    public const double NeighbourFromMil = PitchMil - TrackMil;

    /// <summary>Control-track wavelength on tape: 15 in/s over a sine of 240 Hz; derived from the published sine of the same letter.</summary>
    public const double ControlTrackWavelengthMil = 4 * PitchMil;

    /// <summary>Degrees of control-track phase in a mil of tape: 5.76.</summary>
    public const double ControlTrackDegreesPerMil = 360 / ControlTrackWavelengthMil;

    /// <summary>Share of the full amplitude, 0 to 1.</summary>
    /// <param name="offsetMil">From the middle, either way.</param>
    /// <param name="headMil">Width of the head, above zero.</param>
    /// <param name="trackMil">Width of the track, above zero.</param>
    public static double Amplitude(double offsetMil, double headMil = TrackMil, double trackMil = TrackMil)
    {
        Finite.Require(offsetMil);
        Width(headMil, nameof(headMil));
        Width(trackMil, nameof(trackMil));
        double full = Math.Min(headMil, trackMil);
        double overlap = ((headMil + trackMil) / 2) - Math.Abs(offsetMil);
        return Math.Clamp(overlap / full, 0, 1);
    }

    /// <summary>The level against that of the middle in dB, 0 or below; minus infinity where the head is off the track.</summary>
    /// <inheritdoc cref="Amplitude"/>
    public static double LevelDb(double offsetMil, double headMil = TrackMil, double trackMil = TrackMil) =>
        20 * Math.Log10(Amplitude(offsetMil, headMil, trackMil));

    /// <summary>How far off the middle a head as wide as the track is, by what it lost.</summary>
    /// <param name="lossDb">0 or above.</param>
    /// <returns>In mil, 0 to 10.</returns>
    public static double OffsetMil(double lossDb) => lossDb >= 0 && double.IsFinite(lossDb)
        ? TrackMil * (1 - Math.Pow(10, -lossDb / 20))
        : throw new ArgumentOutOfRangeException(nameof(lossDb), lossDb, "A loss is not below zero.");

    private static void Width(double mil, string name)
    {
        if (!(mil > 0 && double.IsFinite(mil)))
        {
            throw new ArgumentOutOfRangeException(name, mil, "A width is above zero.");
        }
    }
}
