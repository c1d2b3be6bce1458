using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Watch.Alarms.Health;

/// <summary>One measure for a person.</summary>
/// <param name="Measure">Its slug, stable.</param>
/// <param name="Label">What it is.</param>
/// <param name="Value">The value with its unit, or why there is none.</param>
/// <param name="Target">What it is held against; empty where nothing is known.</param>
/// <param name="Source">Where the target comes from; empty without one.</param>
/// <param name="Verdict">How the one stands against the other.</param>
public sealed record HealthRow(string Measure, string Label, string Value, string Target, string Source, HealthVerdict Verdict);

/// <summary>The measures as rows in the order in which a person reads them: the same for the command line and the page.</summary>
public static class HealthRows
{
    /// <summary>What is said wherever the measures are shown.</summary>
    public const string Caveat =
        "The targets are those commonly cited from ANSI/ISA-18.2, IEC 62682 and EEMUA 191, taken from secondary sources or from memory as marked; "
        + "the texts themselves were not readable here, and no conformance is claimed.";

    public static IReadOnlyList<HealthRow> Of(AlarmHealthReport report)
    {
        ArgumentNullException.ThrowIfNull(report);
        var rows = new List<HealthRow>
        {
            Rate("per-10-minutes", "calls in 10 min, on average", report.CallsPerTenMinutes, AlarmTargets.PerTenMinutes, "0.##"),
            Rate("per-day", "calls a day", report.CallsPerDay, AlarmTargets.PerDay, "0.#"),
            Over(report),
            Floods("floods-by-periods", "floods, by fixed periods from whole 10 min UTC", report.FloodsByPeriods),
            Floods("floods", "floods, by a sliding 10 min", report.Floods),
            Counted(
                "chattering", $"tags raised {AlarmTargets.ChatterRaised} times or more within a minute", report.Chattering.Count,
                string.Join(", ", report.Chattering.Select(c => $"{c.Tag} ({c.MostInAMinute})")), AlarmTargets.MemorySource),
            Counted(
                "stale", $"stood for more than {AlarmTargets.StaleHours} h that were watched", report.Stale.Count,
                string.Join(", ", report.Stale.Select(s => $"{s.Tag} since {UtcText.FromNanoseconds(s.SinceUtc)}")), AlarmTargets.MemorySource, AlarmTargets.Stale),
            new("standing", "stood at the end", Standing(report), AlarmTargets.Standing.Text, AlarmTargets.Standing.Source, AlarmTargets.Standing.Judge(report.Standing.Values.Sum())),
            Plain("waiting", "waited for a person at the end", Whole(report.Waiting)),
        };
        rows.AddRange(report.Priorities.Select(p => Share(p, report.Calls)));
        rows.Add(Plain(
            "time-to-acknowledge", "from the call to a person's acknowledgement",
            report.MeanSecondsToAcknowledge.IsKnown
                ? $"{Duration(report.MeanSecondsToAcknowledge.Value)} on average, {Duration(report.LongestSecondsToAcknowledge.Value)} at most, of {report.Acknowledged}"
                : report.MeanSecondsToAcknowledge.ToString(),
            report.MeanSecondsToAcknowledge.IsKnown));
        rows.Add(Plain(
            "most-frequent", $"the {AlarmTargets.MostFrequent} most frequent tags together",
            report.MostFrequentShare.IsKnown ? $"{Percent(report.MostFrequentShare.Value)} of {Whole(report.Calls)} calls" : report.MostFrequentShare.ToString(),
            report.MostFrequentShare.IsKnown) with { Target = AlarmTargets.MostFrequentCited, Source = AlarmTargets.ArticlesSource });
        return rows;
    }

    /// <summary>Seconds as a person says them.</summary>
    public static string Duration(double seconds)
    {
        TimeSpan span = TimeSpan.FromSeconds(Math.Round(seconds));
        return span.TotalMinutes < 1 ? $"{span.Seconds} s"
            : span.TotalHours < 1 ? $"{span.Minutes} min {span.Seconds} s"
            : span.TotalDays < 1 ? $"{span.Hours} h {span.Minutes} min"
            : $"{span.Days} d {span.Hours} h";
    }

    private static HealthRow Rate(string measure, string label, Answer<double> rate, HealthTarget target, string format) => new(
        measure, label, rate.IsKnown ? rate.Value.ToString(format, CultureInfo.InvariantCulture) : rate.ToString(), target.Text, target.Source,
        rate.IsKnown ? target.Judge(rate.Value) : HealthVerdict.CannotTell);

    private static HealthRow Over(AlarmHealthReport report) => new(
        "periods-over",
        $"periods of 10 min with more than {AlarmTargets.FloodBegins} calls",
        report.ShareOver.IsKnown ? $"{Percent(report.ShareOver.Value)} ({report.PeriodsOver} of {report.Periods}), most {report.MostInAPeriod}" : report.ShareOver.ToString(),
        AlarmTargets.ShareOver.Text,
        AlarmTargets.ShareOver.Source,
        !report.ShareOver.IsKnown ? HealthVerdict.CannotTell : report.ShareOver.Value < AlarmTargets.ShareOver.Good ? HealthVerdict.Within : HealthVerdict.Over);

    private static HealthRow Floods(string measure, string label, IReadOnlyList<AlarmFlood> floods) => Counted(
        measure, label, floods.Count,
        string.Join(", ", floods.Select(f => $"{UtcText.FromNanoseconds(f.FromUtc)} to {(f.ToUtc is { } to ? UtcText.FromNanoseconds(to) : "the end")}: {f.Calls} calls")),
        AlarmTargets.FloodSource);

    private static HealthRow Counted(string measure, string label, int count, string which, string source, HealthTarget? target = null) => new(
        measure, label, count == 0 ? "0" : $"{Whole(count)}: {which}", (target ?? AlarmTargets.None).Text, source, (target ?? AlarmTargets.None).Judge(count));

    /// <summary>More of the low and fewer of the high is no harm: only a share that is too high of medium or high, or too low of low, is over. Of few calls nothing is said.</summary>
    private static HealthRow Share(PriorityShare share, int calls)
    {
        string target = share.Priority == AlarmPriority.Low ? $"about {Percent(share.Target)} or more" : $"about {Percent(share.Target)} or less";
        HealthVerdict verdict = !share.Share.IsKnown || calls < AlarmTargets.LeastCallsForShares ? HealthVerdict.CannotTell
            : (share.Priority == AlarmPriority.Low ? share.Share.Value >= share.Target : share.Share.Value <= share.Target) ? HealthVerdict.Within
            : HealthVerdict.Over;
        return new HealthRow(
            "priority-" + Slugs.Of(share.Priority), $"share of {Slugs.Of(share.Priority)} priority",
            share.Share.IsKnown ? $"{Percent(share.Share.Value)} ({share.Calls})" : share.Share.ToString(), target, AlarmTargets.MemorySource, verdict);
    }

    private static HealthRow Plain(string measure, string label, string value, bool isKnown = true) =>
        new(measure, label, value, "", "", isKnown ? HealthVerdict.NoTarget : HealthVerdict.CannotTell);

    private static string Standing(AlarmHealthReport report) => report.Standing.Count == 0
        ? "0"
        : $"{Whole(report.Standing.Values.Sum())}: {string.Join(", ", report.Standing.OrderBy(s => s.Key).Select(s => $"{s.Value} {Slugs.Of(s.Key)}"))}";

    private static string Percent(double share) => (share * 100).ToString("0.#", CultureInfo.InvariantCulture) + " %";

    private static string Whole(int value) => value.ToString(CultureInfo.InvariantCulture);
}
