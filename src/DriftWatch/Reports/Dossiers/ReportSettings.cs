using System.Globalization;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>The settings that judged, each with its source: who reads the report years later has no bench file beside it.</summary>
internal static class ReportSettings
{
    public static IEnumerable<Block> Blocks(Dossier dossier)
    {
        yield return new Heading("The settings that judged");
        yield return new Table(
            "Limits in force. A value beyond one for 'after' is said; it is over once it has been back by more than 'back by' for 'over'.",
            [
                new Column("channel", 2), new Column("limit", 2.3), new Column("after", 0.8, true), new Column("back by", 1, true), new Column("over", 0.8, true),
                new Column("judged while", 1.6), new Column("source", 3.2),
            ],
            [.. Rows(dossier)]);
        yield return new Facts([.. Judgement(dossier.Bench)]);
        if (dossier.Transfer is { } transfer && Tolerances(transfer).ToList() is { Count: > 0 } tolerances)
        {
            yield return new Table(
                "Tolerances of the line-up, as its steps were recorded by them.", [new Column("step", 3), new Column("tolerance", 2), new Column("source", 5)], tolerances);
        }

        if (dossier.Transfer?.Procedures is not { } lists)
        {
            yield break; // a span is judged by nobody's rules
        }

        yield return new Table(
            string.Create(CultureInfo.InvariantCulture, $"Rules of the verdict; the worst that is met holds. Sections to run again have {NumberText.Short(lists.Rules.Review.HandleSeconds)} s before and after and are joined where they are closer than {NumberText.Short(lists.Rules.Review.JoinSeconds)} s ({lists.Rules.Review.Source})."),
            [new Column("rule", 2.1), new Column("met by", 3), new Column("no better than", 1.5), new Column("source", 4)],
            [.. lists.Rules.Rules.Select(r => (IReadOnlyList<Cell>)[r.Key, MetBy(r), ReportTape.Word(r.Verdict), r.Source])]);
        yield return new Facts(
        [
            new Fact("SHA-256 of the check list", lists.Checks.Hash), new Fact("SHA-256 of the line-up", lists.LineUp.Hash), new Fact("SHA-256 of the rules", lists.Rules.Hash),
        ], IsCode: true);
    }

    /// <summary>Channels with the same limits, such as those of the four heads, stand together.</summary>
    private static IEnumerable<IReadOnlyList<Cell>> Rows(Dossier dossier)
    {
        var sets = dossier.Channels.Where(c => c.Channel.Limits.Count > 0)
            .Select(c => (c.Channel.Label, Rows: c.Channel.Limits.Select(l => Row(c.Channel, l)).ToList()))
            .GroupBy(c => string.Join('\n', c.Rows.SelectMany(r => r.Select(cell => cell.Text))), StringComparer.Ordinal);
        foreach (var set in sets)
        {
            string labels = string.Join("; ", set.Select(c => c.Label));
            foreach (IReadOnlyList<Cell> row in set.First().Rows)
            {
                yield return [labels, .. row];
                labels = "";
            }
        }
    }

    private static IReadOnlyList<Cell> Row(ChannelDefinition channel, LimitDefinition limit)
    {
        string unit = NumberText.Unit(channel.Unit);
        string at = limit.Reference switch
        {
            LimitReference.Absolute => $"{NumberText.Short(limit.Value)} {unit}",
            LimitReference.Baseline => $"baseline {(limit.Value < 0 ? "−" : "+")} {NumberText.Short(Math.Abs(limit.Value))} {unit}",
            _ => $"{NumberText.Short(100 * limit.Value)} % of the baseline",
        };
        string back = limit.Deadband == 0 ? "" : limit.Reference == LimitReference.BaselineFraction ? $"{NumberText.Short(100 * limit.Deadband)} % of it" : $"{NumberText.Short(limit.Deadband)} {unit}";
        return
        [
            $"{(limit.Side == LimitSide.Low ? "below" : "above")} {at.TrimEnd()}: {Slugs.Of(limit.Severity)}", Time(limit.OnDelay), back.TrimEnd(), Time(limit.OffDelay),
            limit.JudgedIn.Count == 0 ? "always" : string.Join(", ", limit.JudgedIn.Select(FigureFrame.WordOf)), limit.Source,
        ];
    }

    private static IEnumerable<Fact> Judgement(BenchDefinition bench)
    {
        JudgementSettings rules = bench.Judgement;
        yield return new Fact("Air is up", $"from {NumberText.Short(100 * rules.AirUpFraction)} % of its setpoint, gone below {NumberText.Short(100 * rules.AirGoneFraction)} % (common practice, no source)");
        yield return new Fact("Tape is on the guide", $"above {NumberText.Short(rules.TapeOnGuideInH2O)} inH2O (derived from the venturi's dead-head vacuum)");
        yield return new Fact("Heads read tape", rules.RfPresentDb is { } level ? $"above {NumberText.Short(level)} dB (bench file)" : "within 20 dB of the baseline, or above −30 dB without one");
        yield return new Fact("After lock", $"gated judgements wait for {Time(rules.SettleAfterLock)} (the trade's table: suppress 5 s after lock)");
        if (bench.Channels.Any(c => c.Role == ChannelRole.WheelSpeed))
        {
            yield return new Fact(
                "Head wheel", $"{NumberText.Short(WheelRate.Of525)} turns a second are 525/60 and {NumberText.Short(WheelRate.Of625)} are 625/50, each within {NumberText.Short(WheelRate.Near)} (derived from passes and fields a second); it stands below {NumberText.Short(TransferTelemetry.WheelStandsRevolutionsPerSecond)} (derived, a hundredth of its rate)");
        }

        yield return new Fact("Baseline", $"by the machine itself after {Time(rules.BaselineAfter)} of settled running in which nothing is wrong (common practice, no source)");
    }

    /// <summary>By the entries: the site's list may have changed since. A step that was recorded again under the same tolerance stands once.</summary>
    private static IEnumerable<IReadOnlyList<Cell>> Tolerances(DossierTransfer transfer) => transfer.Pass.Steps
        .Select(s => (s.Body.Step, s.Body.Tolerance)).Where(s => s.Tolerance is not null).Distinct()
        .Select(s => (IReadOnlyList<Cell>)[ReportTape.TextOf(s.Step, transfer), ReportTape.Tolerance(s.Tolerance), s.Tolerance!.Source]);

    private static string MetBy(VerdictRule rule)
    {
        string kinds = rule.When != VerdictCondition.Findings ? Slugs.Of(rule.When)
            : $"{(rule.Kinds.Count == 0 ? "any finding" : string.Join(", ", rule.Kinds))} of {Slugs.Of(rule.Severity)} or worse{(rule.LongerThanSeconds > 0 ? $", longer than {NumberText.Short(rule.LongerThanSeconds)} s" : "")}";
        return rule.MoreThan > 0 ? $"{kinds}, more than {NumberText.Short(rule.MoreThan)}{(rule.When == VerdictCondition.Unwatched ? " % of the run" : "")}" : kinds;
    }

    private static string Time(TimeSpan time) => time.TotalMinutes >= 2
        ? string.Create(CultureInfo.InvariantCulture, $"{time.TotalMinutes:0.##} min") : string.Create(CultureInfo.InvariantCulture, $"{time.TotalSeconds:0.##} s");
}
