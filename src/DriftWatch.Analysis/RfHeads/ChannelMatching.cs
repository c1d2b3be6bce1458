using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>What to do with a channel's control.</summary>
public enum Turn
{
    /// <summary>Within the tolerance, and known to be.</summary>
    Leave,

    /// <summary>Turn it up.</summary>
    Up,

    /// <summary>Turn it down.</summary>
    Down,

    /// <summary>Neither a mismatch nor a match is known: read longer.</summary>
    ReadLonger,
}

/// <summary>Two bars as one head shows them, each with its uncertainty, in one unit: mV or IRE.</summary>
/// <param name="Dark">The darker bar.</param>
/// <param name="Bright">The brighter bar.</param>
public readonly record struct TwoBars(Uncertain Dark, Uncertain Bright)
{
    /// <summary>Mean and its standard uncertainty from readings that scatter independently (JCGM 100:2008, 4.2).</summary>
    /// <param name="dark">Readings of the darker bar.</param>
    /// <param name="bright">Readings of the brighter bar.</param>
    /// <returns>A shortfall with fewer than 2 readings of a bar.</returns>
    /// <exception cref="ArgumentException">A reading is not finite.</exception>
    public static Answer<TwoBars> From(ReadOnlySpan<double> dark, ReadOnlySpan<double> bright)
    {
        Finite.Require(dark);
        Finite.Require(bright);
        return dark.Length < 2 || bright.Length < 2
            ? new Shortfall("readings of a bar", Math.Min(dark.Length, bright.Length), 2)
            : new TwoBars(Mean(dark), Mean(bright));
    }

    private static Uncertain Mean(ReadOnlySpan<double> readings)
    {
        double mean = Trend.Points.Mean(readings);
        double squares = 0;
        foreach (double reading in readings)
        {
            squares += (reading - mean) * (reading - mean);
        }

        int n = readings.Length;
        return new Uncertain(mean, Math.Sqrt(squares / (n - 1) / n), n - 1);
    }
}

/// <summary>How far one channel is from the first, and what to turn.</summary>
/// <param name="Head">2 to 4.</param>
/// <param name="GainPercent">Its step between the bars over the first head's, less one, in percent: positive where it is too large.</param>
/// <param name="GainDb">The same in decibels.</param>
/// <param name="OffsetPercent">What its darker bar would be off once the gain is turned, in percent of the first head's step.</param>
/// <param name="Offset">The same in the unit of the bars.</param>
/// <param name="TurnGain">The gain; first.</param>
/// <param name="TurnOffset">The offset (black), after the gain.</param>
public readonly record struct ChannelMismatch(
    int Head, Uncertain GainPercent, Uncertain GainDb, Uncertain OffsetPercent, Uncertain Offset, Turn TurnGain, Turn TurnOffset)
{
    /// <summary>Both are known to be within the tolerance.</summary>
    public bool IsMatched => TurnGain == Turn.Leave && TurnOffset == Turn.Leave;
}

/// <summary>
/// Matching of the channels to that of head 1 on two luminance bars: gain by the step between the bars, offset by the darker bar. Bands of
/// sixteen lines show a mismatch, since each head writes one. Uncertainties by the law of propagation (JCGM 100:2008, 5.1.2).
/// </summary>
public static class ChannelMatching
{
    /// <summary>Good enough, percent of the step between the bars: 1 %, some 0.09 dB. Source: common practice, no source.</summary>
    public const double GoodWithinPercent = 1;

    /// <param name="first">Head 1's bars.</param>
    /// <param name="other">Those of the head to be matched.</param>
    /// <param name="head">2 to 4.</param>
    /// <param name="goodWithinPercent">Tolerance of gain and offset, above zero.</param>
    /// <param name="confidence">With which a match or a mismatch is to be known, two-sided.</param>
    /// <returns>A shortfall where a head's bars are not known apart, the brighter above the darker.</returns>
    /// <exception cref="ArgumentOutOfRangeException">There is no such head, or the tolerance is not above zero.</exception>
    public static Answer<ChannelMismatch> Compare(
        in TwoBars first, in TwoBars other, int head, double goodWithinPercent = GoodWithinPercent, double confidence = 0.95)
    {
        if (head is < 2 or > FourHeads.Count)
        {
            throw new ArgumentOutOfRangeException(nameof(head), head, "Heads 2 to 4 are matched to head 1.");
        }

        if (!(goodWithinPercent > 0 && double.IsFinite(goodWithinPercent)))
        {
            throw new ArgumentOutOfRangeException(nameof(goodWithinPercent), goodWithinPercent, "A tolerance is above zero.");
        }

        foreach (TwoBars bars in (TwoBars[])[first, other])
        {
            Uncertain step = Step(bars);
            double least = Math.Max(step.Expanded(confidence), double.Epsilon);
            if (step.Value < least)
            {
                return new Shortfall("of a step between the bars, in their unit", step.Value, least);
            }
        }

        double firstStep = Step(first).Value;
        double gain = Step(other).Value / firstStep;
        double offset = (other.Dark.Value / gain) - first.Dark.Value;

        // Derivatives of gain and offset by the four readings, in the order dark and bright of the first, dark and bright of the other.
        double alongGain = -other.Dark.Value / (gain * gain);
        double[] gains = [gain / firstStep, -gain / firstStep, -1 / firstStep, 1 / firstStep];
        double[] offsets = [(alongGain * gains[0]) - 1, alongGain * gains[1], (alongGain * gains[2]) + (1 / gain), alongGain * gains[3]];
        Uncertain g = Combine(gain - 1, gains, first, other);
        Uncertain o = Combine(offset, offsets, first, other);
        Uncertain gainPercent = g.Over(0.01);
        Uncertain offsetPercent = o.Over(firstStep / 100);
        return new ChannelMismatch(
            head,
            gainPercent,
            new Uncertain(20 * Math.Log10(gain), 20 / Math.Log(10) * g.StandardUncertainty / gain, g.Freedom),
            offsetPercent,
            o,
            Advise(gainPercent, goodWithinPercent, confidence),
            Advise(offsetPercent, goodWithinPercent, confidence));
    }

    /// <summary>Turn where it is surely out, leave where it is surely in; the tolerance is an engineer's, so either must be known.</summary>
    private static Turn Advise(Uncertain percent, double within, double confidence)
    {
        double reach = percent.Expanded(confidence);
        return Math.Abs(percent.Value) + reach <= within ? Turn.Leave
            : Math.Abs(percent.Value) > Math.Max(reach, within) ? (percent.Value > 0 ? Turn.Down : Turn.Up)
            : Turn.ReadLonger;
    }

    private static Uncertain Step(in TwoBars bars) => Combine(
        bars.Bright.Value - bars.Dark.Value, [-1, 1, 0, 0], bars, default(TwoBars) with { Dark = new Uncertain(0, 0), Bright = new Uncertain(0, 0) });

    private static Uncertain Combine(double value, double[] sensitivities, in TwoBars first, in TwoBars other) => Coverage.Combine(
        value,
        (Math.Abs(sensitivities[0]) * first.Dark.StandardUncertainty, first.Dark.Freedom),
        (Math.Abs(sensitivities[1]) * first.Bright.StandardUncertainty, first.Bright.Freedom),
        (Math.Abs(sensitivities[2]) * other.Dark.StandardUncertainty, other.Dark.Freedom),
        (Math.Abs(sensitivities[3]) * other.Bright.StandardUncertainty, other.Bright.Freedom));
}
