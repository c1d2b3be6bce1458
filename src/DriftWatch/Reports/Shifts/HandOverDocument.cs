using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>A hand-over as a document of the blocks that reports are made of: one sheet for an ordinary night.</summary>
internal static class HandOverDocument
{
    public static Document Of(HandOver shift, TimeZoneInfo zone, DateTimeOffset made)
    {
        var clock = new ReportClock(zone);
        List<Block> blocks =
        [
            Lead(shift),
            new Facts([.. Running(shift, clock)]),
            .. Next(shift),
            .. Alarms(shift, clock),
            .. Drifts(shift, clock),
            .. Due(shift),
            .. Notes(shift, clock),
        ];
        return new Document(
            "Shift hand-over", $"{shift.Bench.Machine.Label}, {clock.Stretch(shift.Span)}", blocks, made,
            $"Shift hand-over, bench {shift.Bench.Id}, as of {clock.Instant(shift.Span.ToUtc)} {clock.Zone}.");
    }

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

        if (shift.Passes.Count == 0)
        {
            yield return new Fact("Transfer", "none in hand");
        }

        foreach (HandOverPass pass in shift.Passes)
        {
            string place = pass.Place is { } at ? $", at {at} ({pass.PlaceBasis})" : "";
            yield return new Fact("Transfer", $"{pass.Tape}, pass {pass.Number}: {Words(pass.Stage)} since {clock.Instant(pass.SinceUtc)}{place}");
        }

        yield return new Fact("Times", clock.Zone);
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
            "", [new Column("stands", 1.5), new Column("priority", 0.95), new Column("since", 2.05), new Column("what", 4), new Column("who, until when and why", 2.5)],
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
            [new Column("at", 1.95), new Column("on the tape", 1.1), new Column("who", 1.3), new Column("of", 1.4), new Column("what", 3.9)],
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
