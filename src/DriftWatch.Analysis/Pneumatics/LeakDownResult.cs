using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>What a leak-down test must be told beside its readings.</summary>
public sealed record LeakDownSettings
{
    /// <summary>Receiver with all pipes up to the shut valves, in litres, with its standard uncertainty.</summary>
    public required Uncertain VolumeLitres { get; init; }

    /// <summary>Smallest step the gauge shows, psi; 0: taken from the readings.</summary>
    public double GaugeResolutionPsi { get; init; }

    /// <summary>Standard uncertainty of the gauge's scale as a share of a difference. Source: common practice, no source.</summary>
    public double GaugeScaleShare { get; init; } = 0.005;

    /// <summary>Air temperature where none is measured, °C.</summary>
    public double TemperatureC { get; init; } = 20;

    /// <summary>
    /// By how much at most the air's temperature may have moved unseen over the test, ± K, rectangular: 0.5 K where none is measured.
    /// Source: common practice, no source.
    /// </summary>
    public double UnseenTemperatureK { get; init; } = 0.5;

    /// <summary>The same where temperature is measured: the thermometer's own drift. Source: common practice, no source.</summary>
    public double ThermometerDriftK { get; init; } = 0.1;

    /// <summary>Of the place, psi.</summary>
    public double AtmospherePsi { get; init; } = StandardAir.PressurePsia;

    /// <summary>Of the expanded uncertainty and the claim.</summary>
    public double Confidence { get; init; } = 0.95;
}

/// <summary>One line of the uncertainty budget.</summary>
/// <param name="Name">What of.</param>
/// <param name="StandardUncertaintySlpm">In standard litres a minute.</param>
/// <param name="Freedom">Its degrees of freedom; infinite where it is known.</param>
public readonly record struct LeakBudgetLine(string Name, double StandardUncertaintySlpm, double Freedom);

/// <summary>What a leak-down test gives.</summary>
/// <param name="FlowSlpm">Leak in standard litres a minute (20 °C, 101.325 kPa) at <paramref name="MeanPressurePsig"/>.</param>
/// <param name="CoverageFactor">k of <paramref name="ExpandedSlpm"/>.</param>
/// <param name="ExpandedSlpm">U = k·u at the confidence asked for.</param>
/// <param name="IsClaimed">The leak is beyond its expanded uncertainty.</param>
/// <param name="AtMostSlpm">No more than this leaks, at that confidence: the answer where nothing is claimed.</param>
/// <param name="FallPsiPerMinute">Of the pressure as if the temperature had stood still.</param>
/// <param name="TemperatureFallPsiPerMinute">What temperature alone made fall (negative: rise), taken out; 0 where none is measured.</param>
/// <param name="MeanPressurePsig">Over the test; a leak through a hole goes with the absolute pressure.</param>
/// <param name="Minutes">Length of the test.</param>
/// <param name="Points">Readings used.</param>
/// <param name="LeftOut">Wild readings left out.</param>
/// <param name="Budget">Where the uncertainty comes from, the largest first.</param>
/// <param name="Warnings">What a person should know before believing it.</param>
public sealed record LeakDownResult(
    Uncertain FlowSlpm,
    double CoverageFactor,
    double ExpandedSlpm,
    bool IsClaimed,
    double AtMostSlpm,
    double FallPsiPerMinute,
    double TemperatureFallPsiPerMinute,
    double MeanPressurePsig,
    double Minutes,
    int Points,
    int LeftOut,
    IReadOnlyList<LeakBudgetLine> Budget,
    IReadOnlyList<string> Warnings)
{
    /// <summary>The same air in litres ANR (20 °C, 100 kPa).</summary>
    public Uncertain FlowAnr => new(
        FlowSlpm.Value * StandardAir.LitresAnrPerStandardLitre, FlowSlpm.StandardUncertainty * StandardAir.LitresAnrPerStandardLitre, FlowSlpm.Freedom);
}
