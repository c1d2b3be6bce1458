using DriftWatch.Tests.Reports.Maintaining;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Bench;

/// <summary>Sixteen weeks of practice, made once for all looks at them.</summary>
public sealed class MonthsOfPracticeServed : IAsyncLifetime, IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-months-").FullName;
    private StoredView? _view;

    public ServedBench Served { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        string store = Path.Combine(_folder, "practice");
        PracticeMonths.Make(store);
        _view = new StoredView(store);
        Served = await ServedBench.StartAsync(new WebSettings(), _view);
    }

    public async Task DisposeAsync() => await Served.DisposeAsync();

    public void Dispose()
    {
        _view?.Dispose();
        Directory.Delete(_folder, recursive: true);
    }
}

/// <summary>The page of months: of weeks that tell much, and of one night, of which it says why it can't.</summary>
[Collection(BrowserCollection.Name)]
public sealed class MaintenancePageTests(BrowserFixture fixture, MonthsOfPracticeServed months, HandedOverNight night) : IClassFixture<MonthsOfPracticeServed>, IClassFixture<HandedOverNight>
{
    /// <summary>A record of more findings than are read at once says so, and is no smaller one.</summary>
    [Fact]
    public async Task What_is_left_out_is_said_on_the_page()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(months.Served.Address, "maintenance.html?days=92"));
        await OpenedPage.ChangeAnswerAsync(opened.Page, "**/maintenance?*", a => a["leftOut"] = "The oldest 812 lines are left out.");
        await opened.Page.ReloadAsync();
        await Expect(opened.Page.Locator("#record")).ToContainTextAsync("✕ The oldest 812 lines are left out.");
    }

    [Fact]
    public async Task Months_stand_in_tables_and_charts_fit_in_every_look_and_axe_finds_nothing()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(months.Served.Address, "maintenance.html?days=92"));
        ILocator record = opened.Page.Locator("#record");
        await Expect(record).ToContainTextAsync("watched 1.8 h"); // fourteen line-ups of 7.5 min, of sixteen
        await Expect(record).ToContainTextAsync("14 line-ups");
        await Expect(record).ToContainTextAsync("Last read off 540.8 h on 2026-06-15");
        await Expect(record).ToContainTextAsync("9.25 h a week over 15 readings");
        await Expect(record).ToContainTextAsync("MC-0203");
        await Expect(record.Locator("canvas")).Not.ToHaveCountAsync(0);
        await Expect(opened.Page.Locator("#pages a[aria-current]")).ToHaveTextAsync("Bench");
        await opened.CheckLooksAsync("maintenance");
    }

    [Fact]
    public async Task Of_one_night_it_says_what_is_too_little_to_tell()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "maintenance.html"));
        ILocator record = opened.Page.Locator("#record");
        await Expect(record).ToContainTextAsync("Last read off 499.5 h");
        await Expect(record).ToContainTextAsync("too few to say");
        await Expect(record).ToContainTextAsync("mean over 1 day, too few days for a spread");
        await Expect(record).ToContainTextAsync("Compressor worn");
        await opened.CheckAsync();
    }

    [Fact]
    public async Task It_is_reached_from_the_bench_and_another_span_is_chosen_by_keyboard()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "bench.html"));
        await Expect(opened.Page.Locator("#maintenance")).ToHaveAttributeAsync("href", "maintenance.html?bench=failing-compressor");
        await opened.Page.Locator("#maintenance").FocusAsync();
        await opened.Page.Keyboard.PressAsync("Enter");
        await Expect(opened.Page.Locator("#record")).ToContainTextAsync("watched");
        await opened.Page.Locator("#days").FocusAsync();
        await opened.Page.Keyboard.PressAsync("ArrowUp");
        await Expect(opened.Page.Locator("#record")).ToContainTextAsync("2026-01-08 to 2026-01-15");
        Assert.Contains("days=7", opened.Page.Url, StringComparison.Ordinal);
    }
}
