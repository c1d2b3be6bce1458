using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.WhatIf;

namespace DriftWatch.Web.Api;

/// <summary>
/// What is to be tried: a span of at most 24 h, and either other values for limits or the text of another bench file
/// (TOML). Times after RFC 3339.
/// </summary>
internal sealed record WhatIfRequest
{
    public string? From { get; init; }

    public string? To { get; init; }

    public IReadOnlyList<WhatIfLimit>? Limits { get; init; }

    public string? BenchFile { get; init; }
}

/// <summary>
/// A limit to be tried: <c>Side</c> low or high, <c>Severity</c> advisory or alarm; <c>Value</c> as the limit that is there has it
/// (in the channel's unit, or over its baseline), null tries the limit away.
/// </summary>
internal sealed record WhatIfLimit
{
    public string? Channel { get; init; }

    public string? Side { get; init; }

    public string? Severity { get; init; }

    public double? Value { get; init; }
}

/// <summary>A second judgement: <c>State</c> running, done, cancelled or failed; the rest of the result is null until it is done.</summary>
internal sealed record WhatIfAnswer(
    Guid Id,
    string State,
    double Progress,
    string From,
    string To,
    string? Trouble,
    int? Kept,
    int? Gone,
    int? New,
    IReadOnlyList<ComparedAlarmAnswer>? Items)
{
    public static WhatIfAnswer Of(WhatIfJob job)
    {
        lock (job.Gate)
        {
            return new WhatIfAnswer(
                job.Id,
                Slugs.Of(job.State),
                job.Progress,
                UtcText.FromNanoseconds(job.Span.FromUtc),
                UtcText.FromNanoseconds(job.Span.ToUtc),
                job.Trouble,
                job.Result?.Count(AlarmFate.Kept),
                job.Result?.Count(AlarmFate.Gone),
                job.Result?.Count(AlarmFate.New),
                job.Result is { } result ? [.. result.Alarms.Select(ComparedAlarmAnswer.Of)] : null);
        }
    }
}

/// <summary><c>Fate</c>: kept, gone or new; <c>Was</c> is null for a new one, <c>Would</c> for one that is gone.</summary>
internal sealed record ComparedAlarmAnswer(string Tag, string Fate, ComingAnswer? Was, ComingAnswer? Would)
{
    public static ComparedAlarmAnswer Of(ComparedAlarm alarm) =>
        new(alarm.Tag, Slugs.Of(alarm.Fate), ComingAnswer.Of(alarm.Was), ComingAnswer.Of(alarm.Would));
}

internal sealed record ComingAnswer(string Raised, string? Returned, string Priority, string? Cause, string Text)
{
    public static ComingAnswer? Of(AlarmStory? story) => story is null
        ? null
        : new ComingAnswer(
            UtcText.FromNanoseconds(story.RaisedUtc),
            story.ReturnedUtc is { } returned ? UtcText.FromNanoseconds(returned) : null,
            Slugs.Of(story.Priority),
            story.Cause,
            story.Text);
}
