using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Transfers;

/// <summary>Each finding and alarm of a run tells where the tape stood when it began, and how that is known.</summary>
public sealed class RunningTapeTests
{
    private const int Counter = 20;

    [Theory]
    [InlineData("s", 1.0)]
    [InlineData("ms", 1000.0)]
    [InlineData("min", 1 / 60.0)]
    [InlineData("h", 1 / 3600.0)]
    public void By_the_counter_as_it_was_read_by_then(string unit, double perSecond)
    {
        Night night = WithCounter(unit).Series(Counter, 0, 200, t => (500 + t) * perSecond, period: 1).Series(TestBench.Air, 0, 100.05, 50).Series(TestBench.Air, 100.05, 130, 43).Series(TestBench.Air, 130, 200, 50)
            .At(60, Entry(60, Began(PositionBasis.Counter)))
            .At(185, Entry(185, new RunEnded { Cue = RunCue.Hand }));
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(night);
        FindingLine[] low = [.. lines.Where(l => l.Kind == FindingKinds.AirBelowSetpoint)];
        Assert.Equal([FindingPhase.Raised, FindingPhase.Ended], [low[0].Phase, low[^1].Phase]);
        Assert.All(low, l => Assert.Equal(PositionBasis.Counter, l.OnTape!.Value.Basis));
        Assert.All(low, l => Assert.Equal(500 + l.Start.Seconds, l.OnTape!.Value.Seconds, 0.002)); // to the end where it began
        Assert.All(book, a => Assert.Equal(low[0].OnTape, a.OnTape));
        Assert.All(lines.Where(l => l.RaisedAt.Seconds < 60 || l.RaisedAt.Seconds > 185), l => Assert.Null(l.OnTape));
    }

