namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// Water in air: vapour pressure, dew and frost point, and what compressing or expanding does to them. Magnus formulas with the coefficients of Sonntag,
/// 'Important new values of the physical constants of 1986, vapour pressure formulations based on the ITS-90, and psychrometer formulae'
/// (Zeitschrift für Meteorologie 70, 1990), equations 5 and 8, which WMO's guide No. 8 recommends: over water 6.112·exp(17.62·t/(243.12+t)) hPa, −45 to 60 °C;
/// over ice 6.112·exp(22.46·t/(272.62+t)), −65 to 0 °C. They stay within 0.32 % and 0.2 % of the IAPWS equations there.
/// Vapour is taken as an ideal gas: at 8 bar real air holds about 3 % more at the same dew point (enhancement factor, from memory), so a
/// conversion from there to the atmosphere is low by some 0.4 K.
/// Below 0 °C 'dew point' in compressed air means the frost point: that is what forms and what ISO 8573 classes go by.
/// </summary>
public static class HumidAir
{
    /// <summary>Where Magnus over water has been fitted, °C.</summary>
    public const double LowestOverWaterC = -45;

    /// <summary>Where Magnus over water has been fitted, °C.</summary>
    public const double HighestOverWaterC = 60;

    /// <summary>Where Magnus over ice has been fitted, °C.</summary>
    public const double LowestOverIceC = -65;

    private const double AtZeroHpa = 6.112;

    /// <summary>Saturation vapour pressure over (supercooled) water, hPa.</summary>
    /// <param name="celsius">−45 to 60 °C.</param>
    /// <exception cref="ArgumentException">Outside that range: the formula was not fitted there.</exception>
    public static double OverWaterHpa(double celsius) => celsius is >= LowestOverWaterC and <= HighestOverWaterC
        ? AtZeroHpa * Math.Exp(17.62 * celsius / (243.12 + celsius))
        : throw new ArgumentException($"Over water the formula holds from {LowestOverWaterC} to {HighestOverWaterC} °C, not at {celsius} °C.", nameof(celsius));

    /// <summary>Saturation vapour pressure over ice, hPa.</summary>
    /// <param name="celsius">−65 to 0 °C.</param>
    /// <exception cref="ArgumentException">Outside that range.</exception>
    public static double OverIceHpa(double celsius) => celsius is >= LowestOverIceC and <= 0.01
        ? AtZeroHpa * Math.Exp(22.46 * celsius / (272.62 + celsius))
        : throw new ArgumentException($"Over ice the formula holds from {LowestOverIceC} to 0 °C, not at {celsius} °C.", nameof(celsius));

    /// <summary>Vapour pressure, hPa, of air of this dew point: over water from 0 °C on, over ice (frost point) below.</summary>
    /// <param name="dewPointC">−65 to 60 °C.</param>
    public static double VapourHpa(double dewPointC) => dewPointC >= 0 ? OverWaterHpa(dewPointC) : OverIceHpa(dewPointC);

    /// <summary>
    /// Vapour pressure, hPa, of air at a temperature and relative humidity, which instruments refer to water at all temperatures (WMO).
    /// </summary>
    /// <param name="temperatureC">−45 to 60 °C.</param>
    /// <param name="humidityPercent">Above 0, at most 100.</param>
    public static double VapourHpa(double temperatureC, double humidityPercent) => humidityPercent is > 0 and <= 100
        ? OverWaterHpa(temperatureC) * humidityPercent / 100
        : throw new ArgumentException($"A relative humidity is above 0 and at most 100 %, not {humidityPercent} %.", nameof(humidityPercent));

    /// <summary>Dew point, °C, over (supercooled) water.</summary>
    /// <param name="vapourHpa">Above 0.</param>
    /// <returns>A shortfall outside −45 to 60 °C.</returns>
    public static Answer<double> DewPointC(double vapourHpa)
    {
        double c = Inverse(vapourHpa, 17.62, 243.12);
        return c >= LowestOverWaterC && c <= HighestOverWaterC ? c : OutOfRange(c, LowestOverWaterC, HighestOverWaterC);
    }

    /// <summary>What forms first when air of this vapour pressure is cooled: dew from 0 °C on, frost below.</summary>
    /// <param name="vapourHpa">Above 0.</param>
    /// <returns>°C; a shortfall outside −65 to 60 °C.</returns>
    public static Answer<double> DewOrFrostPointC(double vapourHpa)
    {
        double c = vapourHpa >= AtZeroHpa ? Inverse(vapourHpa, 17.62, 243.12) : Inverse(vapourHpa, 22.46, 272.62);
        return c >= LowestOverIceC && c <= HighestOverWaterC ? c : OutOfRange(c, LowestOverIceC, HighestOverWaterC);
    }

    /// <summary>
    /// The dew or frost point of the same air at another pressure: the vapour's share of the air stays, so its pressure goes with that of the air.
    /// From atmospheric to pressure dew point and back.
    /// </summary>
    /// <param name="dewPointC">At the first pressure, °C; below 0 a frost point.</param>
    /// <param name="fromPsia">Absolute, above 0.</param>
    /// <param name="toPsia">Absolute, above 0.</param>
    /// <returns>°C at the second pressure; a shortfall outside −65 to 60 °C.</returns>
    /// <exception cref="ArgumentException">The first dew point is outside that range, or a pressure is not above 0.</exception>
    public static Answer<double> AtPressure(double dewPointC, double fromPsia, double toPsia)
    {
        StandardAir.RequirePositive(fromPsia, nameof(fromPsia));
        StandardAir.RequirePositive(toPsia, nameof(toPsia));
        return DewOrFrostPointC(VapourHpa(dewPointC) * toPsia / fromPsia);
    }

    private static double Inverse(double vapourHpa, double b, double c)
    {
        StandardAir.RequirePositive(vapourHpa, nameof(vapourHpa));
        double log = Math.Log(vapourHpa / AtZeroHpa);

        // Beyond the pole there is no temperature of such a pressure.
        return log < b ? c * log / (b - log) : double.PositiveInfinity;
    }

    private static Shortfall OutOfRange(double celsius, double low, double high) => celsius < low
        ? new Shortfall("°C of dew point (drier than the formula has been fitted for)", celsius, low)
        : new Shortfall("°C below 60 °C of dew point (wetter than the formula has been fitted for)", high - celsius, 0);
}
