using Microsoft.Playwright;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>The browser that pages are measured in; DRIFTWATCH_CHROMIUM names another one.</summary>
internal static class Chromium
{
    public static Task<IBrowser> LaunchAsync(IPlaywright playwright) => playwright.Chromium.LaunchAsync(new BrowserTypeLaunchOptions
    {
        ExecutablePath = Environment.GetEnvironmentVariable("DRIFTWATCH_CHROMIUM") ?? "/usr/bin/chromium",
        Args = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"],
    });

    public static Task<IPage> NewPageAsync(IBrowser browser) =>
        browser.NewPageAsync(new BrowserNewPageOptions { ViewportSize = new ViewportSize { Width = 1920, Height = 1080 } });
}
