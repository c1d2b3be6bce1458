using System.Globalization;
using System.Text.RegularExpressions;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>The page of when tape ran: runs out of states, with what was said in each and the way to the night view.</summary>
[Collection(BrowserCollection.Name)]
public sealed partial class TransfersPageTests(BrowserFixture fixture) : IAsyncLifetime, IDisposable
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private FakeBook? _book;
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        _book = new FakeBook(_bench); // nobody has entered anything: runs are listed all the same
        // An hour was watched: tape for twenty minutes with an advisory, and again since ten minutes.
        State("air-up", minutesAgo: 59);
        State("running", minutesAgo: 50);
        State("locked", minutesAgo: 49);
        Finding("f1", minutesAgo: 40, lastsMinutes: 2);
        State("air-up", minutesAgo: 30);
        State("running", minutesAgo: 10);
        State("locked", minutesAgo: 9);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _book?.Dispose();

    [Fact]
    public async Task Runs_of_tape_are_listed_newest_first_with_what_was_said_and_lead_to_the_night_view()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "transfers.html"));
        ILocator runs = opened.Page.Locator(".run");
        await Expect(runs).ToHaveCountAsync(2);
        await Expect(opened.Page.Locator("#runs-said")).ToContainTextAsync("2 runs, 30 min");
        await Expect(runs.Nth(0).Locator(".when")).ToContainTextAsync("to now, 10 min");
        await Expect(runs.Nth(0).Locator(".standing")).ToHaveTextAsync("● nothing was said against it");
        await Expect(runs.Nth(1).Locator(".when")).ToContainTextAsync(", 20 min 0 s");
        await Expect(runs.Nth(1).Locator(".locked")).ToContainTextAsync("Locked for 19 min 0 s of it.");
        await Expect(runs.Nth(1).Locator(".standing")).ToHaveTextAsync("◇ 1 advisory");
        await Expect(runs.Nth(1).Locator(".said-in")).ToContainTextAsync("Regulated air sags.");
        await Expect(runs.Nth(1).Locator(".view")).ToHaveAttributeAsync("href", NightLink());
        await Expect(runs.Nth(1).Locator(".csv")).ToHaveAttributeAsync("href", new Regex("^/api/v1/benches/practice/span/csv\\?from=", RegexOptions.None, TimeSpan.FromSeconds(1)));

        await opened.Page.GetByLabel("Over the last").SelectOptionAsync("1");
        await Expect(opened.Page).ToHaveURLAsync(new Regex("days=1", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(runs).ToHaveCountAsync(2);
        await runs.Nth(1).Locator(".view").FocusAsync();
        await opened.Page.Keyboard.PressAsync("Enter");
        await Expect(opened.Page).ToHaveURLAsync(new Regex("night\\.html\\?.*from=", RegexOptions.None, TimeSpan.FromSeconds(1)));
    }

    [Fact]
    public async Task It_fits_in_every_look_and_axe_finds_nothing()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "transfers.html"));
        await Expect(opened.Page.Locator(".run")).ToHaveCountAsync(2);
        await opened.CheckLooksAsync("transfers");
    }

    [Fact]
    public async Task Writing_down_afterwards_fits_in_every_look_empty_dated_and_refused_and_axe_finds_nothing()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "transfers.html"));
        await Expect(opened.Page.Locator(".run")).ToHaveCountAsync(2);
        await opened.Page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await opened.Page.Locator("#when-title").ClickAsync();
        await Expect(opened.Page.GetByLabel("Happened at")).ToBeVisibleAsync();
        await opened.CheckLooksAsync("afterwards-empty");
        await opened.Page.GetByLabel("Happened at").FillAsync("2026-01-15 18:00");
        await Expect(opened.Page.Locator("#when-title")).ToContainTextAsync("The next entry is dated");
        await opened.CheckLooksAsync("afterwards-dated");
        await opened.Page.GetByLabel("Happened at").FillAsync("yesterday");
        await opened.Page.Locator("#new-tape-box summary").ClickAsync();
        await opened.Page.GetByLabel("Identifier").FillAsync("MC-0117");
        await opened.Page.GetByRole(AriaRole.Button, new() { Name = "Write this tape down" }).ClickAsync();
        await Expect(opened.Page.Locator("#new-tape .error")).ToContainTextAsync("is no day and time");
        await Expect(opened.Page.Locator("#when-title")).ToHaveTextAsync("◇ The next entry is to be dated");
        await opened.CheckLooksAsync("afterwards-refused");
    }

    private void State(string state, double minutesAgo)
    {
        EngineTime at = _bench.Now - TimeSpan.FromMinutes(minutesAgo);
        _bench.Say(_bench.MakeFinding(string.Create(CultureInfo.InvariantCulture, $"state-{minutesAgo}"), FindingKinds.State, null, $"The machine went to '{state}'.", Severity.Note) with
        {
            Cause = state, Start = at, RaisedAt = at, StartUtc = _bench.ToUtcNanoseconds(at), RaisedUtc = _bench.ToUtcNanoseconds(at),
        });
    }

    private void Finding(string id, double minutesAgo, double lastsMinutes)
    {
        EngineTime at = _bench.Now - TimeSpan.FromMinutes(minutesAgo);
        EngineTime end = at + TimeSpan.FromMinutes(lastsMinutes);
        FindingLine line = _bench.Say(_bench.MakeFinding(id, "pressure-sag", "regulated-air", "Regulated air sags.", Severity.Advisory) with
        {
            Start = at, RaisedAt = at, StartUtc = _bench.ToUtcNanoseconds(at), RaisedUtc = _bench.ToUtcNanoseconds(at),
        });
        _bench.Say(line with { Phase = FindingPhase.Ended, Input = line.Input + 1, End = end, EndUtc = _bench.ToUtcNanoseconds(end) });
    }

    [GeneratedRegex(@"^night\.html\?bench=practice&from=\d{4}-\d\d-\d\dT[\d:.]+Z&to=\d{4}-\d\d-\d\dT[\d:.]+Z$", RegexOptions.None, 1000)]
    private static partial Regex NightLink();
}
