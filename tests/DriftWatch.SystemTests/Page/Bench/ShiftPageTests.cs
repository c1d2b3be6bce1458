using System.Globalization;
using System.Text;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using DriftWatch.Cli;
using DriftWatch.Configuration;
using DriftWatch.Running;
using DriftWatch.Tests.Reports.Shifts;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Bench;

/// <summary>The night of the failing compressor, imported with what people entered in it, looked at while the compressor fails.</summary>
public sealed class HandedOverNight : IAsyncLifetime, IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-shift-").FullName;
    private StoredView? _view;

    public ServedBench Served { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        string store = Path.Combine(_folder, "store");
        string recording = Path.Combine(Checkout.Root, "replay-data", "failing-compressor", "recording.csv.gz");
        using var said = new StringWriter();
        int code = await CommandLineHost.RunAsync(["import", recording, "--store", store], said, said);
        Assert.True(code == 0, said.ToString());
        AShift.Enter(store);
        using var whole = new StoredView(store);
        _view = new StoredView(store, whole.FromUtcNanoseconds(AShift.Utc("08:37:30")));
        Served = await ServedBench.StartAsync(new WebSettings(), _view);
    }

    public async Task DisposeAsync() => await Served.DisposeAsync();

    public void Dispose()
    {
        _view?.Dispose();
        Directory.Delete(_folder, recursive: true);
    }
}

