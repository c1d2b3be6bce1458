using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Relations;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>Where the slope of a vacuum law is from.</summary>
public enum VacuumLawSource
{
    /// <summary>Choked-venturi flow, <see cref="ChokedVenturi"/>.</summary>
    Derived,

    /// <summary>This bench's own readings.</summary>
    Learned,
}

/// <summary>
/// How guide vacuum follows its air: v(P) = v(P0)·(1 + s·(P − P0)), which for a choked venturi is exact. Taking the air's part out leaves what
/// the guide itself does. A venturi's slope at 50 psi is 1.88 % a psi by derivation; a real one has losses, so a bench may learn its own.
/// </summary>
/// <param name="SharePerPsi">s, relative to the vacuum at <paramref name="ReferencePsig"/>, 1/psi, with its standard uncertainty.</param>
/// <param name="ReferencePsig">P0.</param>
/// <param name="Source">Derived or learned.</param>
public readonly record struct VacuumLaw(Uncertain SharePerPsi, double ReferencePsig, VacuumLawSource Source)
{
    /// <summary>
    /// Uncertainty of the derived slope: losses and a mixing that isn't ideal. Source: derived, the incompressible guess (2.0 % a psi at 50 psi) and
    /// the choked one (1.88 %) differ by 0.12; taken as the half-width of a rectangle.
    /// </summary>
    public const double DerivedUncertaintyShare = 0.0012 / 1.7320508;

    /// <summary>From the flow of a choked nozzle.</summary>
    /// <param name="referencePsig">At which the vacuum is stated.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <returns>A shortfall where the venturi isn't choked at that pressure.</returns>
    public static Answer<VacuumLaw> Derived(double referencePsig, double atmospherePsi = StandardAir.PressurePsia)
    {
        Statistics.Finite.Require(referencePsig);
        StandardAir.RequirePositive(atmospherePsi, nameof(atmospherePsi));
        return ChokedVenturi.DepressionShare(referencePsig + 1, referencePsig, atmospherePsi) is { } share
            ? new VacuumLaw(new Uncertain(share - 1, DerivedUncertaintyShare), referencePsig, VacuumLawSource.Derived)
            : new Shortfall("psi at the venturi (below, it is not choked)", referencePsig, ChokedVenturi.ChokedAbovePsig(atmospherePsi));
    }

    /// <summary>What the air makes of the vacuum, as a share of that at the reference pressure; the line goes no further than to 0.</summary>
    public double ShareAt(double airPsig) => Math.Max(0, 1 + (SharePerPsi.Value * (airPsig - ReferencePsig)));

    /// <summary>
    /// The vacuum as it would be at the reference pressure, in its own unit. A shortfall where the law leaves less than a fifth, which is below
    /// the choked range for any slope here: there the law says nothing.
    /// </summary>
    /// <param name="vacuum">In any unit, as a positive depression, finite.</param>
    /// <param name="airPsig">At the same instant, finite.</param>
    public Answer<double> Normalised(double vacuum, double airPsig)
    {
        Statistics.Finite.Require(vacuum);
        Statistics.Finite.Require(airPsig);
        double share = ShareAt(airPsig);
        return share >= LeastShare ? vacuum / share : new Shortfall("of the vacuum that the air leaves", share, LeastShare);
    }

    /// <summary>
    /// The vacuum at one pressure as a share of that at another, by a slope that this bench has; null where the nozzle is not choked or the law leaves
    /// less than a fifth, because then it says nothing.
    /// </summary>
    /// <param name="sharePerPsi">Relative to the vacuum at <paramref name="statedAtPsig"/>, 1/psi.</param>
    /// <param name="statedAtPsig">The setpoint.</param>
    /// <param name="airPsig">Now.</param>
    /// <param name="referencePsig">At the reference.</param>
    public static double? Share(double sharePerPsi, double statedAtPsig, double airPsig, double referencePsig)
    {
        double choked = ChokedVenturi.ChokedAbovePsig();
        double now = 1 + (sharePerPsi * (airPsig - statedAtPsig));
        double then = 1 + (sharePerPsi * (referencePsig - statedAtPsig));
        return airPsig > choked && referencePsig > choked && now >= LeastShare && then >= LeastShare ? now / then : null;
    }

    private const double LeastShare = 0.2;
}

