namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// The vacuum that a compressed-air venturi makes, as a share of what it makes at a reference supply. Once the nozzle
/// is choked its jet thrust per throat area is (γ+1)·p*−p_atm, where p* is the throat pressure at sonic flow; the
/// dead-head depression is in proportion to it, so it is linear in the supply. Derived from one-dimensional isentropic
/// nozzle flow (any textbook of gas dynamics) with γ = 1.4; the area ratio of the guide cancels.
/// At 50 psig it gives 1.88 % a psi.
/// </summary>
public static class ChokedVenturi
{
    /// <summary>Ratio of specific heats of air near room temperature. Source: published, textbook value.</summary>
    public const double Gamma = 1.4;

    /// <summary>Standard atmosphere in psi. Source: ISO 2533, 101 325 Pa.</summary>
    public const double StandardAtmospherePsi = 14.69595;

    /// <summary>Throat over stagnation pressure at sonic flow: (2/(γ+1))^(γ/(γ−1)) = 0.5283.</summary>
    public static double CriticalRatio { get; } = Math.Pow(2 / (Gamma + 1), Gamma / (Gamma - 1));

    /// <summary>Thrust per throat area over stagnation pressure, without the atmosphere's part: 1.268.</summary>
    public static double ThrustCoefficient { get; } = (Gamma + 1) * CriticalRatio;

    /// <summary>Gauge pressure above which the nozzle is choked and the model holds: 13.1 psig at the standard atmosphere.</summary>
    public static double ChokedAbovePsig(double atmospherePsi = StandardAtmospherePsi) => (atmospherePsi / CriticalRatio) - atmospherePsi;

    /// <summary>
    /// Depression at <paramref name="supplyPsig"/> as a share of that at <paramref name="referencePsig"/>; null where
    /// either is not choked, because then the model says nothing.
    /// </summary>
    public static double? DepressionShare(double supplyPsig, double referencePsig, double atmospherePsi = StandardAtmospherePsi)
    {
        double choked = ChokedAbovePsig(atmospherePsi);
        return supplyPsig > choked && referencePsig > choked
            ? Thrust(supplyPsig, atmospherePsi) / Thrust(referencePsig, atmospherePsi)
            : null;
    }

    private static double Thrust(double psig, double atmospherePsi) => (ThrustCoefficient * (psig + atmospherePsi)) - atmospherePsi;
}
