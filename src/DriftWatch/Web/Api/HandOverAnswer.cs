using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Shifts;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Web.Api;

/// <summary>
/// A shift for who takes over, as it stood at <c>To</c>. <c>SilentSince</c>: nothing is stored from there on, and all is as of then; null while the
/// bench is watched. <c>LeftOut</c> says how many of the oldest findings are not told, in a sentence; null where all are. <c>Raised</c> alarms came in the shift, <c>Settled</c> of them are over and answered for.
/// </summary>
internal sealed record HandOverAnswer(
    string Bench,
    string Machine,
    string From,
    string To,
    string? SilentSince,
    string? LeftOut,
    string State,
    string? StateSince,
    IReadOnlyList<HandOverPassAnswer> Passes,
    IReadOnlyList<HandOverDriftAnswer> Drifts,
    IReadOnlyList<HandOverAlarmAnswer> Alarms,
    int Raised,
    int Settled,
    IReadOnlyList<HandOverDue> Due,
    IReadOnlyList<HandOverStep> Next,
    IReadOnlyList<HandOverNoteAnswer> Notes,
    IReadOnlyList<HandOverEntryAnswer> Entries)
{
    public static HandOverAnswer Of(HandOver shift) => new(
        shift.Bench.Id,
        shift.Bench.Machine.Label,
        Text(shift.Span.FromUtc),
        Text(shift.Span.ToUtc),
        OrNone(shift.SilentSinceUtc),
        shift.LeftOutWords,
        Slugs.Of(shift.State),
        OrNone(shift.StateSinceUtc),
        [.. shift.Passes.Select(p => new HandOverPassAnswer(p.Transfer, p.Id, p.Number, p.Tape, Slugs.Of(p.Stage), Text(p.SinceUtc), TapePlaceAnswer.Of(p.Place), p.PlaceBasis, p.Next))],
        [.. shift.Drifts.Select(HandOverDriftAnswer.Of)],
        [.. shift.Alarms.Select(HandOverAlarmAnswer.Of)],
        shift.Raised,
        shift.Settled,
        shift.Due,
        shift.Next,
        [.. shift.Notes.Select(n => new HandOverNoteAnswer(Text(n.AtUtc), n.By, n.Kind, n.About, TapePlaceAnswer.Of(n.Place), n.Text))],
        [.. shift.Entries.Select(e => new HandOverEntryAnswer(Text(e.FromUtc), Text(e.ToUtc), e.By, e.Kind, e.About, e.Text))]);

    internal static string Text(long utc) => UtcText.FromNanoseconds(utc);

    internal static string? OrNone(long? utc) => utc is { } known ? Text(known) : null;
}

/// <summary>A pass in hand or waiting for its verdict; <c>Place</c> is null unless its tape runs.</summary>
internal sealed record HandOverPassAnswer(
    Guid Transfer, Guid Pass, int Number, string Tape, string Stage, string Since, TapePlaceAnswer? Place, string? PlaceBasis, string Next);

/// <summary>What drifts, looked at <c>At</c>. Values in <c>Unit</c>, slopes in it an hour, intervals of 95 %; <c>Leaves</c> is when it is at its limit at this rate, null where that can't be told.</summary>
internal sealed record HandOverDriftAnswer(
    string Id,
    string Label,
    string Unit,
    string At,
    double? Value,
    double? Baseline,
    double? Limit,
    double? UsedShare,
    double? SlopePerHour,
    double? SlopePerHourLow,
    double? SlopePerHourHigh,
    string? Leaves,
    string? LeavesEarliest,
    string? LeavesLatest)
{
    public static HandOverDriftAnswer Of(HandOverDrift drift) => new(
        drift.Id, drift.Label, drift.Unit, HandOverAnswer.Text(drift.AtUtc), drift.Value, drift.Baseline, drift.Limit, drift.UsedShare,
        drift.SlopePerHour, drift.SlopePerHourLow, drift.SlopePerHourHigh,
        HandOverAnswer.OrNone(drift.LeavesUtc), HandOverAnswer.OrNone(drift.LeavesEarliestUtc), HandOverAnswer.OrNone(drift.LeavesLatestUtc));
}

/// <summary>
/// An alarm that is not back to normal. <c>State</c> by the slugs of the book; <c>By</c>, <c>Why</c> and <c>Until</c> tell who shelved it, took it on or out of
/// service; <c>Over</c> is null while it lasts; <c>FirstAction</c> is null while no cause is named.
/// </summary>
internal sealed record HandOverAlarmAnswer(
    string Id,
    string Tag,
    string State,
    bool Waits,
    string Priority,
    string Raised,
    string? Over,
    string Text,
    string? Cause,
    string? FirstAction,
    string? By,
    string? Why,
    string? Until)
{
    public static HandOverAlarmAnswer Of(HandOverAlarm alarm) => new(
        alarm.Line.Id, alarm.Line.Tag, Slugs.Of(alarm.Line.To), alarm.Waits, Slugs.Of(alarm.Priority), HandOverAnswer.Text(alarm.RaisedUtc), HandOverAnswer.OrNone(alarm.OverUtc),
        alarm.Text, alarm.Line.Cause, alarm.FirstAction, alarm.Act?.By, alarm.Act?.Why, HandOverAnswer.OrNone(alarm.Act?.ShelvedUntilUtc));
}

/// <summary><c>Kind</c> is note, mark or hand-over; <c>About</c> is null for one on the shift alone, <c>Place</c> where no tape ran.</summary>
internal sealed record HandOverNoteAnswer(string At, string By, string Kind, string? About, TapePlaceAnswer? Place, string Text);

/// <summary>What else was entered: signatures of one list in a row are one, from the first to the last.</summary>
internal sealed record HandOverEntryAnswer(string From, string To, string By, string Kind, string? About, string Text);
