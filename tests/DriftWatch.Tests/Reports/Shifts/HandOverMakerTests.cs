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

    /// <summary>Forty alarms, thirty drifts and a hundred notes of a thousand letters: one sheet of paper, the most important on it, and the rest counted.</summary>
    [Fact]
    public void The_busiest_shift_fits_on_one_sheet_and_says_what_does_not()
    {
        HandOver shift = BusyShift();
        Document sheet = HandOverDocument.Of(shift, TimeZoneInfo.Utc, DateTimeOffset.UnixEpoch);
        using var pdf = new MemoryStream();
        PdfDocument.Write(pdf, sheet);
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            File.WriteAllBytes(Path.Combine(folder, "busy-shift.pdf"), pdf.ToArray());
        }

        Assert.Equal(1, System.Text.Encoding.Latin1.GetString(pdf.ToArray()).Split("/Type /Page\n").Length - 1);
        Table alarms = sheet.Blocks.OfType<Table>().First(t => t.Columns[0].Title == "stands");
        Assert.All(alarms.Rows, r => Assert.Equal("waits", r[0].Text)); // those that wait come first
        Table notes = sheet.Blocks.OfType<Table>().Last();
        Assert.Equal(
            FormattableString.Invariant($"Not on this sheet: {shift.Next.Count - 3} more to do, {40 - alarms.Rows.Count} alarms of less weight, 28 drifts that have more time, {shift.Notes.Count + shift.Entries.Count - notes.Rows.Count} earlier notes and entries, 4 passes. All stand on the page 'Shift', and 'driftwatch handover' without --out tells them."),
            Assert.Single(sheet.Blocks.OfType<Paragraph>(), p => p.Text.StartsWith("Not on this sheet", StringComparison.Ordinal)).Text);
        Assert.Contains(sheet.Blocks.OfType<Facts>().First().Items, i => i.Value.Contains("running since", StringComparison.Ordinal)); // the one that runs has the room
        Assert.StartsWith("note 99 ", notes.Rows[^1][^1].Text, StringComparison.Ordinal); // the newest

        Document whole = HandOverDocument.Of(shift, TimeZoneInfo.Utc, DateTimeOffset.UnixEpoch, whole: true);
        Assert.Equal(40, whole.Blocks.OfType<Table>().First(t => t.Columns[0].Title == "stands").Rows.Count);
        Assert.DoesNotContain(whole.Blocks.OfType<Paragraph>(), p => p.Text.StartsWith("Not on this sheet", StringComparison.Ordinal));
    }

    private static HandOver BusyShift()
    {
        ShiftFacts facts = Facts();
        var acts = new Acts();
        HandOverDrift drift = new() { Id = "x", Label = "A quantity of some name", Unit = "psi", AtUtc = Begin, Value = 49.25, Limit = 52.5, UsedShare = 0.4, SlopePerHour = 0.123, SlopePerHourLow = 0.1, SlopePerHourHigh = 0.2, MinutesLeft = 50, MinutesLeftLow = 40, MinutesLeftHigh = 60 };
        HandOver shift = HandOverMaker.Of(facts with
        {
            Drifts = [.. Enumerable.Range(0, 30).Select(i => drift with { MinutesLeft = 50 + i })],
            Alarms = [.. Enumerable.Range(1, 40).Select(i => Alarm(i, $"below-limit.channel-{i:00}", i % 2 == 0 ? AlarmState.Unacknowledged : AlarmState.Acknowledged, i % 3 == 0 ? AlarmPriority.High : AlarmPriority.Medium))],
        });
        HandOverNote note = new(Begin, "Ida Wren", "note", "VT 1047, pass 1", new TapePlace(100, PositionBasis.Counter), "");
        return shift with
        {
            Notes = [.. Enumerable.Range(0, 100).Select(i => note with { AtUtc = Begin + (i * Second), Text = $"note {i} " + string.Concat(Enumerable.Repeat("of many words ", 80)) })],
            Passes = [.. Enumerable.Range(1, 6).Select(i => shift.Passes[0] with { Id = Acts.Id(0x9b, i), Stage = i == 6 ? PassStage.Running : PassStage.Ended, Place = i == 6 ? shift.Passes[0].Place : null })],
        };
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
