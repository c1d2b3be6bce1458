using DriftWatch.Analysis.Calibrating;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>What is played while the record is taken.</summary>
public enum TapePlayed
{
    /// <summary>A tape whose recording geometry is the standard's: what is shown is this machine's.</summary>
    Reference,

    /// <summary>A tape recorded elsewhere: what is shown is the difference to the machine that recorded it, which is what playing it needs.</summary>
    FromElsewhere,

    /// <summary>A tape recorded on this machine since it was last moved: what is shown is none of the geometry, since both sides cancel.</summary>
    OwnUnmoved,
}

/// <summary>What there is to turn.</summary>
public enum Adjustment
{
    /// <summary>Penetration: the guide towards the wheel or away from it; skew.</summary>
    GuideInOut,

    /// <summary>The guide along the heads' motion at mid-pass; scallop.</summary>
    GuideHeight,

    /// <summary>Quadrature delay of one head; step.</summary>
    HeadDelay,
}

/// <summary>Whether to turn it.</summary>
public enum AdviceVerdict
{
    /// <summary>Within the tolerance.</summary>
    LeaveWithinTolerance,

    /// <summary>Beyond the tolerance, yet within two standard errors of nothing: measure more revolutions first.</summary>
    LeaveNotSure,

    /// <summary>Turn it.</summary>
    Turn,
}

/// <summary>One piece of advice.</summary>
/// <param name="Adjustment">What.</param>
/// <param name="Head">Which head's delay, 1 to 4; 0 for the guide.</param>
/// <param name="Verdict">Whether.</param>
/// <param name="SeenNs">What is seen: skew from end to end, sagitta or step.</param>
/// <param name="ToleranceNs">What is left alone.</param>
/// <param name="Amount">How far it is off: mil for the guide, arc-minutes for a head; signed as p, h and lag are.</param>
/// <param name="SureOfSense">How sure the direction is, 0.5 … 1.</param>
/// <param name="Severity">0 within tolerance, 1 beyond, 2 beyond the advisory limit, 3 beyond the alarm limit.</param>
/// <param name="Text">In words.</param>
public sealed record GuideAdviceItem(
    Adjustment Adjustment, int Head, AdviceVerdict Verdict, Uncertain SeenNs, double ToleranceNs, Uncertain Amount, double SureOfSense, int Severity, string Text);

/// <summary>Limits of one quantity of the timing, in ns.</summary>
/// <param name="ToleranceNs">Below this nothing is turned.</param>
/// <param name="AdvisoryNs">Beyond this a judge speaks.</param>
/// <param name="AlarmNs">Beyond this it insists.</param>
/// <param name="Source">Where the numbers are from.</param>
public sealed record TimingTolerance(double ToleranceNs, double AdvisoryNs, double AlarmNs, string Source)
{
    /// <summary>Skew from end to end: 45 ns is 0.05 mil, about 4° of hue at the end of a line.</summary>
    public static TimingTolerance Skew { get; } = new(45, 100, 300, "common practice, no source; 45 ns is 0.05 mil and about 4 degrees of hue (derived)");

    /// <summary>Sagitta: 20, 40 and 100 ns are 0.1, 0.2 and 0.5 mil.</summary>
    public static TimingTolerance Scallop { get; } = new(20, 40, 100, "common practice, no source; 20 ns is 0.1 mil (derived)");

    /// <summary>Step of a head: 30, 50 and 100 ns are 0.15, 0.26 and 0.52 arc-minutes.</summary>
    public static TimingTolerance Step { get; } = new(30, 50, 100, "common practice, no source; 30 ns is 0.15 arc-minutes (derived)");

    /// <summary>0 within, 1 beyond the tolerance, 2 the advisory limit, 3 the alarm limit.</summary>
    public int Severity(double ns) => Math.Abs(ns) > AlarmNs ? 3 : Math.Abs(ns) > AdvisoryNs ? 2 : Math.Abs(ns) > ToleranceNs ? 1 : 0;
}

/// <summary>
/// What to turn, which way, by how much and how sure, from a decomposition. Playing a reference tape e = (h·cos θ − p·sin θ)/v, so
/// p = −skew·v: negative is a guide too far IN; h is along the heads' motion. The amount assumes that the knob moves the guide's
/// centre by what it says; the half-error loop learns that.
/// </summary>
public static class GuideAdvice
{
    /// <summary>Less than this many standard errors is not told from nothing.</summary>
    private const double TooUnsure = 2;

    /// <summary>A head with 2 to 3 mil of penetration (from memory) leaves the tape at one end when the guide is out by this much.</summary>
    private const double DropoutMil = 1.5;

