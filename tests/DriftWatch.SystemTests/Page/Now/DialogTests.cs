using Deque.AxeCore.Playwright;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>Everything that opens over the page or on it, in every look: it fits, axe finds nothing, Escape leaves it and the focus goes back.</summary>
[Collection(BrowserCollection.Name)]
public sealed class DialogTests(BrowserFixture fixture) : OpenPage(fixture)
{
    public static TheoryData<int, ColorScheme, ForcedColors> Looks => new()
    {
        { 1280, ColorScheme.Light, ForcedColors.None }, { 390, ColorScheme.Dark, ForcedColors.None }, { 1280, ColorScheme.Dark, ForcedColors.Active },
    };

    [Theory]
    [MemberData(nameof(Looks))]
    public async Task What_asks_a_person_something_fits_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        Bench.Book(FakeScene.Alarm(Bench, "below-limit.rf-3", AlarmPriority.Medium));
        await OpenAsync(width, 844, scheme, forced);
        await Expect(Page.Locator("#alarms > li")).ToHaveCountAsync(1);
        await Page.GetByText("Keep quiet").ClickAsync();
        string[] asking = ["Acknowledge: Below limit, RF head 3", "Shelve for a time: Below limit, RF head 3", "Shelve until it is over: Below limit, RF head 3", "Take out of service: Below limit, RF head 3", "Mark this moment", "Take baseline", "You are Ida Wren (declared)"];
        foreach (string name in asking)
        {
            await OpensAndClosesAsync(Page.GetByRole(AriaRole.Button, new() { Name = name, Exact = true }), "#ask", $"{name.Split(':')[0]}-{width}-{forced}");
        }

        Assert.Empty(Bench.Entered);
        Assert.Empty(Mishaps);
    }

    [Theory]
    [MemberData(nameof(Looks))]
    public async Task A_refusal_in_a_dialog_fits_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        await OpenAsync(width, 844, scheme, forced);
        await Page.GetByRole(AriaRole.Button, new() { Name = "Mark this moment" }).ClickAsync();
        await Page.Locator("#ask-do").ClickAsync();
        await Expect(Page.Locator("#ask-error")).ToContainTextAsync("Write what there is to remark");
        await CheckAsync("#ask", $"refused-{width}-{forced}");
    }

    [Theory]
    [MemberData(nameof(Looks))]
    public async Task What_explains_and_chooses_fits_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        FakeScene.Set(Bench);
        await OpenAsync(width, 844, scheme, forced);
        await Expect(Page.Locator("#boards .board")).Not.ToHaveCountAsync(0);
        await OpensAndClosesAsync(Page.Locator("[data-board='Head 3'] .about"), "#explain", $"explain-channel-{width}-{forced}", "#explain h3:has-text('Limits')");
        await OpensAndClosesAsync(Page.Locator("#units-open"), "#units", $"units-{width}-{forced}");
        await OpensAndClosesAsync(Page.Locator("#keys-open"), "#keys", $"keys-{width}-{forced}");
        await OpensAndClosesAsync(Page.Locator("#health-open"), "#health", $"health-{width}-{forced}", "#measures li");
        await OpensAndClosesAsync(Page.Locator("#told-open"), "#told", $"told-{width}-{forced}");
        await OpensAndClosesAsync(Page.Locator("#what-if-open"), "#what-if", $"what-if-{width}-{forced}");
        Assert.Empty(Mishaps);
    }

    [Theory]
    [MemberData(nameof(Looks))]
    public async Task A_page_that_lost_its_connection_fits_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        FakeScene.Set(Bench);
        await OpenAsync(width, 844, scheme, forced);
        await Expect(Page.Locator("body")).ToHaveAttributeAsync("data-link", "up");
        await Served.DisposeAsync();
        await Expect(Page.Locator("#lost")).ToBeVisibleAsync();
        await CheckAsync("#lost", $"lost-{width}-{forced}");
        Served = await ServedBench.StartAsync(new WebSettings(), Bench);
    }

    private async Task OpensAndClosesAsync(ILocator opener, string dialog, string picture, string? ready = null)
    {
        await Expect(opener).ToBeVisibleAsync();
        await opener.FocusAsync();
        await Page.Keyboard.PressAsync("Enter");
        await Expect(Page.Locator(dialog)).ToBeVisibleAsync();
        if (ready is not null)
        {
            await Expect(Page.Locator(ready).First).ToBeVisibleAsync();
        }

        await CheckAsync(dialog, picture);
        await Page.Keyboard.PressAsync("Escape");
        await Expect(Page.Locator(dialog)).ToBeHiddenAsync();
        await Expect(opener).ToBeFocusedAsync();
    }

    private async Task CheckAsync(string part, string picture)
    {
        await KeepAsync($"dialog-{picture.Replace(' ', '-').ToLowerInvariant()}.png");
        Assert.Equal(Page.ViewportSize!.Width, await Page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.True(await Page.EvaluateAsync<bool>("part => { const p = document.querySelector(part); return p.scrollWidth <= p.clientWidth; }", part), picture);
        var result = await Page.RunAxe();
        Assert.True(result.Violations.Length == 0, picture + "\n" + string.Join("\n", result.Violations.Select(
            v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
    }
}
