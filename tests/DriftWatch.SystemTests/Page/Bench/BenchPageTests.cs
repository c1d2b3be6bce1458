using System.Globalization;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Bench;

/// <summary>The page of instruments, channels, store and notices: what it says, and that nothing old or faulty looks good.</summary>
[Collection(BrowserCollection.Name)]
public sealed class BenchPageTests(BrowserFixture fixture) : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        DateOnly today = DateOnly.FromDateTime(TimeProvider.System.GetLocalNow().DateTime);
        Calibrate("supply-air", new LineCalibration(25, -12.5) { Due = today.AddDays(200), Note = "against the reference gauge" });
        Calibrate("regulated-air", new LineCalibration(25, -12.5) { Due = today.AddDays(-40), Version = 3 });
        Calibrate("guide-vacuum", new LineCalibration(12.5, -6.25) { Due = today.AddDays(12) });
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task A_channel_shows_what_was_read_what_turned_it_and_what_it_means()
    {
        _bench.Hold("supply-air", 92.5);
        await using OpenedPage opened = await OpenAsync();
        ILocator row = Row(opened, "Supply air");
        await Expect(row.Locator(".raw")).ToHaveTextAsync("92.5 V");
        await Expect(row.Locator(".turned")).ToHaveTextAsync("psi = 25 × V − 12.5 version 1");
        await Expect(row.Locator(".value")).ToHaveTextAsync("92.50 psi");
        await Expect(row.Locator(".due")).ToContainTextAsync("● good until");
        await Expect(row.Locator(".due")).ToContainTextAsync("against the reference gauge");
        await Expect(Row(opened, "Regulated air").Locator(".due")).ToContainTextAsync("▲ overdue since");
        await Expect(Row(opened, "Regulated air").Locator(".due")).ToContainTextAsync("40 days");
        await Expect(Row(opened, "Regulated air").Locator(".turned small")).ToHaveTextAsync("version 3");
        await Expect(Row(opened, "Guide vacuum").Locator(".due")).ToContainTextAsync("in 12 days");
        await Expect(Row(opened, "Audio").Locator(".due")).ToHaveTextAsync("○ no due date no note of who calibrated it");
        await Expect(opened.Page.Locator("#calibrations-said")).ToContainTextAsync("▲ Calibration overdue: Regulated air.");

        _bench.Hold("supply-air", 80.25);
        await Expect(row.Locator(".value")).ToHaveTextAsync("80.25 psi");
        await row.GetByRole(AriaRole.Button).ClickAsync();
        await Expect(opened.Page.Locator("#explain")).ToContainTextAsync("psi = 25 × V − 12.5");
        await Expect(opened.Page.Locator("#explain")).ToContainTextAsync("Said at once; over when back for 12 s."); // it has no deadband
        Assert.Empty(opened.Mishaps);
    }

    [Fact]
    public async Task What_is_old_or_a_fault_shows_no_value_and_stands_in_words()
    {
        _bench.Fail("rf-2", FaultCode.OverRange);
        _bench.Silence("rf-3", TimeSpan.FromMinutes(1));
        _bench.Rates["rf-1"] = 4;
        await using OpenedPage opened = await OpenAsync();
        await Expect(Row(opened, "RF head 2").Locator(".standing")).ToHaveTextAsync("✕ fault: over range");
        await Expect(Row(opened, "RF head 2").Locator(".value")).ToHaveTextAsync("—");
        await Expect(Row(opened, "RF head 3").Locator(".standing")).ToContainTextAsync("— no data since");
        await Expect(Row(opened, "RF head 3").Locator(".value")).ToHaveTextAsync("—");
        await Expect(Row(opened, "RF head 3").Locator(".raw")).ToHaveTextAsync("—");
        ILocator card = opened.Page.Locator("#instrument-list li");
        await Expect(card).ToHaveAttributeAsync("data-standing", "silent");
        await Expect(card.Locator(".says")).ToHaveTextAsync("No fresh reading of RF head 3.");
        await Expect(Fact(card, "channels")).ToHaveTextAsync("17; RF head 1: too few values; RF head 2: faults; RF head 3: no fresh data");

        _bench.Instruments = [new("rig", LinkState.Down, "the port is gone", TimeSpan.FromSeconds(4))];
        await Expect(card.Locator(".standing")).ToHaveTextAsync("▲ down");
        await Expect(card.Locator(".says")).ToHaveTextAsync("Its line is down: the port is gone");
    }

    [Fact]
    public async Task Everything_that_is_counted_of_an_instrument_is_told()
    {
        Count();
        await using OpenedPage opened = await OpenAsync();
        ILocator card = opened.Page.Locator("#instrument-list li");
        await Expect(Fact(card, "rate")).ToHaveTextAsync("161 of 161 values a second, over the last 60 s");
        await Expect(Fact(card, "missed")).ToHaveTextAsync("3");
        await Expect(Fact(card, "lines")).ToHaveTextAsync("12,900 lines, 7 missing by their numbers, 1 came twice, numbers began anew 2 times");
        await Expect(Fact(card, "rejected")).ToHaveTextAsync("5 × the checksum does not match, 2 × a field is no number");
        await Expect(Fact(card, "faults")).ToHaveTextAsync("9 × checksum wrong, 4 × no answer");
        await Expect(Fact(card, "last")).ToContainTextAsync("no answer, RF head 1, ");
        await Expect(Fact(card, "downs")).ToContainTextAsync("2 times, came back 1 time; last ");
    }

    [Fact]
    public async Task The_store_and_the_routes_tell_their_trouble()
    {
        _bench.AddRoute("duty", works: true);
        _bench.AddRoute("lamp", works: false);
        await using OpenedPage opened = await OpenAsync();
        ILocator card = opened.Page.Locator("#kept-card");
        await Expect(card.Locator(".standing")).ToHaveTextAsync("● good");
        await Expect(Fact(card, "room")).ToHaveTextAsync("1 kB taken, 5 kB free; below 100 bytes free nothing more is stored");
        await Expect(Fact(card, "keeps")).ToHaveTextAsync("every reading 24 months, minute and hour values for ever, alarms and baselines for ever");
        await Expect(Fact(card, "steps")).ToContainTextAsync("● sampling fresh, 0.1 s ago; ● storing fresh, 0.6 s ago");
        ILocator routes = opened.Page.Locator("#route-list li");
        await Expect(routes.Nth(0).Locator(".standing")).ToHaveTextAsync("○ Not used yet");
        await Expect(routes.Nth(1).Locator(".standing")).ToContainTextAsync("▲ Fails since");
        await Expect(routes.Nth(1)).ToHaveAttributeAsync("data-standing", "trouble");

        _bench.Health = FakeBench.Healthy with { StoreTrouble = "the disk is full", ReadingsHeldInMemory = 1234 };
        _bench.Check = new FileCheck(DateTimeOffset.UnixEpoch, [new FileProblem("2026-02.db", "a block fails its checksum")]);
        await Expect(card.Locator(".says")).ToHaveTextAsync("What comes now is not stored but held in memory: the disk is full");
        await Expect(Fact(card, "held")).ToHaveTextAsync("1,234 readings that are not stored yet");
        await Expect(Fact(card, "checked")).ToContainTextAsync("damaged: 2026-02.db");
    }

    [Fact]
    public async Task When_the_service_stops_what_stands_is_said_to_be_old()
    {
        await using OpenedPage opened = await OpenAsync();
        await Expect(opened.Page.Locator("#channels")).ToHaveAttributeAsync("data-standing", "live");
        await _served.DisposeAsync();
        await Expect(opened.Page.Locator("#lost")).ToContainTextAsync("What you see is old");
        foreach (string section in new[] { "#channels", "#instruments", "#kept", "#routes" })
        {
            await Expect(opened.Page.Locator(section)).ToHaveAttributeAsync("data-standing", "old");
            await Expect(opened.Page.Locator($"{section} > .from")).ToContainTextAsync("Old: this is of ");
        }

        await opened.KeepAsync("bench-old.png");
        Assert.Equal("line-through", await Row(opened, "Supply air").Locator(".value").EvaluateAsync<string>("e => getComputedStyle(e).textDecorationLine"));
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    [Fact]
    public async Task By_keyboard_alone_a_channel_is_explained_and_left_again()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await Expect(Row(opened, "Guide vacuum").Locator(".value")).ToContainTextAsync("inH₂O");
        for (int i = 0; !await page.EvaluateAsync<bool>("document.activeElement.textContent === 'Guide vacuum'"); i++)
        {
            Assert.True(i < 40, "the channel can't be reached by Tab");
            await page.Keyboard.PressAsync("Tab");
        }

        await page.WaitForTimeoutAsync(2500); // values are written anew meanwhile, and the focus stays
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#explain h2")).ToHaveTextAsync("Guide vacuum");
        await page.Keyboard.PressAsync("Escape");
        await Expect(page.Locator("#explain")).ToBeHiddenAsync();
        Assert.Equal("Guide vacuum", await page.EvaluateAsync<string>("document.activeElement.textContent"));
    }

    [Theory]
    [InlineData(390, 844, ColorScheme.Light, ForcedColors.None)]
    [InlineData(390, 844, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, 1400, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1920, 1080, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1280, 1400, ColorScheme.Dark, ForcedColors.Active)]
    public async Task It_fits_and_axe_finds_nothing(int width, int height, ColorScheme scheme, ForcedColors forced)
    {
        Count();
        _bench.Fail("rf-4", FaultCode.OverRange);
        _bench.Silence("rf-3", TimeSpan.FromMinutes(1));
        _bench.AddRoute("duty", works: true);
        _bench.AddRoute("lamp", works: false);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "bench.html"), width, height, scheme, forced);
        await Expect(opened.Page.Locator("#route-list li")).ToHaveCountAsync(2);
        await Expect(opened.Page.Locator("#instrument-list li")).ToHaveCountAsync(1);
        await Expect(Row(opened, "Supply air").Locator(".value")).ToContainTextAsync("psi");
        await Expect(opened.Page.Locator("#kept-card .standing")).ToHaveTextAsync("● good");
        await opened.KeepAsync(string.Create(CultureInfo.InvariantCulture, $"bench-{width}-{scheme}-{forced}.png"));
        await opened.CheckAsync();
    }

    private void Count()
    {
        _bench.Tally = new InstrumentTally("rig", 3, new LineTally(12_900, 0, 7, 1, 2, new Dictionary<LineReject, long> { [LineReject.BadNumber] = 2, [LineReject.BadChecksum] = 5 }));
        _bench.Link = new LinkTally(_bench.Instruments[0], _bench.Now - TimeSpan.FromSeconds(50), 2, 1, "no answer", _bench.Now - TimeSpan.FromMinutes(1));
        _bench.FaultsOf["rf-1"] = ([(FaultCode.NoAnswer, 4), (FaultCode.BadChecksum, 9)], _bench.Now);
    }

    private void Calibrate(string channel, Calibration calibration) => _bench.Bench = _bench.Bench with
    {
        Channels = [.. _bench.Bench.Channels.Select(c => c.Id == channel ? c with { Calibration = calibration } : c)],
    };

    private Task<OpenedPage> OpenAsync() => OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "bench.html"));

    private static ILocator Row(OpenedPage opened, string label) =>
        opened.Page.Locator("#channel-rows tr").Filter(new() { Has = opened.Page.GetByRole(AriaRole.Button, new() { Name = label, Exact = true }) });

    private static ILocator Fact(ILocator card, string name) => card.Locator($"[data-fact={name}] dd");
}
