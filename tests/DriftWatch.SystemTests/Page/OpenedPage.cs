using Deque.AxeCore.Playwright;
using Microsoft.Playwright;
using Xunit;

namespace DriftWatch.SystemTests.Page;

/// <summary>A page of the service in a browser of a certain size and colours; what goes wrong in it is kept.</summary>
internal sealed class OpenedPage : IAsyncDisposable
{
    private readonly IBrowserContext _context;

    private OpenedPage(IBrowserContext context, IPage page) => (_context, Page) = (context, page);

    public IPage Page { get; }

    /// <summary>Errors of scripts, and what the browser itself complained of.</summary>
    public List<string> Mishaps { get; } = [];

    public static async Task<OpenedPage> OpenAsync(
        IBrowser browser, Uri address, int width = 1280, int height = 1400, ColorScheme scheme = ColorScheme.Light, ForcedColors forced = ForcedColors.None)
    {
        IBrowserContext context = await browser.NewContextAsync(new BrowserNewContextOptions
        {
            ViewportSize = new ViewportSize { Width = width, Height = height },
            ColorScheme = scheme,
            ForcedColors = forced,
            TimezoneId = "Europe/Vienna",
        });
        var opened = new OpenedPage(context, await context.NewPageAsync());
        opened.Page.PageError += (_, error) => opened.Mishaps.Add(error);
        opened.Page.Console += (_, message) =>
        {
            if (message.Type == "error")
            {
                opened.Mishaps.Add(message.Text);
            }
        };
        await opened.Page.GotoAsync(address.ToString());
        return opened;
    }

    /// <summary>Nothing stands out of the window, axe finds no violation, and nothing went wrong.</summary>
    public async Task CheckAsync()
    {
        Assert.Equal(Page.ViewportSize!.Width, await Page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        var result = await Page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join("\n", result.Violations.Select(
            v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
        Assert.Empty(Mishaps);
    }

    /// <summary>Keeps a picture where a person wants to look at one: DRIFTWATCH_SCREENSHOTS names the folder.</summary>
    public async Task KeepAsync(string file)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await Page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, file), FullPage = true });
        }
    }

    public ValueTask DisposeAsync() => _context.DisposeAsync();
}
