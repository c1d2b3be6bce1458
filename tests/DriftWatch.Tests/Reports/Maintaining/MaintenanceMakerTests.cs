using DriftWatch.Configuration;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Maintaining;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Watch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Tests.Reports.Maintaining;

/// <summary>Months of which every number is known by how they were made, each to be found again with its count and its interval.</summary>
public sealed class MaintenanceMakerTests
{
    private const long Second = 1_000_000_000;
    private const long Week = 7L * 86_400 * Second;
    private const long Begin = Acts.Begin;
    private static readonly UtcStretch Span = new(Begin - (86_400 * Second), Begin + (10 * Week));

    [Fact]
    public void A_head_that_loses_a_tenth_of_a_decibel_a_week_is_told_so_over_weeks_hours_and_against_the_others()
    {
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 8));
        Assert.Equal((8, 1), (record.Baselines, record.Provisional));
        UpkeepLine two = record.Heads.Single(h => h.Head == 2);
        Assert.Equal(8, two.Points.Count);
        Assert.Equal(-0.1, two.Trend.Value.PerWeek, 1e-9);
        Assert.Equal(-0.5, two.PerHundredHours!.Value.Value.Slope, 1e-9); // the meter goes on by 20 h a week
        Assert.Equal(20, record.Hours.PerWeek!.Value, 1e-9);
        Assert.Equal(-0.1 * 365.25 / 12 / 7, record.Against.Single(a => a.Head == 2).Trend.Value.DbPerMonth().Slope, 1e-9);
        Assert.Equal(0, record.Heads.Single(h => h.Head == 1).Trend.Value.PerWeek, 1e-9);
        Assert.Contains("n = 8 in 49 days", MaintenanceWords.Trend(two.Trend, "dB"), StringComparison.Ordinal);
    }

    [Fact]
    public void Of_three_line_ups_no_trend_is_told_and_what_is_missing_is()
    {
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 3));
        UpkeepLine two = record.Heads.Single(h => h.Head == 2);
        Assert.Equal("too few to say: 3 of 4 baselines", MaintenanceWords.Trend(two.Trend, "dB"));
        Assert.StartsWith("too few to say: 3 of 4 line-ups", MaintenanceWords.PerHundredHours(two.PerHundredHours, "dB"), StringComparison.Ordinal);
        Assert.StartsWith("too few to say: 3 of 4 line-ups", MaintenanceWords.Against(record.Against.Single(a => a.Head == 2).Trend), StringComparison.Ordinal);
    }

    [Fact]
    public void A_meter_that_ran_back_is_of_another_wheel_and_tells_no_rate()
    {
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 8, exchangedAtWeek: 4));
        Assert.Null(record.Hours.PerWeek);
        UpkeepLine two = record.Heads.Single(h => h.Head == 2);
        Assert.Equal(-0.5, two.PerHundredHours!.Value.Value.Slope, 1e-9); // of the wheel that is on now
    }

    [Fact]
    public void Geometry_is_a_tape_s_line_up_with_its_error_and_the_spread_between_tapes()
    {
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 3));
        Assert.Equal([0.0, 10, 20], record.Tapes.Select(t => t.Values.Single(v => v.Id == "skew").Value));
        Assert.Equal(["VT 1047", "not in the book", "not in the book"], record.Tapes.Select(t => t.Tape));
        WrittenStep step = Assert.Single(record.Tapes[0].Steps);
        Assert.Equal(("guide-height", 35.0, 4.0, true), (step.Step, step.Before, step.After, step.IsByHand));
        GeometrySpread spread = record.Spread.Single(s => s.Id == "skew");
        Assert.Equal((3, 10.0), (spread.Tapes, spread.BetweenTapes.Value));
        Assert.Equal(0.5, spread.OfOne!.Value, 1e-9); // a deviation of 2 over 16 independent seconds
        Assert.False(MaintenanceMaker.Of(Facts(lineUps: 2)).Spread.Single(s => s.Id == "skew").BetweenTapes.IsKnown);
    }

    /// <summary>By hand: of 3.9, 4.0, 4.0, 4.1, 4.65 and 38 the median is 4.05 and the median absolute deviation 0.10, or 0.148 as a deviation.</summary>
    [Theory]
    [InlineData(0.0, new[] { "VT 4", "VT 5" })] // 0.60 / 0.148 = 4.0 and more
    [InlineData(0.5, new[] { "VT 5" })] // known to 0.5 ns, what is 0.60 off says nothing
    public void A_recording_whose_head_step_is_far_from_the_others_is_named(double error, string[] named)
    {
        double[] steps = [3.9, 4.0, 4.0, 4.1, 4.65, 38];
        TapeGeometry[] tapes = [.. steps.Select((s, i) => new TapeGeometry(
            i, $"VT {i}", $"t{i}", [new GeometryValue("skew", "Skew", "ns", i == 1 ? 900 : 0, error, 30), new GeometryValue("head-step-2", "Step of head 2", "ns", s, error, 30)], []))];
        BenchDefinition bench = SampleBench.Create() with
        {
            Quantities =
            [
                new QuantityDefinition { Kind = QuantityKind.Skew, Id = "skew", Label = "Skew", Unit = "ns" },
                new QuantityDefinition { Kind = QuantityKind.HeadStep, Head = 2, Id = "head-step-2", Label = "Step of head 2", Unit = "ns" },
            ],
        };
        List<StandingOutTape> far = MaintenanceTapes.StandingOut(tapes, bench).Value;
        Assert.Equal(named, far.Select(f => f.Tape.Tape)); // the skew is the line-up's and names no recorder
        Assert.Equal(error == 0 ? 33.95 / 0.14826 : 33.95 / 0.52152, far[^1].Score, 0.05);
        Assert.Equal((5.0, 4.0), MaintenanceTapes.StandingOut(tapes[..4], bench).Missing is { } few ? (few.Needs, few.Has) : default);
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 3)) with { StandingOut = far };
        Assert.StartsWith("VT 5 stands out: step of head 2 38", MaintenanceWords.StandingOut(record)[^1], StringComparison.Ordinal);
    }

    [Fact]
    public void Sags_and_causes_are_counted_once_each_and_only_those_of_the_span()
    {
        MaintenanceRecord record = MaintenanceMaker.Of(Facts(lineUps: 3));
        Assert.Equal((3, 4.0, 9.0, 5.5), (record.Sags.Count, record.Sags.MedianSeconds, record.Sags.LongestSeconds, record.Sags.DeepestPsi));
        NamedCause cause = Assert.Single(record.Causes);
        Assert.Equal(("compressor-worn", 2), (cause.Cause, cause.Count));
        Assert.StartsWith("Finish or stop the tape", cause.FirstAction, StringComparison.Ordinal);
    }

    [Fact]
    public void A_month_in_which_nothing_was_written_down_says_so_part_by_part()
    {
        MaintenanceFacts facts = Facts(lineUps: 0) with { Book = TransferBook.Empty, Lines = [], Bench = SampleBench.Create() };
        Document document = MaintenanceDocument.Of(MaintenanceMaker.Of(facts), TimeZoneInfo.Utc, DateTimeOffset.UnixEpoch);
        string[] said = [.. document.Blocks.OfType<Paragraph>().Select(p => p.Text)];
        Assert.Contains("The hour meter was never written down here: sign 'head-hours' in the pre-flight with its number.", said);
        Assert.Contains("This bench has no channel of a head's RF level.", said);
        Assert.Contains("This bench has no channel of the dew point: nothing can be said of the air's water.", said);
        Assert.Contains("Judging named no cause in this span.", said);
        Assert.Contains(said, t => t.StartsWith("No transfer of this span has a line-up baseline", StringComparison.Ordinal));
        Assert.Contains(said, t => t.StartsWith("No instrument was calibrated by a sheet", StringComparison.Ordinal));
    }

    private static MaintenanceFacts Facts(int lineUps, int exchangedAtWeek = int.MaxValue)
    {
        BenchDefinition sample = SampleBench.Create();
        ChannelDefinition rf = sample.Channels[0] with { Role = ChannelRole.RfLevel, Unit = "dB", Setpoint = null };
        BenchDefinition bench = sample with
        {
            Channels = [.. sample.Channels, .. Enumerable.Range(1, 4).Select(h => rf with { Id = $"rf-head-{h}", Key = 10 + h, Label = $"RF head {h}", Head = h })],
            Quantities = [new QuantityDefinition { Kind = QuantityKind.Skew, Id = "skew", Label = "Skew", Unit = "ns" }],
        };
        var acts = new Acts();
        List<EntryCommand> entries = [acts.Of(acts.Described()), acts.Of(new TransferOpened { Tape = acts.Tape }), acts.Of(new PassOpened())];
        for (int week = 0; week <= 8; week++)
        {
            // An exchanged wheel begins at nothing, twice as early as the line-up that follows.
            double hours = week >= exchangedAtWeek ? 20 * (week - exchangedAtWeek) : 100 + (20 * week);
            EntryCommand read = acts.Of(Acts.Check("head-hours") with { Value = hours });
            entries.Add(read with { AboutUtc = Begin + (week * Week), EnteredUtc = Begin + (week * Week) });
        }

        EntryCommand step = acts.Of(new LineUpStepRecorded { Step = "guide-height", Before = new LineUpReading(35, null), After = new LineUpReading(4, null), ListHash = "bb" });
        entries.Add(step);
        return new MaintenanceFacts
        {
            Bench = bench,
            Span = Span,
            Watched = [new UtcStretch(Begin, Begin + (3600 * Second))],
            Baselines = [Baseline(-1, BaselineStanding.Provisional, acts), .. Enumerable.Range(0, lineUps).Select(i => Baseline(i, BaselineStanding.Confirmed, acts))],
            Lines =
            [
                Sag(1, 3, 1.5), Sag(2, 4, 5.5), Sag(3, 9, 2.5), Line("old", FindingKinds.PressureSag, -2 * 86_400),
                Cause("c-1", 10), Cause("c-1", 10) with { Phase = FindingPhase.Updated }, Cause("c-2", 20),
            ],
            Book = TransferBook.Of(entries),
            Procedures = TransferReader.Default,
            RanSince = 0,
            Air = new AirQuality(null, [], null, null),
            Calibrations = [],
            Alarms = AlarmHealth.Of([], new AlarmSpan(Span)),
        };
    }

    private static TakenBaseline Baseline(int week, BaselineStanding standing, Acts acts) => new()
    {
        Number = week + 2,
        At = EngineTime.FromSeconds(week + 2),
        UtcNanoseconds = Begin + (week * Week),
        Bench = "b",
        BenchHash = "aa",
        State = MachineState.Locked,
        By = "Ida Wren",
        Standing = standing,
        Transfer = week == 0 ? acts.Transfer.ToString() : Acts.Id(0x55, week + 2).ToString(),
        Values =
        [
            .. Enumerable.Range(1, 4).Select(h => new BaselineValue($"rf-head-{h}", "dB", -3 - (h == 2 ? 0.1 * week : 0), 0.2, 0, 16, 300, 1)),
            new BaselineValue("skew", "ns", 10 * week, 2, 0, 16, 60, null),
        ],
    };

    private static FindingLine Sag(long second, double seconds, double depth) => Line($"sag-{second}", FindingKinds.PressureSag, second) with
    {
        Phase = FindingPhase.Ended, EndUtc = Begin + (second * Second) + (long)(seconds * Second), Details = [new("depthPsi", depth)],
    };

    private static FindingLine Cause(string id, long second) => Line(id, FindingKinds.Cause, second) with { Cause = "compressor-worn" };

    private static FindingLine Line(string id, string kind, long second) => new()
    {
        Id = id, Phase = FindingPhase.Raised, Input = 1, Bench = "b", BenchHash = "aa", Kind = kind, Severity = Severity.Advisory, Start = default, RaisedAt = default,
        StartUtc = Begin + (second * Second), RaisedUtc = Begin + (second * Second), Cause = "unknown", State = MachineState.Locked, Text = "It is so.",
    };
}
