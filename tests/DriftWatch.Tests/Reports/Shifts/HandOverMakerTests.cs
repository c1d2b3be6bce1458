using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Shifts;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Watch.Transfers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Tests.Reports.Shifts;

/// <summary>A hand-over composed of facts that are known, each to be found again in its place.</summary>
public sealed class HandOverMakerTests
{
    private const long Second = 1_000_000_000;
    private const long Begin = Acts.Begin;
    private static readonly UtcStretch Shift = new(Begin, Begin + (3600 * Second));

    [Fact]
    public void What_runs_is_told_with_stage_place_and_since()
    {
        HandOver shift = HandOverMaker.Of(Facts());
        Assert.Equal((MachineState.Locked, Begin + (100 * Second)), (shift.State, shift.StateSinceUtc));
        Assert.Null(shift.SilentSinceUtc);
        HandOverPass pass = Assert.Single(shift.Passes);
        Assert.Equal(("VT 1047", PassStage.Running, Begin + (600 * Second)), (pass.Tape, pass.Stage, pass.SinceUtc));
        Assert.Equal("0:50:00.0", pass.Place.ToString()); // an hour less the ten minutes before the run
        Assert.Contains("15 inches a second", pass.PlaceBasis, StringComparison.Ordinal);
    }

    [Fact]
    public void A_place_is_that_of_the_last_reading_where_nobody_watches_any_more()
    {
        HandOver shift = HandOverMaker.Of(Facts() with { LastStoredUtc = Begin + (1200 * Second) });
        Assert.Equal(Begin + (1200 * Second), shift.SilentSinceUtc);
        Assert.Equal("0:10:00.0", Assert.Single(shift.Passes).Place.ToString());
    }

    [Fact]
    public void Only_what_drifts_still_is_told_with_when_it_leaves()
    {
        HandOverDrift drift = Assert.Single(HandOverMaker.Of(Facts()).Drifts);
        Assert.Equal(("regulated-air", "Regulated air", 0.4, -2.5), (drift.Id, drift.Label, drift.UsedShare, drift.SlopePerHour));
        Assert.Equal(Begin + (3000 * Second) + (90L * 60 * Second), drift.LeavesUtc);
        Assert.Null(drift.LeavesLatestUtc);
    }

    [Fact]
    public void A_table_of_now_stands_in_the_place_of_the_findings()
    {
        HandOverDrift late = new() { Id = "b", Label = "B", Unit = "psi", AtUtc = Begin, MinutesLeft = 50 };
        HandOver shift = HandOverMaker.Of(Facts() with { Drifts = [late, late with { Id = "c", MinutesLeft = null }, late with { Id = "a", MinutesLeft = 10 }] });
        Assert.Equal(["a", "b", "c"], shift.Drifts.Select(d => d.Id));
    }

    [Fact]
    public void Alarms_stand_by_who_is_waited_for_and_say_who_did_what_until_when_and_why()
    {
        HandOver shift = HandOverMaker.Of(Facts());
        Assert.Equal(
            ["air-below-setpoint.regulated-air", "stale.timing-error", "vacuum-loss.guide-vacuum", "below-limit.guide-vacuum", "sensor-fault.guide-vacuum"],
            shift.Alarms.Select(a => a.Line.Tag));
        Assert.Equal(2, shift.Waiting.Count());
        HandOverAlarm shelved = Assert.Single(shift.Quiet, a => a.Line.To == AlarmState.Shelved);
        Assert.Equal(("Ida Wren", "new head on Tuesday", Begin + (5000 * Second)), (shelved.Act!.By, shelved.Act.Why, shelved.Act.ShelvedUntilUtc));
        Assert.Equal("Tom Ashby", Assert.Single(shift.Taken).Act!.By);
        Assert.Equal((6, 1), (shift.Raised, shift.Settled));
    }

