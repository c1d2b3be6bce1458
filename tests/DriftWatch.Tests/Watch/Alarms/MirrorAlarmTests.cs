using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>That a mirror fails is an alarm of the book: when it began and was over, and that nothing of the machine has to do with it.</summary>
public class MirrorAlarmTests
{
    private const string Tag = "mirror-failing.annex";

    [Fact]
    public void It_is_an_alarm_of_medium_priority_from_when_the_mirror_was_behind_until_it_takes_again()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 2400, 50)
            .At(1900, Fails("annex"))
            .At(1930, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida Wren", Finding = Tag, Note = "the annex is dark" })
            .At(2200, Takes("annex", older: 4200)));
        Assert.Equal([AlarmStep.Raised, AlarmStep.Acknowledged, AlarmStep.Returned], book.Select(a => a.Step));
        AlarmTransition raised = book[0];
        Assert.Equal((Tag, AlarmPriority.Medium, "behind", true), (raised.Tag, raised.Priority, raised.Cause, raised.Calls));
        Assert.Equal(Night.Midnight + 90_000_000_000, raised.StartUtc); // behind for 1,810 s by then
        Assert.Equal((1810.0, 1800.0, "s"), (raised.Value, raised.Limit, raised.Unit));
        Assert.Contains("connection refused", raised.Text, StringComparison.Ordinal);
        Assert.Contains("Nothing is lost here", raised.Text, StringComparison.Ordinal);
        Assert.InRange(book[2].At.Seconds, 2260, 2260.2); // a minute after, as any alarm
        Assert.Contains("4200 older inputs are still to be sent", book[2].Text, StringComparison.Ordinal);

        FindingLine ended = lines.Single(l => l is { Kind: FindingKinds.MirrorFailing, Phase: FindingPhase.Ended });
        Assert.Equal((90.0, 2200.0), (ended.Start.Seconds, ended.End!.Value.Seconds));
        Assert.Contains(ended.Details, d => d is { Name: "mirror", Word: "annex" });
    }

    [Fact]
    public void Two_mirrors_the_store_and_the_machine_are_alarms_apart()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel()))
            .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 40, 43).Series(TestBench.Air, 40, 200, 50)
            .At(10.2, new StoreFailsCommand { Id = Guid.Empty, By = "DriftWatch", For = TimeSpan.FromSeconds(5), Trouble = "disk-full", Text = "The disk is full." })
            .At(10.3, Fails("annex")).At(10.4, Fails("vault")).At(10.5, Fails("vault")) // the second time nothing is new
            .At(30, new StoreTakesCommand { Id = Guid.Empty, By = "DriftWatch", Held = 3, Lost = 0 })
            .At(30, Takes("vault", older: 0)).At(31, Takes("vault", older: 0)).At(32, Takes("nobody", older: 0)));
        Assert.Equal(4, book.Select(a => a.Tag).Distinct().Count());
        Assert.Equal(4, book.Count(a => a.Step == AlarmStep.Raised));
        Assert.DoesNotContain(book, a => a.Step is AlarmStep.Joined or AlarmStep.Worsened && a.Tag.StartsWith("mirror", StringComparison.Ordinal));
        Assert.Contains(book, a => a is { Tag: "mirror-failing.vault", Step: AlarmStep.Returned });
        Assert.DoesNotContain(book, a => a is { Tag: Tag, Step: AlarmStep.Returned }); // the other still fails
        Assert.DoesNotContain(lines, l => l.Kind == FindingKinds.Cause && l.Details.Any(d => d.Word?.Contains("mirror", StringComparison.Ordinal) == true));
    }

    /// <summary>A process that begins knows nothing of the server yet: it stands until that one has said how it stands.</summary>
    [Fact]
    public void It_lasts_over_a_restart_and_a_mirror_that_is_none_any_more_ends_it()
    {
        var night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 300, 50)
            .At(20, Fails("annex"))
            .At(40, EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Night.Anchor(40))))
            .At(120, Takes("annex", older: null));
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(night, restoreAt: 60);
        FindingLine ended = Assert.Single(lines, l => l is { Kind: FindingKinds.MirrorFailing, Phase: FindingPhase.Ended });
        Assert.Equal(120, ended.End!.Value.Seconds);
        Assert.Contains(ended.Details, d => d is { Name: "endedBy", Word: "mirror-removed" });
        AlarmTransition over = Assert.Single(book, a => a is { Tag: Tag, Step: AlarmStep.Returned });
        Assert.InRange(over.At.Seconds, 180, 180.2);
        Assert.Contains("no mirror of this bench any more", over.Text, StringComparison.Ordinal);
    }

    /// <summary>Of a mirror that was away its server is then found to have dropped lines: one alarm, and what is wrong now stands in it.</summary>
    [Fact]
    public void Another_trouble_of_the_same_mirror_names_its_cause_anew()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 300, 50)
            .At(20, Fails("annex")).At(30, Fails("annex") with { Trouble = "lines-missing", May = null, Text = "3 readings" }).At(40, Fails("annex") with { Trouble = "lines-missing", May = null, Text = "4 readings" })
            .At(60, Takes("annex", older: 0)));
        Assert.Equal([AlarmStep.Raised, AlarmStep.CauseNamed, AlarmStep.Returned], book.Select(a => a.Step));
        Assert.Equal(["behind", "lines-missing", "lines-missing"], book.Select(a => a.Cause));
        Assert.Contains("3 readings", book[1].Text, StringComparison.Ordinal);
        Assert.Equal([FindingPhase.Raised, FindingPhase.Updated, FindingPhase.Ended], lines.Where(l => l.Kind == FindingKinds.MirrorFailing).Select(l => l.Phase));
    }

    /// <summary>What retention took before the server had it is gone here as well: the alarm must not say that nothing is lost.</summary>
    [Fact]
    public void Only_where_retention_was_faster_is_something_lost_and_that_is_said()
    {
        AlarmTransition expired = NightJudging.Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 60, 50)
            .At(20, Fails("annex") with { Trouble = "lines-expired", May = null, Text = "800 inputs were dropped" })).Book[0];
        Assert.Contains("gone here too", expired.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Nothing is lost", expired.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void What_the_service_says_of_a_mirror_reads_back_from_the_log_as_it_was()
    {
        foreach (Command said in (Command[])[Fails("annex"), Takes("annex", older: 7), Takes("annex", older: null)])
        {
            Assert.Equal(said, PayloadJson.FromUtf8(InputKind.Command, PayloadJson.ToUtf8(EngineInput.OfCommand(default, said))));
        }
    }

    private static MirrorFailsCommand Fails(string mirror) => new()
    {
        Id = Guid.Empty, By = "DriftWatch", Identity = "service", Mirror = mirror, For = TimeSpan.FromSeconds(1810), May = TimeSpan.FromMinutes(30), Trouble = "behind", Text = "it has been behind for 30 min: connection refused",
    };

    private static MirrorTakesCommand Takes(string mirror, long? older) => new() { Id = Guid.Empty, By = "DriftWatch", Identity = "service", Mirror = mirror, Older = older };
}
