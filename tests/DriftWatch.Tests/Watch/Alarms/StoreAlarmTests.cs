using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>That the store takes nothing is an alarm of the book: when it began and was over, whose it is, and what people may do.</summary>
public class StoreAlarmTests
{
    private const string Tag = "store-failing.bench";

    [Fact]
    public void It_is_an_alarm_of_high_priority_with_the_times_at_which_the_store_failed_and_took_again()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 140, 50)
            .At(20, Fails(for_: 5.5))
            .At(25, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida Wren", Finding = Tag, Note = "making room" })
            .At(62, Takes(held: 4200)));
        Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged, AlarmStep.Returned], book.Select(a => a.Step));
        Assert.Equal([AlarmState.Unacknowledged, AlarmState.Acknowledged, AlarmState.Normal], book.Select(a => a.To));
        AlarmTransition raised = book[0];
        Assert.Equal((Tag, AlarmPriority.High, "disk-full", true), (raised.Tag, raised.Priority, raised.Cause, raised.Calls));
        Assert.Equal(Night.Midnight + 14_500_000_000, raised.StartUtc); // failing for 5.5 s by the twentieth second
        Assert.Equal((5.5, 5.0, "s"), (raised.Value, raised.Limit, raised.Unit));
        Assert.InRange(raised.At.Seconds, 20, 20.1);
        Assert.Equal(("Ida Wren", "making room"), (book[1].By, book[1].Why));
        Assert.InRange(book[2].At.Seconds, 122, 122.2); // a minute after, as any alarm
        Assert.Contains("47.5 s", book[2].Text, StringComparison.Ordinal);
        Assert.Contains("nothing is lost", book[2].Text, StringComparison.Ordinal);
        Assert.All(book, a => Assert.Equal(raised.Id, a.Id));

        FindingLine ended = lines.Single(l => l is { Kind: FindingKinds.StoreFailing, Phase: FindingPhase.Ended });
        Assert.Equal((14.5, 62.0), (ended.Start.Seconds, ended.End!.Value.Seconds));
        Assert.Contains(ended.Details, d => d is { Name: "held", Number: 4200 });
    }

    [Fact]
    public void It_is_an_alarm_apart_from_trouble_of_the_machine_that_comes_with_it()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 40, 43).Series(TestBench.Air, 40, 140, 50)
            .At(10.3, Fails()).At(30, Takes()));
        string[] tags = [.. book.Select(a => a.Tag).Distinct()];
        Assert.Equal(2, tags.Length);
        Assert.Contains(Tag, tags);
        Assert.DoesNotContain(book, a => a.Tag == Tag && a.Step is AlarmStep.Joined or AlarmStep.Worsened);
        Assert.All(book.Where(a => a.Tag != Tag), a => Assert.StartsWith("lab.air-below-setpoint", a.FirstOut, StringComparison.Ordinal));
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.Cause && l.Details.Any(d => d.Word?.Contains("store", StringComparison.Ordinal) == true));
    }

    [Fact]
    public void A_store_that_fails_again_within_the_minute_calls_nobody_again_and_what_is_lost_is_said()
    {
        var night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 300, 50);
        for (int i = 0; i < 6; i++)
        {
            night.At(10 + (30 * i), Fails()).At(20 + (30 * i), Takes(lost: i == 5 ? 77 : 0));
        }

        List<AlarmTransition> book = NightJudging.Judge(night).Book;
        Assert.Single(book, a => a.Calls);
        Assert.InRange(Assert.Single(book, a => a.Step == AlarmStep.Returned).At.Seconds, 230, 230.2);
        Assert.Contains("77 readings are lost", book[^1].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_process_that_begins_has_a_store_that_opened_and_ends_it()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 140, 50)
            .At(20, Fails())
            .At(40, EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Night.Anchor(40))))
            .At(50, Takes())); // of a process that is gone: nothing to end
        FindingLine ended = Assert.Single(lines, l => l is { Kind: FindingKinds.StoreFailing, Phase: FindingPhase.Ended });
        Assert.Equal(40, ended.End!.Value.Seconds);
        Assert.Contains(ended.Details, d => d is { Name: "endedBy", Word: "started-again" });
        Assert.Contains(book, a => a is { Tag: Tag, Step: AlarmStep.Returned, To: AlarmState.ReturnedUnacknowledged });
    }

    [Fact]
    public void What_the_service_says_of_its_store_reads_back_from_the_log_as_it_was()
    {
        foreach (Command said in (Command[])[Fails(), Takes(held: 7, lost: 1)])
        {
            Assert.Equal(said, PayloadJson.FromUtf8(InputKind.Command, PayloadJson.ToUtf8(EngineInput.OfCommand(default, said))));
        }
    }

    private static StoreFailsCommand Fails(double for_ = 5) =>
        new() { Id = Guid.Empty, By = "DriftWatch", Identity = "service", For = TimeSpan.FromSeconds(for_), Trouble = "disk-full", Text = "The disk is full." };

    private static StoreTakesCommand Takes(long held = 100, long lost = 0) =>
        new() { Id = Guid.Empty, By = "DriftWatch", Identity = "service", Held = held, Lost = lost };
}
