namespace DriftWatch.Watch.Drifts;

/// <summary>What a window must show before it is said that a channel drifts.</summary>
internal static class DriftClaim
{
    /// <summary>
    /// Share of the tolerance that must be used where the limit is soon reached. Source: derived. A drift that uses the whole in two hours has used a good fifth after
    /// 26 minutes, so 22 are left to be sure before 40 %; and what is within it (a sensor that warms up) comes and goes on a sound machine.
    /// </summary>
    public const double LeastUsedShare = 0.22;

    /// <summary>
    /// Where there is more time. Source: common practice, no source; on tuning nights nothing else drifted by a fifth towards a limit two hours off unless it was broken.
    /// </summary>
    public const double UsedShareOfDoubt = 0.25;

    /// <summary>
    /// How often noise may show the slope. Source: derived. One false finding in 100 nights of 12 h over 30 channels, with some 340
    /// looks of their own a channel and night (36, 18, 9 and 4.5 windows side by side, five times that because they overlap), is one
    /// look in a million.
    /// </summary>
    public const double Stringent = 1e-6;

    /// <summary>
    /// How often a random walk may show the slope where the noise is too slow for an effective size. Source: common practice, no source; chosen on tuning
    /// nights. Against such noise no window is long enough to be as sure as above: there the size of the used share and new ground are the claim.
    /// </summary>
    public const double ByWalk = 0.02;

    /// <summary>
    /// And where what hands did is known and out, so that less is left that looks like a drift. Source: common practice, no source; chosen on 200 sound nights, of which none
    /// was said to drift, and 63 that drifted.
    /// </summary>
    public const double ByWalkWithoutHands = 0.06;

    /// <summary>
    /// Deviations by which an uncertain quantity must have left its baseline. Source: derived, four for some 3,600 independent looks at one in 100 nights of 12 h, one of
    /// 30,000 beyond by chance; six because looks overlap and the supply's swing is not the same from one tape to the next (tuning nights: one sound one reached five).
    /// </summary>
    public const double Beyond = 6;

    /// <summary>A jump of this share of the rise is a step and no drift; used where the noise is slow. Source: derived, a staircase of three even steps has jumps of a third.</summary>
    public const double GreatestJump = 0.25;

    /// <summary>And where hands are out. Source: derived, the same staircase.</summary>
    public const double GreatestJumpWithoutHands = 0.3;

    /// <summary>New ground is this share of what the line has used. Source: derived, a steady drift seen through a window as long as what came before breaks half of it anew.</summary>
    public const double NewGroundOfUsed = 0.3;

    /// <summary>So much will do where the line is <see cref="AllButStraight"/>: a hand may have set the channel there before. Source: common practice, no source; chosen on tuning nights.</summary>
    public const double LittleNewGround = 0.1;

    /// <summary>How often a random walk is as straight as that. Source: common practice, no source; chosen on tuning nights.</summary>
    public const double AllButStraight = 0.003;

    /// <summary>
    /// The more time there is, the more must be used. Source: derived, a drift that uses all in two hours has 96 minutes left at a fifth; what is more than three hours off can wait.
    /// </summary>
    public static double LeastUsed(double secondsLeft) => secondsLeft switch
    {
        > 10800 => 0.4,
        > 7200 => UsedShareOfDoubt,
        _ => LeastUsedShare,
    };

    /// <summary>The slope is no noise's, or no random walk's and no step, and it has broken as much anew as it must where it is not all but straight.</summary>
    public static bool IsClaimed(DriftWindow window, in WindowDrift drift, double? newGround) =>
        (drift.ByWalk <= AllButStraight || !(newGround < NewGroundOfUsed))
        && ((drift.Known is { } known && known.Significance <= Stringent && window.IsNoStep(known.EffectiveSize))
        || (drift.ByWalk <= (window.IsWithoutHands ? ByWalkWithoutHands : ByWalk) && window.GreatestJump() <= (window.IsWithoutHands ? GreatestJumpWithoutHands : GreatestJump)));
}
