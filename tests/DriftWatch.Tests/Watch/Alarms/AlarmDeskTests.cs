using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>Alarms through the engine: when they are raised, what joins them, what people do, and when they are over.</summary>
public class AlarmDeskTests
{
    private const string LowAir = "air-below-setpoint.regulated-air";

    private static BenchDefinition AirBench => TestBench.Of(TestBench.AirChannel());

    /// <summary>Air at 50 psi, from 10 s on at 43, and from the given second on at 50 again.</summary>
    private static Night Sagging(double back, double until) =>
        new Night(AirBench).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, back, 43).Series(TestBench.Air, back, until, 50);

    private static string Story(IEnumerable<AlarmTransition> book, string? tag = null) => string.Join(
        '\n', book.Where(a => tag is null || a.Tag == tag).Select(a => $"{a.At.Seconds:0.0} {Slugs.Of(a.Step)} {Slugs.Of(a.From)} > {Slugs.Of(a.To)}"));

    [Fact]
    public void A_fall_of_the_air_is_one_alarm_raised_within_a_tick_and_over_a_minute_after_it()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) = Book(Sagging(back: 30, until: 120));
        FindingLine said = lines.First(l => l is { Kind: FindingKinds.AirBelowSetpoint, Phase: FindingPhase.Raised });
        AlarmTransition raised = book[0];
        Assert.Equal((AlarmStep.Raised, AlarmState.Normal, AlarmState.Unacknowledged), (raised.Step, raised.From, raised.To));
        Assert.InRange((raised.At - said.RaisedAt).TotalMilliseconds, 0, 100);
        Assert.True(raised.Calls);
        Assert.Equal(AlarmPriority.High, raised.Priority);
        Assert.Equal((said.StartUtc, said.RaisedUtc), (raised.StartUtc, raised.RaisedUtc));
        Assert.Equal($"lab.alarm.{raised.Tag}.{raised.Input}", raised.Id);
        Assert.Equal((43.0, "psi"), (raised.Value, raised.Unit));
        Assert.NotNull(raised.Limit);
        Assert.NotNull(raised.LimitSource);

        Assert.Single(book, a => a.Step == AlarmStep.Raised);
        AlarmTransition last = book[^1];
        Assert.Equal((AlarmStep.Returned, AlarmState.ReturnedUnacknowledged, raised.Id), (last.Step, last.To, last.Id));
        FindingLine ended = lines.Last(l => l.Phase == FindingPhase.Ended);
        Assert.InRange((last.At - ended.End!.Value).TotalSeconds, 60, 72); // the minute begins when the last of its findings has ended, with its own off-delay
    }

    [Fact]
    public void A_line_of_a_limit_against_a_baseline_has_the_baseline_that_held_then()
    {
        ChannelDefinition channel = TestBench.Series(1, "level", ChannelRole.AudioLevel, "dB") with
        {
            Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Reference = LimitReference.Baseline, Value = -3, Source = "test" }],
        };
        List<AlarmTransition> book = Book(new Night(TestBench.Of(channel)).Series(1, 0, 50, -10)
            .At(45.05, new BaselineCommand { Id = Guid.Empty, By = "Ida Wren" })
            .Series(1, 50, 60, -13.5).Series(1, 60, 130, -10)).Book;
        Assert.Equal([AlarmStep.Raised, AlarmStep.Returned], book.Select(a => a.Step));
        Assert.All(book, a => Assert.Equal((-13.5, -13.0, -10.0), (a.Value!.Value, Math.Round(a.Limit!.Value, 9), Math.Round(a.Baseline!.Value, 9))));
    }

    [Fact]
    public void What_belongs_together_joins_the_alarm_of_what_came_first()
    {
        List<AlarmTransition> book = Book(Sagging(back: 60, until: 70)).Book;
        string first = book[0].FirstOut;
        Assert.All(book, a => Assert.Equal(first, a.FirstOut));
        Assert.All(book, a => Assert.Equal(book[0].Id, a.Id));
        Assert.Contains(book, a => a.Step == AlarmStep.CauseNamed && a.Cause is not null);
    }

    [Fact]
    public void A_person_answers_for_it_by_its_id_its_tag_or_a_finding_of_it_and_the_finding_says_so()
    {
        (List<FindingLine> lines, List<AlarmTransition> book) plain = Book(Sagging(back: 30, until: 120));
        string finding = plain.lines.First(l => l.Kind == FindingKinds.AirBelowSetpoint).Id;
        foreach (string id in (string[])[plain.book[0].Id, plain.book[0].Tag, finding])
        {
            Night night = Sagging(back: 30, until: 120).At(20, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Identity = "token", Finding = id, Note = "compressor switched off" });
            (List<FindingLine> lines, List<AlarmTransition> book) = Book(night);
            AlarmTransition seen = Assert.Single(book, a => a.Step == AlarmStep.Acknowledged);
            Assert.Equal((20.0, AlarmState.Acknowledged, "Ida", "token", "compressor switched off"), (seen.At.Seconds, seen.To, seen.By, seen.Identity, seen.Why));
            Assert.Equal(AlarmState.Normal, book[^1].To);
            Assert.Contains(lines, l => l.Id == finding && l.Details.Any(d => d is { Name: "acknowledgedBy", Word: "Ida" }));
        }
    }

    [Fact]
    public void What_can_t_be_done_is_said_and_changes_nothing()
    {
        Night night = Sagging(back: 30, until: 40)
            .At(20, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = LowAir })
            .At(21, new AcknowledgeCommand { Id = Guid.Empty, By = "Ben", Finding = LowAir + ".0" })
            .At(22, new UnshelveCommand { Id = Guid.Empty, By = "Ben", Finding = Book(Sagging(30, 40)).Book[0].Tag })
            .At(23, new InServiceCommand { Id = Guid.Empty, By = "Ben", Subject = "regulated-air" })
            .At(24, new OutOfServiceCommand { Id = Guid.Empty, By = "Ben", Subject = "nothing" });
        List<FindingLine> refused = Book(night).Lines.FindAll(l => l.Kind == FindingKinds.CommandNotApplied);
        Assert.Equal(4 + (Book(Sagging(30, 40)).Book[0].Tag == LowAir ? 0 : 1), refused.Count);
        Assert.Contains(refused, l => l.Text.Contains("it is not out of service", StringComparison.Ordinal));
        Assert.Contains(refused, l => l.Text.Contains("neither a channel", StringComparison.Ordinal));
    }

    [Fact]
    public void A_shelved_alarm_is_quiet_for_its_time_and_then_calls_again()
    {
        string tag = Book(Sagging(back: 90, until: 100)).Book[0].Tag;
        Night night = Sagging(back: 90, until: 100).At(20, new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = tag, For = TimeSpan.FromSeconds(30) });
        List<AlarmTransition> book = Book(night).Book;
        AlarmTransition shelved = Assert.Single(book, a => a.Step == AlarmStep.Shelved);
        Assert.Equal((AlarmState.Shelved, "known", Night.Midnight + 50_000_000_000), (shelved.To, shelved.Why, shelved.ShelvedUntilUtc));
        AlarmTransition back = Assert.Single(book, a => a.Step == AlarmStep.Unshelved);
        Assert.Equal((50.0, AlarmState.Unacknowledged, "time-over", true), (back.At.Seconds, back.To, back.Why, back.Calls));
        Assert.DoesNotContain(book, a => a.Calls && a.At.Seconds is > 20 and < 50);
    }

    [Fact]
    public void One_shelved_until_it_is_over_comes_off_its_shelf_when_it_is()
    {
        string tag = Book(Sagging(back: 30, until: 40)).Book[0].Tag;
        Night night = Sagging(back: 30, until: 120).At(20, new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = tag, For = TimeSpan.FromHours(8), UntilOver = true });
        AlarmTransition over = Assert.Single(Book(night).Book, a => a.Step == AlarmStep.Returned);
        Assert.Equal((AlarmState.Shelved, AlarmState.ReturnedUnacknowledged), (over.From, over.To));
        Assert.Null(over.ShelvedUntilUtc);
    }

    [Fact]
    public void What_worsens_comes_off_its_shelf_and_must_be_answered_for_anew()
    {
        Night night = new Night(AirBench).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 60, 47.5).Series(TestBench.Air, 60, 80, 43);
        string tag = Book(new Night(AirBench).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 60, 47.5)).Book[0].Tag;
        night.At(30, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = tag })
            .At(31, new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = tag, For = TimeSpan.FromHours(1) });
        List<AlarmTransition> book = Book(night).Book;
        Assert.Equal(AlarmPriority.Low, book[0].Priority);
        AlarmTransition worse = Assert.Single(book, a => a.Step == AlarmStep.Worsened);
        Assert.Equal((AlarmState.Shelved, AlarmState.Unacknowledged, AlarmPriority.High, true), (worse.From, worse.To, worse.Priority, worse.Calls));
        Assert.Null(worse.ShelvedUntilUtc);
        Assert.InRange(worse.At.Seconds, 60, 61.2);
    }

    [Fact]
    public void One_that_is_answered_for_or_shelved_is_not_silent_when_it_threatens_more()
    {
        // The supply fails first; twenty seconds later the bearing loses its air. Both are of high priority.
        string tag = Book(Failing()).Book[0].Tag;
        Command[] answers =
        [
            new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = tag },
            new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = tag, For = TimeSpan.FromHours(8) },
        ];
        foreach (Command answer in answers)
        {
            List<AlarmTransition> book = Book(Failing().At(15, answer)).Book;
            AlarmTransition worse = Assert.Single(book, a => a.Step == AlarmStep.Worsened);
            Assert.Equal((AlarmState.Unacknowledged, AlarmPriority.High, true, book[0].Id), (worse.To, worse.Priority, worse.Calls, worse.Id));
            Assert.InRange(worse.At.Seconds, 20, 21.2);
            Assert.Null(worse.ShelvedUntilUtc);
            Assert.Contains("30", worse.Text, StringComparison.Ordinal);
            Assert.Equal(
                ("the regulator loses its headroom, then the bearing its air, within a minute", "the head wheel's bearing loses its air, within seconds"),
                (book[0].Consequence, worse.Consequence));
        }

        Assert.Single(Book(Failing()).Book, a => a.Calls); // unanswered it has called already, and says what joins
    }

    [Fact]
    public void Heads_that_clog_one_after_the_other_are_answered_for_once()
    {
        var night = new Night(TestBench.Full());
        night.Shows(MachineState.Locked, 0, 80, TestBench.Head1, TestBench.Head1 + 1)
            .Series(TestBench.Head1, 0, 50, -10).Series(TestBench.Head1, 50, 80, -20)
            .Series(TestBench.Head1 + 1, 0, 60, -10).Series(TestBench.Head1 + 1, 60, 80, -20)
            .At(55, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = "below-limit.rf-1" });
        List<AlarmTransition> book = Book(night).Book;
        Assert.Contains(book, a => a.Step == AlarmStep.Acknowledged);
        Assert.DoesNotContain(book, a => a.Calls && a.At.Seconds > 55 && a.Id == book[0].Id);
    }

    [Fact]
    public void One_shelved_as_of_low_priority_calls_when_it_comes_back_of_high()
    {
        ChannelDefinition supply = Supply();
        supply = supply with { Limits = [.. supply.Limits, supply.Limits[0] with { Severity = Severity.Advisory, Value = 70, OnDelay = TimeSpan.FromSeconds(2) }] };
        BenchDefinition bench = TestBench.Of(TestBench.AirChannel(), supply);
        Night Coming(double psi) => new Night(bench).Series(TestBench.Air, 0, 180, 50)
            .Series(TestBench.Supply, 0, 10, 90).Series(TestBench.Supply, 10, 40, 65).Series(TestBench.Supply, 40, 150, 90).Series(TestBench.Supply, 150, 180, psi);
        var shelve = new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = "below-limit.supply-air", For = TimeSpan.FromHours(8) };

        List<AlarmTransition> book = Book(Coming(40).At(30, shelve)).Book;
        AlarmTransition off = Assert.Single(book, a => a.Step == AlarmStep.Unshelved);
        Assert.Equal("came-worse", off.Why);
        AlarmTransition call = Assert.Single(book, a => a.Calls && a.At.Seconds > 30);
        Assert.Equal((AlarmStep.Raised, AlarmPriority.High, null), (call.Step, call.Priority, call.ShelvedUntilUtc));
        Assert.InRange(call.At.Seconds, 150, 151.2);

        book = Book(Coming(65).At(30, shelve)).Book;
        Assert.DoesNotContain(book, a => a.Calls && a.At.Seconds > 30); // that is what it was shelved for
        Assert.Contains(book, a => a is { Step: AlarmStep.Raised, To: AlarmState.Shelved } && a.At.Seconds > 150);
    }

    [Fact]
    public void What_is_out_of_service_comes_and_goes_in_the_book_and_calls_nobody()
    {
        Night night = Sagging(back: 30, until: 120)
            .At(5, new OutOfServiceCommand { Id = Guid.Empty, By = "Ida", Note = "sensor at the bench", Subject = "regulated-air" })
            .At(110, new InServiceCommand { Id = Guid.Empty, By = "Ida", Subject = "regulated-air" });
        List<AlarmTransition> book = Book(night).Book;
        Assert.DoesNotContain(book, a => a.Calls);
        Assert.Contains(book, a => a is { Step: AlarmStep.Raised, To: AlarmState.OutOfService, IsActive: true });
        Assert.Equal(
            (AlarmStep.TakenOutOfService, "regulated-air", "Ida", "sensor at the bench"), (book[0].Step, book[0].Tag, book[0].By, book[0].Why));
        Assert.Contains(book, a => a.Step == AlarmStep.PutBackInService && a.Tag != "regulated-air" && a.To == AlarmState.ReturnedUnacknowledged);
    }

    [Fact]
    public void A_channel_out_of_service_does_not_quieten_another_of_the_same_trouble()
    {
        List<AlarmTransition> plain = Book(Failing()).Book;
        Assert.StartsWith("below-limit.supply-air", plain[0].Tag, StringComparison.Ordinal);
        Assert.Single(plain.Select(a => a.Id).Distinct());
        List<AlarmTransition> book = Book(Failing().At(5, new OutOfServiceCommand { Id = Guid.Empty, By = "Ida", Note = "leaks", Subject = "supply-air" })).Book;
        AlarmTransition called = book.First(a => a.Calls);
        Assert.Equal("regulated-air", called.Channel);
        Assert.InRange(called.At.Seconds, 20, 21.2);
    }

    [Fact]
    public void What_is_answered_for_is_suppressed_by_design_when_the_machine_leaves_the_state_and_back_in_it_no_more()
    {
        Night night = Leaving(backAt: 140, correctorThen: 20).At(30, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = "above-limit.corrector-use" });
        List<AlarmTransition> book = Book(night).Book.FindAll(a => a.Channel == "corrector-use");
        AlarmTransition suppressed = Assert.Single(book, a => a.Step == AlarmStep.Suppressed);
        Assert.Equal((AlarmState.SuppressedByDesign, "state-left"), (suppressed.To, suppressed.Why));
        AlarmTransition back = Assert.Single(book, a => a.Step == AlarmStep.Unsuppressed);
        Assert.Equal((AlarmState.Normal, "state-back"), (back.To, back.Why));
        Assert.True(back.At.Seconds > 140, Story(book));
        Assert.DoesNotContain(book, a => a.Calls && a.At > suppressed.At);
    }

    [Fact]
    public void What_nobody_has_answered_for_is_not_quietened_by_the_machine_that_stops()
    {
        List<AlarmTransition> book = Book(Leaving(backAt: 240, correctorThen: 20)).Book.FindAll(a => a.Channel == "corrector-use");
        Assert.DoesNotContain(book, a => a.Step == AlarmStep.Suppressed);
        AlarmTransition last = book[^1];
        Assert.Equal((AlarmStep.Returned, AlarmState.ReturnedUnacknowledged), (last.Step, last.To));
        Assert.InRange(last.At.Seconds, 120, 130); // a minute after the machine had left the state

        // Answered for before that minute is over, it is suppressed from then on.
        book = Book(Leaving(backAt: 240, correctorThen: 20).At(80, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = "above-limit.corrector-use" }))
            .Book.FindAll(a => a.Channel == "corrector-use");
        Assert.Single(book, a => a.Step == AlarmStep.Suppressed && a.At.Seconds is >= 80 and < 80.3);
    }

    [Fact]
    public void One_that_comes_again_while_it_is_suppressed_says_that_it_is_so_no_more()
    {
        Night night = Leaving(backAt: 140, correctorThen: 95).At(30, new AcknowledgeCommand { Id = Guid.Empty, By = "Ida", Finding = "above-limit.corrector-use" });
        List<AlarmTransition> book = Book(night).Book.FindAll(a => a.Channel == "corrector-use");
        AlarmTransition suppressed = Assert.Single(book, a => a.Step == AlarmStep.Suppressed);
        Assert.Single(book, a => a.Step == AlarmStep.Unsuppressed && a.At > suppressed.At);
        Assert.Contains(book, a => a is { Step: AlarmStep.Raised, From: AlarmState.Normal, Calls: true } && a.At > suppressed.At);
    }

    [Fact]
    public void An_alarm_of_a_channel_that_a_reload_takes_away_goes_out_of_service_and_is_forgotten()
    {
        BenchDefinition both = TestBench.Of(TestBench.AirChannel(), Supply());
        Night night = new Night(both).Series(TestBench.Air, 0, 100, 50).Series(TestBench.Supply, 0, 10, 90).Series(TestBench.Supply, 10, 30, 40);
        night.At(30, EngineInput.OfBench(default, AirBench with { SourceHash = "without" }));
        (_, List<AlarmTransition> book, DriftWatch.Watch.WatchEngine engine) = Run(night);
        AlarmTransition gone = Assert.Single(book, a => a.Step == AlarmStep.TakenOutOfService);
        Assert.Equal(("supply-air", AlarmState.OutOfService, "bench-reloaded"), (gone.Channel, gone.To, gone.Why));
        Assert.Empty(engine.OpenAlarms);
    }

    [Fact]
    public void A_stretch_that_nobody_watched_asks_for_a_person_though_it_is_over()
    {
        Night night = new Night(AirBench).Series(TestBench.Air, 0, 10, 50)
            .At(10.05, EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Night.Anchor(10.05, 600)))).At(10.05, EngineInput.OfBench(default, AirBench))
            .Series(TestBench.Air, 10.1, 20, 50);
        List<AlarmTransition> book = Book(night).Book;
        Assert.Equal([AlarmStep.Raised, AlarmStep.Returned], book.Select(a => a.Step));
        Assert.Equal(("nobody-watching.bench", AlarmPriority.Medium, AlarmState.ReturnedUnacknowledged), (book[0].Tag, book[0].Priority, book[1].To));
        Assert.True(book[0].Calls);
        Assert.StartsWith("Nobody watched for 10 min", book[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_shelf_whose_time_is_over_while_nobody_watches_ends_with_the_first_tick_after()
    {
        var night = new Night(AirBench).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 25, 43)
            .At(325.02, EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Night.Anchor(325.02)))).At(325.02, EngineInput.OfBench(default, AirBench))
            .Series(TestBench.Air, 325.05, 335, 43);
        string tag = Book(Sagging(back: 30, until: 40)).Book[0].Tag;
        night.At(20, new ShelveCommand { Id = Guid.Empty, By = "Ida", Note = "known", Finding = tag, For = TimeSpan.FromMinutes(2) });
        var engine = new DriftWatch.Watch.WatchEngine();
        var book = new List<AlarmTransition>();
        foreach (EngineInput input in night.Inputs().Where(i => i.Kind != InputKind.Tick || i.Time.Seconds is < 25 or > 325.02))
        {
            if (input.Kind == InputKind.Clock && input.Time.Seconds > 300)
            {
                Assert.True(DriftWatch.Watch.WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), whyNot);
            }

            engine.Apply(input, [], book);
        }

        AlarmTransition off = Assert.Single(book, a => a.Step == AlarmStep.Unshelved);
        Assert.Equal((tag, "time-over", AlarmState.Unacknowledged, true), (off.Tag, off.Why, off.To, off.Calls));
        Assert.InRange(off.At.Seconds, 325, 325.2);
    }

    internal static (List<FindingLine> Lines, List<AlarmTransition> Book) Book(Night night)
    {
        (List<FindingLine> lines, List<AlarmTransition> book, _) = Run(night);
        return (lines, book);
    }

    private static (List<FindingLine> Lines, List<AlarmTransition> Book, DriftWatch.Watch.WatchEngine Engine) Run(Night night)
    {
        var engine = new DriftWatch.Watch.WatchEngine();
        var lines = new List<FindingLine>();
        var book = new List<AlarmTransition>();
        foreach (EngineInput input in night.Inputs())
        {
            engine.Apply(input, lines, book);
        }

        return (lines, book, engine);
    }

    /// <summary>The supply fails at 10 s, and the air from it at 20 s.</summary>
    private static Night Failing() => new Night(TestBench.Of(TestBench.AirChannel(), Supply()))
        .Series(TestBench.Air, 0, 10, 50).Series(TestBench.Supply, 0, 10, 90).Series(TestBench.Supply, 10, 60, 40).Series(TestBench.Air, 10, 20, 50).Series(TestBench.Air, 20, 60, 30);

    /// <summary>The corrector is at 95 % from 20 s on; at 60 s the machine stops, and is locked again from the given second on.</summary>
    private static Night Leaving(double backAt, double correctorThen)
    {
        var night = new Night(TestBench.Full());
        night.Shows(MachineState.Locked, 0, 60, TestBench.Corrector).Series(TestBench.Corrector, 0, 20, 20).Series(TestBench.Corrector, 20, 70, 95);
        night.Shows(MachineState.AirUp, 60, backAt, TestBench.Corrector).Series(TestBench.Corrector, 70, backAt, 20);
        night.Shows(MachineState.Locked, backAt, 240, TestBench.Corrector).Series(TestBench.Corrector, backAt, 240, correctorThen);
        return night;
    }

    private static ChannelDefinition Supply() => TestBench.SupplyChannel() with
    {
        Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 55, Deadband = 1, OnDelay = TimeSpan.FromSeconds(1), Source = "common practice" }],
    };
}