    /// <param name="decomposition">From <see cref="TimingFit"/>.</param>
    /// <param name="played">What tape.</param>
    /// <returns>One item for penetration, one for height, one for each head there; a shortfall where nothing of the geometry shows.</returns>
    public static Answer<IReadOnlyList<GuideAdviceItem>> For(TimingDecomposition decomposition, TapePlayed played)
    {
        ArgumentNullException.ThrowIfNull(decomposition);
        if (played == TapePlayed.OwnUnmoved)
        {
            return new Shortfall("recordings that show this machine's geometry (its own, played unmoved, shows none)", 0, 1);
        }

        TimingTerms terms = decomposition.Terms;
        TimingStandard standard = decomposition.Standard;
        var items = new List<GuideAdviceItem>
        {
            Guide(Adjustment.GuideInOut, terms.SkewPeakToPeakNs, decomposition.PenetrationMil, TimingTolerance.Skew, played),
            Guide(Adjustment.GuideHeight, terms.SagittaNs, decomposition.HeightMil, TimingTolerance.Scallop, played),
        };
        for (int head = 1; head <= 4; head++)
        {
            if (terms.Step(head) is { IsKnown: true } step)
            {
                items.Add(Delay(head, step.Value, step.Value.Over(standard.NsPerArcMinute)));
            }
        }

        return items;
    }

    private static GuideAdviceItem Guide(Adjustment adjustment, Uncertain seen, Uncertain mil, TimingTolerance tolerance, TapePlayed played)
    {
        bool inOut = adjustment == Adjustment.GuideInOut;
        AdviceVerdict verdict = Verdict(seen, tolerance);
        string what = inOut ? "guide in/out (penetration)" : "guide height";
        string seenText = $"{(inOut ? "skew" : "scallop")} {seen.Value:+0.0;-0.0} ± {seen.StandardUncertainty:0.0} ns, {Math.Abs(mil.Value):0.000} ± {mil.StandardUncertainty:0.000} mil ({Math.Abs(mil.Value) * TimingStandard.MicrometresPerMil:0.0} µm)";
        string way = inOut
            ? mil.Value > 0 ? "IN, towards the wheel" : "OUT, away from the wheel"
            : mil.Value > 0 ? "against the heads' motion" : "along the heads' motion";
        double sure = Sure(seen);
        string text = verdict switch
        {
            AdviceVerdict.LeaveWithinTolerance => $"leave the {what}: {seenText}, within {tolerance.ToleranceNs:0} ns",
            AdviceVerdict.LeaveNotSure => $"leave the {what} for now: {seenText}, not told from nothing; measure more revolutions",
            _ => $"move the {what} {way} by {Math.Abs(mil.Value):0.000} mil ({Math.Abs(mil.Value) * TimingStandard.MicrometresPerMil:0.0} µm): {seenText}; the direction is {Percent(sure)} sure{Against(played)}"
                + (inOut && mil.Value > DropoutMil ? ". This far out a head leaves the tape at one end: expect dropouts" : ""),
        };
        return new GuideAdviceItem(adjustment, 0, verdict, seen, tolerance.ToleranceNs, mil, sure, tolerance.Severity(seen.Value), text);
    }

    private static GuideAdviceItem Delay(int head, Uncertain seen, Uncertain arcMinutes)
    {
        TimingTolerance tolerance = TimingTolerance.Step;
        AdviceVerdict verdict = Verdict(seen, tolerance);
        string seenText = $"{Math.Abs(seen.Value):0.0} ± {seen.StandardUncertainty:0.0} ns {(seen.Value > 0 ? "late" : "early")} ({Math.Abs(arcMinutes.Value):0.000} arc-minutes)";
        double sure = Sure(seen);
        string text = verdict switch
        {
            AdviceVerdict.LeaveWithinTolerance => $"leave the delay of head {head}: {seenText}, within {tolerance.ToleranceNs:0} ns",
            AdviceVerdict.LeaveNotSure => $"leave the delay of head {head} for now: {seenText}, not told from nothing; measure more revolutions",
            _ => $"{(seen.Value > 0 ? "take" : "add")} {Math.Abs(seen.Value):0.0} ns {(seen.Value > 0 ? "out of" : "to")} the delay of head {head}: {seenText}; the direction is {Percent(sure)} sure",
        };
        return new GuideAdviceItem(Adjustment.HeadDelay, head, verdict, seen, tolerance.ToleranceNs, arcMinutes, sure, tolerance.Severity(seen.Value), text);
    }

    private static AdviceVerdict Verdict(Uncertain seen, TimingTolerance tolerance) =>
        Math.Abs(seen.Value) <= tolerance.ToleranceNs ? AdviceVerdict.LeaveWithinTolerance
        : Math.Abs(seen.Value) <= TooUnsure * seen.StandardUncertainty ? AdviceVerdict.LeaveNotSure
        : AdviceVerdict.Turn;

    /// <summary>Student's t: how much of it lies on the side of the sign that was seen.</summary>
    private static double Sure(Uncertain seen) =>
        seen.StandardUncertainty > 0
            ? StudentT.CDF(0, 1, Math.Max(1, Math.Min(seen.Freedom, 1e6)), Math.Abs(seen.Value) / seen.StandardUncertainty)
            : seen.Value != 0 ? 1 : 0.5;

    private static string Percent(double share) => share > 0.999 ? "more than 99.9 %" : $"{100 * share:0.0} %";

    private static string Against(TapePlayed played) => played == TapePlayed.FromElsewhere
        ? "; this matches the guide to this tape, and says nothing of the guide against the standard"
        : "";
}
