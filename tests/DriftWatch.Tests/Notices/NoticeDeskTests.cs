using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Notices;

/// <summary>The desk with its store: what a restart, a reload, a failing store and a slow route do to notices.</summary>
public sealed partial class NoticeDeskTests : IAsyncDisposable
{
    private readonly StoreFolder _folder = new();
    private readonly FakeTimeProvider _wall = new(new DateTimeOffset(2026, 3, 28, 12, 0, 0, TimeSpan.Zero));
    private readonly Dictionary<string, FakeRoute> _routes = new(StringComparer.Ordinal) { ["a"] = new(), ["b"] = new() };
    private Func<RouteSettings, INoticeRoute>? _make;
    private BenchStore _store;
    private NoticeDesk _desk;
    private EngineTime _now = EngineTime.FromSeconds(100);
    private string? _trouble;
    private NoticeSettings _settings = new() { Routes = [Book.Route("a"), Book.Route("b")] };
    private long _input;

    public NoticeDeskTests()
    {
        _store = _folder.Open();
        _desk = NewDesk();
    }

    public async ValueTask DisposeAsync()
    {
        await _desk.DisposeAsync();
        _store.Dispose();
        _folder.Dispose();
    }

    [Fact]
    public async Task A_restart_repeats_nothing_and_loses_nothing()
    {
        await TurnAsync();
        Happen(Book.Line("one", ++_input));
        await TurnAsync();
        _routes["b"].Answer = _ => new RouteAnswer(false, "no network");
        Happen(Book.Line("two", ++_input));
        await TurnAsync();
        await RestartAsync();
        _routes["b"].Answer = _ => null;
        await TurnAsync();
        foreach (FakeRoute route in _routes.Values)
        {
            Assert.Equal(["one", "two"], route.Taken.Select(n => n.Alarm!.Id));
        }
    }

    [Fact]
    public async Task One_that_was_sent_and_not_marked_before_a_crash_goes_again_with_the_same_id()
    {
        await TurnAsync();
        Happen(Book.Line("one", ++_input));
        _desk.Turn(); // sends; what comes back is never marked
        await Task.WhenAll(_desk.Lanes.Select(l => l.Flying!));
        _desk = NewDesk(); // nobody says goodbye to the one that crashed
        await TurnAsync();
        IReadOnlyList<AlarmNotice> taken = _routes["a"].Taken;
        Assert.Equal(2, taken.Count);
        Assert.Equal(taken[0].Id, taken[1].Id);
        Assert.Equal(NoticeJson.ToUtf8(taken[0]), NoticeJson.ToUtf8(taken[1]));
    }

    [Fact]
    public async Task What_stood_in_the_book_before_there_were_notices_is_not_told_and_the_first_line_of_a_new_bench_is()
    {
        Happen(Book.Line("first", ++_input));
        await TurnAsync();
        Assert.Equal(["first"], _routes["a"].Taken.Select(n => n.Alarm!.Id));

        Execute("DELETE FROM cursor WHERE name = 'notices'"); // as a program that knew no notices left it
        await RestartAsync();
        Happen(Book.Line("now", ++_input));
        await TurnAsync();
        Assert.Equal(["first", "now"], _routes["a"].Taken.Select(n => n.Alarm!.Id));
    }

    [Fact]
    public async Task A_route_that_fails_holds_nobody_else_up()
    {
        await TurnAsync();
        _routes["a"].Answer = _ => throw new InvalidOperationException("a route that throws is a route that fails");
        Happen(Book.Line("one", ++_input), Book.Line("two", ++_input));
        await TurnAsync();
        Assert.Equal(2, _routes["b"].Taken.Count);
        Assert.Empty(_routes["a"].Taken);
        RouteReport failing = _desk.Reports()[0];
        Assert.Equal((2, true), (failing.Waiting, failing.FailingSinceUtc is not null));
        _now += TimeSpan.FromSeconds(30);
        await TurnAsync();
        Assert.True(_desk.Behind(_now) >= TimeSpan.FromSeconds(29));
    }

    [Fact]
    public async Task A_route_that_leaves_the_bench_file_gives_up_what_waits_and_says_so()
    {
        await TurnAsync();
        _routes["b"].Answer = _ => new RouteAnswer(false, "no network");
        Happen(Book.Line("one", ++_input));
        await TurnAsync();
        _settings = new NoticeSettings { Routes = [Book.Route("a")] };
        _desk.Use(LogMaker.Bench(1), _settings);
        await TurnAsync();
        await TurnAsync();
        Assert.Empty(_store.OpenNotices());
        Assert.Equal(NoticeState.GivenUp, Assert.Single(_store.LatestNotices("b", 5)).State);
        Assert.Equal("a", Assert.Single(_desk.Reports()).Settings.Id);
    }

