using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>
/// A hand-over as a document of the blocks that reports are made of: one sheet, of the busiest night too. What has no room on it is counted,
/// with where it stands; the most important has the room.
/// </summary>
internal static class HandOverDocument
{
    // Rows that fill one sheet where every part of the night is a busy one. Source: our own choice, tried on A4.
    private const int MostPasses = 2;
    private const int MostNext = 3;
    private const int MostAlarms = 4;
    private const int MostDrifts = 2;
    private const int MostDue = 2;
    private const int MostNotes = 2;
    private const int MostLetters = 70;

    /// <param name="shift">What is told.</param>
    /// <param name="zone">Of its times.</param>
    /// <param name="made">When it is made.</param>
    /// <param name="whole">All of it, however long: what is read on a screen needs no end of a sheet.</param>
    public static Document Of(HandOver shift, TimeZoneInfo zone, DateTimeOffset made, bool whole = false)
    {
        Document document = Of(whole ? shift : Fitted(shift), shift, zone, made);
        return whole ? document : document with { Blocks = [.. document.Blocks.Select(Shortened)] };
    }

    private static Document Of(HandOver told, HandOver shift, TimeZoneInfo zone, DateTimeOffset made)
    {
        var clock = new ReportClock(zone);
        List<Block> blocks =
        [
            Lead(shift),
            new Facts([.. Running(told, clock)]),
            .. Next(told),
            .. Alarms(told, clock),
            .. Drifts(told, clock),
            .. Due(told),
            .. Notes(told, clock),
            .. More(told, shift),
        ];
        return new Document(
            "Shift hand-over", $"{shift.Bench.Machine.Label}, {clock.Stretch(shift.Span)}", blocks, made,
            $"Shift hand-over, bench {shift.Bench.Id}, as of {clock.Instant(shift.Span.ToUtc)} {clock.Zone}.");
    }

    /// <summary>What has the room: by the order that each list has, what runs before what waits, and what people wrote before what they signed, the newest of it.</summary>
    private static HandOver Fitted(HandOver shift)
    {
        List<HandOverNote> notes = [.. shift.Notes.OrderBy(n => n.AtUtc).TakeLast(MostNotes)];
        List<HandOverPass> passes = [.. shift.Passes.OrderBy(p => p.Stage > PassStage.Running).ThenByDescending(p => p.SinceUtc).Take(MostPasses)];
        return shift with
        {
            Passes = [.. shift.Passes.Where(p => passes.Exists(k => k.Id == p.Id))],
            Next = [.. shift.Next.Take(MostNext)],
            Alarms = [.. shift.Alarms.Take(MostAlarms)],
            Drifts = [.. shift.Drifts.Take(MostDrifts)],
            Due = [.. shift.Due.OrderBy(d => !d.IsOverdue).Take(MostDue)],
            Notes = notes,
            Entries = [.. shift.Entries.OrderBy(e => e.FromUtc).TakeLast(MostNotes - notes.Count)],
        };
    }

    /// <summary>What has no room, counted.</summary>
    private static IEnumerable<Block> More(HandOver told, HandOver shift)
    {
        (int Count, string Of)[] more =
        [
            (shift.Next.Count - told.Next.Count, "more to do"), (shift.Alarms.Count - told.Alarms.Count, "alarms of less weight"),
            (shift.Drifts.Count - told.Drifts.Count, "drifts that have more time"), (shift.Due.Count - told.Due.Count, "overdue or not to be told"),
            (shift.Notes.Count + shift.Entries.Count - told.Notes.Count - told.Entries.Count, "earlier notes and entries"), (shift.Passes.Count - told.Passes.Count, "passes"),
        ];
        string[] said = [.. more.Where(m => m.Count > 0).Select(m => string.Create(CultureInfo.InvariantCulture, $"{m.Count} {m.Of}"))];
        return said.Length == 0 ? [] : [new Paragraph($"Not on this sheet: {string.Join(", ", said)}. All stand on the page 'Shift', and 'driftwatch handover' without --out tells them.")];
    }

    /// <summary>Of what people wrote as much as a row holds; what is to be done is told whole.</summary>
    private static Block Shortened(Block block) => block switch
    {
        Table table => table with { Rows = [.. table.Rows.Select(r => (IReadOnlyList<Cell>)[.. r.Select(c => c with { Text = Shortened(c.Text) })])] },
        _ => block,
    };

