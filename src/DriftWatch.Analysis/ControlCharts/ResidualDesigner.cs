namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// Designs charts for the residuals that <see cref="Ar1Whitener"/> leaves. In control they are independent, so h and L follow
/// from the false-alarm interval as ever; but a step of the level shows in them otherwise: once whole, with δ/√(1 − ρ²), then
/// only with what prediction does not explain, δ·√((1 − ρ)/(1 + ρ)) (derived; the same in Apley and Shi, IIE Transactions 31,
/// 1999, from memory). The charts are designed for the lasting part, so their k and λ are smaller than for independent values:
/// what autocorrelation costs is delay, and no chart gets it back.
/// </summary>
public static class ResidualDesigner
{
    /// <summary>The lasting shift of the residuals for a step of the level, in standard deviations.</summary>
    /// <param name="shift">Step of the level, in standard deviations of the values.</param>
    /// <param name="rho">Correlation of neighbours, between −1 and 1.</param>
    public static double LastingShift(double shift, double rho)
    {
        Ar1Whitener.CheckRho(rho);
        return shift * Math.Sqrt((1 - rho) / (1 + rho));
    }

    /// <summary>The shift of the one residual at which the step comes, in standard deviations.</summary>
    /// <inheritdoc cref="LastingShift"/>
    public static double FirstShift(double shift, double rho)
    {
        Ar1Whitener.CheckRho(rho);
        return shift / Math.Sqrt(1 - (rho * rho));
    }

    /// <summary>The CUSUM of residuals for a step of the level and a false-alarm interval in values.</summary>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public static CusumDesign Cusum(double shift, double rho, double interval, ChartSide side = ChartSide.Both) =>
        ChartDesigner.Cusum(LastingShift(shift, rho), interval, side);

    /// <summary>The EWMA of residuals for a step of the level and a false-alarm interval in values.</summary>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public static EwmaDesign Ewma(double shift, double rho, double interval) =>
        ChartDesigner.Ewma(LastingShift(shift, rho), interval);

    /// <summary>
    /// Mean values from a step of the level to the signal of a one-sided CUSUM of residuals whose sum is 0 when the step comes.
    /// </summary>
    /// <param name="design">One-sided.</param>
    /// <param name="shift">Step of the level, in standard deviations of the values.</param>
    /// <param name="rho">Correlation of neighbours, between −1 and 1.</param>
    /// <exception cref="ArgumentException">The chart is two-sided, or a number is outside its range.</exception>
    public static double Delay(CusumDesign design, double shift, double rho)
    {
        if (design.Side == ChartSide.Both)
        {
            throw new ArgumentException("The delay on residuals is computed for a one-sided chart.", nameof(design));
        }

        return ArlOfCusum.AfterStep(design, FirstShift(shift, rho), LastingShift(shift, rho), 0);
    }
}
