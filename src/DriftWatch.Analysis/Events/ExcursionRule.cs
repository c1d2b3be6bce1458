using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

public enum ExcursionSide
{
    Above,
    Below,
}

/// <summary>
/// When a value is away from where it belongs: it leaves when it reaches <see cref="StartLevel"/> and is back when it reaches
/// <see cref="EndLevel"/>, which lies on the good side of it, so that noise smaller than the distance of the two makes no
/// further excursions. The same two levels define the dip of a supply voltage in IEC 61000-4-30 (threshold and
/// hysteresis; from memory). Levels in the values' unit, times in seconds.
/// </summary>
public sealed record ExcursionRule
{
    /// <param name="side">Which way is away.</param>
    /// <param name="startLevel">Reached or passed: the excursion begins. Where both levels are the same: passed.</param>
    /// <param name="endLevel">Reached or passed on the way back: it ends. Equal to the start level, or on its good side.</param>
    /// <exception cref="ArgumentException">A level is not finite, or the end level lies beyond the start level.</exception>
    public ExcursionRule(ExcursionSide side, double startLevel, double endLevel)
    {
        Finite.Require(startLevel);
        Finite.Require(endLevel);
        if (side == ExcursionSide.Above ? endLevel > startLevel : endLevel < startLevel)
        {
            throw new ArgumentException("The end level lies beyond the start level; it belongs on the good side of it.", nameof(endLevel));
        }

        (Side, StartLevel, EndLevel) = (side, startLevel, endLevel);
    }

    public ExcursionSide Side { get; }

    public double StartLevel { get; }

    public double EndLevel { get; }

    /// <summary>Excursions with less than this between the end of one and the start of the next are one. 0: none are joined.</summary>
    /// <exception cref="ArgumentException">Set to something below 0 or not finite.</exception>
    public double MinSeparationSeconds
    {
        get;
        init => field = NotNegative(value);
    }

    /// <summary>Shorter ones, once joined, are not told. 0: all are.</summary>
    /// <inheritdoc cref="MinSeparationSeconds"/>
    public double MinDurationSeconds
    {
        get;
        init => field = NotNegative(value);
    }

    /// <summary>
    /// Where samples are further apart than this nothing is known in between: an excursion ends at the last sample before the gap
    /// and is marked so; the next is never joined to it. Infinity: no gap is too long.
    /// </summary>
    /// <exception cref="ArgumentException">Set to something not above 0.</exception>
    public double LongestGapSeconds
    {
        get;
        init => field = value > 0 ? value : throw new ArgumentException("A gap is longer than 0 s.", nameof(value));
    } = double.PositiveInfinity;

    /// <summary>Whether a value begins an excursion. Where both levels are the same it must pass them.</summary>
    internal bool IsAway(double value) => Side == ExcursionSide.Above
        ? value >= StartLevel && value > EndLevel
        : value <= StartLevel && value < EndLevel;

    /// <summary>How far a value lies beyond the end level, in the values' unit.</summary>
    internal double Beyond(double value) => Side == ExcursionSide.Above ? value - EndLevel : EndLevel - value;

    /// <summary>Distance of the two levels.</summary>
    internal double Hysteresis => Side == ExcursionSide.Above ? StartLevel - EndLevel : EndLevel - StartLevel;

    private static double NotNegative(double value) =>
        value >= 0 && double.IsFinite(value) ? value : throw new ArgumentException("Seconds are 0 or more.", nameof(value));
}

/// <summary>How an excursion came to its end.</summary>
public enum ExcursionEnd
{
    /// <summary>The value came back to the end level.</summary>
    CameBack,

    /// <summary>The samples stopped for longer than the rule allows; it ended at the last sample before the gap or later.</summary>
    Gap,

    /// <summary>It had not come back when the data ended.</summary>
    Open,
}

/// <summary>One excursion, joined where the rule joins. Crossings are on the straight line between the samples on both sides.</summary>
/// <param name="Start">When the start level was crossed; the first sample's time where it comes after a gap or begins the data. In seconds.</param>
/// <param name="End">When the end level was crossed on the way back, or the last sample's time. In seconds.</param>
/// <param name="Extreme">The furthest sample, in the values' unit; the first of equals.</param>
/// <param name="ExtremeTime">Its time in seconds.</param>
/// <param name="Area">∫ of how far the value lay beyond the end level, from start to end without what lies between joined parts, by trapezoids: value unit × s, never below 0.</param>
/// <param name="Parts">How many were joined, 1 or more.</param>
/// <param name="Ended">How it ended.</param>
public readonly record struct Excursion(
    double Start, double End, double Extreme, double ExtremeTime, double Area, int Parts, ExcursionEnd Ended)
{
    /// <summary>End − start in seconds; with joined parts the time between them counts.</summary>
    public double Duration => End - Start;

    internal Excursion Joined(Excursion next, ExcursionSide side)
    {
        bool further = side == ExcursionSide.Above ? next.Extreme > Extreme : next.Extreme < Extreme;
        return new Excursion(
            Start,
            next.End,
            further ? next.Extreme : Extreme,
            further ? next.ExtremeTime : ExtremeTime,
            Area + next.Area,
            Parts + next.Parts,
            next.Ended);
    }
}
