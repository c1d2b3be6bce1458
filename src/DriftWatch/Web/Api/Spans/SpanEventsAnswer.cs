using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// What happened in a span, for the lanes of a time axis and for a sentence over it. <c>WatchedSeconds</c> and <c>UnwatchedSeconds</c> make up the
/// part of the span that is past. <c>LeftOut</c>: the span holds more finding lines than were read, the oldest of them are left out.
/// </summary>
internal sealed record SpanEventsAnswer(
    string Bench,
    string From,
    string To,
    string Now,
    double WatchedSeconds,
    double UnwatchedSeconds,
    IReadOnlyList<StretchAnswer> Watched,
    IReadOnlyList<StateStretchAnswer> States,
    IReadOnlyList<SpanFindingAnswer> Findings,
    IReadOnlyList<SpanAlarmAnswer> Alarms,
    IReadOnlyList<SpanMarkAnswer> Marks,
    IReadOnlyList<SpanBaselineAnswer> Baselines,
    bool LeftOut)
{
    /// <summary>Finding lines of one span that are read. Source: our own choice, a hundred nights with as much trouble as the tour's.</summary>
    public const int MostLines = 20_000;

    public static SpanEventsAnswer Of(SpanRequest request)
    {
        IBenchView view = request.View;
        (long from, long to) = (request.FromUtc, request.ToUtc);
        long now = view.ToUtcNanoseconds(view.Now);
        long past = Math.Clamp(now, from, to);
        IReadOnlyList<UtcStretch> watched = past > from ? new AlarmSpan(new UtcStretch(from, past), view.Watched()).Watched : [];
        double watchedSeconds = watched.Sum(w => w.Nanoseconds) / 1e9;
        IReadOnlyList<FindingLine> lines = view.FindingsBetween(request.From, request.To, MostLines);
        List<List<FindingLine>> findings =
        [
            .. lines.Concat(view.OpenFindings).GroupBy(l => l.Id, StringComparer.Ordinal)
                .Select(g => g.OrderBy(l => l.Input).ThenBy(l => l.Phase).ToList())
                .Where(g => g[0].StartUtc < to && (g[^1].EndUtc ?? EndOf(g[^1], now)) >= from)
                .OrderBy(g => g[0].StartUtc),
        ];
        return new SpanEventsAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(from),
            UtcText.FromNanoseconds(to),
            UtcText.FromNanoseconds(now),
            watchedSeconds,
            ((past - from) / 1e9) - watchedSeconds,
            [.. watched.Select(w => new StretchAnswer(UtcText.FromNanoseconds(w.FromUtc), UtcText.FromNanoseconds(w.ToUtc)))],
            [.. StatesOf(lines, from, past).Select(s => new StateStretchAnswer(Slugs.Of(s.State), UtcText.FromNanoseconds(s.Stretch.FromUtc), UtcText.FromNanoseconds(s.Stretch.ToUtc)))],
            [.. findings.Where(g => !IsLaneOfItsOwn(g[0].Kind)).Select(SpanFindingAnswer.Of)],
            [.. AlarmsOf(view, from, to, now)],
            [.. findings.Where(g => g[0].Kind is FindingKinds.Mark or FindingKinds.PassBegins or FindingKinds.PassEnds).Select(SpanMarkAnswer.Of)],
            [.. view.Baselines().Where(b => b.UtcNanoseconds >= from && b.UtcNanoseconds < to).Select(SpanBaselineAnswer.Of)],
            lines.Count > MostLines);
    }

    private static bool IsLaneOfItsOwn(string kind) =>
        kind is FindingKinds.State or FindingKinds.Mark or FindingKinds.PassBegins or FindingKinds.PassEnds or FindingKinds.BaselineTaken;

    /// <summary>A remark has no end; of all else what has not ended lasts.</summary>
    private static long EndOf(FindingLine line, long now) => line.Severity == Severity.Note ? line.StartUtc : now;

    /// <summary>Every line tells the state of its instant, and a change of state makes one: the newest line before the span tells its begin.</summary>
    public static IEnumerable<(MachineState State, UtcStretch Stretch)> StatesOf(IReadOnlyList<FindingLine> lines, long from, long to)
    {
        MachineState? state = null;
        long since = from;
        foreach (FindingLine line in lines)
        {
            long at = line.Kind == FindingKinds.State ? line.StartUtc : line.EndUtc ?? line.RaisedUtc;
            MachineState now = line.Kind == FindingKinds.State && Slugs.TryParse(line.Cause, out MachineState told) ? told : line.State;
            if (at >= to || (state is not null && line.Kind != FindingKinds.State && at >= from))
            {
                continue; // within the span only a change tells one
            }

            if (now == state)
            {
                continue;
            }

            if (state is { } before && at > since)
            {
                yield return (before, new UtcStretch(since, at));
            }

            (state, since) = (now, Math.Max(from, at));
        }

        if (state is { } last && to > since)
        {
            yield return (last, new UtcStretch(since, to));
        }
    }

    private static IEnumerable<SpanAlarmAnswer> AlarmsOf(IBenchView view, long from, long to, long now) => view.AlarmsOver(from, to)
        .Concat(view.OpenAlarms.Where(a => a.RaisedUtc < to))
        .GroupBy(a => a.Id, StringComparer.Ordinal)
        .Select(g => SpanAlarmAnswer.Of([.. g.DistinctBy(a => (a.Input, a.Place)).OrderBy(a => a.Input).ThenBy(a => a.Place)]))
        .Where(a => a.BeganUtc < to && (a.EndedUtc ?? now) >= from)
        .OrderBy(a => a.BeganUtc);
}

