using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>The outbox in the store: one row a route and key, what has ended stays ended, and the place in the book moves with it.</summary>
public sealed class NoticeStoreTests
{
    [Fact]
    public void Rows_and_the_place_in_the_book_are_kept_together_and_in_order()
    {
        using var folder = new StoreFolder();
        using (BenchStore store = folder.Open())
        {
            Assert.Equal(0, store.NoticeCursor());
            store.CommitNotices(3, [new(Row("b")), new(Row("a")), new(Row("b", route: "other"))]);
        }

        using BenchStore again = folder.Open();
        Assert.Equal(3, again.NoticeCursor());
        Assert.Equal([("mail", "b"), ("mail", "a"), ("other", "b")], again.OpenNotices().Select(r => (r.Route, r.Key)));
        StoredNotice first = again.OpenNotices()[0];
        Assert.Equivalent(Row("b") with { Number = first.Number }, first);
        again.CommitNotices(null, [new(Row("b"), IsRemoval: true)]);
        Assert.Equal(3, again.NoticeCursor());
        Assert.Equal(["a", "b"], again.OpenNotices().Select(r => r.Key));
    }

    [Fact]
    public void What_was_sent_is_not_sent_again_by_planning_it_again()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.CommitNotices(1, [new(Row("a"))]);
        store.CommitNotices(null, [new(Row("a") with { State = NoticeState.Sent, Ended = EngineTime.FromSeconds(7), EndedUtc = 7, Said = "250 OK" })]);
        store.CommitNotices(2, [new(Row("a")), new(Row("a"), IsRemoval: true)]);

        Assert.Empty(store.OpenNotices());
        StoredNotice sent = Assert.Single(store.LatestNotices("mail", 10));
        Assert.Equal((NoticeState.Sent, "250 OK"), (sent.State, sent.Said));
        Assert.Equal(0, store.PruneNotices(7));
        Assert.Equal(1, store.PruneNotices(8));
        Assert.Empty(store.LatestNotices("mail", 10));
    }

    [Fact]
    public void Notices_begin_at_the_end_of_a_book_that_was_there_before_them()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.CommitJudged(9, [1], "build", [], [AlarmStoreTests.Line(5, 0), AlarmStoreTests.Line(9, 0, AlarmStep.Joined)]);
        Assert.Equal(2, store.NoticeCursor());
    }

    [Fact]
    public void Alarms_nobody_answered_for_are_found_by_the_last_line_of_their_tag()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        AlarmTransition one = AlarmStoreTests.Line(5, 0);
        AlarmTransition two = one with { Id = "two", Tag = "two", Input = 6 };
        AlarmTransition three = one with { Id = "three", Tag = "three", Input = 7 };
        AlarmTransition back = two with { Input = 8, Step = AlarmStep.Returned, To = AlarmState.ReturnedUnacknowledged, IsActive = false };
        store.CommitJudged(9, [1], "build", [], [one, two, three, back, three with { Input = 9, Step = AlarmStep.Acknowledged, To = AlarmState.Acknowledged }]);
        Assert.Equal([one, back], store.UnansweredAlarms(5));
        Assert.Equal([one, two, three], store.UnansweredAlarms(3)); // as it was at an earlier place

        // It came again and was answered for: nobody waits for an answer to the coming before.
        AlarmTransition again = two with { Id = "two.again", Input = 10 };
        store.CommitJudged(11, [1], "build", [], [again, again with { Input = 11, Step = AlarmStep.Acknowledged, To = AlarmState.Acknowledged }]);
        Assert.Equal([one], store.UnansweredAlarms(long.MaxValue));
    }

    internal static StoredNotice Row(string key, string route = "mail") => new()
    {
        Route = route,
        Key = key,
        Alarm = "bench.alarm.x.y.1",
        Kind = "alarm",
        Priority = AlarmPriority.Medium,
        State = NoticeState.Waiting,
        Made = EngineTime.FromSeconds(5),
        Due = EngineTime.FromSeconds(6),
        Json = [1, 2, 3],
    };
}
