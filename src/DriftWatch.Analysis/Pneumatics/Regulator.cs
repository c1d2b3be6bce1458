using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>How far a regulator lets its supply through.</summary>
/// <param name="PsiPerPsi">Rise of the regulated pressure for each psi of supply at the lag, with its interval: the supply effect.</param>
/// <param name="Lower">Lower end of its 95 % interval.</param>
/// <param name="Upper">Upper end.</param>
/// <param name="LagSeconds">By how much the regulated pressure is behind; 0 where that can't be told.</param>
/// <param name="LagIsTold">Whether the lag is more than a guess.</param>
/// <param name="ExplainedShare">Of the regulated pressure's variance.</param>
/// <param name="SupplyRangePsi">Over which the supply moved (5 to 95 %).</param>
/// <param name="Fit">The line behind it.</param>
public sealed record SupplyEffect(
    double PsiPerPsi, double Lower, double Upper, double LagSeconds, bool LagIsTold, double ExplainedShare, double SupplyRangePsi, KnownCauseFit Fit)
{
    /// <summary>The regulator follows its supply: the interval leaves 0 out.</summary>
    public bool IsClaimed => Lower > 0 || Upper < 0;
}

/// <summary>How fast a regulator creeps.</summary>
/// <param name="PsiPerHour">Rise with the supply's part taken out, with its uncertainty.</param>
/// <param name="Lower">Lower end of its 95 % interval, psi an hour.</param>
/// <param name="Upper">Upper end.</param>
/// <param name="SupplyTakenOut">Whether the supply was known and its part was removed.</param>
public sealed record RegulatorCreep(double PsiPerHour, double Lower, double Upper, bool SupplyTakenOut)
{
    /// <summary>It creeps: the pressure rises beyond doubt.</summary>
    public bool IsClaimed => Lower > 0;
}

/// <summary>
/// What a regulator's readings tell of it: whether it follows its supply, whether it creeps. A self-relieving regulator at rest that climbs has a leaking
/// valve seat; one whose pressure rides on the supply's sawtooth lets it through, a known property (supply effect) that grows with wear.
/// The supply effect has the sign of its make: many regulators rise when the supply falls (unbalanced valve). Both are judged against what this one did before;
/// there is no published figure for all.
/// </summary>
public static class Regulator
{
    /// <summary>The supply must have moved by so much, psi. Source: common practice, no source.</summary>
    public const double LeastSupplyRangePsi = 3;

    /// <summary>A lag is looked for this far, s. Source: common practice, no source: a line of litres settles within a second or two.</summary>
    public const double LongestLagSeconds = 10;

    /// <summary>Regression of regulated on supply pressure at the lag at which they go together best.</summary>
    /// <param name="seconds">Rising.</param>
    /// <param name="supplyPsig">As many.</param>
    /// <param name="regulatedPsig">As many.</param>
    /// <returns>A shortfall of independent points or of movement of the supply.</returns>
    /// <exception cref="ArgumentException">Lengths differ, times don't rise, or a number is not finite.</exception>
    public static Answer<SupplyEffect> Follows(ReadOnlySpan<double> seconds, ReadOnlySpan<double> supplyPsig, ReadOnlySpan<double> regulatedPsig)
    {
        Trend.Points.Check(seconds, supplyPsig);
        Trend.Points.Check(seconds, regulatedPsig);
        Trend.Points.CheckRising(seconds);
        if (seconds.Length < KnownCause.LeastEffectivePoints)
        {
            return new Shortfall("independent points", seconds.Length, KnownCause.LeastEffectivePoints);
        }

        double range = StandardAir.Range(supplyPsig);
        if (range < LeastSupplyRangePsi)
        {
            return new Shortfall("psi over which the supply moved", range, LeastSupplyRangePsi);
        }

        double step = (seconds[^1] - seconds[0]) / (seconds.Length - 1);
        double longest = Math.Max(step, LongestLagSeconds);
        Answer<LeadLagAnswer> order = LeadLag.Find(seconds, supplyPsig, seconds, regulatedPsig, step, longest);
        bool told = order is { IsKnown: true, Value: { Verdict: LeadLagVerdict.FirstLeads, LagSeconds: > 0 } };
        double lag = told ? order.Value.LagSeconds : 0;

        (double[] times, double[] causes, double[] effects) = Lagged(seconds, supplyPsig, regulatedPsig, lag);
        Answer<KnownCauseFit> fit = KnownCause.Fit(times, causes, effects);
        return fit.IsKnown
            ? new SupplyEffect(fit.Value.Slope, fit.Value.Lower, fit.Value.Upper, lag, told, fit.Value.ExplainedShare, range, fit.Value)
            : fit.Missing!;
    }

