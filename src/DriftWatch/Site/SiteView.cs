using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Site;

/// <summary>An alarm that is not back to normal, as a server has it.</summary>
internal sealed record SiteAlarm(string Bench, string Alarm, string? Channel, AlarmState State, AlarmPriority Priority, bool IsActive, double? Value, double? Limit, string? Unit, DateTimeOffset Since);

/// <summary>What drifts, as a server has it.</summary>
/// <param name="Of">Channel or quantity.</param>
/// <param name="Unit">Of its value; null where it has none.</param>
/// <param name="Use">Share of the tolerance from the baseline to the limit.</param>
/// <param name="SlopePerHour">In its unit.</param>
/// <param name="MinutesLeft">Until it is at its limit; null where it is not to get there within the horizon.</param>
internal sealed record SiteDrift(string Of, string? Unit, double Use, double SlopePerHour, double? MinutesLeft);

/// <summary>The pass of a tape that a bench has in hand, or had last.</summary>
/// <param name="Tape">What stands on its box.</param>
/// <param name="Number">Of the pass.</param>
/// <param name="Stage">How far it is.</param>
/// <param name="Verdict">Null before one is given.</param>
/// <param name="Since">Of the entry that brought it there.</param>
internal sealed record SitePass(string Tape, int Number, PassStage Stage, Verdict? Verdict, DateTimeOffset Since);

/// <summary>One bench as a server has it.</summary>
/// <param name="Bench">Its id.</param>
/// <param name="Site">Its site; null where it has none.</param>
/// <param name="Age">Of what is told; a bench that is older than <see cref="SiteView.Old"/> is silent, and nothing of it is known now.</param>
/// <param name="Standing">How it stood then.</param>
/// <param name="Alarms">Those that are not back to normal, the worst first.</param>
/// <param name="Drift">What uses the greatest share of its tolerance; null where none can be told.</param>
/// <param name="Pass">Null where none was in hand for a month.</param>
internal sealed record SiteBench(string Bench, string? Site, TimeSpan Age, BenchStanding Standing, IReadOnlyList<SiteAlarm> Alarms, SiteDrift? Drift, SitePass? Pass)
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

    /// <summary>An alarm or pass that nobody touched for longer is left to the bench's own page. Source: our own choice.</summary>
    private static readonly TimeSpan BookBack = TimeSpan.FromDays(30);

    /// <summary>Drifts are told once a minute; two of them missed are a silence.</summary>
    private static readonly TimeSpan DriftsOld = TimeSpan.FromMinutes(3);

    /// <exception cref="HttpRequestException">The server can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    public async Task<IReadOnlyList<SiteBench>> ReadAsync(CancellationToken cancel)
    {
        IReadOnlyList<SiteRow> standings = await server.NewestAsync(EventLines.Standing, ["state", "alarms", "unanswered", "worst_use", "silent", "utc"], Remembered, cancel);
        ILookup<string, SiteAlarm> alarms = (await server.NewestAsync(EventLines.Alarm, ["state", "priority", "active", "value", "limit", "utc"], BookBack, cancel))
            .Select(AlarmOf).OfType<SiteAlarm>()
            .GroupBy(a => (a.Bench, a.Alarm)).Select(g => g.MaxBy(a => a.Since)!) // one alarm may have had other channels and units: the newest counts
            .Where(a => a.State != AlarmState.Normal)
            .ToLookup(a => a.Bench, StringComparer.Ordinal);
        ILookup<string?, SiteDrift?> drifts = (await server.NewestAsync(EventLines.Nearest, ["use", "slope", "leaves", "minutes_left", "utc"], DriftsOld, cancel))
            .OrderByDescending(r => r.Field("utc")) // another may have used most a minute ago
            .ToLookup(r => r.Tag("bench"), DriftOf, StringComparer.Ordinal);
        ILookup<string?, SitePass?> passes = (await server.NewestAsync(EventLines.Pass, ["stage", "verdict", "utc"], BookBack, cancel))
            .ToLookup(r => r.Tag("bench"), PassOf, StringComparer.Ordinal);
        DateTimeOffset now = time.GetUtcNow();
        return
        [
            .. standings.Select(row => BenchOf(row, now)).OfType<SiteBench>()
                .GroupBy(b => b.Bench, StringComparer.Ordinal).Select(g => g.MinBy(b => b.Age)!) // one that was given to another site meanwhile
                .Select(b => b with
                {
                    Alarms = [.. alarms[b.Bench].OrderByDescending(a => a.Priority).ThenBy(a => a.Since)],
                    Drift = drifts[b.Bench].FirstOrDefault(),
                    Pass = passes[b.Bench].MaxBy(p => p?.Since),
                })
                .OrderByDescending(b => b.IsSilent ? 0 : b.Standing.Unanswered).ThenByDescending(b => b.IsSilent)
                .ThenByDescending(b => b.Standing.WorstUse ?? -1).ThenBy(b => b.Bench, StringComparer.Ordinal),
        ];
    }

    private static SiteBench? BenchOf(SiteRow row, DateTimeOffset now)
    {
        if (row.Tag("bench") is not { } bench || row.Field("utc") is not { } utc || row.Field("state") is not { } state)
        {
            return null; // of another program, or of a version before it told
        }

        TimeSpan age = now - Instant(utc);
        return new SiteBench(
            bench,
            row.Tag("site"),
            age > TimeSpan.Zero ? age : TimeSpan.Zero,
            new BenchStanding((MachineState)(int)state, Whole(row, "alarms"), Whole(row, "unanswered"), row.Field("worst_use"), Whole(row, "silent")),
            Alarms: [],
            Drift: null,
            Pass: null);
    }

    private static SiteAlarm? AlarmOf(SiteRow row) =>
        row.Tag("bench") is { } bench && row.Tag("alarm") is { } alarm && row.Field("state") is { } state && row.Field("utc") is { } utc
            ? new SiteAlarm(
                bench, alarm, row.Tag("channel"), (AlarmState)(int)state, (AlarmPriority)Whole(row, "priority"), Whole(row, "active") == 1,
                row.Field("value"), row.Field("limit"), row.Tag("unit"), Instant(utc))
            : null;

    private static SiteDrift? DriftOf(SiteRow row) =>
        row.Tag("of") is { } of && row.Field("use") is { } use
            ? new SiteDrift(of, row.Tag("unit"), use, row.Field("slope") ?? 0, Whole(row, "leaves") == 1 ? row.Field("minutes_left") : null)
            : null;

    private static SitePass? PassOf(SiteRow row)
    {
        if (row.Tag("tape") is not { } tape || row.Field("stage") is not { } number || row.Field("utc") is not { } utc || !int.TryParse(row.Tag("pass"), out int pass))
        {
            return null;
        }

        var stage = (PassStage)(int)number;
        bool isJudged = stage is PassStage.Judged or PassStage.Countersigned; // a verdict of before a pass was run on is an older field
        return new SitePass(tape, pass, stage, isJudged && row.Field("verdict") is { } verdict ? (Verdict)(int)verdict : null, Instant(utc));
    }

    private static DateTimeOffset Instant(double utcSeconds) => DateTimeOffset.FromUnixTimeMilliseconds((long)Math.Round(utcSeconds * 1000));

    private static int Whole(SiteRow row, string field) => (int)(row.Field(field) ?? 0);
}