    [Fact]
    public void What_to_do_next_is_what_the_cause_asks_then_the_pass_then_the_calendar()
    {
        HandOver shift = HandOverMaker.Of(Facts());
        Assert.Equal(
            ["Finish or stop the tape before the supply reaches the regulator's headroom; then look at the compressor's intake, valves and belt.", "It is over: look at what it was, and acknowledge it.",
                "The tape runs. Mark what is to be looked at again.", "It was due on 1 Jan 2026."],
            shift.Next.Select(n => n.Text).Take(4));
        Assert.Equal("VT 1047, pass 1", shift.Next[2].About);
        HandOverDue hours = shift.Due.Single(d => d.What == "Head hours");
        Assert.Equal((true, "498 h were read off on 14 Mar 2026 and tape ran for 3.5 h since, of 500 h."), (hours.IsOverdue, hours.Text));
        Assert.DoesNotContain(shift.Due, d => d.What == "Leak-down test"); // ten days ago
    }

    [Theory]
    [InlineData(496.5, false)]
    [InlineData(496.6, true)]
    public void Hours_are_overdue_beyond_those_of_the_list_and_not_at_them(double read, bool isOverdue)
    {
        HandOver shift = HandOverMaker.Of(Facts() with { Upkeep = new Upkeep((Begin, read), 3.5, Begin) });
        Assert.Equal(isOverdue, shift.Due.Any(d => d.What == "Head hours"));
    }

    [Fact]
    public void Notes_have_time_and_place_and_signatures_of_one_list_are_one()
    {
        HandOver shift = HandOverMaker.Of(Facts());
        Assert.Equal(["hand over", "0:05:00.0 splice", "0:10:00.0 shift note"], shift.Notes.OrderBy(n => n.AtUtc).Select(n => n.Kind == "hand-over" ? "hand over" : $"{n.Place} {n.Text}"));
        Assert.Equal([null, "VT 1047, pass 1", null], shift.Notes.OrderBy(n => n.AtUtc).Select(n => n.About));
        HandOverEntry signed = Assert.Single(shift.Entries, e => e.Kind == "check-signed");
        Assert.Equal("Pre-flight signed: 3, 1 not done, 1 contradicted by the readings.", signed.Text);
        Assert.Equal(["tape-described", "transfer-opened", "pass-opened", "check-signed", "run-began"], shift.Entries.Select(e => e.Kind));
    }

    [Fact]
    public void An_empty_shift_says_so_in_words()
    {
        HandOver shift = HandOverMaker.Of(new ShiftFacts
        {
            Bench = SampleBench.Create(), Span = Shift, LastStoredUtc = Shift.ToUtc, Lines = [], Alarms = [], Book = TransferBook.Empty, Entries = [],
            Procedures = TransferReader.Default, Places = new Dictionary<Guid, TapePlaces>(), Calibrations = [], Upkeep = new Upkeep(null, 0, null),
        });
        Assert.Equal(MachineState.Unknown, shift.State);
        Document document = HandOverDocument.Of(shift, TimeZoneInfo.Utc, DateTimeOffset.UnixEpoch);
        string[] said = [.. document.Blocks.OfType<Paragraph>().Select(p => p.Text)];
        Assert.Contains("Nothing is asked for.", said);
        Assert.Contains("Every alarm is back to normal. None is shelved, suppressed or out of service.", said);
        Assert.Contains("Nothing is known to drift.", said);
        Assert.Contains("Nobody wrote anything down.", said);
        Assert.Contains("Can't be told: Head hours: They were never written down here. Leak-down test: None was ever written down here.", said);
        Assert.Equal("Nothing waits, nothing stands, nothing drifts", Assert.IsType<Badge>(document.Blocks[0]).Word);
    }

