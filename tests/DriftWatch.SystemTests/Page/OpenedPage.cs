using System.Text.Json.Nodes;
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

    /// <summary>Has the page read another answer than the service gave: the real one, with a change.</summary>
    /// <param name="page">Where it is read.</param>
    /// <param name="address">Of the answers, as a pattern.</param>
    /// <param name="change">What is different in it.</param>
    public static Task ChangeAnswerAsync(IPage page, string address, Action<JsonNode> change) => page.RouteAsync(address, async route =>
    {
        IAPIResponse given = await route.FetchAsync();
        JsonNode answer = JsonNode.Parse(await given.TextAsync())!;
        change(answer);
        await route.FulfillAsync(new() { Response = given, Body = answer.ToJsonString() });
    });

    /// <summary>
    /// The same page in every size and colours: opened once and turned round, which is much faster than a fresh one for each. Axe looks at it
    /// in light, dark and forced colours, wide and narrow; at 1920 its rules see what they saw at 1280.
    /// </summary>
    public async Task CheckLooksAsync(string picture)
    {
        foreach ((int width, int height, ColorScheme scheme, ForcedColors forced) in new[]
            {
                (1280, 1000, ColorScheme.Light, ForcedColors.None), (390, 844, ColorScheme.Dark, ForcedColors.None),
                (1920, 1080, ColorScheme.Dark, ForcedColors.None), (1280, 1000, ColorScheme.Light, ForcedColors.Active),
            })
        {
            await Page.SetViewportSizeAsync(width, height);
            await Page.EmulateMediaAsync(new PageEmulateMediaOptions { ColorScheme = scheme, ForcedColors = forced });
            await KeepAsync(FormattableString.Invariant($"{picture}-{width}-{scheme}-{forced}.png"));
            await CheckAsync(withAxe: width != 1920);
        }
    }

    /// <summary>Nothing stands out of the window, axe finds no violation, and nothing went wrong.</summary>
    public async Task CheckAsync(bool withAxe = true)
    {
        Assert.Equal(Page.ViewportSize!.Width, await Page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Empty(Mishaps);
        if (!withAxe)
        {
            return;
        }

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
