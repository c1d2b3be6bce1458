using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>How long the supply lasts if its compressor does not come back.</summary>
/// <param name="Seconds">Best guess, s; infinite where the pressure does not fall.</param>
/// <param name="Earliest">Lower end of the interval, s.</param>
/// <param name="Latest">Upper end, s; infinite where the fall may be none.</param>
public readonly record struct SupplyReserve(double Seconds, double Earliest, double Latest);

/// <summary>
/// Time until a supply that falls reaches the pressure at which the regulator loses its setpoint: (P − Plost)/rate, or V·(P − Plost)/(Ps·q). The rate has an uncertainty, so
/// the interval is that of the quotient with rate ± U (Fieller's for a numerator that is known; its upper end is infinite where the rate may be 0).
/// It rests on the air being drawn as it is; a regulator also loses some of its setpoint before the supply is down to it: give what it needs as the headroom.
/// </summary>
public static class TimeToSetpoint
{
    /// <summary>Headroom over the setpoint at which a regulator has lost it, psi. Source: from memory, the alarm for supply over regulated air.</summary>
    public const double HeadroomPsi = 10;

    /// <param name="supplyPsi">Now.</param>
    /// <param name="lostAtPsi">Setpoint and headroom.</param>
    /// <param name="fallPsiPerSecond">Rate of fall, positive while it falls, with its uncertainty.</param>
    /// <param name="confidence">Of the interval.</param>
    /// <exception cref="ArgumentException">A number is not finite.</exception>
    public static SupplyReserve From(double supplyPsi, double lostAtPsi, Uncertain fallPsiPerSecond, double confidence = 0.95)
    {
        Statistics.Finite.Require(supplyPsi);
        Statistics.Finite.Require(lostAtPsi);
        Statistics.Finite.Require(fallPsiPerSecond.Value, nameof(fallPsiPerSecond));
        double reserve = supplyPsi - lostAtPsi;
        if (reserve <= 0)
        {
            return new SupplyReserve(0, 0, 0);
        }

        double reach = fallPsiPerSecond.Expanded(confidence);
        return new SupplyReserve(
            Quotient(reserve, fallPsiPerSecond.Value),
            Quotient(reserve, fallPsiPerSecond.Value + reach),
            Quotient(reserve, fallPsiPerSecond.Value - reach));
    }

    /// <param name="supplyPsi">Now.</param>
    /// <param name="lostAtPsi">Setpoint and headroom.</param>
    /// <param name="volumeLitres">Receiver with its pipes.</param>
    /// <param name="useSlpm">What is drawn, standard litres a minute.</param>
    /// <param name="confidence">Of the interval.</param>
    /// <exception cref="ArgumentException">A number is not finite, or the volume or the use not above 0.</exception>
    public static SupplyReserve From(double supplyPsi, double lostAtPsi, Uncertain volumeLitres, Uncertain useSlpm, double confidence = 0.95)
    {
        StandardAir.RequirePositive(useSlpm.Value, nameof(useSlpm));
        double rate = useSlpm.Value / 60 / Receiver.LitresPerPsi(volumeLitres.Value);
        Uncertain combined = Coverage.Combine(
            rate,
            (rate * useSlpm.StandardUncertainty / useSlpm.Value, useSlpm.Freedom),
            (rate * volumeLitres.StandardUncertainty / volumeLitres.Value, volumeLitres.Freedom));
        return From(supplyPsi, lostAtPsi, combined, confidence);
    }

    private static double Quotient(double reserve, double rate) => rate > 0 ? reserve / rate : double.PositiveInfinity;
}
