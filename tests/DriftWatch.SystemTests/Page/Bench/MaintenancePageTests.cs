using System.Globalization;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Bench;

/// <summary>The page of months, of a store that holds one night: what can be told is, and what can't says why.</summary>
[Collection(BrowserCollection.Name)]
public sealed class MaintenancePageTests(BrowserFixture fixture, HandedOverNight night) : IClassFixture<HandedOverNight>
{
    [Theory]
    [InlineData(390, 844, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, 1000, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1920, 1080, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, 1000, ColorScheme.Light, ForcedColors.Active)]
    public async Task It_tells_what_it_can_fits_and_axe_finds_nothing(int width, int height, ColorScheme scheme, ForcedColors forced)
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "maintenance.html"), width, height, scheme, forced);
        ILocator record = opened.Page.Locator("#record");
        await Expect(record).ToContainTextAsync("Last read off 499.5 h");
        await Expect(record).ToContainTextAsync("too few to say");
        await Expect(record).ToContainTextAsync("mean over 1 day, too few days for a spread");
        await Expect(record).ToContainTextAsync("Compressor worn");
        await Expect(opened.Page.Locator("#pages a[aria-current]")).ToHaveTextAsync("Bench");
        await opened.KeepAsync(string.Create(CultureInfo.InvariantCulture, $"maintenance-{width}-{scheme}-{forced}.png"));
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