    [Fact]
    public async Task While_the_outbox_refuses_nothing_is_sent_and_afterwards_all_is()
    {
        await TurnAsync();
        Happen(Book.Line("one", ++_input));
        Execute("CREATE TRIGGER refusing BEFORE INSERT ON notice BEGIN SELECT RAISE(ABORT, 'refused'); END");
        await TurnAsync();
        Assert.Empty(_routes["a"].Taken);
        Execute("DROP TRIGGER refusing");
        await TurnAsync();
        Assert.Equal(["one"], _routes["a"].Taken.Select(n => n.Alarm!.Id));
        Assert.Equal(["one"], _routes["b"].Taken.Select(n => n.Alarm!.Id));
        Assert.Empty(_store.OpenNotices());
    }

    [Fact]
    public async Task A_test_says_what_happened_and_is_kept_nowhere()
    {
        await TurnAsync();
        _routes["b"].Answer = _ => new RouteAnswer(false, "no network") { Remedy = "plug it in" };
        IReadOnlyList<RouteTest> tests = (await _desk.TestAsync(null, "anna", default))!;
        Assert.Equal([true, false], tests.Select(t => t.Done));
        Assert.Equal(("no network", "plug it in"), (tests[1].Said, tests[1].Remedy));
        Assert.Null(await _desk.TestAsync("none", "anna", default));
        Assert.Single((await _desk.TestAsync("a", "anna", default))!);
        Assert.Empty(_store.LatestNotices("a", 5));
        Assert.Contains("anna", _routes["a"].Taken[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task New_settings_come_into_force_though_there_is_always_something_to_send()
    {
        var slow = new TaskCompletionSource();
        await TurnAsync();
        _routes["a"].Wait = slow.Task;
        Happen([.. Enumerable.Range(0, 5).Select(i => Book.Line($"alarm {i}", ++_input))]);
        _desk.Turn(); // both routes have one on their way
        _settings = new NoticeSettings { Routes = [Book.Route("a") with { Most = 99 }, Book.Route("b")] };
        _desk.Use(LogMaker.Bench(1), _settings);
        await _desk.Lanes[1].Flying!;
        _desk.Turn();
        Assert.True(_desk.Lanes[1].Flying is null); // else one or the other would always be on its way
        slow.SetResult();
        await TurnAsync();
        Assert.Same(_settings, _desk.Settings);
        Assert.All(_routes.Values, r => Assert.Equal(5, r.Taken.Count));
    }

    [Fact]
    public async Task A_lamp_waits_as_its_keys_say_and_a_reload_does_not_sound_a_horn_again()
    {
        var lit = new Contact();
        var horn = new Contact();
        var late = new Contact();
        Dictionary<string, LampSettings> lamps = new()
        {
            ["lamp"] = new LampSettings { Chip = 0, Pin = 1 },
            ["horn"] = new LampSettings { Chip = 0, Pin = 2, Longest = TimeSpan.FromSeconds(30) },
            ["late"] = new LampSettings { Chip = 0, Pin = 3 },
        };
        Dictionary<string, Contact> contacts = new() { ["lamp"] = lit, ["horn"] = horn, ["late"] = late };
        _make = route => new LampRoute(lamps[route.Id], _wall, () => contacts[route.Id]);
        _settings = new NoticeSettings
        {
            Routes =
            [
                Book.Route("lamp", RouteKind.Lamp) with { QuietFrom = new TimeOnly(11, 0), QuietTo = new TimeOnly(13, 0) }, // it is noon
                Book.Route("horn", RouteKind.Lamp),
                Book.Route("late", RouteKind.Lamp) with { After = TimeSpan.FromMinutes(5) },
            ],
        };
        await RestartAsync();
        await TurnAsync();
        Happen(Book.Line("one", ++_input, atSeconds: _now.Seconds));
        await PassAsync(1);
        Assert.Equal((false, true, false), (lit.IsClosed, horn.IsClosed, late.IsClosed));
        await PassAsync(60);
        Assert.False(horn.IsClosed);
        _desk.Use(LogMaker.Bench(1), _settings with { });
        await PassAsync(1);
        Assert.False(horn.IsClosed); // it has sounded for this one
        await PassAsync(300);
        Assert.True(late.IsClosed);

        // It is over, comes again and is answered for: nobody is waited for.
        Happen(Book.Line("one", ++_input, AlarmStep.Returned, AlarmState.ReturnedUnacknowledged, atSeconds: _now.Seconds));
        AlarmTransition again = Book.Line("one again", ++_input, priority: AlarmPriority.High, atSeconds: _now.Seconds) with { Tag = "limit.one" };
        Happen(again);
        await PassAsync(1);
        Assert.Equal((true, true, false), (lit.IsClosed, horn.IsClosed, late.IsClosed)); // the top priority is never quiet
        Happen(again with { Input = ++_input, Step = AlarmStep.Acknowledged, To = AlarmState.Acknowledged });
        await PassAsync(1);
        Assert.Equal((false, false, false), (lit.IsClosed, horn.IsClosed, late.IsClosed));

        _trouble = "disk full";
        await PassAsync(1);
        AlarmTransition failing = OfStore();
        _desk.Hold([failing]);
        await PassAsync(6);
        Assert.True(horn.IsClosed); // nothing else waits, and it sounds
        await PassAsync(60);
        Assert.False(horn.IsClosed);
        Store(failing);
        _trouble = null;
        await PassAsync(1);
        Assert.Equal((true, false), (lit.IsClosed, horn.IsClosed)); // it still waits for an answer, and the horn has sounded for it
    }

    /// <summary>Berlin, where in 2026 summer time begins on March 29 at 01:00 UTC and ends on October 25 at 01:00 UTC: 07:00 is 05:00 UTC after the one night and 06:00 after the other.</summary>
    [Theory]
    [InlineData(3, 28, 5)]
    [InlineData(10, 24, 6)]
    public async Task Quiet_hours_end_by_the_clock_on_the_wall_also_in_the_nights_in_which_it_is_set(int month, int day, int endsUtc)
    {
        var evening = new DateTimeOffset(2026, month, day, 22, 0, 0, TimeSpan.Zero);
        _wall.AdjustTime(evening);
        _wall.SetLocalTimeZone(TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"));
        _settings = new NoticeSettings { Routes = [Book.Route("a") with { QuietFrom = new TimeOnly(22, 0), QuietTo = new TimeOnly(7, 0) }] };
        await RestartAsync();
        await TurnAsync();
        Happen(Book.Line("one", ++_input, atSeconds: _now.Seconds));
        await PassAsync((evening.Date.AddDays(1).AddHours(endsUtc) - evening.DateTime).TotalSeconds - 1);
        Assert.Empty(_routes["a"].Taken);
        await PassAsync(1);
        Assert.Single(_routes["a"].Taken);
    }

    [Fact]
    public async Task Routes_are_looked_at_when_settings_come_into_force_and_daily()
    {
        _desk.Start();
        await UntilAsync(() => _routes["a"].Checks == 1);
        for (int turn = 0; turn < 3; turn++)
        {
            _wall.Advance(TimeSpan.FromSeconds(1)); // the desk's own turn
            await Task.Delay(TimeSpan.FromMilliseconds(200), TimeProvider.System);
        }

        Assert.Equal(1, _routes["a"].Checks);
        _now += TimeSpan.FromDays(1);
        _wall.Advance(TimeSpan.FromSeconds(1));
        await UntilAsync(() => _routes["a"].Checks == 2);
    }

    private static async Task UntilAsync(Func<bool> so)
    {
        for (int i = 0; !so(); i++)
        {
            Assert.True(i < 500);
            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
        }
    }

    private void Happen(params AlarmTransition[] lines) => _store.CommitJudged(_input, [1], "build", [], lines);

    private async Task PassAsync(double seconds)
    {
        _now += TimeSpan.FromSeconds(seconds);
        _wall.Advance(TimeSpan.FromSeconds(seconds));
        await TurnAsync();
    }

    private async Task TurnAsync()
    {
        for (int i = 0; i < 8; i++)
        {
            _desk.Turn();
            await Task.WhenAll(_desk.Lanes.Select(l => l.Flying).OfType<Task>());
        }
    }

    private async Task RestartAsync()
    {
        await _desk.DisposeAsync();
        _store.Dispose();
        _store = _folder.Open();
        _now += TimeSpan.FromSeconds(60);
        _desk = NewDesk();
    }

    private void Execute(string sql)
    {
        using var connection = new SqliteConnection($"Data Source={Path.Combine(_folder.Path, "records.db")};Pooling=False");
        connection.Open();
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // the text is ours
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }

    private NoticeDesk NewDesk()
    {
        var desk = new NoticeDesk(_store, new NoticeDeskOptions
        {
            Now = () => _now,
            StoreTrouble = () => _trouble,
            TimeProvider = _wall,
            Logger = NullLogger.Instance,
            MakeRoute = route => _make?.Invoke(route) ?? _routes[route.Id],
            Jitter = () => 0,
        });
        desk.Use(LogMaker.Bench(1), _settings);
        return desk;
    }

    private sealed class Contact : IContact
    {
        public bool IsClosed { get; private set; }

        public void Set(bool closed) => IsClosed = closed;

        public void Dispose()
        {
        }
    }
}