/// <summary>From one instant to before another.</summary>
internal sealed record StretchAnswer(string From, string To);

/// <summary>The machine's state over a stretch.</summary>
internal sealed record StateStretchAnswer(string State, string From, string To);

/// <summary>
/// A finding with the severity that it once had and in the words of that. <c>End</c> is null while it lasts; a note has neither length nor end.
/// Value and limit in <c>Unit</c>; <c>Tape</c> tells where the tape stood as it began, and is null where no run was entered.
/// </summary>
internal sealed record SpanFindingAnswer(
    string Id,
    string Kind,
    string? Channel,
    string Severity,
    string Start,
    string? End,
    string Raised,
    string Text,
    string Cause,
    double? Value,
    double? Limit,
    string? Unit,
    string? AcknowledgedBy,
    TapePlaceAnswer? Tape)
{
    public static SpanFindingAnswer Of(IReadOnlyList<FindingLine> lines)
    {
        FindingLine last = lines[^1];
        FindingLine worst = lines.Where(l => l.Phase != FindingPhase.Ended).OrderBy(l => l.Severity).LastOrDefault() ?? last;
        return new SpanFindingAnswer(
            last.Id, last.Kind, last.Channel, Slugs.Of(worst.Severity),
            UtcText.FromNanoseconds(lines[0].StartUtc),
            last.EndUtc is { } end ? UtcText.FromNanoseconds(end) : null,
            UtcText.FromNanoseconds(lines[0].RaisedUtc),
            worst.Text, last.Cause, last.Value, last.Limit, last.Unit,
            lines.SelectMany(l => l.Details).LastOrDefault(d => d.Name == "acknowledgedBy").Word,
            TapePlaceAnswer.Of(lines[0].OnTape));
    }
}

/// <summary>An alarm from its coming to its going. <c>State</c> is how it stands after the span's last line about it; <c>End</c> is null while it lasts.</summary>
internal sealed record SpanAlarmAnswer(
    string Id, string Tag, string? Channel, string Priority, string State, string Start, string? End, string Raised, string Text, string? Cause, string? By, string? Why,
    TapePlaceAnswer? Tape)
{
    internal long BeganUtc { get; private init; }

    internal long? EndedUtc { get; private init; }

    public static SpanAlarmAnswer Of(IReadOnlyList<AlarmTransition> lines)
    {
        AlarmTransition last = lines[^1];
        long? end = last.IsActive ? null : lines.Last(l => l.Step == AlarmStep.Returned || ReferenceEquals(l, last)).AtUtc;
        return new SpanAlarmAnswer(
            last.Id, last.Tag, last.Channel, Slugs.Of(lines.Max(l => l.Priority)), Slugs.Of(last.To),
            UtcText.FromNanoseconds(last.StartUtc), end is { } e ? UtcText.FromNanoseconds(e) : null, UtcText.FromNanoseconds(last.RaisedUtc),
            lines.LastOrDefault(l => l.IsActive)?.Text ?? last.Text, last.Cause, last.By, last.Why, TapePlaceAnswer.Of(last.OnTape))
        {
            BeganUtc = last.StartUtc,
            EndedUtc = end,
        };
    }
}

/// <summary>A person's remark, or the begin or end of a pass.</summary>
internal sealed record SpanMarkAnswer(string Id, string Kind, string At, string Text)
{
    public static SpanMarkAnswer Of(IReadOnlyList<FindingLine> lines) =>
        new(lines[0].Id, lines[0].Kind, UtcText.FromNanoseconds(lines[0].StartUtc), lines[0].Text);
}

/// <summary>A baseline that was taken: who stands behind it, and what was wrong meanwhile.</summary>
internal sealed record SpanBaselineAnswer(long Number, string At, string By, string Standing, IReadOnlyList<string> Unwell)
{
    public static SpanBaselineAnswer Of(TakenBaseline baseline) => new(
        baseline.Number, UtcText.FromNanoseconds(baseline.UtcNanoseconds), baseline.By, Slugs.Of(baseline.Standing), baseline.Unwell);
}
