using System.Globalization;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Diagnosis;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Shifts;

/// <summary>Composes a hand-over of facts: pure, the same for the same facts. It judges nothing anew.</summary>
internal static class HandOverMaker
{
    /// <summary>A commit comes each second; silence so long is no commit's. Source: our own choice.</summary>
    private const long LongestSilence = 60L * EngineTime.NanosecondsPerSecond;

    private const double NanosecondsPerDay = 86_400e9;

    public static HandOver Of(ShiftFacts facts)
    {
        ArgumentNullException.ThrowIfNull(facts);
        (MachineState state, long? since) = StateOf(facts.Lines);
        IReadOnlyList<AlarmStory> stories = AlarmStory.Of(facts.Alarms);
        List<AlarmStory> raised = [.. stories.Where(s => s.RaisedUtc >= facts.Span.FromUtc && s.RaisedUtc < facts.Span.ToUtc)];
        List<HandOverAlarm> alarms =
        [
            .. stories.Where(s => s.IsOpen).Select(s => AlarmOf(s, facts.Alarms))
                .OrderByDescending(a => a.Waits).ThenByDescending(a => a.Priority).ThenBy(a => a.RaisedUtc).ThenBy(a => a.Line.Tag, StringComparer.Ordinal),
        ];
        List<HandOverPass> passes = [.. PassesOf(facts)];
        List<HandOverDue> due = [.. DueOf(facts)];
        return new HandOver
        {
            Bench = facts.Bench,
            Span = facts.Span,
            SilentSinceUtc = facts.Span.ToUtc - facts.LastStoredUtc > LongestSilence ? facts.LastStoredUtc : null,
            LinesLeftOut = facts.LinesLeftOut,
            State = state,
            StateSinceUtc = since,
            Passes = passes,
            Drifts = [.. (facts.Drifts ?? DriftsOf(facts.Lines, facts.Bench)).OrderBy(d => d.MinutesLeft is null).ThenBy(d => d.LeavesUtc).ThenBy(d => d.Id, StringComparer.Ordinal)],
            Alarms = alarms,
            Raised = raised.Count,
            Settled = raised.Count(s => !s.IsOpen),
            Due = due,
            Next = [.. NextOf(alarms, passes, due)],
            Notes = [.. ShiftEntries.Notes(facts)],
            Entries = [.. ShiftEntries.Entries(facts)],
        };
    }

    /// <summary>What is open of the drifts that judgement told, in its last words.</summary>
    public static IEnumerable<HandOverDrift> DriftsOf(IReadOnlyList<FindingLine> lines, Measurement.Benches.BenchDefinition bench) =>
        lines.Where(l => l.Kind == FindingKinds.Drift).GroupBy(l => l.Id, StringComparer.Ordinal).Select(g => g.Last())
            .Where(l => l.Phase != FindingPhase.Ended)
            .Select(l => new HandOverDrift
            {
                Id = l.Channel ?? "",
                Label = bench.Channels.FirstOrDefault(c => c.Id == l.Channel)?.Label ?? bench.Quantities.FirstOrDefault(q => q.Id == l.Channel)?.Label ?? l.Channel ?? "",
                Unit = l.Unit ?? "",
                AtUtc = l.RaisedUtc,
                Value = l.Value,
                Limit = l.Limit,
                Baseline = Number(l, "baseline"),
                UsedShare = Number(l, "usedShare"),
                SlopePerHour = Number(l, "slopePerHour"),
                SlopePerHourLow = Number(l, "slopeLow"),
                SlopePerHourHigh = Number(l, "slopeHigh"),
                MinutesLeft = Number(l, "minutesLeft"),
                MinutesLeftLow = Number(l, "minutesLeftLow"),
                MinutesLeftHigh = Number(l, "minutesLeftHigh"),
            });

    private static double? Number(FindingLine line, string name) => line.Details.FirstOrDefault(d => d.Name == name).Number;

    /// <summary>A change of state makes a line, and every line tells the state of its instant.</summary>
    private static (MachineState State, long? SinceUtc) StateOf(IReadOnlyList<FindingLine> lines)
    {
        FindingLine? change = lines.LastOrDefault(l => l is { Kind: FindingKinds.State, Phase: FindingPhase.Raised });
        return change is not null && Slugs.TryParse(change.Cause, out MachineState told) ? (told, change.StartUtc)
            : lines.Count > 0 ? (lines[^1].State, null) : (MachineState.Unknown, null);
    }

    private static IEnumerable<HandOverPass> PassesOf(ShiftFacts facts)
    {
        foreach (BookTransfer transfer in facts.Book.Transfers)
        {
            TapeDescribed tape = facts.Book.Tape(transfer.Tape)!.Now;
            foreach (BookPass pass in transfer.Passes.Where(p => p.Stage <= PassStage.Ended || (p.Stage == PassStage.Judged && p.Verdict!.Entry.AboutUtc >= facts.Span.FromUtc)))
            {
                TapePlaces? places = pass.Stage == PassStage.Running ? facts.Places.GetValueOrDefault(pass.Id) : null;
                long now = Math.Min(facts.Span.ToUtc, Math.Max(facts.LastStoredUtc, pass.RunBegan?.Entry.AboutUtc ?? 0));
                yield return new HandOverPass(
                    transfer.Id, pass.Id, pass.Number, tape.Title is { Length: > 0 } title ? $"{tape.Identifier}, {title}" : tape.Identifier, pass.Stage, SinceUtc(pass),
                    places?.At(now), places is null ? null : TapePlaces.Words(pass.RunBegan!.Body.Basis, tape.SpeedInchesPerSecond),
                    PassProgress.Of(tape, pass, facts.Procedures).Next);
            }
        }
    }

