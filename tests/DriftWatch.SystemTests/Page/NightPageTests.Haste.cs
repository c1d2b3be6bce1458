using System.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>A zoom waits for nothing that nobody sees, and tells of every lane in the end what an opening would.</summary>
public sealed partial class NightPageTests
{
    [Fact]
    public async Task A_zoom_asks_for_the_lanes_in_view_first_and_tells_the_others_the_same_as_an_opening()
    {
        await OpenAsync("from=2026-01-15T10:45:00Z&to=2026-01-15T16:15:00Z", height: 4000);
        await StoryAsync();
        IReadOnlyList<string> opened = await _page.Locator("#strips .extent").AllInnerTextsAsync();
        Assert.DoesNotContain("reading …", opened);

        await _page.SetViewportSizeAsync(1280, 700);
        await _page.GotoAsync(new Uri(night.Served.Address, $"night.html?{Night}").ToString());
        await StoryAsync();
        var asked = new List<string[]>();
        _page.Request += (_, request) =>
        {
            var address = new Uri(request.Url);
            if (address.AbsolutePath.EndsWith("/span", StringComparison.Ordinal))
            {
                asked.Add(HttpUtility.ParseQueryString(address.Query)["channels"]?.Split(',') ?? []);
            }
        };
        await _page.Locator("#axis").FocusAsync();
        await _page.Keyboard.PressAsync("+");
        await Expect(_page.Locator("#when")).ToContainTextAsync("5 h 30 min");
        await StoryAsync();

        Assert.Equal(2, asked.Count);
        Assert.InRange(asked[0].Length, 1, opened.Count - 1);
        Assert.Contains(await _page.Locator("#strips .strip").First.GetAttributeAsync("data-channel"), asked[0]);
        Assert.Equal(opened.Count, asked[0].Concat(asked[1]).Distinct().Count());
        await Expect(_page.Locator("#strips .extent")).ToHaveTextAsync(opened);
        Assert.Empty(_mishaps);
    }
}
