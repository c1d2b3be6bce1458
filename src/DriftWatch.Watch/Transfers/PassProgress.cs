using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>What a pass still lacks, held against the lists of the site, and what comes next.</summary>
/// <param name="ChecksUnsigned">Items of the check list that nobody has signed.</param>
/// <param name="ChecksNotDone">Signed as not done.</param>
/// <param name="ChecksContradicted">Signed as done, and the readings said otherwise.</param>
/// <param name="StepsMissing">Steps of the line-up that were not recorded, or left out.</param>
/// <param name="StepsOutside">Steps whose last value lies outside its tolerance.</param>
/// <param name="Next">What comes next, one sentence.</param>
public sealed record PassProgress(
    IReadOnlyList<CheckDefinition> ChecksUnsigned,
    IReadOnlyList<Said<CheckSigned>> ChecksNotDone,
    IReadOnlyList<Said<CheckSigned>> ChecksContradicted,
    IReadOnlyList<LineUpStepDefinition> StepsMissing,
    IReadOnlyList<Said<LineUpStepRecorded>> StepsOutside,
    string Next)
{
    public static PassProgress Of(TapeDescribed tape, BookPass pass, TransferProcedures procedures)
    {
        ArgumentNullException.ThrowIfNull(pass);
        ArgumentNullException.ThrowIfNull(procedures);
        IReadOnlyList<Said<CheckSigned>> checks = pass.Checks;
        IReadOnlyList<Said<LineUpStepRecorded>> steps = pass.Steps;
        List<CheckDefinition> unsigned = [.. procedures.Checks.Items.Where(i => checks.All(c => c.Body.Check != i.Key))];
        List<LineUpStepDefinition> missing =
            [.. StepsFor(tape, procedures.LineUp).Where(d => !steps.Any(s => s.Body.Step == d.Key && s.Body.IsDone))];
        return new PassProgress(
            unsigned,
            [.. checks.Where(c => c.Body.Answer == CheckAnswer.NotDone)],
            [.. checks.Where(c => c.Body is { Answer: CheckAnswer.Done, Telemetry.Standing: ProofStanding.Contradicted })],
            missing,
            [.. steps.Where(s => s.Body is { IsDone: true, Tolerance: { } tolerance, After: { } after } && !tolerance.Holds(after.Value))],
            NextOf(pass, unsigned, [.. missing.Where(d => steps.All(s => s.Body.Step != d.Key))]));
    }

    /// <summary>The steps that a tape of this standard needs.</summary>
    public static IEnumerable<LineUpStepDefinition> StepsFor(TapeDescribed tape, LineUpList list)
    {
        ArgumentNullException.ThrowIfNull(tape);
        ArgumentNullException.ThrowIfNull(list);
        return list.Steps.Where(s => s.Standard is null || s.Standard == tape.Standard);
    }

    private static string NextOf(BookPass pass, List<CheckDefinition> unsigned, List<LineUpStepDefinition> untouched) => pass.Stage switch
    {
        PassStage.Preparing when unsigned.Count > 0 => $"Pre-flight: {unsigned[0].Text}",
        PassStage.Preparing when untouched.Count > 0 => $"Line-up: {untouched[0].Text}",
        PassStage.Preparing => "End the line-up: it takes this tape's baseline.",
        PassStage.Ready => "Let the tape run; its run begins by itself, or by hand.",
        PassStage.Running => "The tape runs. Mark what is to be looked at again.",
        PassStage.Ended => "Look through what happened, and give the verdict.",
        PassStage.Judged => "A second person may countersign the verdict.",
        PassStage.Countersigned => "Done.",
        _ => "Open another pass.",
    };
}
