using System.Text.RegularExpressions;
using Deque.AxeCore.Playwright;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Web.Access;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>The door of the page: who comes from another machine signs in, and sees what his role lets him do.</summary>
[Collection(BrowserCollection.Name)]
public sealed partial class SignInTests(BrowserFixture fixture) : IAsyncLifetime
{
    private AccessScene _scene = null!;
    private IBrowserContext? _context;
    private IPage _page = null!;

    public async Task InitializeAsync()
    {
        _scene = await AccessScene.StartAsync();
        FakeScene.Set(_scene.Bench);
    }

    public async Task DisposeAsync()
    {
        if (_context is not null)
        {
            await _context.DisposeAsync();
        }

        await _scene.DisposeAsync();
    }

    [Fact]
    public async Task A_reader_signs_in_comes_back_to_the_view_he_asked_for_and_is_offered_no_acts()
    {
        await OpenAsync("?bench=practice#strips");
        await Expect(_page).ToHaveURLAsync(new Regex("/signin\\.html\\?to=", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(_page.Locator("#ended")).ToBeHiddenAsync();
        await Expect(_page.GetByLabel("Token")).ToBeFocusedAsync();

        // By keyboard alone, the first time with a wrong one.
        await _page.Keyboard.TypeAsync("dw-wrong");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.GetByRole(AriaRole.Alert)).ToContainTextAsync("not in the access file");
        await _page.Keyboard.TypeAsync(_scene.Ben.Token);
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page).ToHaveURLAsync($"{_scene.Served.Address}?bench=practice#strips");

        await Expect(_page.Locator("#who-is")).ToContainTextAsync("Ben Moor, reader: you see everything and act on nothing, because acts are for operators.");
        await Expect(_page.Locator(".strip[data-channel=regulated-air] .number")).Not.ToHaveTextAsync("—");
        await Expect(_page.Locator("#open .finding")).ToHaveCountAsync(2);
        foreach (string act in (string[])["Mark this moment", "Take baseline", "What if other limits", "Say who you are"])
        {
            await Expect(_page.GetByRole(AriaRole.Button, new() { Name = act })).ToHaveCountAsync(0);
        }

        await Expect(_page.GetByRole(AriaRole.Button, new() { NameRegex = Acts() })).ToHaveCountAsync(0);
        await _page.GetByRole(AriaRole.Button, new() { Name = "Who is told" }).ClickAsync();
        await Expect(_page.Locator("#told-said")).Not.ToBeEmptyAsync();
        await Expect(_page.GetByRole(AriaRole.Button, new() { NameRegex = Tests() })).ToHaveCountAsync(0);
        Assert.DoesNotContain(_scene.Ben.Token[12..], await _page.ContentAsync(), StringComparison.Ordinal);
        Assert.Equal("0/0", await _page.EvaluateAsync<string>("`${localStorage.length}/${sessionStorage.length}`"));
        Assert.Equal("", await _page.EvaluateAsync<string>("document.cookie"));
    }

