using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Reports.Packages;

/// <summary>One event as PREMIS has it.</summary>
/// <param name="Id">Unique in the package.</param>
/// <param name="Type">In words.</param>
/// <param name="When">An instant, or two with a slash between (EDTF).</param>
/// <param name="Detail">One sentence.</param>
/// <param name="Outcome">A word or two.</param>
/// <param name="Notes">What there is to say of the outcome.</param>
/// <param name="Agents">Kind, id and role.</param>
/// <param name="Objects">Kind, id and role.</param>
internal sealed record PremisEvent(
    string Id, string Type, string When, string Detail, string Outcome, IReadOnlyList<string> Notes,
    IReadOnlyList<(string Type, string Id, string Role)> Agents, IReadOnlyList<(string Type, string Id, string Role)> Objects);

/// <summary>What people entered about a transfer, as events: pre-flight, line-up, verdict and its countersignature.</summary>
internal static class PremisEntries
{
    public const string Person = "person";

    /// <param name="transfer">Its pass.</param>
    /// <param name="tookBaseline">Whether the end of its line-up took the tape's baseline.</param>
    /// <param name="tape">What it is about.</param>
    public static IEnumerable<PremisEvent> Of(DossierTransfer transfer, bool tookBaseline, (string Type, string Id, string Role) tape)
    {
        var pass = transfer.Pass;
        string id = string.Create(CultureInfo.InvariantCulture, $"{transfer.Id}/pass-{pass.Number}");
        // What nobody did has its event as well: an archive that reads of no check would take it for a record that is not kept.
        if (pass.Checks.Count + transfer.Progress.ChecksUnsigned.Count > 0)
        {
            yield return new PremisEvent(
                $"{id}/pre-flight", "pre-flight check", Span(pass.Checks.Select(c => c.Entry).DefaultIfEmpty(pass.Opened)),
                pass.Checks.Count > 0 ? "Machine and tape were looked through before the tape ran, item by item." : "Nobody signed an item of the pre-flight in this pass.",
                OutcomeOfChecks(transfer),
                [
                    .. pass.Checks.Select(c => $"{c.Body.Check}: {Word(c.Body.Answer)}{(c.Body.Telemetry is { } proof ? $"; readings, {Word(proof.Standing)}: {proof.Text}" : "")}{Note(c.Entry)}"),
                    .. transfer.Progress.ChecksUnsigned.Select(c => $"{c.Key}: not signed"),
                ],
                [.. People(pass.Checks.Select(c => c.Entry), "performer")], [tape]);
        }

        EntryCommand[] lineUp = [.. pass.Steps.Select(s => s.Entry), .. pass.LineUpEnded is { } lineUpEnded ? new[] { lineUpEnded.Entry } : []];
        if (lineUp.Length + transfer.Progress.StepsMissing.Count > 0)
        {
            yield return new PremisEvent(
                $"{id}/line-up", "line-up", Span(lineUp.DefaultIfEmpty(pass.Opened)),
                (pass.Steps.Count > 0 ? "The machine was lined up on this tape, step by step. " : "Nobody recorded a step of the line-up in this pass. ") + EndOf(transfer, tookBaseline),
                OutcomeOfSteps(transfer),
                [
                    .. pass.Steps.Select(s => !s.Body.IsDone ? $"{s.Body.Step}: left out{Note(s.Entry)}" : $"{s.Body.Step}: {Reading(s.Body.Before)} before, {Reading(s.Body.After)} after{(s.Body.Tolerance is { } t ? " " + t.Unit : "")}{(s.Body.Turned is { } turned ? "; turned: " + turned : "")}{Note(s.Entry)}"),
                    .. transfer.Progress.StepsMissing.Where(d => pass.Steps.All(s => s.Body.Step != d.Key)).Select(d => $"{d.Key}: not recorded"),
                ],
                [.. People(lineUp, "performer")], [tape]);
        }

        if (pass.Verdict is { } verdict)
        {
            yield return new PremisEvent(
                $"{id}/verdict", "quality review", Instant(verdict.Entry), $"The pass was judged by the site's rules (SHA-256 {verdict.Body.RulesHash}) and by a person.", Word(verdict.Body.Verdict),
                [.. verdict.Body.Reasons.Select(r => r.Text), .. verdict.Entry.Note is { Length: > 0 } note ? new[] { note } : []],
                [.. People([verdict.Entry], "reviewer")], [tape]);
        }

        if (pass.Countersigned is { } second)
        {
            yield return new PremisEvent(
                $"{id}/countersignature", "quality review", Instant(second.Entry), "A second person stands behind the verdict.", "countersigned",
                [.. second.Entry.Note is { Length: > 0 } note ? new[] { note } : []], [.. People([second.Entry], "reviewer")], [tape]);
        }
    }

