using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Watch.Alarms.Health;

/// <summary>One coming of an alarm, as its lines in the book tell it: what a person reads in the morning.</summary>
public sealed record AlarmStory
{
    /// <summary>The newest line: how it stands.</summary>
    public required AlarmTransition Last { get; init; }

    public required long RaisedUtc { get; init; }

    /// <summary>The highest it had.</summary>
    public required AlarmPriority Priority { get; init; }

    /// <summary>What it is about, in one sentence: of the line that called last, or the first.</summary>
    public required string Text { get; init; }

    public string? Cause { get; init; }

    /// <summary>When what it tells of was over; null while it lasts.</summary>
    public long? ReturnedUtc { get; init; }

    public AlarmTransition? Acknowledged { get; init; }

    /// <summary>What people did about it, in the order of the book: acknowledged, shelved, taken out of service and back.</summary>
    public IReadOnlyList<AlarmTransition> Acts { get; init; } = [];

    /// <summary>The tag was raised again before this coming was answered for; the later coming waits for both.</summary>
    public required bool CameAgain { get; init; }

    public bool IsOpen => !CameAgain && Last.To != AlarmState.Normal && !WentWithItsChannel(Last);

    /// <summary>The comings of these lines, in the order of the book. One that came before the first line is told from there on.</summary>
    public static IReadOnlyList<AlarmStory> Of(IEnumerable<AlarmTransition> lines)
    {
        List<AlarmTransition> book = [.. lines.OrderBy(l => l.Input).ThenBy(l => l.Place)];
        Dictionary<string, AlarmTransition> latest = LatestOfTags(book).ToDictionary(l => l.Tag, StringComparer.Ordinal);
        return [.. book.GroupBy(l => l.Id, StringComparer.Ordinal).Select(g => Of([.. g], latest[g.First().Tag].Id != g.Key))];
    }

    /// <summary>The newest line of each tag, of lines in the order of the book: how all stands.</summary>
    public static IEnumerable<AlarmTransition> LatestOfTags(IEnumerable<AlarmTransition> book) =>
        book.GroupBy(l => l.Tag, StringComparer.Ordinal).Select(g => g.Last());

    /// <summary>Whether what the line's alarm tells of exists, as far as anybody can still say.</summary>
    public static bool Stands(AlarmTransition line) => line.IsActive && !WentWithItsChannel(line);

    /// <summary>A new bench file took its channel away: nothing more will be said of it.</summary>
    private static bool WentWithItsChannel(AlarmTransition line) => line is { Step: AlarmStep.TakenOutOfService, Why: "bench-reloaded" };

    private static AlarmStory Of(List<AlarmTransition> lines, bool cameAgain)
    {
        AlarmTransition last = lines[^1];
        return new AlarmStory
        {
            Last = last,
            RaisedUtc = last.RaisedUtc,
            Priority = lines.Max(l => l.Priority),
            Text = (lines.FindLast(l => l.Step is AlarmStep.Raised or AlarmStep.Worsened) ?? lines[0]).Text,
            Cause = lines.FindLast(l => l.Cause is not null)?.Cause,
            ReturnedUtc = last.IsActive ? null : lines.FindLast(l => l.Step == AlarmStep.Returned)?.AtUtc,
            Acknowledged = lines.FindLast(l => l.Step == AlarmStep.Acknowledged),
            Acts = [.. lines.Where(l => l.By is not null && l.Step is AlarmStep.Acknowledged or AlarmStep.Shelved or AlarmStep.Unshelved or AlarmStep.TakenOutOfService or AlarmStep.PutBackInService)],
            CameAgain = cameAgain,
        };
    }
}
