namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// Air in a closed volume of constant temperature: what a flow does to its pressure, and what its pressure tells of a flow. Derived from
/// the ideal gas law: n = P·V/(R·T), so a volume V that loses q standard litres a minute falls by q·Ps/V a minute, times T/Ts away from 20 °C. The
/// pressure in it is the standard one that the litre is defined by, whatever the barometer says; gauge differences need no barometer.
/// The compressibility of air is left out: 0.4 % at 100 psi (Z = 0.996 at 8 bar and 20 °C; from memory).
/// </summary>
public static class Receiver
{
    /// <summary>Seconds from one pressure to a lower one at a constant flow: V·(P1−P2)/(Ps·q).</summary>
    /// <param name="volumeLitres">Above 0.</param>
    /// <param name="fromPsi">Where it is, gauge or absolute as the other.</param>
    /// <param name="toPsi">Where it is to fall to, at most <paramref name="fromPsi"/>.</param>
    /// <param name="flowSlpm">Standard litres a minute out of it, above 0.</param>
    /// <param name="temperatureC">Of the air in it.</param>
    /// <returns>Seconds, 0 or above.</returns>
    /// <exception cref="ArgumentException">A number is not finite or outside its range.</exception>
    public static double SecondsToFall(double volumeLitres, double fromPsi, double toPsi, double flowSlpm, double temperatureC = 20)
    {
        StandardAir.RequirePositive(flowSlpm, nameof(flowSlpm));
        if (!(fromPsi >= toPsi))
        {
            throw new ArgumentException($"A receiver falls to a lower pressure, not from {fromPsi} to {toPsi} psi.", nameof(toPsi));
        }

        return 60 * LitresPerPsi(volumeLitres, temperatureC) * (fromPsi - toPsi) / flowSlpm;
    }

    /// <summary>The flow out of it, in standard litres a minute, that makes it fall this fast; negative where it rises.</summary>
    /// <param name="volumeLitres">Above 0.</param>
    /// <param name="fallPsiPerMinute">Finite; positive while it falls.</param>
    /// <param name="temperatureC">Of the air in it.</param>
    public static double FlowSlpm(double volumeLitres, double fallPsiPerMinute, double temperatureC = 20)
    {
        Statistics.Finite.Require(fallPsiPerMinute);
        return LitresPerPsi(volumeLitres, temperatureC) * fallPsiPerMinute;
    }

    /// <summary>Standard litres of air that each psi of it is: V/Ps·(Ts/T).</summary>
    public static double LitresPerPsi(double volumeLitres, double temperatureC = 20)
    {
        StandardAir.RequirePositive(volumeLitres, nameof(volumeLitres));
        return volumeLitres / StandardAir.PressurePsia * StandardAir.TemperatureKelvin / StandardAir.Kelvin(temperatureC, nameof(temperatureC));
    }

    /// <summary>How much the pressure of a closed volume moves with its temperature: P/T, 0.36 psi a kelvin at 90 psig and 20 °C.</summary>
    public static double PsiPerKelvin(double pressurePsig, double temperatureC, double atmospherePsi = StandardAir.PressurePsia) =>
        StandardAir.Absolute(pressurePsig, atmospherePsi, nameof(pressurePsig)) / StandardAir.Kelvin(temperatureC, nameof(temperatureC));
}

/// <summary>
/// The pressure behind a regulator or hose that has failed: what feeds on it goes on drawing in proportion to the absolute pressure, so
/// P(t) = P0·exp(−t/τ), absolute, with τ = V·P0/(Ps·q0). Derived from the ideal gas law at constant temperature with outlets that stay choked, so it
/// holds down to about 13 psi gauge; the real fall is a little faster at first, because air that expands cools. Half a litre at 50 psi
/// and 60 standard litres a minute: τ = 2.2 s, and 45 psi is passed after 0.18 s: no alarm of a computer protects a bearing, a pressure switch does.
/// </summary>
/// <param name="StartPsia">P0 in psi absolute.</param>
/// <param name="TimeConstantSeconds">τ in seconds.</param>
/// <param name="AtmospherePsi">Of the place.</param>
public readonly record struct LineDecay(double StartPsia, double TimeConstantSeconds, double AtmospherePsi)
{
    /// <param name="volumeLitres">Between the failure and what draws the air, above 0.</param>
    /// <param name="startPsig">At the instant of the failure.</param>
    /// <param name="flowSlpm">At that pressure, standard litres a minute, above 0.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <exception cref="ArgumentException">A number is not finite or outside its range.</exception>
    public static LineDecay After(double volumeLitres, double startPsig, double flowSlpm, double atmospherePsi = StandardAir.PressurePsia)
    {
        StandardAir.RequirePositive(flowSlpm, nameof(flowSlpm));
        double start = StandardAir.Absolute(startPsig, atmospherePsi, nameof(startPsig));
        return new LineDecay(start, 60 * Receiver.LitresPerPsi(volumeLitres) * start / flowSlpm, atmospherePsi);
    }

    /// <summary>Gauge pressure, psi, so many seconds after the failure (0 or above).</summary>
    public double PressurePsigAt(double seconds) => seconds >= 0
        ? (StartPsia * Math.Exp(-seconds / TimeConstantSeconds)) - AtmospherePsi
        : throw new ArgumentException($"Before the failure ({seconds} s) nothing is said.", nameof(seconds));

    /// <summary>Seconds until this gauge pressure is passed; 0 where it starts at or below.</summary>
    public double SecondsTo(double psig) =>
        Math.Max(0, TimeConstantSeconds * Math.Log(StartPsia / StandardAir.Absolute(psig, AtmospherePsi, nameof(psig))));
}
