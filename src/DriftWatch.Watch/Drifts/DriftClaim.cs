namespace DriftWatch.Watch.Drifts;

/// <summary>What a window must show before it is said that a channel drifts.</summary>
internal static class DriftClaim
{
    /// <summary>
    /// Share of the tolerance that must be used where the limit is soon reached. Source: derived. A drift that uses the whole in two hours has used a fifth after
    /// 24 minutes, so 24 are left to be sure before 40 %; and what is within it (a sensor that warms up, a knob that is touched and touched back) comes and goes on a sound machine.
    /// </summary>
    public const double LeastUsedShare = 0.2;

    /// <summary>
    /// Where there is more time, and of the regulated air in any case, which wanders by itself: the regulator's seat, the room, the hand at its knob.
    /// Source: common practice, no source; on tuning nights nothing else drifted by a fifth towards a limit two hours off unless it was broken.
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
    /// Deviations by which an uncertain quantity must have left its baseline. Source: derived, four for some 3,600 independent looks at one in 100 nights of 12 h, one of
    /// 30,000 beyond by chance; six because looks overlap and the supply's swing is not the same from one tape to the next (tuning nights: one sound one reached five).
    /// </summary>
    public const double Beyond = 6;

    /// <summary>
    /// The regulated air, which wanders, uses its whole tolerance in so many seconds or less, or it can wait until half is used. Source: derived, two hours and a tenth for
    /// the slope's own error; on practice nights a sound regulator went as fast as that once or twice in 100 nights of 12 h.
    /// </summary>
    public const double SlowestOfAir = 8000;

    /// <summary>The share that a slower one must have used. Source: common practice, no source.</summary>
    public const double UsedShareOfSlowAir = 0.5;

    /// <summary>How often a random walk is so straight that the air's may be slower. Source: common practice, no source; chosen on tuning nights.</summary>
    public const double Straight = 0.001;

    /// <summary>A jump of this share of the rise is a step and no drift; used where the noise is slow. Source: derived, a staircase of three even steps has jumps of a third.</summary>
    public const double GreatestJump = 0.25;

    /// <summary>New ground is this share of what the line has used. Source: derived, a steady drift seen through a window as long as what came before breaks half of it anew.</summary>
    public const double NewGroundOfUsed = 0.3;

    /// <summary>So much will do where the line is <see cref="AllButStraight"/>: a hand may have set the channel there before. Source: common practice, no source; chosen on tuning nights.</summary>
    public const double LittleNewGround = 0.1;

    /// <summary>How often a random walk is as straight as that. Source: common practice, no source; chosen on tuning nights.</summary>
    public const double AllButStraight = 0.003;

    /// <summary>
    /// The more time there is, the more must be used. Source: derived, a drift that uses all in two hours has 96 minutes left at a fifth. What is more than three
    /// hours off can wait, and where the regulated air has used less than a quarter it must be all but straight: a wave in the room or a hand on the knob is mostly as slow, or as crooked: common practice, no source.
    /// </summary>
    public static double LeastUsed(double secondsLeft, bool isAir) => secondsLeft switch
    {
        > 10800 => 0.4,
        > 7200 => UsedShareOfDoubt,
        > 6000 when isAir => UsedShareOfDoubt,
        _ => LeastUsedShare,
    };

    /// <summary>The slope is no noise's, or no random walk's and no step, and it has used and broken anew as much as it must where it is not all but straight.</summary>
    public static bool IsClaimed(DriftWindow window, in WindowDrift drift, double used, double secondsLeft, double? newGround, bool isAir) =>
        (drift.ByWalk <= AllButStraight || (used >= (isAir ? UsedShareOfDoubt : LeastUsedShare) && !(newGround < NewGroundOfUsed)))
        && (!isAir || secondsLeft <= SlowestOfAir * (1 - used) || used >= UsedShareOfSlowAir || drift.ByWalk <= Straight)
        && ((drift.Known is { } known && known.Significance <= Stringent && window.IsNoStep(known.EffectiveSize))
        || (drift.ByWalk <= ByWalk && window.GreatestJump() <= GreatestJump));
}
