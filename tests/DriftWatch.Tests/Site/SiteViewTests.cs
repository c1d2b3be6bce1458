using DriftWatch.Cli;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Mirror;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;
using DriftWatch.Tests.Cli;
using DriftWatch.Watch.Transfers;
using Microsoft.Extensions.Time.Testing;
using Xunit;

namespace DriftWatch.Tests.Site;

/// <summary>Whose turn it is first, and what is not known is not shown as good.</summary>
public sealed class SiteViewTests
{
    private static readonly DateTimeOffset Now = new(2026, 5, 6, 7, 8, 9, TimeSpan.Zero);

    [Fact]
    public async Task Who_waits_for_a_person_comes_first_then_who_is_silent_then_by_tolerance()
    {
        using var server = new RowServer(
            [
                Standing("calm", 5, use: 0.1), Standing("near", 5, use: 0.9), Standing("gone", 3600, unanswered: 4), Standing("calls", 10, alarms: 2, unanswered: 1),
                new SiteRow(new Dictionary<string, string> { ["bench"] = "another-program" }, new Dictionary<string, double> { ["state"] = 1 }),
            ],
            [
                Alarm("calls", "pressure-sag.regulated-air", AlarmState.Unacknowledged, AlarmPriority.High, 60), Alarm("calls", "stale.rf-2", AlarmState.Shelved, AlarmPriority.Medium, 90),
                Alarm("calm", "vacuum-loss.guide-vacuum", AlarmState.Normal, AlarmPriority.High, 30),
                Alarm("near", "stale.rf-1", AlarmState.Unacknowledged, AlarmPriority.Medium, 500, unit: "dB"), Alarm("near", "stale.rf-1", AlarmState.Normal, AlarmPriority.Medium, 400),
            ]);
        IReadOnlyList<SiteBench> benches = await new SiteView(server, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None);
        Assert.Equal(["calls", "gone", "near", "calm"], benches.Select(b => b.Bench));
        Assert.Equal([false, true, false, false], benches.Select(b => b.IsSilent));
        Assert.Equal(["pressure-sag.regulated-air", "stale.rf-2"], benches[0].Alarms.Select(a => a.Alarm));
        Assert.Empty(benches[2].Alarms); // its newest line is back to normal
        Assert.Equal(Now - TimeSpan.FromSeconds(60), benches[0].Alarms[0].Since);
    }

    [Fact]
    public async Task The_drift_that_uses_most_and_the_newest_pass_stand_beside_it()
    {
        using var server = new RowServer([Standing("west", 5, use: 0.6), Standing("east", 5)], [])
        {
            Drifts =
            [
                Row(("bench", "west"), ("of", "regulated-air"), ("unit", "psi"))([("use", 0.6), ("slope", -1.5), ("leaves", 1), ("minutes_left", 48), ("utc", 90)]),
                Row(("bench", "west"), ("of", "rf-1"), ("unit", "dB"))([("use", 0.7), ("slope", 0.1), ("leaves", 0), ("minutes_left", 9), ("utc", 30)]), // used most a minute ago
                Row(("bench", "west"), ("of", "rf-2"), ("unit", "dB"))([("slope", 0.1), ("leaves", 0), ("utc", 30)]),
            ],
            Passes =
            [
                Row(("bench", "west"), ("tape", "MC-0117"), ("pass", "1"))([("stage", (int)PassStage.Countersigned), ("verdict", (int)Verdict.RunAgain), ("utc", Now.ToUnixTimeSeconds() - 7200)]),
                Row(("bench", "west"), ("tape", "MC-0117"), ("pass", "2"))([("stage", (int)PassStage.Running), ("utc", Now.ToUnixTimeSeconds() - 600)]),
                Row(("bench", "east"), ("tape", "MC-0118"), ("pass", "3"))([("stage", (int)PassStage.Judged), ("verdict", (int)Verdict.Sound), ("utc", Now.ToUnixTimeSeconds() - 60.5)]),
            ],
        };
        IReadOnlyList<SiteBench> benches = await new SiteView(server, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None);
        Assert.Equal(new SiteDrift("regulated-air", "psi", 0.6, -1.5, 48), benches[0].Drift);
        Assert.Equal(new SitePass("MC-0117", 2, PassStage.Running, null, Now - TimeSpan.FromMinutes(10)), benches[0].Pass);
        Assert.Null(benches[1].Drift);
        Assert.Equal(new SitePass("MC-0118", 3, PassStage.Judged, Verdict.Sound, Now - TimeSpan.FromSeconds(60.5)), benches[1].Pass);
    }