    [Fact]
    public async Task An_operator_acts_under_the_proved_name_and_is_sent_to_the_door_when_the_token_is_taken_away()
    {
        await OpenAsync("?bench=practice");
        await SignInAsync(_scene.Ida.Token);
        await Expect(_page.Locator("#who-is")).ToContainTextAsync("Ida Wren, operator");
        await Expect(_page.Locator(".strip[data-channel=regulated-air] .number")).Not.ToHaveTextAsync("—"); // it listens
        await _page.GetByRole(AriaRole.Button, new() { Name = "Mark this moment" }).ClickAsync();
        await _page.GetByLabel("Remark").FillAsync("splice");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Mark", Exact = true }).ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        var mark = Assert.IsType<MarkCommand>(Assert.Single(_scene.Bench.Entered));
        Assert.Equal(("Ida Wren", "token", "splice"), (mark.By, mark.Identity, mark.Note));

        _scene.Write(_scene.BensEntry());
        await Expect(_page).ToHaveURLAsync(new Regex("/signin\\.html\\?to=%2F%3Fbench%3Dpractice", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(_page.GetByRole(AriaRole.Status)).ToContainTextAsync("shows nothing and calls nobody");
    }

    [Fact]
    public async Task Signing_out_leads_to_the_door_and_the_way_back_shows_nothing()
    {
        await OpenAsync("");
        await SignInAsync(_scene.Ida.Token);
        await _page.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await Expect(_page.GetByLabel("Token")).ToBeVisibleAsync();
        await _page.GotoAsync(_scene.Served.Address.ToString());
        await Expect(_page.GetByLabel("Token")).ToBeVisibleAsync();
    }

    [Theory]
    [InlineData("https://evil.example/")]
    [InlineData("//evil.example/")]
    [InlineData("javascript:alert(1)")]
    [InlineData("/signin.html")]
    public async Task The_door_leads_nowhere_but_to_this_service(string lure)
    {
        await OpenAsync("signin.html?to=" + Uri.EscapeDataString(lure));
        await SignInAsync(_scene.Ben.Token);
        await Expect(_page).ToHaveURLAsync(new Regex($"^{Regex.Escape(_scene.Served.Address.ToString())}(\\?bench=practice)?$", RegexOptions.None, TimeSpan.FromSeconds(1)));
    }

    [Theory]
    [InlineData(390, 844)]
    [InlineData(1280, 800)]
    [InlineData(1920, 1080)]
    public async Task The_door_and_the_readers_page_fit_and_axe_finds_nothing(int width, int height)
    {
        foreach ((ColorScheme scheme, ForcedColors forced) in (IEnumerable<(ColorScheme, ForcedColors)>)[
            (ColorScheme.Light, ForcedColors.None), (ColorScheme.Dark, ForcedColors.None), (ColorScheme.Dark, ForcedColors.Active)])
        {
            string colours = $"{width}-{(forced == ForcedColors.Active ? "forced" : scheme)}".ToLowerInvariant();
            await OpenAsync("signin.html?to=%2F&ended", width, height, scheme, forced);
            await Expect(_page.Locator("#ended")).ToBeVisibleAsync();
            await LookAsync($"signin-{colours}", width);
            await SignInAsync(_scene.Ben.Token);
            await Expect(_page.Locator("#who-is")).ToBeVisibleAsync();
            await Expect(_page.Locator("#open .finding")).ToHaveCountAsync(2);
            await LookAsync($"reader-{colours}", width);
        }
    }

    [GeneratedRegex("^(?:Acknowledge|Keep quiet|Shelve|Unshelve|Take out)", RegexOptions.None, 1000)]
    private static partial Regex Acts();

    [GeneratedRegex("^Test ", RegexOptions.None, 1000)]
    private static partial Regex Tests();

    private async Task SignInAsync(string token)
    {
        await _page.GetByLabel("Token").FillAsync(token);
        await _page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
        await Expect(_page.Locator("#who-is")).ToBeVisibleAsync();
    }

    private async Task OpenAsync(string path, int width = 1280, int height = 900, ColorScheme scheme = ColorScheme.Light, ForcedColors forced = ForcedColors.None)
    {
        if (_context is not null)
        {
            await _context.DisposeAsync();
        }

        _context = await fixture.Browser.NewContextAsync(new BrowserNewContextOptions
        {
            ViewportSize = new ViewportSize { Width = width, Height = height },
            ColorScheme = scheme,
            ForcedColors = forced,
            TimezoneId = "Europe/Vienna",
        });
        _page = await _context.NewPageAsync();
        await _page.GotoAsync(_scene.Served.Address + path);
    }

    private async Task LookAsync(string picture, int width)
    {
        Assert.Equal(width, await _page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, picture + ".png") });
        }

        var result = await _page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join("\n", result.Violations.Select(
            v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
    }
}