    private static long SinceUtc(BookPass pass) => (pass.Stage switch
    {
        PassStage.Ready => pass.LineUpEnded?.Entry,
        PassStage.Running => pass.RunBegan?.Entry,
        PassStage.Ended => pass.RunEnded?.Entry,
        PassStage.Judged => pass.Verdict?.Entry,
        _ => null,
    } ?? pass.Opened).AboutUtc;

    private static HandOverAlarm AlarmOf(AlarmStory story, IReadOnlyList<AlarmTransition> book)
    {
        AlarmStep? act = story.Last.To switch
        {
            AlarmState.Acknowledged => AlarmStep.Acknowledged,
            AlarmState.Shelved => AlarmStep.Shelved,
            AlarmState.OutOfService => AlarmStep.TakenOutOfService,
            AlarmState.SuppressedByDesign => AlarmStep.Suppressed,
            _ => null,
        };
        return new HandOverAlarm(
            story.Last, story.Text, story.Priority, story.RaisedUtc, story.ReturnedUtc,
            act is { } step ? book.LastOrDefault(l => l.Id == story.Last.Id && l.Step == step) : null, CauseActions.FirstOf(story.Cause));
    }

    private static IEnumerable<HandOverDue> DueOf(ShiftFacts facts)
    {
        var today = DateOnly.FromDateTime(UtcText.ToDateTimeOffset(facts.Span.ToUtc).UtcDateTime);
        foreach (CalibrationRow row in facts.Calibrations.Where(r => r.Calibration.Due < today))
        {
            yield return new HandOverDue($"Calibration of {row.Channel.Label}", $"It was due on {Day(row.Calibration.Due!.Value)}.", IsOverdue: true);
        }

        if (facts.Calibrations.Count > 0 && facts.Calibrations.All(r => r.Calibration.Due is null))
        {
            yield return new HandOverDue("Calibrations", "None of this bench has a day on which it is due again.", IsOverdue: false);
        }

        if (facts.Procedures.Checks.Items.FirstOrDefault(i => i.Proof == ProofKind.HeadHours) is { Limit: { } hours })
        {
            if (facts.Upkeep.HeadHours is not { } read)
            {
                yield return new HandOverDue("Head hours", "They were never written down here.", IsOverdue: false);
            }
            else if (read.Hours + facts.Upkeep.RanHours > hours)
            {
                yield return new HandOverDue(
                    "Head hours", string.Create(CultureInfo.InvariantCulture, $"{read.Hours:0.#} h were read off on {Day(read.Utc)} and tape ran for {facts.Upkeep.RanHours:0.#} h since, of {hours:0.#} h."), IsOverdue: true);
            }
        }

        if (facts.Procedures.Checks.Items.FirstOrDefault(i => i.Proof == ProofKind.LeakDown) is { Limit: { } days })
        {
            if (facts.Upkeep.LeakDownUtc is not { } tested)
            {
                yield return new HandOverDue("Leak-down test", "None was ever written down here.", IsOverdue: false);
            }
            else if ((facts.Span.ToUtc - tested) / NanosecondsPerDay > days)
            {
                yield return new HandOverDue("Leak-down test", string.Create(CultureInfo.InvariantCulture, $"The last was on {Day(tested)}; it is due after {days:0} days."), IsOverdue: true);
            }
        }
    }

    private static IEnumerable<HandOverStep> NextOf(List<HandOverAlarm> alarms, List<HandOverPass> passes, List<HandOverDue> due)
    {
        foreach (HandOverAlarm alarm in alarms.Where(a => a.Waits || (a.Line is { To: AlarmState.Acknowledged, IsActive: true } && a.FirstAction is not null)))
        {
            yield return new HandOverStep(
                alarm.Text, alarm.Line.IsActive ? alarm.FirstAction ?? "No cause is named: look at it, and acknowledge it." : "It is over: look at what it was, and acknowledge it.");
        }

        foreach (HandOverPass pass in passes)
        {
            yield return new HandOverStep($"{pass.Tape}, pass {pass.Number}", pass.Next);
        }

        foreach (HandOverDue overdue in due.Where(d => d.IsOverdue))
        {
            yield return new HandOverStep(overdue.What, overdue.Text);
        }
    }

    private static string Day(long utc) => Day(DateOnly.FromDateTime(UtcText.ToDateTimeOffset(utc).UtcDateTime));

    private static string Day(DateOnly day) => day.ToString("d MMM yyyy", CultureInfo.InvariantCulture);
}
