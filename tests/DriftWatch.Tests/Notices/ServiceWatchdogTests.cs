using System.Collections.Concurrent;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Alive;
using DriftWatch.Running;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace DriftWatch.Tests.Notices;

/// <summary>The sign the service manager waits for: three times in each span, and none while judging stands still.</summary>
public sealed class ServiceWatchdogTests
{
    private static readonly TimeSpan Span = TimeSpan.FromSeconds(30);

    [Theory]
    [InlineData(null, null, null)]
    [InlineData("0", null, null)]
    [InlineData("x", null, null)]
    [InlineData("30000000", null, 30.0)]
    [InlineData("30000000", "", 30.0)]
    [InlineData("30000000", "77", 30.0)]
    [InlineData("30000000", "78", null)]
    public void The_watchdogs_span_is_ours_only_when_it_is_set_for_this_process(string? span, string? process, double? seconds) =>
        Assert.Equal(seconds, ServiceWatchdog.SpanOf(span, process, 77)?.TotalSeconds);

    [Fact]
    public async Task No_sign_comes_while_judging_stands_still_and_the_next_once_it_goes_on()
    {
        var time = new FakeTimeProvider();
        var clock = new EngineClock(time, default);
        var manager = new Manager();
        EngineTime? standsSince = null;
        int looked = 0;
        await using ServiceWatchdog watchdog = ServiceWatchdog.Begin(Span, manager, WhyNot, time, NullLogger.Instance);
        await LookedAsync(1);
        await GoOnAsync(third: 2);
        await GoOnAsync(third: 3);

        standsSince = clock.Now;
        for (int third = 4; third <= 9; third++)
        {
            await GoOnAsync(third);
        }

        standsSince = null;
        await GoOnAsync(third: 10);
        await GoOnAsync(third: 11);
        await GoOnAsync(third: 12); // that it looks again says that it has done with the third before

        // Two whole spans of silence: the service manager restarts what gives no sign for one.
        Assert.Equal([1, 2, 3, 10, 11], manager.Signs.Select(s => s.Third).Where(t => t < 12));
        Assert.All(manager.Signs, s => Assert.Equal("WATCHDOG=1", s.Said));

        string? WhyNot()
        {
            manager.Third = looked + 1;
            string? why = SignsOfLife.WhyNotJudging("west", clock.Now, standsSince ?? clock.Now, default);
            Interlocked.Increment(ref looked);
            return why;
        }

        async Task GoOnAsync(int third)
        {
            time.Advance(Span / 3);
            await LookedAsync(third);
        }

        async Task LookedAsync(int times)
        {
            for (int i = 0; Volatile.Read(ref looked) < times; i++)
            {
                Assert.True(i < 500, $"It looked {looked} times, not {times}, within ten seconds.");
                await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System);
            }
        }
    }

    private sealed class Manager : ISystemdNotifier
    {
        public bool IsEnabled => true;

        /// <summary>Which look of the watchdog is under way; only its own thread turns it.</summary>
        public int Third { get; set; }

        public ConcurrentQueue<(int Third, string Said)> Signs { get; } = new();

        public void Notify(ServiceState state) => Signs.Enqueue((Third, state.ToString()));
    }
}
