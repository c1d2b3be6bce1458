namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// The numbers of a cumulative-sum chart, all in standard deviations of the charted value. C⁺ᵢ = max(0, C⁺ᵢ₋₁ + zᵢ − k) with
/// z = (value − target)/σ, C⁻ mirrored, a signal where a sum is above h (Page 1954; the form of NIST/SEMATECH e-Handbook
/// 6.3.2.3). With a head start both sums begin at it instead of at 0, which shows up sooner that a machine was never brought
/// back in order (Lucas and Crosier, 'Fast initial response for CUSUM quality-control schemes', Technometrics 24, 1982;
/// half of h is theirs).
/// </summary>
public readonly record struct CusumDesign
{
    /// <param name="reference">k, 0 or more; half of the shift to find is best against that shift.</param>
    /// <param name="decision">h, above 0.</param>
    /// <param name="side">Which way it watches.</param>
    /// <param name="headStart">Where the sums begin; 0 up to, not including, h.</param>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public CusumDesign(double reference, double decision, ChartSide side = ChartSide.Both, double headStart = 0)
    {
        if (!(reference >= 0) || !double.IsFinite(reference))
        {
            throw new ArgumentException("The reference value k is finite and 0 or more.", nameof(reference));
        }

        Require.Positive(decision, nameof(decision));
        if (!(headStart >= 0) || !(headStart < decision))
        {
            throw new ArgumentException("The head start is 0 or more and below the decision interval h.", nameof(headStart));
        }

        (Reference, Decision, Side, HeadStart) = (reference, decision, side, headStart);
    }

    /// <summary>k.</summary>
    public double Reference { get; }

    /// <summary>h.</summary>
    public double Decision { get; }

    public ChartSide Side { get; }

    /// <summary>Where the sums begin, and begin again after <see cref="CusumChart.Restart"/>.</summary>
    public double HeadStart { get; }
}
