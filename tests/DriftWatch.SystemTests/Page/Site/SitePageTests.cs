using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Mirror;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;
using DriftWatch.SystemTests.Mirror;
using DriftWatch.Tests.Web;
using DriftWatch.Watch.Drifts;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Site;

/// <summary>All benches of a site on one page, asked of a real server: who needs somebody comes first, and who is silent is not called good.</summary>
[Collection(BrowserCollection.Name)]
public sealed class SitePageTests(BrowserFixture fixture) : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;
    private SeriesServer _series = null!;

    public async Task InitializeAsync()
    {
        _series = await SeriesServer.BeginAsync("victoria-metrics");
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
        _bench.Mirrors = [Report("annex", CountWay.Promql), Report("other-town", CountWay.None) with { State = MirrorState.Waiting, Trouble = "connection refused", Remedy = "look whether it runs", WaitingSinceUtc = NowUtc - 600_000_000_000 }];
    }

    public async Task DisposeAsync()
    {
        await _served.DisposeAsync();
        _series.Dispose();
    }

    private static long NowUtc => UtcText.ToNanoseconds(TimeProvider.System.GetUtcNow());

    [Fact]
    public async Task Who_needs_somebody_comes_first_and_all_fits_in_every_look()
    {
        await FillAsync();
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "site.html"));
        IPage page = opened.Page;
        await Expect(page.Locator("#said")).ToHaveTextAsync("6 benches: ▲ 1 with alarms that wait for a person, ✕ 1 silent, ◇ 2 to look at, ● 2 in order.");
        string[] order = [.. await page.Locator("#benches > li").EvaluateAllAsync<string[]>("all => all.map(li => li.dataset.bench)")];
        Assert.Equal(["east-2", "north-1", "east-1", "practice", "west-2", "west-1"], order);
        ILocator calls = page.Locator("[data-bench=east-2]");
        await Expect(calls).ToContainTextAsync("▲ 1 alarm waits for a person");
        await Expect(calls).ToContainTextAsync("▲ Pressure sag, Regulated air: 46.10 psi, limit 47.00 psi (unacknowledged");
        await Expect(page.Locator("[data-bench=north-1] .standing")).ToContainTextAsync("✕ Silent for 3 h");
        await Expect(page.Locator("[data-bench=east-1]")).ToContainTextAsync("Guide vacuum uses 85 % of its tolerance");
        await Expect(page.Locator("[data-bench=east-1]")).ToContainTextAsync("at its limit in 25 min");
        await Expect(page.Locator("[data-bench=west-1]")).ToContainTextAsync("MC-0117, pass 2: running");
        await Expect(page.Locator("[data-bench=west-2]")).ToContainTextAsync("MC-0119, pass 1: ● Sound");
        await Expect(page.Locator("[data-bench=practice] h3 a")).ToHaveAttributeAsync("href", "./?bench=practice");
        await Expect(page.Locator("[data-bench=west-1] h3 a")).ToHaveCountAsync(0);
        await opened.CheckLooksAsync("site");
        await page.Locator("#only").FocusAsync();
        await page.Keyboard.PressAsync("Space");
        await Expect(page.Locator("#benches > li")).ToHaveCountAsync(4);
        Assert.Empty(opened.Mishaps);
    }

    [Fact]
    public async Task A_server_that_goes_away_leaves_nothing_that_looks_like_now()
    {
        await FillAsync();
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "site.html"));
        await Expect(opened.Page.Locator("#benches > li")).ToHaveCountAsync(6);
        _series.Kill();
        await Expect(opened.Page.Locator("#site .from")).ToContainTextAsync("can't be asked", new() { Timeout = 40_000 });
        await Expect(opened.Page.Locator("#site .from")).ToContainTextAsync("Old: this is of");
        await opened.KeepAsync("site-old.png");
        await _series.StartAsync();
        await Expect(opened.Page.Locator("#site .from")).ToBeEmptyAsync(new() { Timeout = 40_000 });
    }

    [Fact]
    public async Task The_bench_page_leads_there_and_a_bench_by_itself_says_so()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "bench.html"));
        IPage page = opened.Page;
        await Expect(page.Locator("#mirror-list > li")).ToHaveCountAsync(2);
        await Expect(page.Locator("#mirror-list > li").Nth(1)).ToContainTextAsync("connection refused. Remedy: look whether it runs.");
        await page.Locator("#mirrors").ScrollIntoViewIfNeededAsync();
        await opened.CheckLooksAsync("bench-mirrors");
        await page.GetByRole(AriaRole.Link, new() { Name = "All benches of the site, by these servers" }).ClickAsync();
        await Expect(page.Locator("#said")).ToContainTextAsync("No bench has told this server anything within the last week");
        _bench.Mirrors = [];
        await page.ReloadAsync();
        await Expect(page.Locator("#said")).ToContainTextAsync("This bench stands by itself");
        Assert.Empty(opened.Mishaps);
    }

    private MirrorReport Report(string id, CountWay counts) => new()
    {
        Settings = new MirrorSettings { Id = id, File = "bench.toml", Line = 9, Bucket = "driftwatch", Url = new WebAddress(new Uri(_series.Url)), Counts = counts },
        State = MirrorState.Level,
        Taken = 1_234_567,
        LastTakenUtc = NowUtc,
        Compared = counts == CountWay.None ? 0 : 1_200_000,
    };

    /// <summary>Another site has a bench of that name too, and all is well with it: it says nothing of this one, and nobody is led to the wrong page.</summary>
    [Fact]
    public async Task Two_benches_of_one_name_have_a_card_each()
    {
        await FillAsync(isTwin: true);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "site.html"));
        ILocator twins = opened.Page.Locator("[data-bench=practice]");
        await Expect(opened.Page.Locator("#said")).ToHaveTextAsync("7 benches: ▲ 1 with alarms that wait for a person, ✕ 1 silent, ◇ 2 to look at, ● 3 in order.");
        await Expect(twins).ToHaveCountAsync(2);
        await Expect(twins.And(opened.Page.Locator("[data-site=practice]")).Locator(".standing")).ToHaveTextAsync("◇ 1 alarm, all answered");
        await Expect(twins.And(opened.Page.Locator("[data-site=quarry]")).Locator(".standing")).ToHaveTextAsync("● In order");
        await Expect(twins.Locator("h3 a")).ToHaveCountAsync(0);
    }

    /// <summary>Six benches, as six services would have told the server; and another of the name of one of them.</summary>
    private async Task FillAsync(bool isTwin = false)
    {
        long now = TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds();
        var text = new LineText();
        string written = "";
        Stand("east-2", 0, new BenchStanding(MachineState.Locked, 1, 1, 1.2, 0));
        Stand("north-1", 3 * 3_600_000 + 60_000, new BenchStanding(MachineState.Running, 0, 0, 0.1, 0));
        Stand("east-1", 0, new BenchStanding(MachineState.Locked, 0, 0, 0.85, 0)
        {
            Drifts = [new ChannelDrift { Id = "guide-vacuum", Label = "Guide vacuum", Unit = "inH2O", UsedShare = 0.85, SlopePerHour = -2.1, MinutesLeft = 25 }],
        });
        Stand("practice", 0, new BenchStanding(MachineState.AirUp, 1, 0, 0.3, 2));
        Stand("west-2", 0, new BenchStanding(MachineState.NoAir, 0, 0, 0.2, 0));
        Stand("west-1", 0, new BenchStanding(MachineState.Locked, 0, 0, 0.15, 0));
        if (isTwin)
        {
            Stand("practice", 0, new BenchStanding(MachineState.Locked, 0, 0, 0.1, 0), "quarry");
        }

        // As the schema has it: unacknowledged, raised, high.
        written += FormattableString.Invariant($"driftwatch_alarm,bench=east-2,alarm=pressure-sag.regulated-air,channel=regulated-air,unit=psi,site=east state=1i,step=0i,priority=2i,active=1i,value=46.1,limit=47,utc={(now - 240_000) / 1000.0} {now - 240_000}\n");
        Pass("west-1", "MC-0117", 2, "stage=2i", now - 1_200_000);
        Pass("west-2", "MC-0119", 1, "stage=4i,verdict=0i", now - 3_600_000);
        using var server = new LineServer(new LineServerOptions { Url = new Uri(_series.Url), Bucket = "driftwatch" }, new SocketsHttpHandler());
        Assert.Equal(SendResult.Taken, (await server.SendAsync(text.Take() + written, CancellationToken.None)).Result);
        await server.AskAsync("/internal/force_flush", CancellationToken.None);

        void Stand(string bench, long ago, BenchStanding standing, string? at = null)
        {
            (string, string?)[] site = [("site", at ?? bench.Split('-')[0])];
            EventLines.Write(standing, bench, site, text, now - ago);
            EventLines.WriteDrifts(standing, bench, site, text, now - ago);
        }

        void Pass(string bench, string tape, int number, string fields, long at) =>
            written += FormattableString.Invariant($"driftwatch_pass,bench={bench},pass={number},site={bench.Split('-')[0]},standard=525/60,tape={tape},transfer=0190a6f0-0002-7000-8000-000000000001 {fields},utc={at / 1000.0} {at}\n");
    }
}