    private static ShiftFacts Facts()
    {
        BenchDefinition bench = SampleBench.Create();
        ChannelDefinition air = bench.Channels[0];
        var proof = new TelemetryProof(ProofStanding.Contradicted, "The air was low.");
        var acts = new Acts();
        List<EntryCommand> entries =
        [
            acts.Of(acts.Described()), acts.Of(new TransferOpened { Tape = acts.Tape }), acts.Of(new PassOpened()),
            acts.Of(Acts.Check("tape-inspected")), acts.Of(Acts.Check("filter-drained", CheckAnswer.NotDone), note: "stuck"), acts.Of(Acts.Check("setpoint", telemetry: proof)),
            At(acts.Of(Acts.Began), 600),
            At(acts.Of(new NoteWritten { IsMark = true }, note: "splice"), 900),
            At(acts.Of(new NoteWritten(), note: "shift note") with { Transfer = null, Pass = null }, 1200),
            At(acts.Of(new ShiftHandedOver { To = "Tom Ashby" }) with { Transfer = null, Pass = null }, 300),
        ];
        var book = TransferBook.Of(entries);
        BookPass pass = book.OpenPass!;
        return new ShiftFacts
        {
            Bench = bench,
            Span = Shift,
            LastStoredUtc = Shift.ToUtc,
            Lines = [State("running", 90), State("locked", 100), Drift("d-1", "guide-vacuum", 1000), Drift("d-2", "regulated-air", 3000), Drift("d-1", "guide-vacuum", 2000) with { Phase = FindingPhase.Ended }],
            Alarms =
            [
                Alarm(1, "air-below-setpoint.regulated-air", AlarmState.Unacknowledged, AlarmPriority.High) with { Cause = "compressor-worn" },
                Alarm(2, "below-limit.guide-vacuum", AlarmState.Shelved, AlarmPriority.Medium, AlarmStep.Shelved) with { By = "Ida Wren", Why = "new head on Tuesday", ShelvedUntilUtc = Begin + (5000 * Second) },
                Alarm(3, "vacuum-loss.guide-vacuum", AlarmState.Acknowledged, AlarmPriority.High, AlarmStep.Acknowledged) with { By = "Tom Ashby" },
                Alarm(4, "stale.timing-error", AlarmState.ReturnedUnacknowledged, AlarmPriority.Medium) with { IsActive = false, Step = AlarmStep.Returned },
                Alarm(5, "sensor-fault.guide-vacuum", AlarmState.OutOfService, AlarmPriority.Low, AlarmStep.TakenOutOfService),
                Alarm(6, "stale.regulated-air", AlarmState.Normal, AlarmPriority.Low, AlarmStep.Acknowledged) with { IsActive = false },
            ],
            Book = book,
            Entries = entries,
            Procedures = TransferReader.Default,
            Places = new Dictionary<Guid, TapePlaces> { [pass.Id] = new(pass.RunBegan!, []) },
            Calibrations = [new CalibrationRow(air, air.Calibration with { Due = new DateOnly(2026, 1, 1) }, null, true), new CalibrationRow(bench.Channels[1], bench.Channels[1].Calibration with { Due = new DateOnly(2030, 1, 1) }, null, true)],
            Upkeep = new Upkeep((Begin, 498), 3.5, Begin - (10L * 86_400 * Second)),
        };
    }

    private static EntryCommand At(EntryCommand entry, long second) => entry with { AboutUtc = Begin + (second * Second), EnteredUtc = Begin + (second * Second) };

    private static AlarmTransition Alarm(long input, string tag, AlarmState to, AlarmPriority priority, AlarmStep step = AlarmStep.Raised) => AlarmStoreTests.Line(input, 0, step) with
    {
        Id = $"b.alarm.{tag}.{input}", Tag = tag, To = to, Priority = priority, RaisedUtc = Begin + (input * Second), AtUtc = Begin + (input * Second), Text = $"{tag} is so.",
    };

    private static FindingLine State(string state, long second) => Line($"s-{second}", FindingKinds.State, null, second) with { Cause = state, Severity = Severity.Note };

    private static FindingLine Drift(string id, string channel, long second) => Line(id, FindingKinds.Drift, channel, second) with
    {
        Details = [new("slopePerHour", -2.5), new("usedShare", 0.4), new("minutesLeft", 90), new("minutesLeftLow", 60), new("minutesLeftHigh", null)],
    };

    private static FindingLine Line(string id, string kind, string? channel, long second) => new()
    {
        Id = id, Phase = FindingPhase.Raised, Input = second, Bench = "b", BenchHash = "aa", Kind = kind, Channel = channel, Severity = Severity.Advisory,
        Start = EngineTime.FromSeconds(second), RaisedAt = EngineTime.FromSeconds(second), StartUtc = Begin + (second * Second), RaisedUtc = Begin + (second * Second),
        Cause = "unknown", State = MachineState.Locked, Text = "It is so.",
    };
}