    /// <summary>A fleet is never all of one version: what one bench says in numbers of tomorrow takes no other from the page.</summary>
    [Theory]
    [InlineData(99)]
    [InlineData(-1)]
    [InlineData(double.NaN)]
    [InlineData(1e20)]
    [InlineData(double.NegativeInfinity)]
    public async Task An_odd_number_leaves_out_its_own_line_alone(double odd)
    {
        double now = Now.ToUnixTimeSeconds();
        using var server = new RowServer(
            [
                Standing("calm", 5), Row(("bench", "odd"))([("state", odd), ("utc", now)]), Row(("bench", "far"))([("state", 1), ("utc", Math.Abs(odd) < 1000 ? double.NaN : odd)]),
                Row(("bench", "many"))([("state", 1), ("utc", now), ("alarms", odd), ("silent", odd)]),
            ],
            [
                Alarm("calm", "stale.rf-1", AlarmState.Unacknowledged, AlarmPriority.High, 60),
                Row(("bench", "calm"), ("alarm", "x.y"))([("state", odd), ("utc", now)]), Row(("bench", "calm"), ("alarm", "p.q"))([("state", 1), ("priority", odd), ("utc", now - 5)]),
            ])
        {
            Passes = [Row(("bench", "calm"), ("tape", "MC-1"), ("pass", "1"))([("stage", odd), ("utc", now)]), Row(("bench", "calm"), ("tape", "MC-2"), ("pass", "1"))([("stage", 5), ("verdict", odd), ("utc", now)])],
        };
        IReadOnlyList<SiteBench> benches = await new SiteView(server, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None);
        SiteBench calm = benches.Single(b => b.Bench == "calm");
        Assert.Equal(["stale.rf-1", "p.q"], calm.Alarms.Select(a => a.Alarm));
        Assert.Equal(("MC-2", (Verdict?)null), (calm.Pass!.Tape, calm.Pass.Verdict));
        Assert.DoesNotContain(benches, b => b.Bench is "odd" or "far");
        Assert.Contains(benches, b => b.Bench == "many");
    }

    /// <summary>A week of every bench is much to read: it is asked for once in five minutes, and who falls silent meanwhile stays on the list with its age.</summary>
    [Fact]
    public async Task A_week_is_asked_for_now_and_then_and_who_falls_silent_stays_with_its_age()
    {
        var time = new FakeTimeProvider(Now);
        using var server = new RowServer([Standing("tells", 5, use: 0.1), Standing("stops", 5, alarms: 2, unanswered: 2), Standing("gone", 86_400, unanswered: 4), Standing("forgotten", 8 * 86_400)], []);
        var view = new SiteView(server, time, new SiteMemory(time));
        IReadOnlyList<SiteBench> first = await view.ReadAsync(CancellationToken.None);
        Assert.Equal([("stops", false), ("gone", true), ("tells", false)], first.Select(b => (b.Bench, b.IsSilent)));
        Assert.Equal((TimeSpan.FromDays(1), MachineState.Unknown, 0), (first[1].Age, first[1].Standing.State, first[1].Standing.Unanswered));
        Assert.Equal([TimeSpan.FromMinutes(2), TimeSpan.FromDays(7)], server.Asked);

        server.Has = row => row.Tag("bench") != "stops";
        time.Advance(TimeSpan.FromMinutes(4));
        IReadOnlyList<SiteBench> second = await view.ReadAsync(CancellationToken.None);
        SiteBench stops = second.Single(b => b.Bench == "stops");
        Assert.Equal((true, TimeSpan.FromSeconds(245)), (stops.IsSilent, stops.Age));
        Assert.Equal(["gone", "stops", "tells"], second.Select(b => b.Bench).Order(StringComparer.Ordinal));
        Assert.Equal(1, server.Asked.Count(a => a == TimeSpan.FromDays(7)));

        time.Advance(TimeSpan.FromMinutes(1));
        Assert.DoesNotContain(await view.ReadAsync(CancellationToken.None), b => b.Bench == "stops"); // the server has nothing of it any more
        Assert.Equal(2, server.Asked.Count(a => a == TimeSpan.FromDays(7)));
    }

