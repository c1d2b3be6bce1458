using DriftWatch.Measurement.Alarms;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Watch.Alarms.WhatIf;

/// <summary>What became of an alarm under other limits. Append only: the slugs stand in the API.</summary>
public enum AlarmFate
{
    /// <summary>It came, and would have come.</summary>
    Kept,

    /// <summary>It came, and would not have come.</summary>
    Gone,

    /// <summary>It did not come, and would have come.</summary>
    New,
}

/// <param name="Tag">Of the alarm.</param>
/// <param name="Fate">What became of it.</param>
/// <param name="Was">How it came; null for a new one.</param>
/// <param name="Would">How it would have come; null for one that is gone.</param>
public sealed record ComparedAlarm(string Tag, AlarmFate Fate, AlarmStory? Was, AlarmStory? Would)
{
    /// <summary>When it came, or would have come where it did not.</summary>
    public long RaisedUtc => (Was ?? Would!).RaisedUtc;
}

/// <summary>
/// Holds the alarms of one judgement against those of another, over the same readings. Two comings are the same when they are of
/// one tag and stood at the same time, or within a minute of it. A trouble that another finding tells of first has another
/// tag, so that it shows as gone and as new.
/// </summary>
public static class AlarmComparison
{
    /// <summary>An alarm stays for a minute after the last of its findings, so that this much can lie between two that are one. Source: derived.</summary>
    private const long Slack = 60_000_000_000;

    /// <param name="was">Lines of the book as it was judged.</param>
    /// <param name="would">Lines as it would have been judged.</param>
    /// <param name="span">Only alarms raised in it; null: all.</param>
    /// <returns>By the time at which they came.</returns>
    public static IReadOnlyList<ComparedAlarm> Of(IEnumerable<AlarmTransition> was, IEnumerable<AlarmTransition> would, UtcStretch? span = null)
    {
        ArgumentNullException.ThrowIfNull(was);
        ArgumentNullException.ThrowIfNull(would);
        Dictionary<string, List<AlarmStory>> before = ByTag(was);
        Dictionary<string, List<AlarmStory>> after = ByTag(would);
        var compared = new List<ComparedAlarm>();
        foreach (string tag in before.Keys.Union(after.Keys))
        {
            Match(tag, before.GetValueOrDefault(tag, []), after.GetValueOrDefault(tag, []), compared);
        }

        return
        [
            .. compared.Where(c => span is not { } s || Lies(c.Was, s) || Lies(c.Would, s))
                .OrderBy(c => c.RaisedUtc).ThenBy(c => c.Tag, StringComparer.Ordinal),
        ];
    }

    private static bool Lies(AlarmStory? story, UtcStretch span) => story is not null && story.RaisedUtc >= span.FromUtc && story.RaisedUtc < span.ToUtc;

    private static Dictionary<string, List<AlarmStory>> ByTag(IEnumerable<AlarmTransition> lines) => AlarmStory.Of(lines)
        .GroupBy(s => s.Last.Tag, StringComparer.Ordinal)
        .ToDictionary(g => g.Key, g => g.OrderBy(s => s.RaisedUtc).ToList(), StringComparer.Ordinal);

    /// <summary>Both in order of time: whichever of two that are not the same is over first has no partner.</summary>
    private static void Match(string tag, List<AlarmStory> was, List<AlarmStory> would, List<ComparedAlarm> compared)
    {
        int i = 0;
        int k = 0;
        while (i < was.Count || k < would.Count)
        {
            AlarmStory? left = i < was.Count ? was[i] : null;
            AlarmStory? right = k < would.Count ? would[k] : null;
            if (left is not null && right is not null && Meet(left, right))
            {
                compared.Add(new ComparedAlarm(tag, AlarmFate.Kept, left, right));
                i++;
                k++;
            }
            else if (right is null || (left is not null && left.RaisedUtc < right.RaisedUtc))
            {
                compared.Add(new ComparedAlarm(tag, AlarmFate.Gone, left, null));
                i++;
            }
            else
            {
                compared.Add(new ComparedAlarm(tag, AlarmFate.New, null, right));
                k++;
            }
        }
    }

    private static bool Meet(AlarmStory left, AlarmStory right) =>
        left.RaisedUtc <= End(right) + Slack && right.RaisedUtc <= End(left) + Slack;

    private static long End(AlarmStory story) => story.ReturnedUtc ?? long.MaxValue - Slack;
}
