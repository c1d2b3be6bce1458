using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>Why a vacuum fell.</summary>
public enum VacuumFallCause
{
    /// <summary>The share can't be told from either side of a half.</summary>
    CannotBeTold,

    /// <summary>More than half of it is the air's: look at the air.</summary>
    FellWithTheAir,

    /// <summary>Less than half of it is the air's: look at tape, guide, slots and venturi.</summary>
    FellByItself,
}

/// <summary>How much of a fall of vacuum its air explains.</summary>
/// <param name="FallShare">Of the vacuum before, 0 … 1, with its uncertainty.</param>
/// <param name="AirShare">Of that fall, what the air explains: 1 all of it, 0 nothing; above 1 where the guide itself got better, below 0 where the air rose.</param>
/// <param name="ItselfShare">1 − <paramref name="AirShare"/>.</param>
/// <param name="NormalisedShare">What is left of the vacuum when the air's part is taken out, with its uncertainty.</param>
/// <param name="Cause">At 95 % confidence.</param>
public readonly record struct VacuumFallAnswer(
    Uncertain FallShare, Uncertain AirShare, Uncertain ItselfShare, Uncertain NormalisedShare, VacuumFallCause Cause);

/// <summary>
/// Splits a fall of guide vacuum into what the air took and what the guide lost by itself: with D = 1 − v/v0 and E = 1 − law(P)/law(P0) the air's share is E/D.
/// Uncertainties of both readings, both references and the law are combined to first order (GUM); where the fall is not beyond its own
/// uncertainty there is nothing to split.
/// </summary>
public static class VacuumFall
{
    private const double Half = 0.5;

    /// <param name="before">Vacuum before, above 0, in any one unit.</param>
    /// <param name="now">Vacuum now, in the same unit.</param>
    /// <param name="airBeforePsig">Air at the venturi before.</param>
    /// <param name="airNowPsig">Air now.</param>
    /// <param name="law">How vacuum follows the air.</param>
    /// <returns>A shortfall where vacuum fell by no more than its uncertainty, or where the law does not hold.</returns>
    /// <exception cref="ArgumentException">A value is not finite or the vacuum before is not above 0.</exception>
    public static Answer<VacuumFallAnswer> Split(Uncertain before, Uncertain now, Uncertain airBeforePsig, Uncertain airNowPsig, VacuumLaw law)
    {
        StandardAir.RequirePositive(before.Value, nameof(before));
        Statistics.Finite.Require(now.Value, nameof(now));
        double lawBefore = law.ShareAt(airBeforePsig.Value);
        double lawNow = law.ShareAt(airNowPsig.Value);
        double least = Math.Min(lawBefore, lawNow);
        if (!(least > 0))
        {
            return new Shortfall("of the vacuum that the air leaves", least, 0);
        }

        double left = now.Value / before.Value;
        Uncertain fall = Coverage.Combine(
            1 - left,
            (now.StandardUncertainty / before.Value, now.Freedom),
            (Math.Abs(left) * before.StandardUncertainty / before.Value, before.Freedom));
        if (fall.Value <= fall.Expanded())
        {
            return new Shortfall("of fall beyond its uncertainty", fall.Value, fall.Expanded());
        }

        double s = law.SharePerPsi.Value;
        double byAir = lawNow / lawBefore;

        // d(byAir)/ds of (1 + s·a)/(1 + s·b) is (a − b)/(1 + s·b)².
        double bySlope = (airNowPsig.Value - airBeforePsig.Value) / (lawBefore * lawBefore);
        (double, double)[] air =
        [
            (Math.Abs(s) / lawBefore * airNowPsig.StandardUncertainty, airNowPsig.Freedom),
            (Math.Abs(s) * byAir / lawBefore * airBeforePsig.StandardUncertainty, airBeforePsig.Freedom),
            (Math.Abs(bySlope) * law.SharePerPsi.StandardUncertainty, law.SharePerPsi.Freedom),
        ];
        double expected = 1 - byAir;
        double share = expected / fall.Value;
        Uncertain airShare = Coverage.Combine(
            share,
            [.. air.Select(p => (p.Item1 / fall.Value, p.Item2)), (Math.Abs(share) * fall.StandardUncertainty / fall.Value, fall.Freedom)]);
        double normalised = left / byAir;
        Uncertain guide = Coverage.Combine(
            normalised,
            [.. air.Select(p => (Math.Abs(normalised) / byAir * p.Item1, p.Item2)), (fall.StandardUncertainty / byAir, fall.Freedom)]);
        double reach = airShare.Expanded();
        VacuumFallCause cause = share - reach > Half ? VacuumFallCause.FellWithTheAir
            : share + reach < Half ? VacuumFallCause.FellByItself : VacuumFallCause.CannotBeTold;
        return new VacuumFallAnswer(fall, airShare, airShare with { Value = 1 - share }, guide, cause);
    }
}
