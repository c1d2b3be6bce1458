namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// What a litre of flow means here. A standard litre (SL, and SLPM a minute) is one at 20 °C and 101.325 kPa of dry air; a litre ANR, as
/// data sheets of pneumatic parts have it, is one at 20 °C and 100 kPa (and 65 % relative humidity). The same amount of air is 1.3 % more
/// litres ANR. Pressures ending in Psig are gauge, over the atmosphere of the place; those ending in Psia are absolute.
/// Sources: ISO 8778 for ANR (from memory); 20 °C and 1 atm is one of several standards in use, and is the one all formulas of this folder share.
/// </summary>
public static class StandardAir
{
    /// <summary>20 °C in kelvin.</summary>
    public const double TemperatureKelvin = 293.15;

    /// <summary>101.325 kPa in psi. Source: ISO 2533 and NIST SP 811.</summary>
    public const double PressurePsia = ChokedVenturi.StandardAtmospherePsi;

    /// <summary>Of dry air, J/(kg·K). Source: published, ISO 2533 (287.05287).</summary>
    public const double GasConstant = 287.05287;

    /// <summary>Litres ANR in a standard litre: 101.325/100.</summary>
    public const double LitresAnrPerStandardLitre = 1.01325;

    /// <summary>Pascal in a psi. Source: NIST SP 811.</summary>
    public const double PascalPerPsi = 6894.757293168361;

    /// <summary>Zero of the Celsius scale in kelvin.</summary>
    public const double ZeroCelsiusKelvin = 273.15;

    /// <summary>Of a standard litre, kg/l: 1.2041e-3.</summary>
    public const double KilogramsPerStandardLitre = 101.325 / (GasConstant * TemperatureKelvin);

    internal static void RequirePositive(double value, string name)
    {
        if (!(value > 0 && double.IsFinite(value)))
        {
            throw new ArgumentException($"{name} is a finite number above 0, not {value}.", name);
        }
    }

    /// <summary>How far a row of readings moved: its 5 to 95 % range, which a few wild ones don't stretch. At least one value.</summary>
    internal static double Range(ReadOnlySpan<double> values)
    {
        double[] sorted = values.ToArray();
        Array.Sort(sorted);
        return sorted[(int)(0.95 * (sorted.Length - 1))] - sorted[(int)(0.05 * (sorted.Length - 1))];
    }

    /// <summary>Absolute pressure of a gauge reading; below the vacuum there is none.</summary>
    internal static double Absolute(double psig, double atmospherePsi, string name)
    {
        RequirePositive(atmospherePsi, nameof(atmospherePsi));
        double psia = psig + atmospherePsi;
        return psia > 0 && double.IsFinite(psia)
            ? psia
            : throw new ArgumentException($"{psig} psi gauge is no pressure at an atmosphere of {atmospherePsi} psi.", name);
    }

    internal static double Kelvin(double celsius, string name)
    {
        double kelvin = celsius + ZeroCelsiusKelvin;
        return kelvin > 0 && double.IsFinite(kelvin)
            ? kelvin
            : throw new ArgumentException($"{celsius} °C is no temperature.", name);
    }
}
