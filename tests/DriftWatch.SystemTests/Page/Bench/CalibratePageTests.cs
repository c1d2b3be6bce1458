using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Bench;

/// <summary>The guided calibration in a browser: by keyboard alone from the reference to the entry, at the width of a phone too.</summary>
[Collection(BrowserCollection.Name)]
public sealed class CalibratePageTests(BrowserFixture fixture) : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task By_keyboard_alone_points_are_taken_from_the_live_input_and_entered()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await Expect(page.Locator("#careful")).ToContainTextAsync("Compressed air can injure");
        await Expect(page.Locator("#pages a[aria-current]")).ToHaveTextAsync("Bench");
        await FillAsync(page);
        await page.Locator("#rows input").First.FocusAsync();
        double[] way = [0, 50, 100, 50, 0];
        for (int i = 0; i < way.Length; i++)
        {
            await Expect(page.Locator("#next")).ToContainTextAsync($"point {i + 1} of 5, going {(i < 3 ? "up" : "down")}");
            _bench.Hold("supply-air", 1 + (way[i] * 1.01));
            await Expect(page.Locator("#now-raw")).ToHaveTextAsync((1 + (way[i] * 1.01)).ToString("0.##", System.Globalization.CultureInfo.InvariantCulture) + " V");
            await Expect(page.Locator("#now-rest")).ToHaveTextAsync("● at rest", new() { Timeout = 15_000 });
            await page.Keyboard.PressAsync("Enter");
        }

        await Expect(page.Locator("#next")).ToHaveTextAsync("All points are taken.");
        await Expect(page.Locator(".verdict").Nth(0)).ToContainTextAsync("As found");
        await Expect(page.Locator(".verdict").Nth(1)).ToContainTextAsync("● within");
        await Expect(page.Locator(".budget")).ToContainTextAsync("the reference itself");
        await opened.KeepAsync("calibrate-result.png");
        await Expect(page.Locator("#do-enter")).ToBeEnabledAsync();
        await page.Locator("#by").FillAsync("Ida Wren");
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#entered")).ToContainTextAsync("● Entered as version 2");
        await Expect(page.Locator("#history tr").First).ToContainTextAsync("2, in force");
        await Expect(page.Locator("#history tr").First).ToContainTextAsync("Ida Wren");
        string certificate = (await page.Locator("#entered a").First.GetAttributeAsync("href"))!;
        using HttpResponseMessage pdf = await _served.Client.GetAsync(new Uri(_served.Address, certificate));
        Assert.Equal("application/pdf", pdf.Content.Headers.ContentType!.MediaType);
        Assert.Empty(opened.Mishaps);
    }

    /// <summary>The service entered it and its answer was lost on the way: entering again makes no second version of the same sheet.</summary>
    [Fact]
    public async Task Entered_again_after_a_lost_answer_it_is_one_version()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await FillAsync(page);
        double[] way = [0, 50, 100, 50, 0];
        for (int i = 0; i < way.Length; i++)
        {
            ILocator input = page.Locator("#rows tr").Nth(i).Locator("input").Nth(1);
            await input.FillAsync(FormattableString.Invariant($"{1 + (way[i] * 1.01):0.00}"));
            await input.BlurAsync();
        }

        int sent = 0;
        await page.RouteAsync("**/channels/supply-air/calibrations", async route =>
        {
            IAPIResponse answer = await route.FetchAsync();
            await (++sent == 1 ? route.AbortAsync() : route.FulfillAsync(new() { Response = answer }));
        });
        await page.Locator("#by").FillAsync("Ida Wren");
        await Expect(page.Locator("#do-enter")).ToBeEnabledAsync();
        await page.Locator("#do-enter").ClickAsync();
        await Expect(page.Locator("#entered")).ToContainTextAsync("✕ Not entered. The service does not answer.");
        await page.Locator("#do-enter").ClickAsync();
        await Expect(page.Locator("#entered")).ToContainTextAsync("● Entered as version 2");
        await Expect(page.Locator("#history tr")).ToHaveCountAsync(2);
        Assert.Equal(2, sent);
    }

    [Fact]
    public async Task What_was_written_down_outlives_a_closed_page_and_what_can_not_be_read_is_not_taken()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await FillAsync(page);
        ILocator first = page.Locator("#rows tr").First;
        await first.Locator("input").Nth(1).FillAsync("1.0 1.1 1.05");
        await first.Locator("input").Nth(1).BlurAsync();
        await Expect(first).ToContainTextAsync("○ typed");
        await page.ReloadAsync();
        await Expect(page.Locator("#rows tr").First).ToContainTextAsync("○ typed");
        await Expect(page.Locator("#field-name")).ToHaveValueAsync("test gauge");

        _bench.Silence("supply-air", TimeSpan.FromMinutes(1));
        await Expect(page.Locator("#now-rest")).ToHaveTextAsync("✕ no fresh reading");
        await page.Locator("#rows tr").Nth(1).GetByRole(AriaRole.Button).ClickAsync();
        await Expect(page.Locator("#said")).ToHaveTextAsync("Nothing taken: no fresh reading.");
        await Expect(page.Locator("#do-enter")).ToBeDisabledAsync();
    }

    [Theory]
    [InlineData(390, ColorScheme.Light, ForcedColors.None)]
    [InlineData(390, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1280, ColorScheme.Light, ForcedColors.Active)]
    [InlineData(1920, ColorScheme.Dark, ForcedColors.None)]
    public async Task It_fits_every_width_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        await using OpenedPage opened = await OpenAsync(width, scheme, forced);
        IPage page = opened.Page;
        await FillAsync(page);
        double[] way = [0, 50, 100, 50, 0];
        for (int i = 0; i < way.Length; i++)
        {
            ILocator input = page.Locator("#rows tr").Nth(i).Locator("input").Nth(1);
            await input.FillAsync(FormattableString.Invariant($"{1 + (way[i] * 1.01):0.00} {1.02 + (way[i] * 1.01):0.00}"));
            await input.BlurAsync();
        }

        await Expect(page.Locator(".verdict").Nth(1)).ToContainTextAsync("● within");
        await opened.KeepAsync($"calibrate-{width}-{scheme}-{forced}.png");
        await opened.CheckAsync();
    }

    private static async Task FillAsync(IPage page)
    {
        foreach ((string field, string value) in ((string, string)[])[("name", "test gauge"), ("serial", "G-7"), ("uncertainty", "0.05"), ("step", "0.01"), ("tolerance", "0.5"), ("resolution", "0.01"), ("up", "0 50 100")])
        {
            await page.Locator($"#field-{field}").FillAsync(value);
        }

        await Expect(page.Locator("#rows tr")).ToHaveCountAsync(5);
    }

    private Task<OpenedPage> OpenAsync(int width = 1280, ColorScheme scheme = ColorScheme.Light, ForcedColors forced = ForcedColors.None) =>
        OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "calibrate.html?bench=practice&channel=supply-air"), width, 1400, scheme, forced);
}