    [Fact]
    public async Task A_server_that_will_not_read_a_week_of_all_benches_is_asked_for_a_day()
    {
        using var server = new RowServer([Standing("tells", 5), Standing("hour", 3600), Standing("days", 2 * 86_400)], []) { Reads = TimeSpan.FromDays(1) };
        IReadOnlyList<SiteBench> benches = await new SiteView(server, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None);
        Assert.Equal(["hour", "tells"], benches.Select(b => b.Bench));
        var time = new FakeTimeProvider(Now);
        using var slow = new RowServer([Standing("tells", 5), Standing("hour", 3600), Standing("days", 2 * 86_400)], []) { Reads = TimeSpan.FromDays(1), IsSlow = true };
        Task<IReadOnlyList<SiteBench>> asked = new SiteView(slow, time).ReadAsync(CancellationToken.None);
        Assert.False(asked.IsCompleted); // it reads on and on
        time.Advance(TimeSpan.FromSeconds(8));
        Assert.Equal(["hour", "tells"], (await asked).Select(b => b.Bench));
        using var none = new RowServer([Standing("tells", 5)], []) { Reads = TimeSpan.Zero };
        await Assert.ThrowsAsync<HttpRequestException>(() => new SiteView(none, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None));
    }

    [Fact]
    public async Task Two_sites_may_have_a_bench_of_one_name_and_neither_hides_that_the_other_is_silent()
    {
        SiteRow Of(SiteRow row, string site) => new(new Dictionary<string, string>(row.Tags) { ["site"] = site }, row.Fields);
        using var server = new RowServer(
            [Of(Standing("bench-1", 5, use: 0.2), "quarry"), Of(Standing("bench-1", 9, alarms: 1, unanswered: 1, use: 0.4), "harbour"), Of(Standing("bench-2", 7), "harbour"), Of(Standing("bench-2", 7200), "quarry"), Of(Standing("bench-3", 7300), "harbour"), Of(Standing("bench-3", 7400), "quarry")],
            [Of(Alarm("bench-1", "stale.rf-1", AlarmState.Unacknowledged, AlarmPriority.High, 60), "harbour")]);
        IReadOnlyList<SiteBench> benches = await new SiteView(server, new FakeTimeProvider(Now)).ReadAsync(CancellationToken.None);
        Assert.Equal(
            [("bench-1", "harbour"), ("bench-2", "quarry"), ("bench-3", "harbour"), ("bench-3", "quarry"), ("bench-1", "quarry"), ("bench-2", "harbour")],
            benches.Select(b => (b.Bench, b.Site!)));
        Assert.Equal([false, true, true, true, false, false], benches.Select(b => b.IsSilent));
        Assert.Equal([1, 0, 0, 0, 0, 0], benches.Select(b => b.Alarms.Count));
    }

    [Theory]
    [InlineData("""{"status":"success","data":{"result":"none"}}""")]
    [InlineData("<html>")]
    [InlineData("{}")]
    [InlineData("""{"results":[{"error":"database not found: driftwatch"}]}""")]
    public async Task An_answer_that_nobody_can_read_is_told(string answer)
    {
        foreach (CountWay language in Enum.GetValues<CountWay>().Where(w => w != CountWay.None))
        {
            var way = new LineServer(new LineServerOptions { Url = new Uri("http://series.example.org"), Bucket = "b" }, new Says(answer));
            using ISiteServer server = SiteServers.Open(language, way, "b");
            await Assert.ThrowsAsync<FormatException>(() => server.NewestAsync("driftwatch_bench", ["state"], TimeSpan.FromHours(1), CancellationToken.None));
        }
    }

