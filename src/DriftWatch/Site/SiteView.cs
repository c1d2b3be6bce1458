using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Site;

/// <summary>An alarm that is not back to normal, as a server has it.</summary>
internal sealed record SiteAlarm(string Bench, string? Site, string Alarm, string? Channel, AlarmState State, AlarmPriority Priority, bool IsActive, double? Value, double? Limit, string? Unit, DateTimeOffset Since);

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
/// <param name="server">Asked.</param>
/// <param name="time">By whose clock ages are.</param>
/// <param name="memory">Of the views before; without one a server is asked for the week of every bench each time.</param>
internal sealed class SiteView(ISiteServer server, TimeProvider time, SiteMemory? memory = null)
{
    /// <summary>Some nine thousand years, beyond which there are no dates.</summary>
    private const double FarthestSeconds = 200e9;

    /// <summary>A bench tells how it stands every 15 s; four of them missed are a silence. Source: our own choice.</summary>
    public static readonly TimeSpan Old = TimeSpan.FromMinutes(1);

    /// <summary>
    /// Whoever told something within this is asked how it stands; of whoever did not, only when it told last is of use, and that is held. Derived:
    /// a week has 40,320 lines of every bench, of which a server reads each one to tell the last, and this has eight.
    /// </summary>
    private static readonly TimeSpan Recent = 2 * Old;

    /// <summary>A bench that has told nothing for longer is gone from the list. Source: our own choice.</summary>
    private static readonly TimeSpan Remembered = TimeSpan.FromDays(7);

    /// <summary>The same where a server refuses to read a week of all benches. Derived: one that reads a thousand million values for a question has a week of 24,800 benches, and a day of 173,000.</summary>
    private static readonly TimeSpan RememberedAtLeast = TimeSpan.FromDays(1);

    /// <summary>A server that reads a week for longer is asked for a day. Source: our own choice, so that both and the rest lie within what a page waits.</summary>
    private static readonly TimeSpan LongestWeek = TimeSpan.FromSeconds(8);

    /// <summary>An alarm or pass that nobody touched for longer is left to the bench's own page. Source: our own choice.</summary>
    private static readonly TimeSpan BookBack = TimeSpan.FromDays(30);

    /// <summary>Drifts are told once a minute; two of them missed are a silence.</summary>
    private static readonly TimeSpan DriftsOld = TimeSpan.FromMinutes(3);

    /// <exception cref="HttpRequestException">The server can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    public async Task<IReadOnlyList<SiteBench>> ReadAsync(CancellationToken cancel)
    {
        IReadOnlyList<SiteRow> recent = await server.NewestAsync(EventLines.Standing, ["state", "alarms", "unanswered", "worst_use", "silent", "utc"], Recent, cancel);
        SiteMemory known = memory ?? new SiteMemory(time);
        if (known.IsDue)
        {
            known.Renew(await RememberedAsync(cancel));
        }

        IReadOnlyList<SiteRow> standings = known.With(recent);
        ILookup<(string, string?), SiteAlarm> alarms = (await server.NewestAsync(EventLines.Alarm, ["state", "priority", "active", "value", "limit", "utc"], BookBack, cancel))
            .Select(AlarmOf).OfType<SiteAlarm>()
            .GroupBy(a => (a.Bench, a.Site, a.Alarm)).Select(g => g.MaxBy(a => a.Since)!) // one alarm may have had other channels and units: the newest counts
            .Where(a => a.State != AlarmState.Normal)
            .ToLookup(a => (a.Bench, a.Site));
        ILookup<(string?, string?), SiteDrift?> drifts = (await server.NewestAsync(EventLines.Nearest, ["use", "slope", "leaves", "minutes_left", "utc"], DriftsOld, cancel))
            .OrderByDescending(r => r.Field("utc")) // another may have used most a minute ago
            .ToLookup(Key, DriftOf);
        ILookup<(string?, string?), SitePass?> passes = (await server.NewestAsync(EventLines.Pass, ["stage", "verdict", "utc"], BookBack, cancel)).ToLookup(Key, PassOf);
        DateTimeOffset now = time.GetUtcNow();
        return
        [
            .. standings.Select(row => BenchOf(row, now)).OfType<SiteBench>()
                .GroupBy(b => (b.Bench, b.Site)).Select(g => g.MinBy(b => b.Age)!) // of one that gave itself other tags meanwhile the newest counts
                .Select(b => b with
                {
                    Alarms = [.. alarms[(b.Bench, b.Site)].OrderByDescending(a => a.Priority).ThenBy(a => a.Since)],
                    Drift = drifts[(b.Bench, b.Site)].FirstOrDefault(),
                    Pass = passes[(b.Bench, b.Site)].MaxBy(p => p?.Since),
                })
                .OrderByDescending(b => b.IsSilent ? 0 : b.Standing.Unanswered).ThenByDescending(b => b.IsSilent)
                .ThenByDescending(b => b.Standing.WorstUse ?? -1).ThenBy(b => b.Bench, StringComparer.Ordinal).ThenBy(b => b.Site, StringComparer.Ordinal),
        ];
    }

