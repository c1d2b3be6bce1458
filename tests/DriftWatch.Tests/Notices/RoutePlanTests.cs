using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Planning;
using DriftWatch.Storage;

namespace DriftWatch.Tests.Notices;

/// <summary>What goes by one route and when, told by hand; times in seconds.</summary>
public sealed class RoutePlanTests
{
    private static readonly TimeOnly Noon = new(12, 0);
    private static readonly TimeOnly Night = new(23, 30);

    [Fact]
    public void A_line_that_calls_is_told_at_once_and_once()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("a", 1));
        Assert.Equal(["a"], desk.SendAll(0));
        Assert.Empty(desk.SendAll(1));
    }

    [Theory]
    [InlineData(AlarmStep.Joined, AlarmState.Unacknowledged)]
    [InlineData(AlarmStep.CauseNamed, AlarmState.Unacknowledged)]
    [InlineData(AlarmStep.Raised, AlarmState.Shelved)]
    [InlineData(AlarmStep.Raised, AlarmState.SuppressedByDesign)]
    [InlineData(AlarmStep.Raised, AlarmState.OutOfService)]
    [InlineData(AlarmStep.Returned, AlarmState.ReturnedUnacknowledged)]
    public void A_line_that_does_not_call_is_not_told(AlarmStep step, AlarmState to)
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("a", 1, step, to, AlarmPriority.High));
        Assert.Empty(desk.SendAll(0));
    }

    [Fact]
    public void What_is_below_the_routes_priority_is_not_told_until_it_worsens()
    {
        var desk = new Desk(Book.Route() with { LeastPriority = AlarmPriority.High });
        desk.Take(0, Book.Line("a", 1));
        Assert.Empty(desk.SendAll(0));
        desk.Take(1, Book.Line("a", 2, AlarmStep.Worsened, priority: AlarmPriority.High));
        Assert.Equal(["a"], desk.SendAll(1));
    }

    [Fact]
    public void Beyond_the_rate_the_rest_comes_in_one_digest_when_there_is_room()
    {
        var desk = new Desk(Book.Route() with { Most = 3 });
        desk.Take(0, [.. Enumerable.Range(0, 40).Select(i => Book.Line($"a{i}", i + 1))]);
        Assert.Equal(["a0", "a1", "a2"], desk.SendAll(0));
        Assert.Equal(1, desk.Plan.Waiting);
        desk.Take(300, Book.Line("late", 99));
        Assert.Empty(desk.SendAll(599.9));
        AlarmNotice digest = Assert.Single(desk.Send(600));
        Assert.Equal((NoticeKind.Digest, 38), (digest.Kind, digest.Count));
        Assert.Equal("a3", digest.Items[0].Alarm);
        Assert.Equal(NoticeWriter.MostItems, digest.Items.Count);
        Assert.Contains("And 18 more.", digest.Text, StringComparison.Ordinal);
        Assert.Equal(0, desk.Plan.Waiting);
    }

    [Fact]
    public void The_top_priority_has_a_room_of_its_own_and_its_digest_waits_for_a_minute_at_most()
    {
        var desk = new Desk(Book.Route() with { Most = 2 });
        desk.Take(0, [.. Enumerable.Range(0, 9).Select(i => Book.Line($"m{i}", i + 1))]);
        desk.Take(0, [.. Enumerable.Range(0, 5).Select(i => Book.Line($"h{i}", i + 20, priority: AlarmPriority.High))]);
        Assert.Equal(["m0", "m1", "h0", "h1"], desk.SendAll(0));
        Assert.Empty(desk.SendAll(59));
        AlarmNotice digest = Assert.Single(desk.Send(60));
        Assert.Equal((NoticeKind.Digest, AlarmPriority.High, 3), (digest.Kind, digest.Priority, digest.Count));
    }

    [Fact]
    public void Quiet_hours_hold_all_but_the_top_priority_and_end_with_one_digest()
    {
        var desk = new Desk(Book.Route() with { QuietFrom = new TimeOnly(22, 0), QuietTo = new TimeOnly(7, 0) }) { Local = Night };
        desk.Take(0, Book.Line("a", 1), Book.Line("b", 2), Book.Line("top", 3, priority: AlarmPriority.High));
        Assert.Equal(["top"], desk.SendAll(0));
        desk.Take(3600, Book.Line("c", 4));
        Assert.Empty(desk.SendAll(20_000));
        desk.Local = new TimeOnly(7, 0);
        AlarmNotice digest = Assert.Single(desk.Send(27_000));
        Assert.Equal(["a", "b", "c"], digest.Items.Select(i => i.Alarm));
    }

    [Theory]
    [InlineData("22:00", "07:00", "21:59", false)]
    [InlineData("22:00", "07:00", "22:00", true)]
    [InlineData("22:00", "07:00", "00:00", true)]
    [InlineData("22:00", "07:00", "06:59", true)]
    [InlineData("22:00", "07:00", "07:00", false)]
    [InlineData("12:00", "13:00", "12:30", true)]
    [InlineData("12:00", "13:00", "13:00", false)]
    public void Quiet_hours_begin_at_their_first_minute_and_may_go_over_midnight(string from, string to, string at, bool quiet) =>
        Assert.Equal(quiet, (Book.Route() with { QuietFrom = TimeOnly.Parse(from), QuietTo = TimeOnly.Parse(to) }).IsQuiet(TimeOnly.Parse(at)));

    [Fact]
    public void A_notice_that_failed_before_the_quiet_hours_waits_for_their_end()
    {
        var desk = new Desk(Book.Route() with { QuietFrom = new TimeOnly(22, 0), QuietTo = new TimeOnly(7, 0) });
        desk.Take(0, Book.Line("a", 1));
        desk.Fail(0);
        desk.Local = Night;
        Assert.Empty(desk.SendAll(7200));
        desk.Local = Noon;
        Assert.Equal(["a"], desk.SendAll(40_000));
    }

    [Fact]
    public void Escalation_tells_what_nobody_has_answered_for_in_time_and_spares_the_rest()
    {
        var desk = new Desk(Book.Route() with { After = TimeSpan.FromMinutes(5) });
        desk.Take(0, Book.Line("kept", 1), Book.Line("acknowledged", 2), Book.Line("over", 3), Book.Line("shelved", 4));
        desk.Take(100, Book.Line("acknowledged", 5, AlarmStep.Acknowledged, AlarmState.Acknowledged));
        desk.Take(200, Book.Line("over", 6, AlarmStep.Returned, AlarmState.ReturnedUnacknowledged));
        desk.Take(299, Book.Line("shelved", 7, AlarmStep.Shelved, AlarmState.Shelved));
        Assert.Empty(desk.SendAll(299.9));
        AlarmNotice told = Assert.Single(desk.Send(300));
        Assert.Equal("kept", told.Alarm!.Id);
        Assert.Contains("Nobody has answered for it in 5 min.", told.Text, StringComparison.Ordinal);
        Assert.Equal((0, 0), (desk.Plan.Held, desk.Plan.Waiting));
    }

    [Fact]
    public void An_alarm_that_worsens_while_held_is_told_as_it_is_then_and_no_later()
    {
        var desk = new Desk(Book.Route() with { After = TimeSpan.FromMinutes(5) });
        desk.Take(0, Book.Line("a", 1));
        desk.Take(200, Book.Line("a", 2, AlarmStep.Worsened, priority: AlarmPriority.High, atSeconds: 200));
        AlarmNotice told = Assert.Single(desk.Send(300));
        Assert.Equal(AlarmPriority.High, told.Priority);
    }

    [Fact]
    public void Follow_ups_go_where_the_alarm_was_told_and_nowhere_else()
    {
        var desk = new Desk(Book.Route() with { FollowUps = true, After = TimeSpan.FromMinutes(1) });
        desk.Take(0, Book.Line("told", 1), Book.Line("spared", 2));
        desk.Take(10, Book.Line("spared", 3, AlarmStep.Acknowledged, AlarmState.Acknowledged));
        Assert.Equal(["told"], desk.SendAll(60));
        desk.Take(70, Book.Line("told", 4, AlarmStep.Acknowledged, AlarmState.Acknowledged), Book.Line("told", 5, AlarmStep.Returned, AlarmState.Normal), Book.Line("spared", 6, AlarmStep.Returned, AlarmState.Normal));
        Assert.Equal([NoticeKind.FollowUp, NoticeKind.FollowUp], desk.Send(70).Select(n => n.Kind));
    }

    [Fact]
    public void A_route_that_fails_backs_off_and_keeps_its_order()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("a", 1), Book.Line("b", 2));
        desk.Fail(0);
        Assert.Empty(desk.SendAll(1.9));
        desk.Fail(2);
        Assert.Empty(desk.SendAll(5.9));
        Assert.Equal(2, desk.Plan.Failures);
        Assert.Equal(["a", "b"], desk.SendAll(6));
        Assert.Equal(0, desk.Plan.Failures);
    }

    [Fact]
    public void The_top_priority_is_tried_each_half_minute_however_long_the_wait_has_grown()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("a", 1));
        foreach (double at in (double[])[0, 10, 30, 60, 120, 240, 480, 1000])
        {
            desk.Fail(at);
        }

        Assert.Empty(desk.SendAll(1100));
        desk.Take(1101, Book.Line("top", 2, priority: AlarmPriority.High));
        Assert.Equal(["top", "a"], desk.SendAll(1101));
    }

    [Fact]
    public void What_the_far_end_refuses_for_good_makes_way_after_ten_tries()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("poison", 1), Book.Line("next", 2));
        for (int i = 0; i < RoutePlan.MostRefusals; i++)
        {
            desk.Fail(i * 1000, refused: true);
        }

        Assert.Equal(["next"], desk.SendAll(1_000_000));
        Assert.Equal(NoticeState.GivenUp, desk.Rows.Values.Single(r => r.Alarm == "poison").State);
    }

    [Fact]
    public void The_top_priority_does_not_wait_for_the_tries_of_one_that_is_refused()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("poison", 1));
        desk.Fail(0, refused: true);
        desk.Take(1, Book.Line("top", 2, priority: AlarmPriority.High));
        EngineTime now = EngineTime.FromSeconds(3);
        Assert.Equal("top", desk.Plan.Next(now, Noon, [])!.Alarm);
    }

    [Fact]
    public void What_could_not_be_stored_is_taken_back_and_goes_later_as_a_first_try()
    {
        var desk = new Desk(Book.Route());
        desk.Take(0, Book.Line("a", 1));
        Assert.NotNull(desk.Plan.Next(default, Noon, []));
        Assert.Null(desk.Plan.Next(default, Noon, []));
        desk.Plan.TakeBack();
        Assert.Equal(1, desk.Plan.Next(default, Noon, [])!.Tries);
    }

    [Fact]
    public void What_is_held_learns_its_cause_and_what_to_do_first()
    {
        var desk = new Desk(Book.Route() with { After = TimeSpan.FromMinutes(5) });
        desk.Take(0, Book.Line("a", 1, priority: AlarmPriority.High));
        desk.Take(1, Book.Line("a", 2, AlarmStep.CauseNamed, priority: AlarmPriority.High, atSeconds: 1) with { Cause = "compressor-worn", Text = "Probably the compressor is worn (90 %). Switch it off." });
        desk.Restart();
        AlarmNotice told = Assert.Single(desk.Send(300));
        Assert.Equal((NoticeKind.Alarm, "compressor-worn"), (told.Kind, told.Alarm!.Cause));
        Assert.StartsWith("Supply air is low (a).", told.Text, StringComparison.Ordinal);
        Assert.Contains("Switch it off.", told.Text, StringComparison.Ordinal);
        Assert.Contains("Nobody has answered for it in 5 min.", told.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_cause_that_is_said_after_an_alarm_was_told_follows_where_follow_ups_are_asked_for()
    {
        AlarmTransition named = Book.Line("a", 2, AlarmStep.CauseNamed, priority: AlarmPriority.High, atSeconds: 1) with { Text = "Probably the compressor is worn (90 %). Switch it off." };
        foreach (bool asked in (bool[])[true, false])
        {
            var desk = new Desk(Book.Route() with { FollowUps = asked });
            desk.Take(0, Book.Line("a", 1, priority: AlarmPriority.High));
            desk.SendAll(0);
            desk.Take(1, named);
            List<AlarmNotice> told = desk.Send(1);
            Assert.Equal(asked ? 1 : 0, told.Count);
            Assert.All(told, n => Assert.Equal((NoticeKind.FollowUp, true), (n.Kind, n.Text.Contains("Switch it off.", StringComparison.Ordinal))));
        }
    }

    [Fact]
    public void A_dead_network_keeps_a_few_notices_and_one_digest_however_many_come()
    {
        var desk = new Desk(Book.Route() with { Most = 6 });
        for (int i = 0; i < 5000; i++)
        {
            desk.Take(i, Book.Line($"a{i}", i + 1));
            if (i % 300 == 0)
            {
                desk.Fail(i);
            }
        }

        Assert.Equal(7, desk.Plan.Waiting);
        List<AlarmNotice> told = desk.Send(10_000);
        told.AddRange(desk.Send(11_000));
        Assert.Equal(5000, told.Sum(n => n.Count));
        Assert.Equal(7, told.Count);
    }

    [Fact]
    public void A_digest_that_was_begun_to_be_sent_grows_no_more()
    {
        var desk = new Desk(Book.Route() with { Most = 1 });
        desk.Take(0, Book.Line("a", 1), Book.Line("b", 2));
        desk.SendAll(0);
        desk.Fail(700);
        desk.Take(701, Book.Line("c", 3));
        desk.Restart();
        List<AlarmNotice> told = desk.Send(705);
        told.AddRange(desk.Send(2000));
        Assert.Equal([1, 1], told.Select(n => n.Count));
        Assert.Equal("b", told[0].Items[0].Alarm);
    }

    [Theory]
    [InlineData(1, 0, 2)]
    [InlineData(1, 1, 1)]
    [InlineData(4, 0, 16)]
    [InlineData(30, 0, 300)]
    public void Waits_double_up_to_a_cap_and_jitter_takes_up_to_half_away(int failures, double jitter, double seconds) =>
        Assert.Equal(TimeSpan.FromSeconds(seconds), BackOff.After(failures, jitter));

    [Fact]
    public void The_far_end_may_ask_for_a_longer_wait_but_not_for_ever()
    {
        Assert.Equal(TimeSpan.FromSeconds(90), BackOff.After(1, 0, TimeSpan.FromSeconds(90)));
        Assert.Equal(BackOff.LongestAsked, BackOff.After(1, 0, TimeSpan.FromDays(3)));
    }

    /// <summary>A plan with its rows as the store would keep them.</summary>
    private sealed class Desk
    {
        private readonly RouteSettings _settings;
        private readonly NoticeWriter _writer = new("bench", "Bench");
        private readonly List<NoticeChange> _changes = [];

        public Desk(RouteSettings settings)
        {
            _settings = settings;
            Plan = new RoutePlan(settings, _writer, [], []);
        }

        public RoutePlan Plan { get; private set; }

        public TimeOnly Local { get; set; } = Noon;

        public Dictionary<string, StoredNotice> Rows { get; } = new(StringComparer.Ordinal);

        public void Take(double seconds, params AlarmTransition[] lines)
        {
            foreach (AlarmTransition line in lines)
            {
                Plan.Take(line, EngineTime.FromSeconds(seconds), Local, _changes);
            }

            Plan.Turn(EngineTime.FromSeconds(seconds), Local, _changes);
            Store();
        }

        public List<AlarmNotice> Send(double seconds)
        {
            EngineTime now = EngineTime.FromSeconds(seconds);
            var sent = new List<AlarmNotice>();
            Plan.Turn(now, Local, _changes);
            while (Plan.Next(now, Local, _changes) is { } row)
            {
                Store();
                sent.Add(NoticeJson.Read(row.Json));
                Plan.Sent(now, 0, "taken", _changes);
                Store();
            }

            return sent;
        }

        public IEnumerable<string> SendAll(double seconds) => Send(seconds).Select(n => n.Alarm?.Id ?? "digest");

        public void Fail(double seconds, bool refused = false)
        {
            EngineTime now = EngineTime.FromSeconds(seconds);
            Plan.Turn(now, Local, _changes);
            if (Plan.Next(now, Local, _changes) is not null)
            {
                Plan.Failed(now, 0, "no", refused, null, 0, _changes);
            }

            Store();
        }

        public void Restart()
        {
            List<StoredNotice> rows = [.. Rows.Values.OrderBy(r => r.Number)];
            Plan = new RoutePlan(_settings, _writer, rows.Where(r => r.State < NoticeState.Sent), rows.Where(r => r.State >= NoticeState.Sent));
        }

        private void Store()
        {
            foreach (NoticeChange change in _changes)
            {
                if (change.IsRemoval)
                {
                    Rows.Remove(change.Row.Key);
                }
                else
                {
                    Rows[change.Row.Key] = change.Row with { Number = Rows.TryGetValue(change.Row.Key, out StoredNotice? old) ? old.Number : Rows.Count + 1 };
                }
            }

            _changes.Clear();
        }
    }
}
