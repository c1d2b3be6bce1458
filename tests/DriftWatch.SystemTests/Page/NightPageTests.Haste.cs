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

    /// <summary>Two fingers spread to twice as far apart, one is lifted, and the other goes on by a few pixels: the zoom stays.</summary>
    [Fact]
    public async Task A_finger_that_stays_after_two_moves_on_from_where_they_left_it()
    {
        await OpenAsync(Night);
        await StoryAsync();
        await Expect(_page.Locator("#when")).ToContainTextAsync("11 h");
        await _page.EvaluateAsync("""
            () => {
                const plot = document.querySelector('#strips .strip .plot'), box = plot.getBoundingClientRect(), y = box.top + box.height / 2;
                const send = (type, id, x) => plot.dispatchEvent(new PointerEvent(type, { pointerId: id, pointerType: 'touch', isPrimary: id === 1, button: type === 'pointermove' ? -1 : 0, clientX: box.left + x * box.width, clientY: y, bubbles: true }));
                send('pointerdown', 1, 0.4);
                send('pointerdown', 2, 0.6);
                send('pointermove', 1, 0.3);
                send('pointermove', 2, 0.7);
                send('pointerup', 2, 0.7);
                send('pointermove', 1, 0.301);
                send('pointerup', 1, 0.301);
            }
            """);
        await Expect(_page.Locator("#when")).ToContainTextAsync("5 h 30 min");
    }
}
