using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Site;

/// <summary>All benches of one server as JSON, for programs and the page; who waits for a person first.</summary>
/// <param name="Format">Of this answer and its version.</param>
/// <param name="Asked">When the server was asked, UTC.</param>
/// <param name="Benches">Those that told anything within a week.</param>
internal sealed record SiteAnswer(string Format, string Asked, IReadOnlyList<SiteBenchAnswer> Benches)
{
    public static SiteAnswer Of(IReadOnlyList<SiteBench> benches, DateTimeOffset asked) =>
        new("driftwatch.site/2", Text(asked), [.. benches.Select(SiteBenchAnswer.Of)]);

    public static string Text(DateTimeOffset instant) => UtcText.FromNanoseconds(UtcText.ToNanoseconds(instant));
}

/// <summary>
/// One bench. <c>IsSilent</c>: it told nothing for a minute, and what stands here is of <c>AgeSeconds</c> ago. <c>ToleranceUsed</c> is a share, 1 at the
/// limit; null where none can be told.
/// </summary>
internal sealed record SiteBenchAnswer(
    string Bench,
    string? Site,
    double AgeSeconds,
    bool IsSilent,
    string State,
    int Unanswered,
    int Alarms,
    double? ToleranceUsed,
    int SilentChannels,
    IReadOnlyList<SiteAlarmAnswer> Open,
    SiteDriftAnswer? Drift,
    SitePassAnswer? Pass)
{
    public static SiteBenchAnswer Of(SiteBench bench) => new(
        bench.Bench,
        bench.Site,
        bench.Age.TotalSeconds,
        bench.IsSilent,
        Slugs.Of(bench.Standing.State),
        bench.Standing.Unanswered,
        bench.Standing.Alarms,
        bench.Standing.WorstUse,
        bench.Standing.Silent,
        [.. bench.Alarms.Select(SiteAlarmAnswer.Of)],
        bench.Drift is { } drift ? new SiteDriftAnswer(drift.Of, drift.Unit, drift.Use, drift.SlopePerHour, drift.MinutesLeft) : null,
        bench.Pass is { } pass ? new SitePassAnswer(pass.Tape, pass.Number, Slugs.Of(pass.Stage), pass.Verdict is { } verdict ? Slugs.Of(verdict) : null, SiteAnswer.Text(pass.Since)) : null);
}

/// <summary>An alarm that is not back to normal.</summary>
internal sealed record SiteAlarmAnswer(string Alarm, string? Channel, string State, string Priority, bool IsActive, double? Value, double? Limit, string? Unit, string Since)
{
    public static SiteAlarmAnswer Of(SiteAlarm alarm) => new(
        alarm.Alarm, alarm.Channel, Slugs.Of(alarm.State), Slugs.Of(alarm.Priority), alarm.IsActive, alarm.Value, alarm.Limit, alarm.Unit, SiteAnswer.Text(alarm.Since));
}

/// <summary>What uses the greatest share of its tolerance. <c>MinutesLeft</c> is null where it is not to reach its limit within the horizon.</summary>
internal sealed record SiteDriftAnswer(string Of, string? Unit, double Use, double SlopePerHour, double? MinutesLeft);

/// <summary>The pass in hand, or the last one.</summary>
internal sealed record SitePassAnswer(string Tape, int Number, string Stage, string? Verdict, string Since);