/// <summary>What is to be done with a learned slope.</summary>
public enum LearnedVerdict
{
    /// <summary>Good enough: judge by it.</summary>
    UseLearned,

    /// <summary>Too uncertain as yet: keep the derived one.</summary>
    KeepDerived,

    /// <summary>Sure, but no venturi behaves so: look at gauges and plumbing, and keep the derived one.</summary>
    Implausible,
}

/// <summary>A slope learned from a bench.</summary>
/// <param name="Law">As learned.</param>
/// <param name="Derived">As derived, for the same reference.</param>
/// <param name="Verdict">Which to use.</param>
/// <param name="InUse">The one to use.</param>
/// <param name="AirRangePsi">Over which the air moved (5 to 95 %).</param>
/// <param name="Fit">The line behind it: vacuum's unit a psi.</param>
public sealed record LearnedVacuumLaw(
    VacuumLaw Law, VacuumLaw Derived, LearnedVerdict Verdict, VacuumLaw InUse, double AirRangePsi, KnownCauseFit Fit)
{
    /// <summary>
    /// Half-width of the 95 % interval that a learned slope needs, 1/psi. Derived: at the ±2 psi at which regulated air is called out, 0.5 % a psi
    /// misplaces 1 % of vacuum, a fifth of the ±5 % that is normal.
    /// </summary>
    public const double GoodWithin = 0.005;

    /// <summary>The air must have moved by so much, psi. Source: common practice, no source.</summary>
    public const double LeastRangePsi = 1;

    /// <summary>A slope outside these multiples of the derived one is none of a venturi's. Source: common practice, no source.</summary>
    public const double ImplausibleBelow = 0.4, ImplausibleAbove = 2.5;

    /// <summary>
    /// Learns from readings of the same instants with tape held and nothing else changing: <see cref="KnownCause"/>, which bears wild readings and
    /// correlated noise. Noise of the pressure reading flattens the slope; with a range of 1 psi and a noise of 0.03 psi by less than 1 %.
    /// </summary>
    /// <param name="seconds">Rising.</param>
    /// <param name="airPsig">As many.</param>
    /// <param name="vacuum">As many, in any one unit, as a positive depression.</param>
    /// <param name="referencePsig">The pressure to state the vacuum at: the setpoint.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    /// <returns>A shortfall of independent points, of range of the air, of vacuum at the reference, or of a choked venturi.</returns>
    /// <exception cref="ArgumentException">Lengths differ, times don't rise, or a number is not finite.</exception>
    public static Answer<LearnedVacuumLaw> Learn(
        ReadOnlySpan<double> seconds,
        ReadOnlySpan<double> airPsig,
        ReadOnlySpan<double> vacuum,
        double referencePsig,
        double atmospherePsi = StandardAir.PressurePsia)
    {
        Answer<VacuumLaw> derived = VacuumLaw.Derived(referencePsig, atmospherePsi);
        Answer<KnownCauseFit> fit = KnownCause.Fit(seconds, airPsig, vacuum);
        if (!derived.IsKnown || !fit.IsKnown)
        {
            return derived.Missing ?? fit.Missing!;
        }

        double range = StandardAir.Range(airPsig);
        if (range < LeastRangePsi)
        {
            return new Shortfall("psi over which the air moved", range, LeastRangePsi);
        }

        double atReference = fit.Value.Intercept + (fit.Value.Slope * referencePsig);
        if (!(atReference > 0))
        {
            return new Shortfall("of vacuum at the reference pressure", atReference, 0);
        }

        // The level is known far better than the slope, whose uncertainty is all that counts.
        double half = (fit.Value.Upper - fit.Value.Lower) / 2 / atReference;
        double share = fit.Value.Slope / atReference;
        double freedom = Math.Max(1, fit.Value.EffectivePoints - 2);
        var law = new VacuumLaw(new Uncertain(share, half / Coverage.Factor(freedom), freedom), referencePsig, VacuumLawSource.Learned);
        double expected = derived.Value.SharePerPsi.Value;
        LearnedVerdict verdict = half > GoodWithin
            ? LearnedVerdict.KeepDerived
            : share < ImplausibleBelow * expected || share > ImplausibleAbove * expected ? LearnedVerdict.Implausible : LearnedVerdict.UseLearned;
        return new LearnedVacuumLaw(law, derived.Value, verdict, verdict == LearnedVerdict.UseLearned ? law : derived.Value, range, fit.Value);
    }
}
