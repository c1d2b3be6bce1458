using Deque.AxeCore.Playwright;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>What opens on the night, in every look.</summary>
public sealed partial class NightPageTests
{
    [Theory]
    [InlineData(1280, ColorScheme.Light, ForcedColors.None)]
    [InlineData(390, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, ColorScheme.Dark, ForcedColors.Active)]
    public async Task What_opens_on_it_fits_and_axe_finds_nothing(int width, ColorScheme scheme, ForcedColors forced)
    {
        await OpenAsync($"{Night}&compare=2026-01-15T06:00:00Z&pair=regulated-air,supply-air", width, 844, scheme);
        await _page.EmulateMediaAsync(new() { ColorScheme = scheme, ForcedColors = forced });
        await StoryAsync();
        await Expect(_page.Locator("#pair-said")).Not.ToBeEmptyAsync();
        await Expect(_page.Locator("#against")).ToContainTextAsync("its mean");
        await LookAsync("compared");
        await _page.Locator("#channels-box > summary").ClickAsync();
        await Expect(_page.Locator("#channels")).ToBeVisibleAsync();
        LocatorBoundingBoxResult chooser = (await _page.Locator("#channels").BoundingBoxAsync())!;
        Assert.InRange(chooser.X, 0, width - chooser.Width); // neither edge may cut a lane's box off
        await LookAsync("lanes");
        await _page.Locator("#channels-box > summary").ClickAsync();
        await _page.Locator("#list button").First.ClickAsync();
        await Expect(_page.Locator("#picked")).ToBeVisibleAsync();
        foreach (ILocator rest in await _page.Locator("#drift-rest > summary, #health-rest > summary").AllAsync())
        {
            await rest.ClickAsync();
        }

        await LookAsync("picked");
        await _page.Locator(".strip[data-channel=regulated-air] .about").ClickAsync();
        await Expect(_page.Locator("#explain h3").First).ToBeVisibleAsync();
        await LookAsync("explained");
        await _page.Keyboard.PressAsync("Escape");
        await Expect(_page.Locator("#explain")).ToBeHiddenAsync();
        await _page.Locator("#derived").ScrollIntoViewIfNeededAsync();
        await _page.Locator(".strip[data-channel=supply-headroom] .about").ClickAsync();
        await Expect(_page.Locator("#explain")).ToContainTextAsync("worked out by the service from");
        await LookAsync("explained-derived");
        Assert.Empty(_mishaps);

        async Task LookAsync(string what)
        {
            await KeepAsync($"night-{what}-{width}-{forced}.png");
            Assert.Equal(width, await _page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
            var result = await _page.RunAxe();
            Assert.True(result.Violations.Length == 0, what + "\n" + string.Join("\n", result.Violations.Select(
                v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
        }
    }
}
