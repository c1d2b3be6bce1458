using DriftWatch.Analysis;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Web.Api;

/// <summary>
/// The measures of an alarm system over a span: the numbers, each null where it can't be told, and the rows a person reads,
/// with the target and where that comes from. <c>Verdict</c>: no-target, within, bearable, over or cannot-tell.
/// </summary>
internal sealed record AlarmHealthAnswer(
    string From,
    string To,
    double WatchedMinutes,
    int Calls,
    double? CallsPerTenMinutes,
    double? CallsPerDay,
    int Periods,
    int PeriodsOver,
    double? ShareOver,
    IReadOnlyList<FloodAnswer> FloodsByPeriods,
    IReadOnlyList<FloodAnswer> Floods,
    IReadOnlyList<ChatteringAnswer> Chattering,
    IReadOnlyList<StaleAnswer> Stale,
    IReadOnlyList<StandingAnswer> Standing,
    int Waiting,
    IReadOnlyList<TagAnswer> MostFrequent,
    double? MostFrequentShare,
    IReadOnlyList<PriorityAnswer> Priorities,
    int Acknowledged,
    double? MeanSecondsToAcknowledge,
    double? LongestSecondsToAcknowledge,
    IReadOnlyList<HealthRowAnswer> Rows,
    string Caveat)
{
    public static AlarmHealthAnswer Of(AlarmHealthReport report) => new(
        UtcText.FromNanoseconds(report.Span.FromUtc),
        UtcText.FromNanoseconds(report.Span.ToUtc),
        report.WatchedMinutes,
        report.Calls,
        Known(report.CallsPerTenMinutes),
        Known(report.CallsPerDay),
        report.Periods,
        report.PeriodsOver,
        Known(report.ShareOver),
        [.. report.FloodsByPeriods.Select(FloodAnswer.Of)],
        [.. report.Floods.Select(FloodAnswer.Of)],
        [.. report.Chattering.Select(c => new ChatteringAnswer(c.Tag, c.MostInAMinute, UtcText.FromNanoseconds(c.AtUtc)))],
        [.. report.Stale.Select(s => new StaleAnswer(s.Id, s.Tag, UtcText.FromNanoseconds(s.SinceUtc), s.UntilUtc is { } until ? UtcText.FromNanoseconds(until) : null))],
        [.. report.Standing.OrderBy(s => s.Key).Select(s => new StandingAnswer(Slugs.Of(s.Key), s.Value))],
        report.Waiting,
        [.. report.MostFrequent.Select(t => new TagAnswer(t.Tag, t.Calls, t.Share))],
        Known(report.MostFrequentShare),
        [.. report.Priorities.Select(p => new PriorityAnswer(Slugs.Of(p.Priority), p.Calls, Known(p.Share), p.Target))],
        report.Acknowledged,
        Known(report.MeanSecondsToAcknowledge),
        Known(report.LongestSecondsToAcknowledge),
        [.. HealthRows.Of(report).Select(r => new HealthRowAnswer(r.Measure, r.Label, r.Value, r.Target, r.Source, Slugs.Of(r.Verdict)))],
        HealthRows.Caveat);

    private static double? Known(Answer<double> answer) => answer.IsKnown ? answer.Value : null;
}

internal sealed record FloodAnswer(string From, string? To, int Calls)
{
    public static FloodAnswer Of(AlarmFlood flood) =>
        new(UtcText.FromNanoseconds(flood.FromUtc), flood.ToUtc is { } to ? UtcText.FromNanoseconds(to) : null, flood.Calls);
}

internal sealed record ChatteringAnswer(string Tag, int MostInAMinute, string At);

internal sealed record StaleAnswer(string Id, string Tag, string Since, string? Until);

internal sealed record StandingAnswer(string State, int Alarms);

internal sealed record TagAnswer(string Tag, int Calls, double Share);

internal sealed record PriorityAnswer(string Priority, int Calls, double? Share, double Target);

internal sealed record HealthRowAnswer(string Measure, string Label, string Value, string Target, string Source, string Verdict);
