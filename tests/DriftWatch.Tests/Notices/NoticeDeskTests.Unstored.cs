using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Tests.Notices;

/// <summary>While the store takes nothing: what is told from memory, and what is told once it takes again.</summary>
public sealed partial class NoticeDeskTests
{
    [Fact]
    public async Task A_failing_store_is_told_from_memory_once_and_once_that_it_is_over()
    {
        await TurnAsync();
        _trouble = "disk full";
        AlarmTransition raised = OfStore();
        await TurnAsync();
        _desk.Hold([raised]);
        await PassAsync(4);
        Assert.Empty(_routes["a"].Taken);
        await PassAsync(2);
        await PassAsync(100);
        AlarmNotice failing = Assert.Single(_routes["a"].Taken);
        Assert.Equal((NoticeKind.StoreFailing, AlarmPriority.High, raised.Id, 1), (failing.Kind, failing.Priority, failing.Alarm!.Id, failing.Count));
        Assert.Contains("disk full", failing.Text, StringComparison.Ordinal);
        Assert.Contains("do not restart", failing.Text, StringComparison.Ordinal);
        _routes["b"].Answer = _ => new RouteAnswer(false, "no network");
        _trouble = null;
        Store(raised);
        await PassAsync(1);
        Assert.Single(_routes["a"].Taken); // one notice that it fails, not two
        Store(Over(raised));
        await PassAsync(1);
        Assert.Equal([NoticeKind.StoreFailing, NoticeKind.StoreRecovered], _routes["a"].Taken.Select(n => n.Kind));
        Assert.Single(_routes["b"].Taken);
        _routes["b"].Answer = _ => null;
        await PassAsync(10);
        Assert.Equal([NoticeKind.StoreFailing, NoticeKind.StoreRecovered], _routes["b"].Taken.Select(n => n.Kind));
        Assert.Empty(_store.OpenNotices());
    }

    [Fact]
    public async Task Alarms_that_are_not_stored_are_told_from_memory_as_such_and_not_again_when_they_are()
    {
        await TurnAsync();
        _trouble = "disk full";
        await PassAsync(1);
        AlarmTransition one = Book.Line("one", ++_input, priority: AlarmPriority.High, atSeconds: _now.Seconds);
        AlarmTransition two = Book.Line("two", ++_input, atSeconds: _now.Seconds);
        AlarmTransition over = two with { Input = ++_input, Step = AlarmStep.Returned, To = AlarmState.ReturnedUnacknowledged };
        AlarmTransition failing = OfStore();
        _desk.Hold([one, two, over, failing]);
        _routes["b"].Answer = _ => new RouteAnswer(false, "no network");
        await PassAsync(6);
        AlarmNotice told = Assert.Single(_routes["a"].Taken); // what else there is comes with it: one notice
        Assert.Equal((NoticeKind.StoreFailing, 2, failing.Id, "one"), (told.Kind, told.Count, told.Alarm!.Id, Assert.Single(told.Items).Alarm)); // the other is over
        Assert.Contains("told from memory", told.Text, StringComparison.Ordinal);

        AlarmTransition three = Book.Line("three", ++_input, atSeconds: _now.Seconds);
        _desk.Hold([one, two, over, failing, three]);
        await PassAsync(30);
        Assert.Single(_routes["a"].Taken);
        await PassAsync(31);
        Assert.Equal((NoticeKind.Digest, "three"), (_routes["a"].Taken[^1].Kind, Assert.Single(_routes["a"].Taken[^1].Items).Alarm));
        await PassAsync(100);
        Assert.Equal(2, _routes["a"].Taken.Count);

        // It is stored: each route is told what it was not told of, and nothing twice.
        _routes["b"].Answer = _ => null;
        Store(one, two, over, failing, three);
        _trouble = null;
        await PassAsync(300);
        await PassAsync(300);
        Assert.Equal(["two"], _routes["a"].Taken.Where(n => n.Kind == NoticeKind.Alarm).Select(n => n.Alarm!.Id));
        Assert.Equal(["of the store", "one", "three", "two"], _routes["b"].Taken.Where(n => n.Kind == NoticeKind.Alarm).Select(n => n.Alarm!.Id).Order(StringComparer.Ordinal));
        Assert.DoesNotContain(_routes["b"].Taken, n => n.Kind is NoticeKind.Digest or NoticeKind.StoreFailing);
    }

    [Fact]
    public async Task That_the_store_fails_waits_for_no_other_that_was_told_from_memory()
    {
        await TurnAsync();
        _trouble = "disk full";
        await PassAsync(1);
        AlarmTransition one = Book.Line("one", ++_input, atSeconds: _now.Seconds);
        _desk.Hold([one]);
        await PassAsync(6);
        Assert.Equal([NoticeKind.Digest], _routes["a"].Taken.Select(n => n.Kind));
        _desk.Hold([one, OfStore()]);
        await PassAsync(1);
        Assert.Equal([NoticeKind.Digest, NoticeKind.StoreFailing], _routes["a"].Taken.Select(n => n.Kind));
        Assert.Empty(_routes["a"].Taken[1].Items);
    }

    [Fact]
    public async Task An_outbox_that_refuses_does_not_keep_a_route_from_telling_that_the_store_fails()
    {
        await TurnAsync();
        Execute("CREATE TRIGGER refusing BEFORE INSERT ON notice BEGIN SELECT RAISE(ABORT, 'refused'); END");
        Happen(Book.Line("one", ++_input)); // chosen in the turn whose commit fails
        await TurnAsync();
        _trouble = "disk full";
        await PassAsync(1);
        _desk.Hold([OfStore()]);
        await PassAsync(6);
        Assert.Equal(NoticeKind.StoreFailing, Assert.Single(_routes["a"].Taken).Kind);
        Execute("DROP TRIGGER refusing");
        _trouble = null;
        await PassAsync(1);
        await PassAsync(1);
        Assert.Single(_routes["a"].Taken, n => n.Alarm?.Id == "one");
    }

    /// <summary>That the store fails, as judging says it.</summary>
    private AlarmTransition OfStore() => Book.Line("of the store", ++_input, priority: AlarmPriority.High, atSeconds: _now.Seconds) with
    {
        Tag = "store-failing.bench",
        Cause = "disk-full",
        Text = "The store takes nothing: disk full. It is held in memory.",
    };

    private AlarmTransition Over(AlarmTransition line) => line with { Input = ++_input, Step = AlarmStep.Returned, To = AlarmState.ReturnedUnacknowledged };

    /// <summary>The store takes what was held.</summary>
    private void Store(params AlarmTransition[] lines)
    {
        Happen(lines);
        _desk.Hold([]);
    }
}