    [Fact]
    public void By_the_time_since_the_run_began_without_a_counter_and_over_a_snapshot()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 100, 50).Series(TestBench.Air, 100, 130, 43)
            .At(30, Entry(20, Began(PositionBasis.ElapsedTime, startSeconds: 60))); // by the machine's state, told ten seconds later
        (List<FindingLine> lines, _) = NightJudging.Judge(night, restoreAt: 99);
        FindingLine low = lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(new TapePlace(140, PositionBasis.ElapsedTime), low.OnTape);
        FindingLine begins = lines.Single(l => l.Kind == FindingKinds.PassBegins);
        Assert.Equal(70, begins.OnTape!.Value.Seconds);
    }

    [Fact]
    public void By_the_last_reading_and_the_time_since_where_the_counter_is_silent_and_says_so()
    {
        Night night = WithCounter("s").Series(Counter, 0, 50.5, t => 1000 + t, period: 1).Series(TestBench.Air, 0, 100, 50).Series(TestBench.Air, 100, 130, 43)
            .At(30, Entry(30, Began(PositionBasis.Counter)));
        FindingLine low = NightJudging.Judge(night).Lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(new TapePlace(1100, PositionBasis.ElapsedTime), low.OnTape);
    }

    /// <summary>A drift is told long after it began: its place is where the counter stood then, wound back and forth meanwhile or not.</summary>
    [Fact]
    public void What_began_long_before_the_newest_reading_is_placed_by_the_readings_of_then_over_a_snapshot_too()
    {
        Night night = WithCounter("s").Series(Counter, 0, 300, t => t < 200 ? 1000 + t : 5000 + t, period: 0.5)
            .Series(TestBench.Air, 0, 100.05, 50).Series(TestBench.Air, 100.05, 300, 47.5) // an advisory ten seconds later
            .At(30, Entry(30, Began(PositionBasis.Counter)));
        foreach (double restore in (double[])[105, double.MaxValue])
        {
            FindingLine low = NightJudging.Judge(night, restore).Lines.First(l => l.Channel == "regulated-air" && l.Severity == Severity.Advisory && l.RaisedAt.Seconds > 105);
            Assert.Equal(PositionBasis.Counter, low.OnTape!.Value.Basis);
            Assert.Equal(1000 + low.Start.Seconds, low.OnTape.Value.Seconds, 0.01);
        }
    }

    /// <summary>A counter that was silent since before the run tells nothing of it.</summary>
    [Fact]
    public void A_counter_that_died_before_the_run_places_nothing()
    {
        Night night = WithCounter("s").Series(Counter, 0, 20, t => 9000 + t, period: 1).Series(TestBench.Air, 0, 100, 50).Series(TestBench.Air, 100, 130, 43)
            .At(60, Entry(60, Began(PositionBasis.Counter, startSeconds: 12)));
        FindingLine low = NightJudging.Judge(night).Lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(new TapePlace(52, PositionBasis.ElapsedTime), low.OnTape);
    }

    /// <summary>A site may let tape run or stand for minutes before that counts: the run begins and ends for judging too.</summary>
    [Fact]
    public void A_run_that_the_state_begins_or_ends_late_begins_and_ends()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 200, 50).Series(TestBench.Air, 200, 230, 43)
            .Series(TestBench.Air, 230, 500, 50).Series(TestBench.Air, 500, 530, 43)
            .At(150, Entry(20, Began(PositionBasis.ElapsedTime) with { Cue = RunCue.State }))
            .At(400, Entry(300, new RunEnded { Cue = RunCue.State }));
        (List<FindingLine> lines, _) = NightJudging.Judge(night);
        FindingLine[] low = [.. lines.Where(l => l is { Kind: FindingKinds.AirBelowSetpoint, Phase: FindingPhase.Raised })];
        Assert.Equal([180.0, null], low.Select(l => l.OnTape?.Seconds));
    }

    [Fact]
    public void A_run_that_is_known_ends_however_late_that_is_written_down_and_that_of_another_pass_ends_nothing()
    {
        EntryCommand ofAnother = Entry(10, new RunEnded { Cue = RunCue.Hand }) with { Pass = Acts.Id(3, 2) };
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 200, 50).Series(TestBench.Air, 200, 230, 43)
            .Series(TestBench.Air, 230, 500, 50).Series(TestBench.Air, 500, 530, 43)
            .At(20, Entry(20, Began(PositionBasis.ElapsedTime))).At(150, ofAnother).At(400, Entry(250, new RunEnded { Cue = RunCue.Hand }));
        FindingLine[] low = [.. NightJudging.Judge(night).Lines.Where(l => l is { Kind: FindingKinds.AirBelowSetpoint, Phase: FindingPhase.Raised })];
        Assert.Equal([180.0, null], low.Select(l => l.OnTape?.Seconds));
    }

    /// <summary>A log that has stood for days is written into at its own end: what is entered today is no act of then.</summary>
    [Fact]
    public void What_is_about_an_instant_long_after_the_log_changes_no_judgement()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, 50).At(59, Entry(86_400, new LineUpEnded()));
        Assert.DoesNotContain(NightJudging.Judge(night).Lines, l => l.Kind == FindingKinds.BaselineTaken && l.Cause == "confirmed");
        Night now = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, 50).At(59, Entry(59, new LineUpEnded()));
        Assert.Contains(NightJudging.Judge(now).Lines, l => l.Kind == FindingKinds.BaselineTaken && l.Cause == "confirmed");
    }

    /// <summary>A pass that never ran is given up late: what is taken afterwards is not of its transfer.</summary>
    [Fact]
    public void A_pass_that_is_given_up_late_leaves_no_transfer_behind()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 200, 50)
            .At(20, Entry(20, new PassOpened())).At(150, Entry(30, new PassGivenUp())).At(190, new BaselineCommand { Id = Guid.CreateVersion7(), By = "Ida Wren" });
        Assert.Null(NightJudging.Judge(night).Lines.Last(l => l.Baseline is not null).Baseline!.Transfer);
    }

    [Fact]
    public void What_was_written_down_afterwards_places_nothing_that_happens_now()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 100, 50).Series(TestBench.Air, 100, 130, 43)
            .At(95, Entry(5, Began(PositionBasis.ElapsedTime)));
        Assert.All(NightJudging.Judge(night).Lines, l => Assert.Null(l.OnTape));
    }

    [Fact]
    public void A_line_reads_back_with_its_place_and_one_without_is_as_it_was()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 40, 50).Series(TestBench.Air, 40, 60, 43).At(10, Entry(10, Began(PositionBasis.ElapsedTime)));
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(night);
        FindingLine line = lines.First(l => l.OnTape is not null && l.Kind == FindingKinds.AirBelowSetpoint);
        Assert.Equal(line.OnTape, FindingJson.Read(FindingJson.ToUtf8(line)).OnTape);
        Assert.Equal(book[0].OnTape, AlarmJson.Read(AlarmJson.ToUtf8(book[0])).OnTape);
        Assert.Equal(new TapePlace(30, PositionBasis.ElapsedTime), book[0].OnTape);
        Assert.DoesNotContain("\"tape\"", System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(line with { OnTape = null })), StringComparison.Ordinal);
    }

    private static Night WithCounter(string unit) => new(TestBench.Of(TestBench.AirChannel(), TestBench.Series(Counter, "counter", ChannelRole.TapeCounter, unit)));

    private static RunBegan Began(PositionBasis basis, double startSeconds = 0) =>
        new() { Cue = RunCue.Hand, Basis = basis, Channel = basis == PositionBasis.ElapsedTime ? null : "counter", StartSeconds = startSeconds };

    private static EntryCommand Entry(double about, EntryBody body) => new()
    {
        Id = Guid.CreateVersion7(),
        By = "Ida Wren",
        EnteredUtc = Night.Midnight + (long)(about * 1e9),
        AboutUtc = Night.Midnight + (long)(about * 1e9),
        Transfer = Acts.Id(2, 1),
        Pass = Acts.Id(3, 1),
        Body = body,
    };
}
