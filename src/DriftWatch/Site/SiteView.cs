using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;

namespace DriftWatch.Site;

/// <summary>An alarm that is not back to normal, as a server has it.</summary>
internal sealed record SiteAlarm(string Bench, string Alarm, string? Channel, AlarmState State, AlarmPriority Priority, bool IsActive, double? Value, double? Limit, string? Unit, DateTimeOffset Since);

/// <summary>One bench as a server has it.</summary>
/// <param name="Bench">Its id.</param>
/// <param name="Site">Its site; null where it has none.</param>
/// <param name="Age">Of what is told; a bench that is older than <see cref="SiteView.Old"/> is silent, and nothing of it is known now.</param>
/// <param name="Standing">How it stood then.</param>
/// <param name="Alarms">Those that are not back to normal, the worst first.</param>
internal sealed record SiteBench(string Bench, string? Site, TimeSpan Age, BenchStanding Standing, IReadOnlyList<SiteAlarm> Alarms)
{
    public bool IsSilent => Age > SiteView.Old;
}

/// <summary>All benches of a site together, from the server that they are mirrored to: who waits for a person comes first, then who is silent.</summary>
internal sealed class SiteView(ISiteServer server, TimeProvider time)
{
    /// <summary>A bench tells how it stands every 15 s; four of them missed are a silence. Source: our own choice.</summary>
    public static readonly TimeSpan Old = TimeSpan.FromMinutes(1);

    /// <summary>A bench that has told nothing for longer is gone from the list. Source: our own choice.</summary>
    private static readonly TimeSpan Remembered = TimeSpan.FromDays(7);

    /// <summary>An alarm that nobody touched for longer is left to the bench's own page. Source: our own choice.</summary>
    private static readonly TimeSpan AlarmsBack = TimeSpan.FromDays(30);

    /// <exception cref="HttpRequestException">The server can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    public async Task<IReadOnlyList<SiteBench>> ReadAsync(CancellationToken cancel)
    {
        IReadOnlyList<SiteRow> standings = await server.NewestAsync(EventLines.Standing, ["state", "alarms", "unanswered", "worst_use", "silent", "utc"], Remembered, cancel);
        ILookup<string, SiteAlarm> alarms = (await server.NewestAsync(EventLines.Alarm, ["state", "priority", "active", "value", "limit", "utc"], AlarmsBack, cancel))
            .Select(AlarmOf).OfType<SiteAlarm>()
            .GroupBy(a => (a.Bench, a.Alarm)).Select(g => g.MaxBy(a => a.Since)!) // one alarm may have had other channels and units: the newest counts
            .Where(a => a.State != AlarmState.Normal)
            .ToLookup(a => a.Bench, StringComparer.Ordinal);
        DateTimeOffset now = time.GetUtcNow();
        return
        [
            .. standings.Select(row => BenchOf(row, now, alarms)).OfType<SiteBench>()
                .OrderByDescending(b => b.IsSilent ? 0 : b.Standing.Unanswered).ThenByDescending(b => b.IsSilent)
                .ThenByDescending(b => b.Standing.WorstUse ?? -1).ThenBy(b => b.Bench, StringComparer.Ordinal),
        ];
    }

    private static SiteBench? BenchOf(SiteRow row, DateTimeOffset now, ILookup<string, SiteAlarm> alarms)
    {
        if (row.Tag("bench") is not { } bench || row.Field("utc") is not { } utc || row.Field("state") is not { } state)
        {
            return null; // of another program, or of a version before it told
        }

        TimeSpan age = now - DateTimeOffset.FromUnixTimeMilliseconds((long)(utc * 1000));
        return new SiteBench(
            bench,
            row.Tag("site"),
            age > TimeSpan.Zero ? age : TimeSpan.Zero,
            new BenchStanding((MachineState)(int)state, Whole(row, "alarms"), Whole(row, "unanswered"), row.Field("worst_use"), Whole(row, "silent")),
            [.. alarms[bench].OrderByDescending(a => a.Priority).ThenBy(a => a.Since)]);
    }

    private static SiteAlarm? AlarmOf(SiteRow row) =>
        row.Tag("bench") is { } bench && row.Tag("alarm") is { } alarm && row.Field("state") is { } state && row.Field("utc") is { } utc
            ? new SiteAlarm(
                bench, alarm, row.Tag("channel"), (AlarmState)(int)state, (AlarmPriority)Whole(row, "priority"), Whole(row, "active") == 1,
                row.Field("value"), row.Field("limit"), row.Tag("unit"), DateTimeOffset.FromUnixTimeMilliseconds((long)(utc * 1000)))
            : null;

    private static int Whole(SiteRow row, string field) => (int)(row.Field(field) ?? 0);
}
