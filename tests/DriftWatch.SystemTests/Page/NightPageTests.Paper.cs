using System.Text.RegularExpressions;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>The night on paper: what nobody has scrolled to is drawn as well, in the colours of the day.</summary>
public sealed partial class NightPageTests
{
    [Fact]
    public async Task On_paper_every_lane_is_drawn_in_the_colours_of_the_day_and_the_screen_is_as_before()
    {
        await OpenAsync(Night, width: 1280, height: 500, ColorScheme.Dark); // most lanes lie below the window
        await StoryAsync();
        string dark = await GroundAsync();
        await _page.EvaluateAsync("() => { window.print = () => { window.printed = document.querySelector('#derived').dataset.columns; }; }");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Print" }).ClickAsync();
        await _page.WaitForFunctionAsync("() => window.printed", null, new() { Timeout = 60_000 }); // the derived ones were worked out first

        await _page.EvaluateAsync("() => dispatchEvent(new Event('beforeprint'))");
        Assert.Equal("rgb(241, 238, 229)", await GroundAsync()); // --ground of the light scheme
        string[] blank = await _page.EvaluateAsync<string[]>(
            """
            () => [...document.querySelectorAll('.lane canvas')].filter(canvas => {
              const { width } = canvas.parentElement.getBoundingClientRect();
              if (Math.abs(canvas.getBoundingClientRect().width - width) > 1) return true; // made for another width
              const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
              return !data.some((part, i) => i % 4 === 3 && part > 0);
            }).map(canvas => canvas.closest('.lane').dataset.channel ?? canvas.closest('.lane').dataset.lane ?? 'ruler')
            """);
        Assert.Empty(blank);
        foreach (ILocator lane in await _page.Locator(".strip").AllAsync())
        {
            await Expect(lane.Locator(".extent")).ToHaveTextAsync(Told());
        }

        // No name runs into what stands under it, underlined or not, and none out of its lane.
        string[] touching = await _page.EvaluateAsync<string[]>(
            """
            () => [...document.querySelectorAll('.strip')].filter(strip => {
              const name = strip.querySelector('.about'), under = strip.querySelector('.extent');
              const range = document.createRange();
              range.selectNodeContents(name);
              const letters = Math.max(...[...range.getClientRects()].map(r => r.bottom));
              return letters > under.getBoundingClientRect().top || under.getBoundingClientRect().bottom > strip.getBoundingClientRect().bottom + 0.5;
            }).map(strip => strip.dataset.channel)
            """);
        Assert.Empty(touching);

        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await _page.PdfAsync(new PagePdfOptions { Path = Path.Combine(folder, "night.pdf"), PreferCSSPageSize = true });
            await _page.EvaluateAsync("() => dispatchEvent(new Event('beforeprint'))");
        }

        await _page.EvaluateAsync("() => dispatchEvent(new Event('afterprint'))");
        Assert.Equal(dark, await GroundAsync());
        await Expect(_page.Locator("#axis")).ToBeVisibleAsync();
        Assert.Empty(_mishaps);
    }

    /// <summary>A dash would be a lane that was never drawn.</summary>
    [GeneratedRegex(@"\d|locked|runs|rests|no reading|can’t be told here", RegexOptions.None, 1000)]
    private static partial Regex Told();

    private Task<string> GroundAsync() => _page.EvaluateAsync<string>("() => getComputedStyle(document.body).backgroundColor");
}
