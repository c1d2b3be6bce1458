using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>A fake bench, its service and the page on it; mishaps are what the browser complains of.</summary>
public abstract class OpenPage(BrowserFixture fixture) : IAsyncLifetime
{
    private IBrowserContext? _context;

    protected FakeBench Bench { get; } = new(TimeProvider.System);

    protected List<string> Mishaps { get; } = [];

    protected ServedBench Served { get; set; } = null!;

    protected IPage Page { get; private set; } = null!;

    public virtual async Task InitializeAsync() => Served = await ServedBench.StartAsync(new WebSettings(), Bench);

    public async Task DisposeAsync()
    {
        if (_context is not null)
        {
            await _context.DisposeAsync();
        }

        await Served.DisposeAsync();
    }

    protected ILocator Strip(string channel) => Page.Locator($".strip[data-channel={channel}]");

    protected ILocator Number(string channel) => Strip(channel).Locator(".number");

    /// <summary>Opens the page in a browser of its own; one that was open is closed.</summary>
    protected async Task OpenAsync(
        int width = 1280, int height = 1400, ColorScheme scheme = ColorScheme.Light, ForcedColors forced = ForcedColors.None, string? script = null, string path = "")
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
        Page = await _context.NewPageAsync();
        Page.PageError += (_, error) => Mishaps.Add(error);
        Page.Console += (_, message) =>
        {
            if (message.Type == "error")
            {
                Mishaps.Add(message.Text);
            }
        };
        await Page.AddInitScriptAsync("localStorage.setItem('driftwatch.name', 'Ida Wren');" + script);
        await Page.GotoAsync(new Uri(Served.Address, path).ToString());
    }

    /// <summary>Keeps a picture where a person wants to look at one: DRIFTWATCH_SCREENSHOTS names the folder.</summary>
    protected async Task KeepAsync(string file, bool full = false)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await Page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, file), FullPage = full });
        }
    }
}
