namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// Air through an opening of a given effective area, by one-dimensional isentropic flow with γ = 1.4 (any textbook of gas dynamics; ratios as in NACA
/// Report 1135). Where the pressure behind is below 0.5283 of that in front (absolute) the opening is choked: the flow is in proportion to the pressure in front and
/// nothing behind it matters. 52.5 standard litres a minute a mm² at 50 psig and 20 °C, in proportion to absolute pressure and to 1/√T. The effective area is the
/// hole's times a coefficient of 0.6 to 1, which its edge decides: measured, not read off a drawing.
/// </summary>
public static class ChokedFlow
{
    private const double G = ChokedVenturi.Gamma;

    /// <summary>Static over stagnation temperature at sonic flow, 2/(γ+1) = 0.8333.</summary>
    public const double ThroatTemperatureRatio = 2 / (G + 1);

    /// <summary>ṁ·√(R·T0)/(A·P0) at sonic flow, √γ·(2/(γ+1))^((γ+1)/(2(γ−1))) = 0.6847.</summary>
    public static double MassFlowNumber { get; } = Math.Sqrt(G) * Math.Pow(2 / (G + 1), (G + 1) / (2 * (G - 1)));

    /// <summary>Standard litres a minute through each mm² of effective area of a choked opening.</summary>
    /// <param name="upstreamPsig">In front of it, stagnation.</param>
    /// <param name="temperatureC">In front of it.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <exception cref="ArgumentException">No pressure or temperature.</exception>
    public static double SlpmPerMm2(double upstreamPsig, double temperatureC = 20, double atmospherePsi = StandardAir.PressurePsia)
    {
        double pascal = StandardAir.Absolute(upstreamPsig, atmospherePsi, nameof(upstreamPsig)) * StandardAir.PascalPerPsi;
        double kelvin = StandardAir.Kelvin(temperatureC, nameof(temperatureC));
        double kilogramsPerSecondMm2 = 1e-6 * MassFlowNumber * pascal / Math.Sqrt(StandardAir.GasConstant * kelvin);
        return 60 * kilogramsPerSecondMm2 / StandardAir.KilogramsPerStandardLitre;
    }

    /// <summary>Whether it is choked.</summary>
    public static bool IsChoked(double upstreamPsig, double downstreamPsig, double atmospherePsi = StandardAir.PressurePsia) =>
        StandardAir.Absolute(downstreamPsig, atmospherePsi, nameof(downstreamPsig))
        <= ChokedVenturi.CriticalRatio * StandardAir.Absolute(upstreamPsig, atmospherePsi, nameof(upstreamPsig));

    /// <summary>Standard litres a minute, choked or not; negative where the air goes backwards.</summary>
    /// <param name="effectiveAreaMm2">Above 0.</param>
    /// <param name="upstreamPsig">In front of it, stagnation.</param>
    /// <param name="downstreamPsig">Behind it.</param>
    /// <param name="temperatureC">Of the air that comes.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <exception cref="ArgumentException">A number is not finite or outside its range.</exception>
    public static double Slpm(
        double effectiveAreaMm2, double upstreamPsig, double downstreamPsig, double temperatureC = 20, double atmospherePsi = StandardAir.PressurePsia)
    {
        StandardAir.RequirePositive(effectiveAreaMm2, nameof(effectiveAreaMm2));
        double front = StandardAir.Absolute(upstreamPsig, atmospherePsi, nameof(upstreamPsig));
        double behind = StandardAir.Absolute(downstreamPsig, atmospherePsi, nameof(downstreamPsig));
        if (behind > front)
        {
            return -Slpm(effectiveAreaMm2, downstreamPsig, upstreamPsig, temperatureC, atmospherePsi);
        }

        double share = ShareOfChoked(behind / front);
        return share * effectiveAreaMm2 * SlpmPerMm2(upstreamPsig, temperatureC, atmospherePsi);
    }

    /// <summary>Effective area in mm² of a choked opening that passes this flow.</summary>
    public static double EffectiveAreaMm2(
        double flowSlpm, double upstreamPsig, double temperatureC = 20, double atmospherePsi = StandardAir.PressurePsia)
    {
        StandardAir.RequirePositive(flowSlpm, nameof(flowSlpm));
        return flowSlpm / SlpmPerMm2(upstreamPsig, temperatureC, atmospherePsi);
    }

    /// <summary>Static temperature in °C where the flow is sonic: −29 °C for air that comes at 20 °C.</summary>
    public static double ThroatTemperatureC(double supplyTemperatureC) =>
        (StandardAir.Kelvin(supplyTemperatureC, nameof(supplyTemperatureC)) * ThroatTemperatureRatio) - StandardAir.ZeroCelsiusKelvin;

    // Isentropic flow below sound: √(2/(γ−1)·(r^(2/γ) − r^((γ+1)/γ))) over its value at the critical ratio.
    private static double ShareOfChoked(double ratio)
    {
        if (ratio <= ChokedVenturi.CriticalRatio)
        {
            return 1;
        }

        double below = Math.Pow(ratio, 2 / G) - Math.Pow(ratio, (G + 1) / G);
        return Math.Sqrt(Math.Max(0, below) * 2 * G / (G - 1)) / MassFlowNumber;
    }
}