    /// <summary>Who told something in a week; of a server that will not read so much for a question, or not in time, of a day: then whoever is silent for longer is gone from the list.</summary>
    private async Task<IReadOnlyList<SiteRow>> RememberedAsync(CancellationToken cancel)
    {
        using var patience = new CancellationTokenSource(LongestWeek, time);
        using var both = CancellationTokenSource.CreateLinkedTokenSource(cancel, patience.Token);
        try
        {
            return await server.NewestAsync(EventLines.Standing, ["utc"], Remembered, both.Token);
        }
        catch (Exception exception) when (exception is HttpRequestException { StatusCode: not null } || (exception is OperationCanceledException && !cancel.IsCancellationRequested))
        {
            return await server.NewestAsync(EventLines.Standing, ["utc"], RememberedAtLeast, cancel);
        }
    }

    private static (string? Bench, string? Site) Key(SiteRow row) => (row.Tag("bench"), row.Tag("site"));

    private static SiteBench? BenchOf(SiteRow row, DateTimeOffset now)
    {
        if (row.Tag("bench") is not { } bench || Instant(row) is not { } at)
        {
            return null; // of another program
        }

        TimeSpan age = now - at;
        MachineState? known = row.Field("state") is null && age > Old ? MachineState.Unknown : One<MachineState>(row, "state"); // of one that is silent nothing is known
        if (known is not { } state)
        {
            return null; // of a version before or after this one
        }

        return new SiteBench(
            bench,
            row.Tag("site"),
            age > TimeSpan.Zero ? age : TimeSpan.Zero,
            new BenchStanding(state, Whole(row, "alarms"), Whole(row, "unanswered"), row.Field("worst_use"), Whole(row, "silent")),
            Alarms: [],
            Drift: null,
            Pass: null);
    }

    private static SiteAlarm? AlarmOf(SiteRow row) =>
        row.Tag("bench") is { } bench && row.Tag("alarm") is { } alarm && One<AlarmState>(row, "state") is { } state && Instant(row) is { } at
            ? new SiteAlarm(
                bench, row.Tag("site"), alarm, row.Tag("channel"), state, One<AlarmPriority>(row, "priority") ?? AlarmPriority.Medium, Whole(row, "active") == 1,
                row.Field("value"), row.Field("limit"), row.Tag("unit"), at)
            : null;

    private static SiteDrift? DriftOf(SiteRow row) =>
        row.Tag("of") is { } of && row.Field("use") is { } use
            ? new SiteDrift(of, row.Tag("unit"), use, row.Field("slope") ?? 0, Whole(row, "leaves") == 1 ? row.Field("minutes_left") : null)
            : null;

    private static SitePass? PassOf(SiteRow row)
    {
        if (row.Tag("tape") is not { } tape || One<PassStage>(row, "stage") is not { } stage || Instant(row) is not { } at || !int.TryParse(row.Tag("pass"), NumberStyles.None, CultureInfo.InvariantCulture, out int pass))
        {
            return null;
        }

        bool isJudged = stage is PassStage.Judged or PassStage.Countersigned; // a verdict of before a pass was run on is an older field
        return new SitePass(tape, pass, stage, isJudged ? One<Verdict>(row, "verdict") : null, at);
    }

    /// <summary>The line's own instant; null where it is none: one odd number must not take the other benches from the page.</summary>
    private static DateTimeOffset? Instant(SiteRow row) =>
        row.Field("utc") is { } seconds && Math.Abs(seconds) < FarthestSeconds ? DateTimeOffset.FromUnixTimeMilliseconds((long)Math.Round(seconds * 1000)) : null;

    /// <summary>A number of the schema; null for one that this version does not know.</summary>
    private static T? One<T>(SiteRow row, string field)
        where T : struct, Enum =>
        row.Field(field) is { } number && Math.Abs(number) < 1000 && (T)Enum.ToObject(typeof(T), (int)number) is var known && Enum.IsDefined(known) ? known : null;

    private static int Whole(SiteRow row, string field) => row.Field(field) is { } number && Math.Abs(number) < int.MaxValue ? (int)number : 0;
}