    [Theory]
    [InlineData("site --url ftp://x --reads promql", ExitCode.Usage, "no URL of a web server")]
    [InlineData("site --url http://u:p@x --reads promql", ExitCode.Usage, "without name and password")]
    [InlineData("site --url http://localhost:1 --reads sql", ExitCode.Usage, "promql")]
    [InlineData("site --url http://localhost:1 --reads promql --user anna", ExitCode.Usage, "--key-env")]
    [InlineData("site --url http://127.0.0.1:1 --reads influxql", ExitCode.BadInput, "can't be asked")]
    [InlineData("site --url https://127.0.0.1:1 --reads promql --trust-file no-such.pem", ExitCode.BadInput, "no-such.pem can't be read")]
    [InlineData("site --url http://127.0.0.1:1 --reads influxql --key-env DRIFTWATCH_NO_SUCH", ExitCode.BadInput, "DRIFTWATCH_NO_SUCH")]
    public async Task A_wrong_line_is_told_with_its_remedy(string line, int code, string said)
    {
        (int ended, _, string error) = await CommandLineTests.RunAsync(line.Split(' '));
        Assert.Equal(code, ended);
        Assert.Contains(said, error, StringComparison.Ordinal);
    }

    private static SiteRow Standing(string bench, double ageSeconds, int alarms = 0, int unanswered = 0, double? use = null)
    {
        var fields = new Dictionary<string, double>
        {
            ["state"] = (int)MachineState.Locked, ["alarms"] = alarms, ["unanswered"] = unanswered, ["silent"] = 0, ["utc"] = Now.ToUnixTimeSeconds() - ageSeconds,
        };
        if (use is { } share)
        {
            fields["worst_use"] = share;
        }

        return new SiteRow(new Dictionary<string, string> { ["bench"] = bench }, fields);
    }

    private static Func<(string Name, double Value)[], SiteRow> Row(params (string Name, string Value)[] tags) =>
        fields => new SiteRow(tags.ToDictionary(t => t.Name, t => t.Value), fields.ToDictionary(f => f.Name, f => f.Value));

    private static SiteRow Alarm(string bench, string alarm, AlarmState state, AlarmPriority priority, double ageSeconds, string unit = "psi") => new(
        new Dictionary<string, string> { ["bench"] = bench, ["alarm"] = alarm, ["unit"] = unit },
        new Dictionary<string, double> { ["state"] = (int)state, ["priority"] = (int)priority, ["active"] = 1, ["utc"] = Now.ToUnixTimeSeconds() - ageSeconds });

    private sealed class RowServer(IReadOnlyList<SiteRow> standings, IReadOnlyList<SiteRow> alarms) : ISiteServer
    {
        public IReadOnlyList<SiteRow> Drifts { get; init; } = [];

        /// <summary>How far back it was asked how benches stand.</summary>
        public List<TimeSpan> Asked { get; } = [];

        /// <summary>How far back it reads at most.</summary>
        public TimeSpan Reads { get; init; } = TimeSpan.FromDays(30);

        /// <summary>Beyond that it does not refuse, it never comes to an end.</summary>
        public bool IsSlow { get; init; }

        /// <summary>Which of them it has; null for all.</summary>
        public Func<SiteRow, bool>? Has { get; set; }

        public IReadOnlyList<SiteRow> Passes { get; init; } = [];

        public async Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel)
        {
            if (IsSlow && measurement == "driftwatch_bench" && within > Reads)
            {
                await Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, cancel);
            }

            return measurement switch { "driftwatch_bench" => Stand(fields, within), "driftwatch_alarm" => alarms, "driftwatch_nearest" => Drifts, "driftwatch_pass" => Passes, _ => [] };
        }

        public void Dispose()
        {
        }

        /// <summary>As a server answers: the fields that were asked for, of what lies within the span.</summary>
        private SiteRow[] Stand(IReadOnlyList<string> fields, TimeSpan within)
        {
            Asked.Add(within);
            if (within > Reads)
            {
                throw new HttpRequestException("422: cannot select more than -search.maxSamplesPerQuery=1000000000 samples", null, System.Net.HttpStatusCode.UnprocessableEntity);
            }

            return
            [
                .. standings.Where(r => !(Now.ToUnixTimeSeconds() - r.Field("utc") > within.TotalSeconds) && Has?.Invoke(r) != false)
                    .Select(r => new SiteRow(r.Tags, r.Fields.Where(f => fields.Contains(f.Key)).ToDictionary(f => f.Key, f => f.Value))),
            ];
        }
    }

    private sealed class Says(string answer) : HttpMessageHandler
    {
        protected override Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken) =>
            Task.FromResult(new HttpResponseMessage { Content = new StringContent(answer) });
    }
}
