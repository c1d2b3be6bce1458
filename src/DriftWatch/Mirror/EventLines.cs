using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage.Mirror;
using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Mirror;

/// <summary>How a bench stands at one moment.</summary>
/// <param name="State">Of the machine.</param>
/// <param name="Alarms">That exist now.</param>
/// <param name="Unanswered">That wait for a person.</param>
/// <param name="WorstUse">The greatest share of a tolerance that a channel or quantity uses by its drift; null where none can be told.</param>
/// <param name="Silent">Channels that give no value now.</param>
internal sealed record BenchStanding(MachineState State, int Alarms, int Unanswered, double? WorstUse, int Silent)
{
    /// <summary>What drifts, as judgement told it once a minute.</summary>
    public IReadOnlyList<ChannelDrift> Drifts { get; init; } = [];
}

/// <summary>Writes alarms, findings, drifts, passes of tapes and how a bench stands as lines. The README beside this is the schema; it only grows.</summary>
internal static class EventLines
{
    public const string Alarm = "driftwatch_alarm";
    public const string Finding = "driftwatch_finding";
    public const string Standing = "driftwatch_bench";
    public const string Drift = "driftwatch_drift";
    public const string Nearest = "driftwatch_nearest";
    public const string Pass = "driftwatch_pass";

    public static void Write(AlarmTransition line, IReadOnlyList<(string Name, string? Value)> tags, LineText text)
    {
        text.Begin(LineText.Head(Alarm, [("bench", line.Bench), ("alarm", line.Tag), ("channel", line.Channel), ("unit", line.Unit), .. tags]));
        text.Field("state", (long)line.To);
        text.Field("step", (long)line.Step);
        text.Field("priority", (long)line.Priority);
        text.Field("active", line.IsActive ? 1L : 0L);
        text.Field("value", line.Value ?? double.NaN);
        text.Field("limit", line.Limit ?? double.NaN);
        text.Field("utc", Seconds(line.AtUtc));
        text.End(Milliseconds(line.AtUtc));
    }

    public static void Write(FindingLine line, IReadOnlyList<(string Name, string? Value)> tags, LineText text)
    {
        text.Begin(LineText.Head(Finding, [("bench", line.Bench), ("kind", line.Kind), ("channel", line.Channel), ("severity", Slugs.Of(line.Severity)), ("unit", line.Unit), .. tags]));
        text.Field("open", line.Phase == FindingPhase.Ended ? 0L : 1L);
        text.Field("value", line.Value ?? double.NaN);
        text.Field("limit", line.Limit ?? double.NaN);
        text.End(Milliseconds(line.RaisedUtc));
    }

    public static void Write(BenchStanding standing, string bench, IReadOnlyList<(string Name, string? Value)> tags, LineText text, long utcMilliseconds)
    {
        text.Begin(LineText.Head(Standing, [("bench", bench), .. tags]));
        text.Field("state", (long)standing.State);
        text.Field("alarms", (long)standing.Alarms);
        text.Field("unanswered", (long)standing.Unanswered);
        text.Field("worst_use", standing.WorstUse ?? double.NaN);
        text.Field("silent", (long)standing.Silent);
        text.Field("utc", utcMilliseconds / 1000.0);
        text.End(utcMilliseconds);
    }

    /// <summary>One line for each channel and quantity whose drift can be told, and one more for that which uses most of its tolerance.</summary>
    /// <param name="standing">Whose drifts.</param>
    /// <param name="bench">Its id.</param>
    /// <param name="tags">Further tags.</param>
    /// <param name="text">Where to.</param>
    /// <param name="utcMilliseconds">The moment, since 1970.</param>
    /// <param name="all">Not that which uses most alone.</param>
    public static void WriteDrifts(BenchStanding standing, string bench, IReadOnlyList<(string Name, string? Value)> tags, LineText text, long utcMilliseconds, bool all = true)
    {
        foreach (ChannelDrift drift in standing.Drifts.Where(d => all && d.SlopePerHour is not null))
        {
            Write(Drift, drift);
        }

        if (standing.Drifts.Where(d => d.UsedShare is not null).MaxBy(d => d.UsedShare) is { } nearest)
        {
            Write(Nearest, nearest); // a site of a thousand benches asks for a thousand lines, not for all of them
        }

        void Write(string measurement, ChannelDrift drift)
        {
            text.Begin(LineText.Head(measurement, [("bench", bench), ("of", drift.Id), ("unit", drift.Unit), .. tags]));
            text.Field("value", drift.Value ?? double.NaN);
            text.Field("baseline", drift.Baseline ?? double.NaN);
            text.Field("limit", drift.Limit ?? double.NaN);
            text.Field("use", drift.UsedShare ?? double.NaN);
            text.Field("slope", drift.SlopePerHour ?? double.NaN);
            text.Field("slope_low", drift.SlopePerHourLow ?? double.NaN);
            text.Field("slope_high", drift.SlopePerHourHigh ?? double.NaN);
            text.Field("leaves", drift.MinutesLeft is null ? 0L : 1L);
            text.Field("minutes_left", drift.MinutesLeft ?? double.NaN);
            text.Field("minutes_left_low", drift.MinutesLeftLow ?? double.NaN);
            text.Field("minutes_left_high", drift.MinutesLeftHigh ?? double.NaN);
            text.Field("utc", utcMilliseconds / 1000.0);
            text.End(utcMilliseconds);
        }
    }

    /// <summary>How a pass stands after an entry of the book of transfers.</summary>
    public static void Write(EntryCommand entry, TransferBook book, string bench, IReadOnlyList<(string Name, string? Value)> tags, LineText text)
    {
        if (entry.Transfer is not { } id || book.Transfer(id) is not { } transfer || transfer.Passes.Find(p => p.Id == entry.Pass) is not { } pass)
        {
            return; // of a tape, of a shift, or refused by the book
        }

        text.Begin(LineText.Head(
            Pass,
            [
                ("bench", bench), ("pass", pass.Number.ToString(CultureInfo.InvariantCulture)), ("standard", book.Tape(transfer.Tape)?.Now.Standard),
                ("tape", book.Tape(transfer.Tape)?.Now.Identifier), ("transfer", transfer.Id.ToString("D")), .. tags,
            ]));
        text.Field("stage", (long)pass.Stage);
        if (pass.Stage is PassStage.Judged or PassStage.Countersigned && pass.Verdict is { } given)
        {
            text.Field("verdict", (long)given.Body.Verdict);
        }

        text.Field("utc", Seconds(entry.AboutUtc));
        text.End(Milliseconds(entry.AboutUtc));
    }

    /// <summary>Its own instant again as a field: not every language tells when the newest value was.</summary>
    private static double Seconds(long utcNanoseconds) => Milliseconds(utcNanoseconds) / 1000.0;

    private static long Milliseconds(long utcNanoseconds) => utcNanoseconds / EngineTime.NanosecondsPerMillisecond;
}
