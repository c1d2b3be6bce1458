using DriftWatch.Analysis.Calibrating;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>Kinds of <see cref="TimingNote"/>.</summary>
public enum TimingNoteKind
{
    /// <summary>A head has no samples, or too few: its step and slope are not told, the others' are counted from fewer.</summary>
    HeadMissing,

    /// <summary>Samples at the converter's end were left out.</summary>
    Clipped,

    /// <summary>The head-switch mark was off; the angles were turned back before fitting.</summary>
    AngleZeroCorrected,

    /// <summary>A mark a line off could not have been seen in this record.</summary>
    AngleZeroNotTold,

    /// <summary>Terms were fitted that the record hardly tells apart.</summary>
    Confounded,

    /// <summary>A speed error once a revolution would explain the steps and slopes as well.</summary>
    OncePerRevolutionInstead,
}

/// <summary>What a reader of a decomposition must know.</summary>
public sealed record TimingNote(TimingNoteKind Kind, string Text);

/// <summary>What else could have made the steps and slopes: a speed error once a revolution, A·sin ψ + B·cos ψ.</summary>
/// <param name="SineNs">A.</param>
/// <param name="CosineNs">B.</param>
/// <param name="ResidualRmsNs">What that model leaves.</param>
/// <param name="ExplainsAsWell">It leaves no more than slopes of each head do, and is beyond three of its standard errors.</param>
public sealed record RevolutionAlternative(Uncertain SineNs, Uncertain CosineNs, double ResidualRmsNs, bool ExplainsAsWell)
{
    public double AmplitudeNs => Math.Sqrt((SineNs.Value * SineNs.Value) + (CosineNs.Value * CosineNs.Value));
}

/// <summary>A record taken apart.</summary>
/// <param name="Terms">In ns.</param>
/// <param name="Standard">Of the machine.</param>
/// <param name="Condition">Of the design with unit columns.</param>
/// <param name="Used">The samples that were fitted, with their angles as fitted.</param>
/// <param name="ResidualNs">What is left, one a sample used.</param>
/// <param name="Zero">Where the angles' zero is.</param>
/// <param name="Alternative">A speed error once a revolution instead; null where the model already has one or it can't be fitted.</param>
/// <param name="Notes">What to know.</param>
public sealed record TimingDecomposition(
    TimingTerms Terms,
    TimingStandard Standard,
    double Condition,
    TimingSamples Used,
    IReadOnlyList<double> ResidualNs,
    AngleZeroAnswer Zero,
    RevolutionAlternative? Alternative,
    IReadOnlyList<TimingNote> Notes)
{
    /// <summary>Guide's centre away from the wheel against the recording's; negative is IN.</summary>
    public Uncertain PenetrationMil => Terms.PenetrationMil(Standard);

    /// <summary>Guide's centre along the heads' motion against the recording's.</summary>
    public Uncertain HeightMil => Terms.HeightMil(Standard);

    /// <summary>A head's lag against the mean of those there.</summary>
    public Answer<Uncertain> StepArcMinutes(int head) =>
        Terms.Step(head) is { IsKnown: true } step ? step.Value.Over(Standard.NsPerArcMinute) : Terms.Step(head).Missing!;
}

/// <summary>
/// The decomposition for any record: looks at what is wrong with it first (<see cref="Saturation"/>, <see cref="AngleZero"/>, missing
/// heads), fits what is there, and says what can't be told.
/// </summary>
public static class TimingFit
{
    /// <summary>Above this condition a note says that terms are confounded; 2 and 6.4 are the sound models', 31 is all terms at once.</summary>
    private const double ConfoundedCondition = 10;

    /// <summary>More of the record than this at the converter's end leaves too little of its shape. Chosen.</summary>
    private const double MostClipped = 0.4;

    /// <summary>Below this a speed error once a revolution is no matter: a tenth of what a good converter tells. Chosen.</summary>
    private const double LeastAmplitudeNs = 0.1;

