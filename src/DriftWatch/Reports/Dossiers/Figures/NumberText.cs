using System.Globalization;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <summary>Numbers as a person reads them: no more places than tell something.</summary>
internal static class NumberText
{
    /// <summary>Four significant figures, never as a power of ten for what a bench measures.</summary>
    public static string Short(double value)
    {
        if (value == 0 || !double.IsFinite(value))
        {
            return double.IsFinite(value) ? "0" : "–";
        }

        int places = Math.Clamp(3 - (int)Math.Floor(Math.Log10(Math.Abs(value))), 0, 6);
        string text = Math.Round(value, places).ToString("F" + places.ToString(CultureInfo.InvariantCulture), NumbersForPeople.Format);
        return Signed(text.Contains('.', StringComparison.Ordinal) ? text.TrimEnd('0').TrimEnd('.') : text);
    }

    /// <summary>As many places as it is worth: to two figures of what it is unsure by; four figures where that is nothing.</summary>
    public static string To(double value, double unsure)
    {
        if (!(Math.Abs(unsure) > 0) || !double.IsFinite(unsure) || !double.IsFinite(value))
        {
            return Short(value);
        }

        int places = Math.Clamp(1 - (int)Math.Floor(Math.Log10(Math.Abs(unsure))), 0, 6);
        double rounded = Math.Round(value, places);
        return Signed((rounded == 0 ? 0 : rounded).ToString("F" + places.ToString(CultureInfo.InvariantCulture), NumbersForPeople.Format));
    }

    /// <summary>A unit's symbol as it is printed; the files have its plain name.</summary>
    public static string Unit(string symbol) => symbol switch
    {
        "degC" => "°C",
        "degF" => "°F",
        "deg" => "°",
        "1" => "",
        _ => symbol,
    };

    /// <summary>As many places as the distance between two ticks needs.</summary>
    public static string At(double value, double step)
    {
        int places = Math.Clamp((int)Math.Ceiling(-Math.Log10(Math.Max(step, 1e-12))), 0, 9);
        return Signed(value.ToString("F" + places.ToString(CultureInfo.InvariantCulture), NumbersForPeople.Format));
    }

    private static string Signed(string text) => text is "−0" ? "0" : text;
}