    private static string Shortened(string text) => text.Length <= MostLetters ? text : string.Concat(text.AsSpan(0, MostLetters).TrimEnd(), " …");

    /// <summary>The night in a badge: the gravest of what waits.</summary>
    private static Badge Lead(HandOver shift)
    {
        int waiting = shift.Waiting.Count();
        string raised = shift.Raised == 0 ? "No alarm came in this shift." : string.Create(
            CultureInfo.InvariantCulture, $"{Many(shift.Raised, "alarm")} came in this shift; {shift.Settled} of them over and answered for.");
        return waiting > 0 ? new Badge(shift.Waiting.Any(a => a.Priority == AlarmPriority.High) ? Standing.Bad : Standing.Doubtful, $"{Many(waiting, "alarm")} {(waiting == 1 ? "waits" : "wait")} for an answer", raised)
            : shift.Alarms.Count > 0 || shift.Drifts.Count > 0 ? new Badge(Standing.Doubtful, "Nothing waits for an answer", $"{raised} What still stands or drifts is below.")
            : new Badge(Standing.Good, "Nothing waits, nothing stands, nothing drifts", raised);
    }

    private static IEnumerable<Fact> Running(HandOver shift, ReportClock clock)
    {
        string since = shift.StateSinceUtc is { } utc ? $", since {clock.Instant(utc)}" : "";
        yield return new Fact("Machine", FigureFrame.WordOf(shift.State) + since);
        if (shift.SilentSinceUtc is { } silent)
        {
            yield return new Fact("Not watched", $"since {clock.Instant(silent)}: what stands here is as of then");
        }

        if (shift.LeftOutWords is { } leftOut)
        {
            yield return new Fact("Left out", leftOut);
        }

        if (shift.Passes.Count == 0)
        {
            yield return new Fact("Transfer", "none in hand");
        }

        foreach (HandOverPass pass in shift.Passes)
        {
            string place = pass.Place is { } at ? $", at {at} ({pass.PlaceBasis})" : "";
            yield return new Fact("Transfer", $"{pass.Tape}, pass {pass.Number}: {Words(pass.Stage)} since {clock.Instant(pass.SinceUtc)}{place}");
        }
    }

    private static IEnumerable<Block> Next(HandOver shift)
    {
        yield return new Subheading("What to do next");
        yield return shift.Next.Count == 0
            ? new Paragraph("Nothing is asked for.")
            : new Bullets([.. shift.Next.Select(n => $"{n.About}{(n.About.EndsWith('.') ? "" : ":")} {n.Text}")]);
    }

    private static IEnumerable<Block> Alarms(HandOver shift, ReportClock clock)
    {
        yield return new Subheading("Alarms");
        if (shift.Alarms.Count == 0)
        {
            yield return new Paragraph("Every alarm is back to normal. None is shelved, suppressed or out of service.");
            yield break;
        }

        yield return new Table(
            "", [new Column("stands", 1.5), new Column("priority", 0.95), new Column("since", 2.6), new Column("what", 3.7), new Column("who and why", 2.25)],
            [.. shift.Alarms.Select(a => (IReadOnlyList<Cell>)[
                new Cell(Words(a), StandingOf(a)), Measurement.Channels.Slugs.Of(a.Priority), clock.Instant(a.RaisedUtc), a.Text, Act(a, clock)])]);
    }

    private static string Act(HandOverAlarm alarm, ReportClock clock) => alarm.Act is not { } act ? "" : string.Join(", ", new[]
    {
        act.By,
        act.ShelvedUntilUtc is { } until ? $"until {clock.Instant(until)}" : act.Step == AlarmStep.Shelved ? "until it is over" : null,
        act.Why,
    }.Where(t => t is { Length: > 0 }));