    private static string OutcomeOfChecks(DossierTransfer transfer) =>
        transfer.Pass.Checks.Any(c => c.Body.Answer == CheckAnswer.NotDone || c.Body is { Answer: CheckAnswer.Done, Telemetry.Standing: ProofStanding.Contradicted }) ? "with exceptions"
        : transfer.Pass.Checks.Count == 0 ? "not signed"
        : transfer.Progress.ChecksUnsigned.Count > 0 ? "with items unsigned"
        : "done";

    private static string OutcomeOfSteps(DossierTransfer transfer) =>
        transfer.Pass.Steps.Any(s => s.Body is { IsDone: true, Tolerance: { } t, After: { } a } && !t.Holds(a.Value)) ? "with values outside their tolerance"
        : transfer.Pass.Steps.Count == 0 ? transfer.Pass.LineUpEnded is null ? "not recorded" : "ended without a step recorded"
        : transfer.Pass.Steps.Any(s => !s.Body.IsDone) || transfer.Progress.StepsMissing.Count > 0 ? "with steps left out"
        : transfer.Pass.LineUpEnded is null ? "not ended"
        : "done";

    private static string EndOf(DossierTransfer transfer, bool tookBaseline) => transfer.Pass.LineUpEnded is null
        ? "It was not ended, and no baseline was taken at its end."
        : tookBaseline ? "The end of it took the tape's baseline."
        : "Its end was written down, and took no baseline.";

    /// <summary>Everybody named in the entries, each once; what the machine entered by itself is no person's.</summary>
    public static IEnumerable<(string Type, string Id, string Role)> People(IEnumerable<EntryCommand> entries, string role) =>
        entries.Select(e => e.By).Where(b => b != EntryCommand.Automatic).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).Select(b => (Person, b, role));

    private static string Span(IEnumerable<EntryCommand> entries)
    {
        List<long> abouts = [.. entries.Select(e => e.AboutUtc)];
        return abouts.Min() == abouts.Max()
            ? UtcText.FromNanoseconds(abouts[0])
            : $"{UtcText.FromNanoseconds(abouts.Min())}/{UtcText.FromNanoseconds(abouts.Max())}";
    }

    private static string Instant(EntryCommand entry) => UtcText.FromNanoseconds(entry.AboutUtc);

    private static string Note(EntryCommand entry) => entry.Note is { Length: > 0 } note ? $"; {note}" : "";

    private static string Reading(LineUpReading? reading) =>
        reading is null ? "nothing" : reading.Value.ToString("R", CultureInfo.InvariantCulture) + (reading.IsByHand ? " by hand" : "");

    private static string Word(CheckAnswer answer) => answer switch
    {
        CheckAnswer.Done => "done",
        CheckAnswer.NotDone => "not done",
        _ => "does not apply",
    };

    private static string Word(ProofStanding standing) => standing switch
    {
        ProofStanding.Proved => "which prove it",
        ProofStanding.Contradicted => "which contradict it",
        _ => "which can't tell",
    };

    private static string Word(Verdict verdict) => verdict switch
    {
        Verdict.Sound => "sound",
        Verdict.SoundWithRemarks => "sound with remarks",
        _ => "run again",
    };
}
