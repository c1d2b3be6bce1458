using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Web.Api.Transfers;

/// <summary>One item of the check list.</summary>
internal sealed record CheckItemAnswer(string Key, string Text, string? Caution, string Proof, double? Limit, string? Unit, bool AsksValue, string Source);

internal sealed record StepItemAnswer(
    string Key, string Text, string? Caution, string? Aid, string[] Reads, double? Least, double? Greatest, string? Unit, string? Standard, string Source);

internal sealed record RuleAnswer(string Key, string When, string[] Kinds, string? Severity, double LongerThanSeconds, double MoreThan, string Verdict, string Text, string Source);

/// <summary>How this site takes a tape through the bench. Hashes are SHA-256 over the files.</summary>
internal sealed record ProceduresAnswer(
    string ChecksHash, CheckItemAnswer[] Checks, string LineUpHash, StepItemAnswer[] LineUp, string RulesHash, RuleAnswer[] Rules,
    double RunBeginsAfterSeconds, double RunEndsAfterSeconds, string RunSource, double HandleSeconds, double JoinSeconds, string ReviewSource)
{
    public static ProceduresAnswer Of(TransferProcedures procedures)
    {
        VerdictRules rules = procedures.Rules;
        return new ProceduresAnswer(
            procedures.Checks.Hash,
            [.. procedures.Checks.Items.Select(c => new CheckItemAnswer(c.Key, c.Text, c.Caution, Slugs.Of(c.Proof), c.Limit, c.Unit, c.AsksValue, c.Source))],
            procedures.LineUp.Hash,
            [.. procedures.LineUp.Steps.Select(s => new StepItemAnswer(s.Key, s.Text, s.Caution, s.Aid, [.. s.Reads], s.Least, s.Greatest, s.Unit, s.Standard, s.Source))],
            rules.Hash,
            [.. rules.Rules.Select(r => new RuleAnswer(
                r.Key, Slugs.Of(r.When), [.. r.Kinds], r.When == VerdictCondition.Findings ? Slugs.Of(r.Severity) : null, r.LongerThanSeconds, r.MoreThan,
                Slugs.Of(r.Verdict), r.Text, r.Source))],
            rules.Run.BeginsAfterSeconds, rules.Run.EndsAfterSeconds, rules.Run.Source,
            rules.Review.HandleSeconds, rules.Review.JoinSeconds, rules.Review.Source);
    }
}
