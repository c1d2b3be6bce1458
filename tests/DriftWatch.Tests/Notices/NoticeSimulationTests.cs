using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Notices;

/// <summary>
/// The desk with its real store and random nights: alarms that come, go, worsen and are answered, routes that fail, a
/// wall clock that steps, and restarts at any moment. One seed is one night.
/// </summary>
public sealed class NoticeSimulationTests(ITestOutputHelper output)
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    public async Task Whatever_happens_none_is_lost_none_is_told_twice_and_the_order_holds(int seed)
    {
        output.WriteLine($"seed {seed}");
        var random = new Random(seed);
        using var folder = new StoreFolder();
        var night = new Night(folder, random);
        await night.RunAsync(Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 2000 : 200);
        night.AssertSound(output);
    }

    private sealed class Night
    {
        private readonly StoreFolder _folder;
        private readonly Random _random;
        private readonly FakeTimeProvider _wall = new(new DateTimeOffset(2026, 3, 28, 20, 0, 0, TimeSpan.Zero));
        private readonly NoticeSettings _settings;
        private readonly Dictionary<string, FakeRoute> _routes = new(StringComparer.Ordinal);
        private readonly List<AlarmTransition> _book = [];
        private readonly Dictionary<string, (AlarmState State, AlarmPriority Priority)> _alarms = new(StringComparer.Ordinal);
        private readonly Dictionary<string, List<EngineTime>> _sentAt = new(StringComparer.Ordinal);
        private BenchStore _store;
        private NoticeDesk _desk;
        private EngineTime _now = EngineTime.FromSeconds(1000);
        private long _input;

        public Night(StoreFolder folder, Random random)
        {
            _folder = folder;
            _random = random;
            _wall.SetLocalTimeZone(TimeZoneInfo.CreateCustomTimeZone("test", TimeSpan.FromHours(1), "test", "test"));
            _settings = new NoticeSettings
            {
                Routes =
                [
                    Book.Route("at-once") with { Most = 4, Within = TimeSpan.FromMinutes(5), FollowUps = true },
                    Book.Route("escalated") with { After = TimeSpan.FromMinutes(3), LeastPriority = AlarmPriority.Medium },
                    Book.Route("quiet") with { QuietFrom = new TimeOnly(22, 0), QuietTo = new TimeOnly(6, 0) },
                ],
            };
            foreach (RouteSettings route in _settings.Routes)
            {
                _routes.Add(route.Id, new FakeRoute());
                _sentAt.Add(route.Id, []);
            }

            _store = _folder.Open();
            _desk = NewDesk();
        }

        public async Task RunAsync(int steps)
        {
            for (int i = 0; i < steps; i++)
            {
                Pass(TimeSpan.FromSeconds(_random.Next(1, 60)));
                switch (_random.Next(40))
                {
                    case 0:
                        await RestartAsync();
                        break;
                    case 1:
                        Fail(_routes.Values.ElementAt(_random.Next(_routes.Count)));
                        break;
                    case 2 or 3 or 4:
                        foreach (FakeRoute route in _routes.Values)
                        {
                            route.Answer = _ => null;
                        }

                        break;
                    case 5:
                        // Either way by an hour at most: nothing here hangs on it but the quiet hours.
                        _wall.AdjustTime(_wall.GetUtcNow().AddMinutes(_random.Next(-60, 60)));
                        break;
                    default:
                        Happen(_random.Next(1, 4));
                        break;
                }

                await TurnAsync();
            }

            // Morning: all routes work, and it goes on until nothing waits.
            foreach (FakeRoute route in _routes.Values)
            {
                route.Answer = _ => null;
            }

            for (int i = 0; i < 60 || _wall.GetLocalNow().Hour is < 8 or > 18; i++)
            {
                Pass(TimeSpan.FromMinutes(6));
                await TurnAsync();
            }

            await _desk.DisposeAsync();
            Assert.DoesNotContain(_store.OpenNotices(), r => r.State == NoticeState.Waiting);
            _store.Dispose();
        }

        public void AssertSound(ITestOutputHelper output)
        {
            List<AlarmTransition> calls = [.. _book.Where(l => l.Calls)];
            foreach ((string id, FakeRoute route) in _routes)
            {
                output.WriteLine($"{id}: {route.Taken.Count} notices, {route.Tries} tries, of {calls.Count} calls");
                Assert.True(route.Taken.Count > 10);
                Assert.Equal(route.Taken.Count, route.Taken.Select(n => n.Id).Distinct().Count());
            }

            // Every call is told once by the route that tells all, one by one or counted in a digest.
            FakeRoute atOnce = _routes["at-once"];
            int followUps = atOnce.Taken.Count(n => n.Kind == NoticeKind.FollowUp);
            int told = atOnce.Taken.Sum(n => n.Count);
            List<string> singles = [.. atOnce.Taken.Where(n => n.Kind == NoticeKind.Alarm).Select(n => NoticeWriter.KeyOf(n.Alarm!))];
            Assert.Equal(singles.Count, singles.Distinct().Count());
            Assert.InRange(told, calls.Count, calls.Count + _book.Count(l => l.Step is AlarmStep.Returned or AlarmStep.Acknowledged));
            Assert.Equal(calls.Count, _routes["quiet"].Taken.Sum(n => n.Count));
            Assert.True(followUps > 0);

            // The order of the book holds among those told one by one, apart for the top priority.
            foreach (bool top in (bool[])[true, false])
            {
                List<long> order = [.. _routes["quiet"].Taken.Where(n => n.Kind == NoticeKind.Alarm && n.Priority == AlarmPriority.High == top).Select(n => n.Alarm!.Input)];
                Assert.Equal(order.Order(), order);
            }

            // No more than the rate in any span, but for the digests of the top priority: one a minute at most.
            List<EngineTime> sent = _sentAt["at-once"];
            for (int i = 0; i < sent.Count; i++)
            {
                Assert.InRange(sent.Count(t => t >= sent[i] && t < sent[i] + TimeSpan.FromMinutes(5)), 1, 4 + 4 + 5);
            }

            // Escalation: what it told one by one, nobody had answered for in three minutes.
            foreach (AlarmNotice notice in _routes["escalated"].Taken.Where(n => n.Kind == NoticeKind.Alarm))
            {
                Assert.DoesNotContain(_book, l => l.Id == notice.Alarm!.Id && l.Input > notice.Alarm.Input
                    && l.At < notice.Alarm.At && l.To != AlarmState.Unacknowledged);
            }
        }

        private void Pass(TimeSpan span)
        {
            _now += span;
            _wall.Advance(span);
        }

        private static void Fail(FakeRoute route) => route.Answer = _ => new RouteAnswer(false, "no network");

        private void Happen(int lines)
        {
            var made = new List<AlarmTransition>();
            for (int i = 0; i < lines; i++)
            {
                string id = $"alarm-{_random.Next(30)}";
                (AlarmState state, AlarmPriority priority) = _alarms.GetValueOrDefault(id, (AlarmState.Normal, AlarmPriority.Low));
                (AlarmStep step, AlarmState to) = state switch
                {
                    AlarmState.Normal => (AlarmStep.Raised, AlarmState.Unacknowledged),
                    AlarmState.Unacknowledged => _random.Next(4) switch
                    {
                        0 => (AlarmStep.Acknowledged, AlarmState.Acknowledged),
                        1 => (AlarmStep.Returned, AlarmState.ReturnedUnacknowledged),
                        2 => (AlarmStep.Worsened, AlarmState.Unacknowledged),
                        _ => (AlarmStep.Joined, AlarmState.Unacknowledged),
                    },
                    AlarmState.Acknowledged => (AlarmStep.Returned, AlarmState.Normal),
                    _ => _random.Next(2) == 0 ? (AlarmStep.Raised, AlarmState.Unacknowledged) : (AlarmStep.Acknowledged, AlarmState.Normal),
                };
                priority = step == AlarmStep.Raised ? (AlarmPriority)_random.Next(3) : step == AlarmStep.Worsened ? AlarmPriority.High : priority;
                _alarms[id] = (to, priority);
                made.Add(Book.Line(id, ++_input, step, to, priority, _now.Seconds));
            }

            _book.AddRange(made);
            _store.CommitJudged(_input, [1], "build", [], made);
        }

        private async Task TurnAsync()
        {
            for (int i = 0; i < 30; i++)
            {
                int before = _routes.Values.Sum(r => r.Tries);
                _desk.Turn();
                await Task.WhenAll(_desk.Lanes.Select(l => l.Flying).OfType<Task>());
                foreach ((string id, FakeRoute route) in _routes)
                {
                    for (int k = _sentAt[id].Count; k < route.Taken.Count; k++)
                    {
                        _sentAt[id].Add(_now);
                    }
                }

                if (_routes.Values.Sum(r => r.Tries) == before)
                {
                    return;
                }
            }
        }

        private async Task RestartAsync()
        {
            _desk.Turn(); // what came back is marked: a crash before that is the system tests' business
            await _desk.DisposeAsync();
            _store.Dispose();
            Pass(TimeSpan.FromSeconds(_random.Next(600)));
            _store = _folder.Open();
            _desk = NewDesk();
        }

        private NoticeDesk NewDesk()
        {
            var desk = new NoticeDesk(_store, new NoticeDeskOptions
            {
                Now = () => _now,
                StoreTrouble = () => null,
                TimeProvider = _wall,
                Logger = NullLogger.Instance,
                MakeRoute = route => _routes[route.Id],
                Jitter = () => 0.3,
            });
            desk.Use(LogMaker.Bench(1), _settings);
            return desk;
        }
    }
}
