using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>What can be said of ice in a venturi's throat.</summary>
public enum IcingRisk
{
    /// <summary>Even at the coldest point of the flow the air stays drier than saturated over ice, beyond the uncertainty.</summary>
    None,

    /// <summary>The margin is smaller than its uncertainty.</summary>
    CannotBeTold,

    /// <summary>The air is saturated over ice somewhere in the throat: ice is possible.</summary>
    Possible,
}

/// <summary>Frost at the throat of a choked venturi.</summary>
/// <param name="FrostPointC">Of the air at the throat's static pressure, °C; −65 stands for that and drier.</param>
/// <param name="ThroatTemperatureC">Static temperature there, °C.</param>
/// <param name="MarginK">Throat temperature minus frost point with its uncertainty, K: above 0 no frost.</param>
/// <param name="Risk">At 95 % confidence.</param>
public readonly record struct ThroatFrostAnswer(double FrostPointC, double ThroatTemperatureC, Uncertain MarginK, IcingRisk Risk);

/// <summary>
/// Whether moisture in the air can freeze where a venturi's flow is sonic. The static temperature there is 2/(γ+1) of that in front (−29 °C at
/// 20 °C), the static pressure 0.528 of that in front, so that the frost point falls too, but by less. Derived: air of +3 °C pressure dew point at 100 psi has its frost point
/// at −11.6 °C there, 17 K too wet; air of −20 °C at −32.0 °C, safe by 3 K; of −40 °C at −50 °C.
/// It is the careful bound: walls are warmer than the stream (in a boundary layer most of the heat is recovered), and a stream so fast has little time to freeze.
/// </summary>
public static class ThroatFrost
{
    /// <summary>A dew-point probe's standard uncertainty where none is given: ±2 K, rectangular. Source: common practice, no source.</summary>
    public const double DewPointUncertaintyK = 1.15;

    /// <summary>Of the supply's temperature where none is given: ±2 K, rectangular. Source: common practice, no source.</summary>
    public const double TemperatureUncertaintyK = 1.15;

    /// <param name="pressureDewPointC">°C, at most 60, with its standard uncertainty, at <paramref name="dewPointPsig"/>; below 0 a frost point.</param>
    /// <param name="dewPointPsig">The pressure at which that dew point holds: the supply's, or 0 where air is let out to be measured.</param>
    /// <param name="venturiPsig">In front of the venturi.</param>
    /// <param name="supplyTemperatureC">Of the air in front of the venturi, °C, with its standard uncertainty.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <returns>A shortfall where the venturi isn't choked.</returns>
    /// <exception cref="ArgumentException">No pressure, no temperature, or a dew point above 60 °C.</exception>
    public static Answer<ThroatFrostAnswer> At(
        Uncertain pressureDewPointC,
        double dewPointPsig,
        double venturiPsig,
        Uncertain supplyTemperatureC,
        double atmospherePsi = StandardAir.PressurePsia)
    {
        double measured = StandardAir.Absolute(dewPointPsig, atmospherePsi, nameof(dewPointPsig));
        double front = StandardAir.Absolute(venturiPsig, atmospherePsi, nameof(venturiPsig));
        double choked = ChokedVenturi.ChokedAbovePsig(atmospherePsi);
        if (!(venturiPsig > choked))
        {
            return new Shortfall("psi before the venturi (below, it is not choked)", venturiPsig, choked);
        }

        double throatPsia = front * ChokedVenturi.CriticalRatio;

        // Drier than the formulas were fitted for counts as −65 °C, before and in the throat: that keeps the margin on the careful side.
        double dewPoint = Math.Max(HumidAir.LowestOverIceC, pressureDewPointC.Value);
        double Frost(double at) => HumidAir.AtPressure(at, measured, throatPsia) is { IsKnown: true } known ? known.Value : HumidAir.LowestOverIceC;
        double frost = Frost(dewPoint);
        double throat = ChokedFlow.ThroatTemperatureC(supplyTemperatureC.Value);

        // How far the frost point moves with the dew point: by a tenth of a kelvin either way, inside the formulas' range.
        double up = Math.Min(HumidAir.HighestOverWaterC, dewPoint + 0.1);
        double down = Math.Max(HumidAir.LowestOverIceC, dewPoint - 0.1);
        double slope = (Frost(up) - Frost(down)) / (up - down);
        Uncertain margin = Coverage.Combine(
            throat - frost,
            (slope * pressureDewPointC.StandardUncertainty, pressureDewPointC.Freedom),
            (ChokedFlow.ThroatTemperatureRatio * supplyTemperatureC.StandardUncertainty, supplyTemperatureC.Freedom));
        IcingRisk risk = !margin.IsSignificant() ? IcingRisk.CannotBeTold : margin.Value > 0 ? IcingRisk.None : IcingRisk.Possible;
        return new ThroatFrostAnswer(frost, throat, margin, risk);
    }
}