    /// <summary>
    /// Creep of a regulator at no flow or at constant flow: the drift of its pressure, the supply's part taken out where that is known.
    /// </summary>
    /// <param name="seconds">Rising.</param>
    /// <param name="regulatedPsig">As many.</param>
    /// <param name="supplyPsig">As many, or empty.</param>
    /// <param name="effectPsiPerPsi">Known supply effect; ignored without a supply.</param>
    /// <returns>A shortfall of independent points.</returns>
    /// <exception cref="ArgumentException">Lengths differ, times don't rise, or a number is not finite.</exception>
    public static Answer<RegulatorCreep> Creep(
        ReadOnlySpan<double> seconds, ReadOnlySpan<double> regulatedPsig, ReadOnlySpan<double> supplyPsig = default, double effectPsiPerPsi = 0)
    {
        Trend.Points.Check(seconds, regulatedPsig);
        Finite.Require(effectPsiPerPsi);
        bool known = supplyPsig.Length > 0;
        if (known)
        {
            Trend.Points.Check(seconds, supplyPsig);
        }

        double[] own = regulatedPsig.ToArray();
        for (int i = 0; known && i < own.Length; i++)
        {
            own[i] -= effectPsiPerPsi * (supplyPsig[i] - supplyPsig[0]);
        }

        Answer<DriftEstimate> drift = Drift.Estimate(seconds, own);
        return drift.IsKnown
            ? new RegulatorCreep(3600 * drift.Value.Slope, 3600 * drift.Value.Lower, 3600 * drift.Value.Upper, known)
            : drift.Missing!;
    }

    private static (double[] Times, double[] Causes, double[] Effects) Lagged(
        ReadOnlySpan<double> seconds, ReadOnlySpan<double> causes, ReadOnlySpan<double> effects, double lag)
    {
        var t = new List<double>(seconds.Length);
        var x = new List<double>(seconds.Length);
        var y = new List<double>(seconds.Length);
        int before = 0;
        for (int i = 0; i < seconds.Length; i++)
        {
            double at = seconds[i] - lag;
            if (at < seconds[0])
            {
                continue;
            }

            while (before + 1 < seconds.Length && seconds[before + 1] <= at)
            {
                before++;
            }

            double part = before + 1 < seconds.Length ? (at - seconds[before]) / (seconds[before + 1] - seconds[before]) : 0;
            double cause = before + 1 < seconds.Length ? causes[before] + (part * (causes[before + 1] - causes[before])) : causes[before];
            t.Add(seconds[i]);
            x.Add(cause);
            y.Add(effects[i]);
        }

        return ([.. t], [.. x], [.. y]);
    }
}

/// <summary>A filter's drop: how much pressure it takes at a flow, and how that compares with before.</summary>
/// <param name="DropPsi">Under flow, less than at rest, with its uncertainty.</param>
/// <param name="PsiPerSlpmSquared">Drop over the square of the flow; null where the flow isn't known.</param>
/// <param name="GrowthShare">Against the drop of before at the same flow: 1 as then, 2 twice; null without one.</param>
/// <param name="IsClogging">The drop grew beyond its uncertainty.</param>
public readonly record struct FilterDropAnswer(Uncertain DropPsi, double? PsiPerSlpmSquared, Uncertain? GrowthShare, bool IsClogging);

/// <summary>
/// A clogging filter, seen from behind it: pressure sags when wheel and venturi draw and comes back at rest, more each week. The drop of a
/// turbulent restriction goes with the square of the flow (Darcy and Weisbach; an element that is all laminar goes with the flow itself, so the law is the careful one
/// for extrapolating upwards only). The regulator's own droop is in it: only growth at the same flow is a sign.
/// </summary>
public static class FilterDrop
{
    /// <summary>Growth below this is none, whatever the statistics: taps and flows are never set the same twice. Source: common practice, no source.</summary>
    public const double LeastGrowthShare = 1.25;

    /// <param name="restPsig">Regulated pressure at rest, air up and nothing drawn, with its uncertainty.</param>
    /// <param name="flowPsig">Under flow.</param>
    /// <param name="before">The drop when the filter was new or last looked at, at the same flow or scaled to it; null where unknown.</param>
    /// <param name="flowSlpm">The flow, standard litres a minute; null where unknown.</param>
    /// <exception cref="ArgumentException">A flow is not above 0, or a pressure not finite.</exception>
    public static FilterDropAnswer Of(Uncertain restPsig, Uncertain flowPsig, Uncertain? before = null, double? flowSlpm = null)
    {
        Finite.Require(restPsig.Value, nameof(restPsig));
        Finite.Require(flowPsig.Value, nameof(flowPsig));
        Uncertain drop = Coverage.Combine(
            restPsig.Value - flowPsig.Value,
            (restPsig.StandardUncertainty, restPsig.Freedom),
            (flowPsig.StandardUncertainty, flowPsig.Freedom));
        if (flowSlpm is { } q)
        {
            StandardAir.RequirePositive(q, nameof(flowSlpm));
        }

        Uncertain? growth = null;
        bool clogging = false;
        if (before is { } then && then.Value > 0)
        {
            double ratio = drop.Value / then.Value;
            growth = Coverage.Combine(
                ratio,
                (drop.StandardUncertainty / then.Value, drop.Freedom),
                (Math.Abs(ratio) * then.StandardUncertainty / then.Value, then.Freedom));
            clogging = ratio > LeastGrowthShare && ratio - growth.Value.Expanded() > 1;
        }

        return new FilterDropAnswer(drop, drop.Value / (flowSlpm * flowSlpm), growth, clogging);
    }

    /// <summary>A drop at one flow as it would be at another, by the square of the ratio.</summary>
    public static Uncertain Scaled(Uncertain dropPsi, double fromSlpm, double toSlpm)
    {
        StandardAir.RequirePositive(fromSlpm, nameof(fromSlpm));
        StandardAir.RequirePositive(toSlpm, nameof(toSlpm));
        double square = toSlpm / fromSlpm * (toSlpm / fromSlpm);
        return new Uncertain(dropPsi.Value * square, dropPsi.StandardUncertainty * square, dropPsi.Freedom);
    }
}