/// <summary>The page of the shift: what who takes over reads, on the screen and on one sheet, and what he writes by keyboard alone.</summary>
[Collection(BrowserCollection.Name)]
public sealed partial class ShiftPageTests(BrowserFixture fixture, HandedOverNight night) : IClassFixture<HandedOverNight>
{
    /// <summary>A record of more findings than are read at once says so, and is no smaller one.</summary>
    [Fact]
    public async Task What_is_left_out_is_said_on_the_page()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "shift.html"));
        await OpenedPage.ChangeAnswerAsync(opened.Page, "**/handover?*", a => a["leftOut"] = "The oldest 812 lines are left out.");
        await opened.Page.ReloadAsync();
        await Expect(opened.Page.Locator("main")).ToContainTextAsync("✕ The oldest 812 lines are left out.");
    }

    [Theory]
    [InlineData(390, 844, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, 1000, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1920, 1080, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1280, 1000, ColorScheme.Light, ForcedColors.Active)]
    public async Task It_tells_what_waits_fits_and_axe_finds_nothing(int width, int height, ColorScheme scheme, ForcedColors forced)
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "shift.html"), width, height, scheme, forced);
        ILocator sheet = opened.Page.Locator("#sheet");
        await Expect(sheet).ToContainTextAsync("MC-0094, Lifeboat Sunday, pass 1 runs");
        await Expect(sheet.Locator("ol li").First).ToContainTextAsync("Finish or stop the tape before the supply");
        await Expect(sheet.Locator("tr[data-waits=true]").First).ToContainTextAsync("▲ waits");
        await Expect(sheet).ToContainTextAsync("Mark: flash at the cut");
        await Expect(opened.Page.Locator("#pages a[aria-current]")).ToHaveTextAsync("Shift");
        await opened.KeepAsync(string.Create(CultureInfo.InvariantCulture, $"shift-{width}-{scheme}-{forced}.png"));
        await opened.CheckAsync();
    }

    [Fact]
    public async Task It_prints_on_one_sheet_black_on_white_even_from_a_dark_screen()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "shift.html"), scheme: ColorScheme.Dark);
        await Expect(opened.Page.Locator("#sheet")).ToContainTextAsync("What to do next");
        byte[] pdf = await opened.Page.PdfAsync(new PagePdfOptions { Format = "A4", PreferCSSPageSize = true });
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await File.WriteAllBytesAsync(Path.Combine(folder, "shift-printed.pdf"), pdf);
        }

        Assert.Single(PageObject().Matches(Encoding.Latin1.GetString(pdf)));
        await opened.Page.EmulateMediaAsync(new PageEmulateMediaOptions { Media = Media.Print });
        Assert.Equal("rgb(0, 0, 0) on rgb(255, 255, 255)", await opened.Page.EvaluateAsync<string>("(s => `${s.color} on ${s.backgroundColor}`)(getComputedStyle(document.body))"));
        await Expect(opened.Page.Locator("#write")).ToBeHiddenAsync();
    }

    /// <summary>The same night with ten times the alarms, drifts, entries and overdue things: still one sheet, which says how much more there is.</summary>
    [Fact]
    public async Task A_busy_shift_prints_on_one_sheet_too_and_says_how_much_it_leaves_out()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(night.Served.Address, "shift.html"));
        var count = new Dictionary<string, int>(StringComparer.Ordinal);
        await opened.Page.RouteAsync("**/handover*", async route =>
        {
            IAPIResponse answer = await route.FetchAsync();
            JsonObject shift = JsonNode.Parse(await answer.TextAsync())!.AsObject();
            shift["drifts"] = JsonNode.Parse(ADrift); // a compressor that fails is told by its alarm, and drifts no more
            foreach (string part in (string[])["next", "alarms", "drifts", "due", "notes"])
            {
                var many = new JsonArray([.. Enumerable.Range(0, 10).SelectMany(_ => shift[part]!.AsArray().Select(one => one!.DeepClone()))]);
                shift[part] = many;
                count[part] = many.Count;
            }

            await route.FulfillAsync(new RouteFulfillOptions { Response = answer, Body = shift.ToJsonString() });
        });
        await opened.Page.ReloadAsync();
        ILocator alarms = opened.Page.Locator("#sheet tr[data-waits]");
        await Expect(alarms).Not.ToHaveCountAsync(0);
        int entries = await opened.Page.Locator("#sheet section").Last.Locator("tbody tr").CountAsync();
        await Expect(alarms.Last).ToBeVisibleAsync(); // on the screen it has all
        Assert.True(count["alarms"] >= 10 && count["next"] >= 20 && count["drifts"] >= 10, string.Join(", ", count));

        byte[] pdf = await opened.Page.PdfAsync(new PagePdfOptions { Format = "A4", PreferCSSPageSize = true });
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await File.WriteAllBytesAsync(Path.Combine(folder, "shift-busy-printed.pdf"), pdf);
        }

        Assert.Single(PageObject().Matches(Encoding.Latin1.GetString(pdf)));
        await opened.Page.EmulateMediaAsync(new PageEmulateMediaOptions { Media = Media.Print });
        await Expect(opened.Page.Locator("#sheet .more:visible")).ToHaveTextAsync(
        [
            new Regex($"^{count["next"] - 3} more", RegexOptions.None, TimeSpan.FromSeconds(1)), new Regex($"^{count["alarms"] - 4} more", RegexOptions.None, TimeSpan.FromSeconds(1)),
            new Regex($"^{count["drifts"] - 2} more", RegexOptions.None, TimeSpan.FromSeconds(1)), new Regex("^[0-9]+ more", RegexOptions.None, TimeSpan.FromSeconds(1)),
            new Regex($"^{entries - 2} more", RegexOptions.None, TimeSpan.FromSeconds(1)),
        ]);
        await Expect(opened.Page.Locator("#sheet tr[data-waits]:visible")).ToHaveCountAsync(4);
    }

    [Fact]
    public async Task By_keyboard_alone_a_note_is_written_and_the_shift_handed_over()
    {
        string folder = Directory.CreateTempSubdirectory("driftwatch-shift-").FullName;
        try
        {
            await using RunningBench bench = RunningBench.Start(
                new RunningBenchOptions { BenchPath = Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml"), StoreFolder = Path.Combine(folder, "store"), ProfileFolders = ProfileFolders.Default },
                NullLoggerFactory.Instance);
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), bench);
            await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(served.Address, "shift.html"));
            IPage page = opened.Page;
            await Expect(page.Locator("#parts")).ToContainTextAsync("Nobody wrote anything down.");
            await page.Keyboard.PressAsync("n");
            await Expect(page.Locator("#note")).ToBeFocusedAsync();
            await page.Keyboard.TypeAsync("Dryer drained.");
            await page.Keyboard.PressAsync("Enter");
            await Expect(page.Locator("#noted")).ToHaveTextAsync("✕ Write who you are first.");
            await page.Keyboard.TypeAsync("Ida Wren"); // the field of the name has the focus
            await page.Keyboard.PressAsync("Tab");
            await page.Keyboard.PressAsync("Enter");
            await Expect(page.Locator("#noted")).ToHaveTextAsync("● Written down: Dryer drained.");
            await Expect(page.Locator("#parts")).ToContainTextAsync("Dryer drained.");

            await page.Keyboard.PressAsync("Tab"); // of
            await page.Keyboard.PressAsync("Tab"); // write it down
            await page.Keyboard.PressAsync("Tab");
            await page.Keyboard.TypeAsync("Ida Wren");
            await page.Keyboard.PressAsync("Enter");
            await Expect(page.Locator("#handed")).ToContainTextAsync("✕ Not entered. Ida Wren can't hand over to Ida Wren.");
            await page.Keyboard.PressAsync("Control+A");
            await page.Keyboard.TypeAsync("Tom Ashby");
            await page.Keyboard.PressAsync("Enter");
            await Expect(page.Locator("#handed")).ToHaveTextAsync("● Handed over to Tom Ashby.");
            await Expect(page.Locator("#parts")).ToContainTextAsync("Hand-over: Handed over to Tom Ashby.");
            Assert.Equal("Tom Ashby", Assert.Single(((IBenchView)bench).Transfers!.Book.HandOvers).Body.To);
            await page.ReloadAsync();
            await Expect(page.Locator("#by")).ToHaveValueAsync("Ida Wren");
            Assert.DoesNotContain(opened.Mishaps, m => !m.Contains("409", StringComparison.Ordinal)); // the browser logs the refusal
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private const string ADrift = """
        [{"channel": "guide-vacuum", "label": "Guide vacuum", "unit": "inH2O", "value": 9.4, "limit": 9.0, "usedShare": 0.62, "slopePerHour": -0.21, "slopePerHourLow": -0.26, "slopePerHourHigh": -0.17,
          "leaves": "2026-01-15T10:31:00.000Z", "leavesEarliest": "2026-01-15T10:09:00.000Z", "leavesLatest": "2026-01-15T10:58:00.000Z"}]
        """;

    [GeneratedRegex("/Type\\s*/Page\\b", RegexOptions.None, 5000)]
    private static partial Regex PageObject();
}
