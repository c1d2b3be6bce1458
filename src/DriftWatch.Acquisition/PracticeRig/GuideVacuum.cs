namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// The venturi that sucks the tape into the guide. Above 13.1 psig its nozzle is choked; the jet's thrust per throat
/// area is 1.268·P0 − Patm (isentropic flow of air), and the dead-head vacuum is that times throat area over mixing
/// area: linear in the supply, 1.88 % per psi at 50 psig. With flow Q the vacuum is Δp0·(1 − Q/Qmax): open slots leave
/// next to none, so vacuum exists only while tape closes the slots.
/// </summary>
public sealed class GuideVacuum(double areaRatio, double dirt)
{
    /// <summary>Source: NIST SP 811, conventional inch of water 249.0889 Pa, psi 6894.757 Pa.</summary>
    public const double InH2OPerPsi = 6894.757 / 249.0889;

    /// <summary>Below this gauge pressure the nozzle is not choked. Derived from the critical ratio 0.528.</summary>
    private const double ChokedAbovePsi = 13.1;

    /// <summary>Q/Qmax with every slot open. Assumption: a few percent of the dead-head vacuum are left.</summary>
    private const double OpenSlotsFlow = 0.97;

    /// <summary>Q/Qmax under a sound tape: edges and pores. Assumption.</summary>
    private const double ClosedSlotsFlow = 0.05;

    /// <summary>Tube and chamber fill in about this time. Assumption.</summary>
    private const double LagSeconds = 0.06;

    public double InH2O { get; private set; }

    /// <summary>How firmly the tape is held: 1 with a clean guide, a sound tape and 50 psi.</summary>
    public double Hold { get; private set; }

    /// <summary>The vacuum with all flow stopped, inches of water.</summary>
    public static double DeadHeadInH2O(double areaRatio, double regulatedPsi)
    {
        double absolute = regulatedPsi + AirPlant.AtmospherePsi;
        if (regulatedPsi >= ChokedAbovePsi)
        {
            return areaRatio * ((1.268 * absolute) - AirPlant.AtmospherePsi) * InH2OPerPsi;
        }

        double atChoke = areaRatio * ((1.268 * (ChokedAbovePsi + AirPlant.AtmospherePsi)) - AirPlant.AtmospherePsi) * InH2OPerPsi;
        return atChoke * Math.Max(0, regulatedPsi) / ChokedAbovePsi; // unchoked jet: falls off to nothing; its exact shape matters to no one
    }

    /// <param name="seconds">The step.</param>
    /// <param name="regulatedPsi">Pressure at the nozzle, gauge.</param>
    /// <param name="coverage">Share of the slots that tape closes, 0 to 1.</param>
    /// <param name="leak">Share lost through a leaking line, 0 to 1.</param>
    /// <param name="slotsDirty">Share of the slots' section that dirt has closed since the machine was cleaned, 0 to 1.</param>
    /// <param name="throatClog">Share of the venturi's throat that is closed, 0 to 1.</param>
    public void Step(double seconds, double regulatedPsi, double coverage, double leak, double slotsDirty = 0, double throatClog = 0)
    {
        // Dirty slots pass less air: the gauge shows more vacuum, the tape feels less of it.
        double flow = (ClosedSlotsFlow + ((OpenSlotsFlow - ClosedSlotsFlow) * (1 - coverage))) * (1 - dirt);
        if (slotsDirty > 0)
        {
            flow = Through(flow, 1 - slotsDirty);
        }

        double target = DeadHeadInH2O(areaRatio * (1 - throatClog), regulatedPsi) * (1 - flow) * Math.Max(0, 1 - leak);
        InH2O += (target - InH2O) * (seconds / (seconds + LagSeconds));
        double sound = DeadHeadInH2O(areaRatio, 50) * (1 - ClosedSlotsFlow);
        Hold = Math.Clamp(InH2O / sound, 0, 1.3) * ((1 - dirt) * (1 - slotsDirty)) * coverage;
    }

    /// <summary>
    /// Q/Qmax when only a share of the openings is left. The slots are an orifice: q = k·√(1 − q) with 1 − q the vacuum
    /// as a share of dead-head, and k goes with the section; solved for q. Derived.
    /// </summary>
    private static double Through(double soundFlow, double openShare)
    {
        double k2 = soundFlow * soundFlow / (1 - soundFlow) * openShare * openShare;
        return 0.5 * (Math.Sqrt((k2 * k2) + (4 * k2)) - k2);
    }
}
