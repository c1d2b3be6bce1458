namespace DriftWatch.Analysis.RfHeads;

/// <summary>A bar of the usual colour bars.</summary>
public enum ColourBar
{
    White,
    Yellow,
    Cyan,
    Green,
    Magenta,
    Red,
    Blue,
    Black,
}

/// <summary>What a bar should measure.</summary>
/// <param name="LuminanceMillivolts">Above blanking.</param>
/// <param name="ChromaMillivolts">Peak to peak; 0 for white and black.</param>
/// <param name="AngleDegrees">From the (B−Y) axis, 0 to 360, on a line of positive V; 0 where there is no chroma.</param>
public readonly record struct BarFigures(double LuminanceMillivolts, double ChromaMillivolts, double AngleDegrees);

/// <summary>
/// Levels and vectors of colour bars from the colour matrices. Y' = 0.299 R' + 0.587 G' + 0.114 B' (published: ITU-R BT.601), U = 0.493 (B'−Y'),
/// V = 0.877 (R'−Y') (published: ITU-R BT.470 for both systems); angles and amplitudes are derived. 0.493 and 0.877 are rounded from
/// 0.4921 and 0.8773, which moves angles by 0.1° at most.
/// </summary>
public static class ColourBars
{
    private const double RedWeight = 0.299, GreenWeight = 0.587, BlueWeight = 0.114, BlueScale = 0.493, RedScale = 0.877;

    /// <param name="bar">Which.</param>
    /// <param name="standard">Its levels.</param>
    /// <param name="coloursPercent">Amplitude of the coloured bars: 75 or 100 usually. White stays at 100 %.</param>
    /// <exception cref="ArgumentOutOfRangeException">There is no such bar, or the amplitude is not within 1 to 100 %.</exception>
    public static BarFigures Of(ColourBar bar, VideoStandard standard, double coloursPercent = 75)
    {
        ArgumentNullException.ThrowIfNull(standard);
        if (!(coloursPercent is >= 1 and <= 100))
        {
            throw new ArgumentOutOfRangeException(nameof(coloursPercent), coloursPercent, "Bars have 1 to 100 %.");
        }

        (int red, int green, int blue) = bar switch
        {
            ColourBar.White => (1, 1, 1),
            ColourBar.Yellow => (1, 1, 0),
            ColourBar.Cyan => (0, 1, 1),
            ColourBar.Green => (0, 1, 0),
            ColourBar.Magenta => (1, 0, 1),
            ColourBar.Red => (1, 0, 0),
            ColourBar.Blue => (0, 0, 1),
            ColourBar.Black => (0, 0, 0),
            _ => throw new ArgumentOutOfRangeException(nameof(bar), bar, "There is no such bar."),
        };
        double share = bar == ColourBar.White ? 1 : coloursPercent / 100;
        double luminance = (RedWeight * red) + (GreenWeight * green) + (BlueWeight * blue);
        double range = standard.WhiteMillivolts - standard.BlackMillivolts;
        double level = standard.BlackMillivolts + (share * luminance * range);
        if (red == green && green == blue)
        {
            return new BarFigures(level, 0, 0);
        }

        double u = BlueScale * (blue - luminance);
        double v = RedScale * (red - luminance);
        double angle = Math.Atan2(v, u) * 180 / Math.PI;
        return new BarFigures(level, 2 * share * range * Math.Sqrt((u * u) + (v * v)), angle < 0 ? angle + 360 : angle);
    }

    /// <summary>How a measured vector differs from what the bar should show.</summary>
    /// <param name="expected">Of a coloured bar.</param>
    /// <param name="chromaMillivolts">Measured, peak to peak, 0 or above.</param>
    /// <param name="angleDegrees">Measured, any turn.</param>
    /// <returns>Phase error in degrees, −180 to 180, positive where it leads; saturation error in percent.</returns>
    public static (double PhaseDegrees, double SaturationPercent) Error(in BarFigures expected, double chromaMillivolts, double angleDegrees)
    {
        Statistics.Finite.Require(angleDegrees);
        if (!(expected.ChromaMillivolts > 0))
        {
            throw new ArgumentException("White and black have no chroma to compare.", nameof(expected));
        }

        if (!(chromaMillivolts >= 0 && double.IsFinite(chromaMillivolts)))
        {
            throw new ArgumentOutOfRangeException(nameof(chromaMillivolts), chromaMillivolts, "An amplitude is not below zero.");
        }

        return (Math.IEEERemainder(angleDegrees - expected.AngleDegrees, 360), 100 * ((chromaMillivolts / expected.ChromaMillivolts) - 1));
    }
}
