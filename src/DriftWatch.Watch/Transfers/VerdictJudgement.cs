using System.Globalization;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>What a verdict is made from.</summary>
public sealed record RunFacts
{
    public required IReadOnlyList<ReviewItem> Items { get; init; }

    public required PassProgress Progress { get; init; }

    /// <summary>Share of the run of which nothing was recorded, 0 to 100.</summary>
    public required double UnwatchedPercent { get; init; }

    /// <summary>Whether a person took a baseline between the pass's opening and the run's end.</summary>
    public required bool HasBaseline { get; init; }

    /// <summary>What the wheel's rate said of the standard; null where nobody asked it.</summary>
    public TelemetryProof? Standard { get; init; }
}

/// <summary>The rules of the site held against a run: the verdict they come to, with every reason.</summary>
/// <param name="Verdict">The worst of the reasons, sound where there is none.</param>
/// <param name="Reasons">The gravest first, then in the order of the rules.</param>
public sealed record VerdictJudgement(Verdict Verdict, IReadOnlyList<VerdictReason> Reasons)
{
    public static VerdictJudgement Of(VerdictRules rules, RunFacts facts)
    {
        ArgumentNullException.ThrowIfNull(rules);
        ArgumentNullException.ThrowIfNull(facts);
        var reasons = new List<VerdictReason>();
        var told = new HashSet<string>(StringComparer.Ordinal);
        foreach (VerdictRule rule in rules.Rules.OrderByDescending(r => r.Verdict)) // stable: the rules' order stays
        {
            reasons.AddRange(ReasonsOf(rule, facts, told));
        }

        return new VerdictJudgement(reasons.Count == 0 ? Verdict.Sound : reasons[0].Verdict, reasons);
    }

    /// <summary>Whether a rule on findings counts this one.</summary>
    public static bool Counts(VerdictRule rule, ReviewItem item)
    {
        ArgumentNullException.ThrowIfNull(rule);
        ArgumentNullException.ThrowIfNull(item);
        return rule.When == VerdictCondition.Findings && item.Kind is not ("mark" or "note")
            && (rule.Kinds.Count == 0 || rule.Kinds.Contains(item.Kind, StringComparer.Ordinal))
            && item.Severity >= rule.Severity && (rule.LongerThanSeconds == 0 || item.Seconds > rule.LongerThanSeconds);
    }

    private static IEnumerable<VerdictReason> ReasonsOf(VerdictRule rule, RunFacts facts, HashSet<string> told) => rule.When switch
    {
        VerdictCondition.Findings => OfItems(rule, [.. facts.Items.Where(i => Counts(rule, i))], told),
        VerdictCondition.Marks => OfItems(rule, [.. facts.Items.Where(i => i.Kind == "mark")], told),
        VerdictCondition.Unwatched => Of(rule, facts.UnwatchedPercent, string.Create(CultureInfo.InvariantCulture, $"{facts.UnwatchedPercent:0.##} % of the run")),
        VerdictCondition.ChecksUnsigned => Of(rule, facts.Progress.ChecksUnsigned.Select(c => c.Key)),
        VerdictCondition.ChecksNotDone => Of(rule, facts.Progress.ChecksNotDone.Select(c => c.Body.Check)),
        VerdictCondition.ChecksContradicted => Of(rule, facts.Progress.ChecksContradicted.Select(c => $"{c.Body.Check}: {c.Body.Telemetry!.Text}")),
        VerdictCondition.StepsMissing => Of(rule, facts.Progress.StepsMissing.Select(s => s.Key)),
        VerdictCondition.StepsOutside => Of(rule, facts.Progress.StepsOutside.Select(s => s.Body.Step)),
        VerdictCondition.BaselineMissing => Of(rule, facts.HasBaseline ? 0 : 1, null),
        _ => Of(rule, facts.Standard?.Standing == ProofStanding.Contradicted ? 1 : 0, facts.Standard?.Text),
    };

    /// <summary>Each one is a reason of its own, with its place, and of one rule only: the first of the gravest that counts it.</summary>
    private static IEnumerable<VerdictReason> OfItems(VerdictRule rule, ReviewItem[] items, HashSet<string> told) => items.Length > rule.MoreThan
        ? [.. items.Where(i => told.Add(i.Id)).Select(i => new VerdictReason(rule.Key, rule.Verdict, $"{rule.Text} {i.Text}", i.From.Seconds, i.To.Seconds))]
        : [];

    private static IEnumerable<VerdictReason> Of(VerdictRule rule, IEnumerable<string> what)
    {
        string[] all = [.. what];
        return Of(rule, all.Length, string.Join("; ", all));
    }

    private static IEnumerable<VerdictReason> Of(VerdictRule rule, double measure, string? what) => measure > rule.MoreThan
        ? [new VerdictReason(rule.Key, rule.Verdict, what is null ? rule.Text : $"{rule.Text} ({what.TrimEnd('.')})")]
        : [];
}