    private static IEnumerable<Block> Drifts(HandOver shift, ReportClock clock)
    {
        yield return new Subheading("Drifts");
        if (shift.Drifts.Count == 0)
        {
            yield return new Paragraph("Nothing is known to drift.");
            yield break;
        }

        yield return new Table(
            "Intervals of 95 %. Used: of the way from the tape's baseline to the limit.",
            [
                new Column("channel", 2.2), new Column("value", 1.1, true), new Column("limit", 1.1, true), new Column("used", 0.7, true), new Column("an hour", 2.3, true),
                new Column("leaves its tolerance", 3.2),
            ],
            [.. shift.Drifts.Select(d => (IReadOnlyList<Cell>)[
                d.Label, Number(d.Value, d.Unit), Number(d.Limit, d.Unit), d.UsedShare is { } used ? string.Create(CultureInfo.InvariantCulture, $"{100 * used:0} %") : "",
                d.SlopePerHour is { } slope ? $"{NumberText.Short(slope)} ({NumberText.Short(d.SlopePerHourLow ?? slope)} to {NumberText.Short(d.SlopePerHourHigh ?? slope)}) {NumberText.Unit(d.Unit)}" : "",
                Leaves(d, shift.Span, clock)])]);
    }

    private static string Leaves(HandOverDrift drift, UtcStretch span, ReportClock clock)
    {
        if (drift.LeavesUtc is not { } leaves)
        {
            return "can't be told";
        }

        string range = drift.LeavesEarliestUtc is not { } low ? "" : drift.LeavesLatestUtc is { } high ? $" ({clock.Time(low)} to {clock.Time(high)})" : $" (not before {clock.Time(low)})";
        string told = drift.AtUtc < span.ToUtc - EngineTime.NanosecondsPerSecond * 180 ? $", told at {clock.Time(drift.AtUtc)}" : "";
        return $"about {clock.Time(leaves)}{range}{told}";
    }

    private static IEnumerable<Block> Due(HandOver shift)
    {
        yield return new Subheading("Overdue");
        List<string> overdue = [.. shift.Due.Where(d => d.IsOverdue).Select(d => $"{d.What}: {d.Text}")];
        List<string> untold = [.. shift.Due.Where(d => !d.IsOverdue).Select(d => $"{d.What}: {d.Text}")];
        yield return overdue.Count == 0 ? new Paragraph("Nothing that has a day or an hour is past it.") : new Bullets(overdue);
        if (untold.Count > 0)
        {
            yield return new Paragraph($"Can't be told: {string.Join(" ", untold)}", Tone.Small);
        }
    }

    private static IEnumerable<Block> Notes(HandOver shift, ReportClock clock)
    {
        yield return new Subheading("Notes and entries of the shift");
        if (shift.Notes.Count + shift.Entries.Count == 0)
        {
            yield return new Paragraph("Nobody wrote anything down.");
            yield break;
        }

        yield return new Table(
            "",
            [new Column("at", 2.5), new Column("place", 1.1), new Column("who", 1.3), new Column("of", 1.4), new Column("what", 3.9)],
            [.. shift.Notes.Select(n => (n.AtUtc, Row: (IReadOnlyList<Cell>)[
                    clock.Instant(n.AtUtc), n.Place?.ToString() ?? "", n.By, n.About ?? "the shift", n.Kind == "note" ? n.Text : $"{Capital(n.Kind)}: {n.Text}"]))
                .Concat(shift.Entries.Select(e => (AtUtc: e.FromUtc, Row: (IReadOnlyList<Cell>)[clock.Instant(e.FromUtc), "", e.By, e.About ?? "", e.Text])))
                .OrderBy(r => r.AtUtc).Select(r => r.Row)]);
    }

    private static Standing StandingOf(HandOverAlarm alarm) => alarm switch
    {
        { Waits: true, Priority: AlarmPriority.High } => Standing.Bad,
        { Waits: true } => Standing.Doubtful,
        _ => Standing.Open,
    };

    private static string Words(HandOverAlarm alarm) => alarm.Line.To switch
    {
        AlarmState.Unacknowledged => "waits",
        AlarmState.ReturnedUnacknowledged => "over, waits",
        AlarmState.Acknowledged => "taken on",
        AlarmState.Shelved => "shelved",
        AlarmState.OutOfService => "out of service",
        _ => "not judged in this state",
    };

    private static string Words(PassStage stage) => stage switch
    {
        PassStage.Preparing => "prepared",
        PassStage.Ready => "lined up",
        PassStage.Running => "running",
        PassStage.Ended => "waiting for its verdict",
        PassStage.Judged => "judged",
        _ => "closed",
    };

    private static string Number(double? value, string unit) => value is { } number ? $"{NumberText.Short(number)} {NumberText.Unit(unit)}".TrimEnd() : "";

    private static string Many(int count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count} {what}{(count == 1 ? "" : "s")}");

    private static string Capital(string kind) => kind[..1].ToUpperInvariant() + kind[1..];
}