    /// <param name="samples">One revolution or many.</param>
    /// <param name="model">Which terms.</param>
    /// <param name="ends">The converter's ends in ns, where known.</param>
    /// <returns>
    /// A shortfall where all values are the same, where too few points or angles are left, or where more than 40 % stand at
    /// the converter's end.
    /// </returns>
    public static Answer<TimingDecomposition> Decompose(
        TimingSamples samples, TimingModel model = TimingModel.PerHeadSlopes, (double LowNs, double HighNs)? ends = null)
    {
        ArgumentNullException.ThrowIfNull(samples);
        if (samples.Count == 0)
        {
            return new Shortfall("points", 0, 2);
        }

        if (!samples.ErrorsNs.ContainsAnyExcept(samples.ErrorsNs[0]))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        var notes = new List<TimingNote>();
        ClippedSamples clipped = Saturation.Find(samples, ends);
        if (clipped.Count > MostClipped * samples.Count)
        {
            return new Shortfall("points short of the converter's end", samples.Count - clipped.Count, Math.Ceiling((1 - MostClipped) * samples.Count));
        }

        if (clipped.Count > 0)
        {
            string at = string.Join(" and ", ((double?[])[clipped.LowNs, clipped.HighNs]).OfType<double>().Select(e => $"{e:0.#} ns"));
            notes.Add(new TimingNote(
                TimingNoteKind.Clipped,
                $"{clipped.Count} of {samples.Count} samples stand at {at}, the end of what was measured with, and were left out: widen the range and measure again."));
            samples = samples.Where([.. clipped.Clipped.Select(c => !c)]);
        }

        samples = OfWholeHeads(samples, notes);
        AngleZeroAnswer zero = AngleZero.Find(samples);
        samples = Turn(samples, zero, notes);
        Answer<TimingDecomposer> made = TimingDecomposer.For(samples, model);
        if (!made.IsKnown)
        {
            return made.Missing!;
        }

        TimingDecomposer fit = made.Value;
        TimingTerms terms = fit.Solve(samples.ErrorsNs);
        double[] residual = fit.ResidualNs.ToArray();
        if (fit.Condition > ConfoundedCondition)
        {
            notes.Add(new TimingNote(
                TimingNoteKind.Confounded,
                $"Some terms are hardly told apart here (condition {fit.Condition:0.0}): steps and slopes of the heads, or a speed error once a revolution, or a narrow part of the pass. Their standard errors say how far; more revolutions do not help."));
        }

        RevolutionAlternative? alternative = model == TimingModel.PerHeadSlopes ? Alternative(samples, terms) : null;
        if (alternative is { ExplainsAsWell: true })
        {
            notes.Add(new TimingNote(
                TimingNoteKind.OncePerRevolutionInstead,
                $"A speed error of {alternative.AmplitudeNs:0.0} ns once a revolution would explain the heads' steps and slopes as well (it leaves {alternative.ResidualRmsNs:0.00} ns, the steps and slopes {terms.ResidualRmsNs:0.00}): look at the wheel servo before the delays."));
        }

        return new TimingDecomposition(terms, samples.Standard, fit.Condition, samples, residual, zero, alternative, notes);
    }

    private static TimingSamples OfWholeHeads(TimingSamples samples, List<TimingNote> notes)
    {
        var counts = new int[4];
        foreach (int head in samples.Heads)
        {
            counts[head - 1]++;
        }

        for (int k = 0; k < 4; k++)
        {
            if (counts[k] < TimingTerms.LeastPointsOfAHead)
            {
                notes.Add(new TimingNote(
                    TimingNoteKind.HeadMissing,
                    $"Head {k + 1} has {counts[k]} samples, {TimingTerms.LeastPointsOfAHead} are needed: its step and slope can't be told, and the other heads' are against the mean of those there."));
            }
        }

        int[] heads = samples.Heads.ToArray();
        return samples.Where([.. heads.Select(h => counts[h - 1] >= TimingTerms.LeastPointsOfAHead)]);
    }

    private static TimingSamples Turn(TimingSamples samples, AngleZeroAnswer zero, List<TimingNote> notes)
    {
        switch (zero.Verdict)
        {
            case AngleZeroVerdict.Off:
                notes.Add(new TimingNote(
                    TimingNoteKind.AngleZeroCorrected,
                    $"The heads switch {Math.Abs(zero.OffsetDegrees):0.0} degrees ({Math.Abs(zero.OffsetDegrees) / samples.Standard.DegreesPerLine:0.0} lines) {(zero.OffsetDegrees > 0 ? "before" : "after")} the mark (between {zero.LeastDegrees:0.0} and {zero.GreatestDegrees:0.0}): the angles were turned by that. Check the head-switch pulse and the line count."));
                return samples.Turned(zero.OffsetDegrees);
            case AngleZeroVerdict.NotTold:
                notes.Add(new TimingNote(
                    TimingNoteKind.AngleZeroNotTold,
                    "Where heads switch can't be seen in this record, so a mark that is a line off could not be either; such an error of 5.5 degrees would turn 9.6 % of the scallop into skew and of the skew into scallop."));
                return samples;
            default:
                return samples;
        }
    }

    private static RevolutionAlternative? Alternative(TimingSamples samples, in TimingTerms own)
    {
        if (own.HeadCount < 4 || TimingDecomposer.For(samples, TimingModel.OncePerRevolution) is not { IsKnown: true } made)
        {
            return null;
        }

        TimingTerms terms = made.Value.Solve(samples.ErrorsNs);
        double amplitude = Math.Sqrt((terms.RevolutionSine.Value * terms.RevolutionSine.Value) + (terms.RevolutionCosine.Value * terms.RevolutionCosine.Value));
        bool there = amplitude > LeastAmplitudeNs && (Math.Abs(terms.RevolutionSine.Value) > 3 * terms.RevolutionSine.StandardUncertainty
            || Math.Abs(terms.RevolutionCosine.Value) > 3 * terms.RevolutionCosine.StandardUncertainty);
        return new RevolutionAlternative(
            terms.RevolutionSine, terms.RevolutionCosine, terms.ResidualRmsNs, there && terms.ResidualRmsNs <= 1.02 * own.ResidualRmsNs);
    }
}
