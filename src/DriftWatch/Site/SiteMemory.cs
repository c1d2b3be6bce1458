namespace DriftWatch.Site;

/// <summary>
/// When each bench of a server told last, of a week: asked for now and then, and kept up with what recent views saw, so that one that falls silent
/// stays on the list with its age. One view at a time uses it.
/// </summary>
/// <param name="time">By whose durations it is renewed.</param>
internal sealed class SiteMemory(TimeProvider time)
{
    /// <summary>Source: our own choice; whoever is silent now and was not seen since stays away from the list for so long at most.</summary>
    private static readonly TimeSpan Holds = TimeSpan.FromMinutes(5);

    private readonly Dictionary<(string? Bench, string? Site), SiteRow> _last = [];
    private long? _renewed;

    /// <summary>Whether the week is to be asked for anew.</summary>
    public bool IsDue => _renewed is not { } stamp || time.GetElapsedTime(stamp) >= Holds;

    /// <summary>The week's answer, which has whoever told something in it.</summary>
    public void Renew(IReadOnlyList<SiteRow> week)
    {
        _last.Clear();
        Keep(week);
        _renewed = time.GetTimestamp();
    }

    /// <summary>What was seen just now, and after it whoever was not seen and is remembered.</summary>
    public IReadOnlyList<SiteRow> With(IReadOnlyList<SiteRow> recent)
    {
        HashSet<(string?, string?)> seen = [.. recent.Select(Key)];
        SiteRow[] all = [.. recent, .. _last.Where(l => !seen.Contains(l.Key)).Select(l => l.Value)];
        Keep(recent);
        return all;
    }

    private void Keep(IReadOnlyList<SiteRow> rows)
    {
        foreach (SiteRow row in rows)
        {
            if (row.Field("utc") is { } utc && !(_last.TryGetValue(Key(row), out SiteRow? before) && before.Field("utc") > utc))
            {
                _last[Key(row)] = new SiteRow(row.Tags, new Dictionary<string, double>(StringComparer.Ordinal) { ["utc"] = utc });
            }
        }
    }

    private static (string? Bench, string? Site) Key(SiteRow row) => (row.Tag("bench"), row.Tag("site"));
}
