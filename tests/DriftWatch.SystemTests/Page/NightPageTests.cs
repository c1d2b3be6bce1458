using System.Text.RegularExpressions;
using Deque.AxeCore.Playwright;
using DriftWatch.Cli;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>The practice rig's night with sensor faults and a clock that is put back, imported and judged as a person would.</summary>
public sealed class RecordedNight : IAsyncLifetime, IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-night-").FullName;
    private StoredView? _view;

    public ServedBench Served { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        string recording = Path.Combine(Checkout(), "replay-data", "night-sensor-and-clock", "recording.csv.gz");
        string store = Path.Combine(_folder, "store");
        using var said = new StringWriter();
        int code = await CommandLineHost.RunAsync(["import", recording, "--store", store], said, said);
        Assert.True(code == 0, said.ToString());
        _view = new StoredView(store);
        Served = await ServedBench.StartAsync(new WebSettings(), _view);
    }

    public async Task DisposeAsync() => await Served.DisposeAsync();

    public void Dispose()
    {
        _view?.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private static string Checkout()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new InvalidOperationException("The tests run outside of the checkout.");
    }
}

[Collection(BrowserCollection.Name)]
public sealed partial class NightPageTests(BrowserFixture fixture, RecordedNight night) : IClassFixture<RecordedNight>, IAsyncLifetime
{
    /// <summary>In Vienna 09:00 to 20:00: a transfer, then the machine on air.</summary>
    private const string Night = "from=2026-01-15T08:00:00Z&to=2026-01-15T19:00:00Z";

    private readonly List<string> _mishaps = [];
    private IBrowserContext _context = null!;
    private IPage _page = null!;

    public Task InitializeAsync() => Task.CompletedTask;

    public async Task DisposeAsync()
    {
        if (_context is not null)
        {
            await _context.DisposeAsync();
        }
    }

    [Fact]
    public async Task The_night_is_told_in_a_sentence_and_every_lane_is_drawn()
    {
        await OpenAsync(Night);
        await Expect(_page.Locator("#verdict")).ToHaveTextAsync(NotSound());
        await Expect(_page.Locator("#sentence")).ToContainTextAsync("All of it is sensor or line trouble");
        await Expect(_page.Locator("#sentence")).ToContainTextAsync("unwatched for");
        await Expect(_page.Locator("#when")).ToContainTextAsync("Thu, 15 Jan 2026");
        await Expect(_page.Locator("#when")).ToContainTextAsync("11 h");
        await Expect(_page.Locator(".strip")).ToHaveCountAsync(await _page.Locator("#channels input").CountAsync());
        foreach (string lane in (string[])[".strip[data-channel=regulated-air]", "[data-lane=state]", "[data-lane=findings]", "[data-lane=alarms]"])
        {
            await ExpectInkAsync(lane);
        }

        await Expect(_page.Locator(".drifts li")).ToHaveCountAsync(await _page.Locator("#strips .strip").CountAsync());
        await Expect(_page.Locator("#drift-said")).ToContainTextAsync("changed its state");
        await Expect(_page.Locator("#live")).ToHaveAttributeAsync("aria-pressed", "false");

        // Derived quantities are worked out once somebody sees them, and have their lanes like channels.
        await _page.Locator("#derived").ScrollIntoViewIfNeededAsync();
        await Expect(Strip("supply-headroom").Locator(".extent")).ToHaveTextAsync(PsiRange(), new() { Timeout = 30_000 });
        await Expect(_page.Locator("#derived-said")).ToHaveTextAsync("");
        await ExpectInkAsync(".strip[data-channel=supply-headroom]");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task A_fault_at_the_cursor_is_said_and_no_number_stands_for_it()
    {
        await OpenAsync($"{Night}&at=2026-01-15T11:10:00Z");
        ILocator supply = Strip("supply-air");
        await Expect(supply).ToHaveAttributeAsync("data-fault", "true");
        await Expect(supply.Locator(".value")).ToHaveTextAsync("fault");
        await Expect(Strip("regulated-air").Locator(".value")).ToHaveTextAsync(Psi());
        await Expect(_page.Locator("#cursor-time")).ToHaveTextAsync("Thu, 15 Jan 2026, 12:10:00 CET, 2026-01-15 11:10:00 UTC");
        await Expect(_page.Locator("#cursor")).ToHaveAttributeAsync("data-held", "true");
    }

    [Fact]
    public async Task By_keyboard_alone_one_zooms_moves_reads_and_the_link_opens_the_same()
    {
        await OpenAsync(Night);
        await StoryAsync();
        await _page.Locator(".skip").FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#axis")).ToBeFocusedAsync();
        await _page.Keyboard.PressAsync("Home");
        for (int i = 0; i < 6; i++)
        {
            await _page.Keyboard.PressAsync("Shift+ArrowRight");
        }

        await _page.Keyboard.PressAsync("+");
        await _page.Keyboard.PressAsync("PageDown");
        await _page.Keyboard.PressAsync("PageUp");
        await _page.Keyboard.PressAsync("ArrowLeft");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#announce")).ToContainTextAsync("Regulated air");
        await Expect(_page.Locator("#when")).ToContainTextAsync("5 h 30 min");
        await StoryAsync();
        string address = _page.Url;
        string[] seen = await ShownAsync();
        Assert.Contains("at=", address, StringComparison.Ordinal);

        await _page.GotoAsync("about:blank");
        await _page.GotoAsync(address);
        await StoryAsync();
        Assert.Equal(seen, await ShownAsync());

        await _page.Locator("#axis").FocusAsync();
        await _page.Keyboard.PressAsync("Escape");
        await Expect(_page.Locator("#cursor")).ToBeHiddenAsync();
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task Mouse_and_wheel_zoom_and_move_and_back_goes_back()
    {
        await OpenAsync(Night);
        await StoryAsync();
        LocatorBoundingBoxResult box = (await Strip("regulated-air").Locator(".plot").BoundingBoxAsync())!;
        float middle = box.Y + (box.Height / 2);
        await _page.Mouse.MoveAsync(box.X + 200, middle);
        await Expect(Strip("regulated-air").Locator(".value")).ToHaveTextAsync(Psi());
        await _page.Keyboard.DownAsync("Shift");
        await _page.Mouse.DownAsync();
        await _page.Mouse.MoveAsync(box.X + 300, middle, new() { Steps = 4 });
        await Expect(_page.Locator("#window")).ToBeVisibleAsync();
        await _page.Mouse.UpAsync();
        await _page.Keyboard.UpAsync("Shift");
        await Expect(_page.Locator("#when")).Not.ToContainTextAsync("11 h");
        string zoomed = await _page.Locator("#when").InnerTextAsync();

        await _page.Mouse.MoveAsync(box.X + 300, middle);
        await _page.Mouse.DownAsync();
        await _page.Mouse.MoveAsync(box.X + 200, middle, new() { Steps = 4 });
        await _page.Mouse.UpAsync();
        await Expect(_page.Locator("#when")).Not.ToHaveTextAsync(zoomed);
        await _page.Keyboard.DownAsync("Control");
        await _page.Mouse.WheelAsync(0, 300);
        await _page.Keyboard.UpAsync("Control");
        await StoryAsync();
        await _page.GoBackAsync();
        await _page.GoBackAsync();
        await Expect(_page.Locator("#when")).ToContainTextAsync("11 h");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task What_was_found_opens_in_full_and_the_lanes_go_there()
    {
        await OpenAsync(Night);
        await _page.Locator("#list button").Filter(new() { HasText = "Sensor fault" }).First.ClickAsync();
        await Expect(_page.Locator("#picked")).ToBeVisibleAsync();
        await Expect(_page.Locator("#picked")).ToContainTextAsync("CET");
        await Expect(_page.Locator("#picked")).ToContainTextAsync("UTC");
        await Expect(_page.Locator("#chosen-title")).ToBeFocusedAsync();
        await Expect(_page.Locator("#when")).Not.ToContainTextAsync("11 h");
        await StoryAsync();
        Assert.Contains("from=2026-01-15T1", _page.Url, StringComparison.Ordinal);

        await _page.GotoAsync(new Uri(night.Served.Address, $"night.html?{Night}").ToString());
        await StoryAsync();
        LocatorBoundingBoxResult lane = (await _page.Locator("[data-lane=state] canvas").BoundingBoxAsync())!;
        await _page.Mouse.ClickAsync(lane.X + 20, lane.Y + 10);
        await Expect(_page.Locator("#picked")).ToBeVisibleAsync();

        // And by keyboard: each state is read out, and Enter opens it.
        await _page.GotoAsync(new Uri(night.Served.Address, $"night.html?{Night}").ToString());
        await StoryAsync();
        await Expect(_page.Locator("#picked")).ToBeHiddenAsync();
        await _page.GetByRole(AriaRole.Listbox, new() { Name = "Machine state" }).FocusAsync();
        ILocator standsOn = _page.Locator(".stops [role=option][aria-selected=true]");
        await Expect(standsOn).ToHaveCountAsync(1);
        await _page.Keyboard.PressAsync("ArrowRight");
        string state = (await standsOn.TextContentAsync())!;
        Assert.Contains("CET", state, StringComparison.Ordinal);
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#chosen-title")).ToHaveTextAsync(state[..state.IndexOf(',', StringComparison.Ordinal)]);
    }

    [Fact]
    public async Task Another_span_and_the_baseline_are_held_against_it_and_two_channels_are_told()
    {
        await OpenAsync("from=2026-01-15T10:00:00Z&to=2026-01-15T11:00:00Z&compare=2026-01-15T12:00:00Z&at=2026-01-15T10:30:00Z&pair=regulated-air,guide-vacuum");
        await Expect(Strip("regulated-air").Locator(".extent")).ToContainTextAsync("then");
        await Expect(_page.Locator("#other")).ToHaveValueAsync("2026-01-15 13:00:00"); // local
        await Expect(_page.Locator("#pair-said")).ToContainTextAsync("Guide vacuum");
        await Expect(_page.Locator("#pair-said")).Not.ToContainTextAsync("undefined");
        string csv = System.Text.Encoding.UTF8.GetString(await SavedAsync("columns", "csv"));
        Assert.Contains(",regulated-air.then,regulated-air.then.min,regulated-air.then.max,", csv[..csv.IndexOf('\n', StringComparison.Ordinal)], StringComparison.Ordinal);
        Assert.Contains(",supply-headroom.max,", csv[..csv.IndexOf('\n', StringComparison.Ordinal)], StringComparison.Ordinal);
        await _page.Locator("#compare").SelectOptionAsync("baseline");
        await Expect(_page).ToHaveURLAsync(WithBaseline());
        await Expect(Strip("regulated-air").Locator(".extent")).Not.ToContainTextAsync("then");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task A_view_is_saved_as_png_svg_and_csv()
    {
        await OpenAsync("from=2026-01-15T08:00:00Z&to=2026-01-15T08:10:00Z&channels=regulated-air,guide-vacuum");
        await StoryAsync();
        Assert.Equal([0x89, 0x50, 0x4e, 0x47], (await SavedAsync("png"))[..4]); // RFC 2083: the signature of a PNG
        string svg = System.Text.Encoding.UTF8.GetString(await SavedAsync("svg"));
        Assert.Contains("<svg ", svg, StringComparison.Ordinal);
        Assert.Contains("Europe/Vienna", svg, StringComparison.Ordinal);
        string csv = System.Text.Encoding.UTF8.GetString(await SavedAsync("csv"));
        Assert.StartsWith("time,regulated-air,regulated-air.min,regulated-air.max,guide-vacuum", csv, StringComparison.Ordinal);
        Assert.Equal(600, csv.TrimEnd().Split('\n').Length); // the heading, and a row a second from 08:00:01 on
    }

    [Fact]
    public async Task Day_and_time_are_written_in_24_hours_and_a_wrong_one_is_said()
    {
        await OpenAsync(Night);
        await Expect(_page.Locator("#from")).ToHaveValueAsync("2026-01-15 09:00:00"); // local
        await _page.Locator("#from").FillAsync("yesterday");
        await _page.Locator("#chosen button").ClickAsync();
        Assert.Contains("2026-01-15 18:00", await _page.Locator("#from").EvaluateAsync<string>("e => e.validationMessage"), StringComparison.Ordinal);
        await _page.Locator("#from").FillAsync("2026-01-15 18:30");
        await _page.Locator("#chosen button").ClickAsync();
        await Expect(_page.Locator("#when")).ToContainTextAsync("1 h 30 min");
        Assert.Contains("from=2026-01-15T17%3A30%3A00Z", _page.Url, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("2026-03-29T00:00", "00 03 06 09 12 15 18 21", 23)] // 02:00 is leapt over
    [InlineData("2026-10-25T00:00", "00 03 06 09 12 15 18 21", 25)] // 02:00 comes twice
    public async Task A_day_on_which_the_clock_changes_has_its_hours_where_people_have_them(string midnight, string hours, int length)
    {
        await OpenAsync(Night);
        string[] told = await _page.EvaluateAsync<string[]>(
            """
            async midnight => {
              const { Axis, ticks } = await import('/night/draw.js');
              const { daysBefore } = await import('/night/span.js');
              const from = Date.parse(midnight);
              const next = new Date(from);
              next.setDate(next.getDate() + 1);
              const found = ticks(new Axis(from, next.getTime(), 900), 92).map(t => String(new Date(t.at).getHours()).padStart(2, '0'));
              return [found.join(' '), String((next - from) / 3600000), new Date(daysBefore(next.getTime(), 1)).toISOString() === new Date(from).toISOString() ? 'same' : 'other'];
            }
            """,
            midnight);
        Assert.Equal([hours, length.ToString(System.Globalization.CultureInfo.InvariantCulture), "same"], told);
    }

    [Fact]
    public async Task Values_and_slopes_follow_the_choice_of_units()
    {
        await OpenAsync($"{Night}&at=2026-01-15T11:10:00Z");
        await Expect(Strip("regulated-air").Locator(".value")).ToHaveTextAsync(Psi());
        await _page.Locator("#units-open").ClickAsync();
        await _page.Locator("#units-pressure").SelectOptionAsync("kPa");
        await Expect(Strip("regulated-air").Locator(".value")).ToHaveTextAsync(KiloPascal());
        await Expect(_page.Locator(".drifts li[data-channel=supply-air]")).ToContainTextAsync("kPa an hour");
        await ExpectInkAsync(".strip[data-channel=regulated-air]");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task Nobody_can_take_an_unwatched_span_for_a_sound_one()
    {
        await OpenAsync("from=2026-01-14T08:00:00Z&to=2026-01-14T19:00:00Z");
        await Expect(_page.Locator("#verdict")).ToContainTextAsync("Nobody watched");
        await Expect(Strip("regulated-air").Locator(".extent")).ToHaveTextAsync("no reading");
        await Expect(_page.Locator("#list-none")).ToBeVisibleAsync();
    }

    /// <summary>The figures that articles about ANSI/ISA-18.2, IEC 62682 and EEMUA 191 give, and where the page says they are from.</summary>
    private static readonly (string Measure, string Target)[] PublishedTargets =
    [
        ("per-10-minutes", "Target: about 1, at most 2. Source: secondary sources"),
        ("per-day", "Target: about 150, at most 300. Source: from memory"),
        ("periods-over", "Target: under 1 %. Source:"),
        ("floods", "Target: none. Source: secondary sources (more than 10)"),
        ("chattering", "Target: none. Source: from memory"),
        ("stale", "Target: none, at most 4. Source: from memory"),
    ];

    [Theory]
    [InlineData(390, 844)]
    [InlineData(1280, 800)]
    [InlineData(1920, 1080)]
    public async Task It_fits_its_screen_in_light_and_dark_and_axe_finds_nothing(int width, int height)
    {
        foreach (ColorScheme scheme in (ColorScheme[])[ColorScheme.Light, ColorScheme.Dark])
        {
            if (_context is not null)
            {
                await _context.DisposeAsync();
            }

            await OpenAsync($"{Night}&at=2026-01-15T11:10:00Z", width, height, scheme);
            await StoryAsync();
            await Expect(_page.Locator("#health-said")).ToContainTextAsync("calls");
            foreach ((string measure, string target) in PublishedTargets)
            {
                await Expect(_page.Locator($"li[data-measure='{measure}'] .target")).ToContainTextAsync(target);
            }

            Assert.Equal(width, await _page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
            await KeepAsync($"night-{width}-{scheme.ToString().ToLowerInvariant()}.png");
            var result = await _page.RunAxe();
            Assert.True(result.Violations.Length == 0, string.Join("\n", result.Violations.Select(
                v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
        }

        await _page.EmulateMediaAsync(new() { ForcedColors = ForcedColors.Active });
        await KeepAsync($"night-{width}-forced.png");
        Assert.Empty((await _page.RunAxe()).Violations);

        Assert.Empty(_mishaps);
    }

    [GeneratedRegex(@"^Not sound: \d+ alarms?, (?:all over|\d+ still there)\.$", RegexOptions.None, 1000)]
    private static partial Regex NotSound();

    [GeneratedRegex(@"^\d+\.\d\d psi$", RegexOptions.None, 1000)]
    private static partial Regex Psi();

    [GeneratedRegex(@"^−?\d+\.\d\d to \d+\.\d\d psi$", RegexOptions.None, 1000)]
    private static partial Regex PsiRange();

    [GeneratedRegex(@"^34[3-7]\.\d+ kPa$", RegexOptions.None, 1000)] // 50 psi are 344.7 kPa
    private static partial Regex KiloPascal();

    [GeneratedRegex("compare=baseline", RegexOptions.None, 1000)]
    private static partial Regex WithBaseline();

    private ILocator Strip(string channel) => _page.Locator($".strip[data-channel={channel}]");

    /// <summary>All that the page asks for on a span has come, columns and story.</summary>
    private Task<IJSHandle> StoryAsync() => _page.WaitForFunctionAsync(
        """
        () => {
          const asked = new URLSearchParams(location.search);
          const span = `${Date.parse(asked.get('from'))}-${Date.parse(asked.get('to'))}`;
          return document.body.dataset.columns === span && document.body.dataset.story === span;
        }
        """);

    private async Task<string[]> ShownAsync() =>
    [
        await _page.Locator("#when").InnerTextAsync(), await _page.Locator("#sentence").InnerTextAsync(),
        await _page.Locator("#cursor-time").InnerTextAsync(), .. await _page.Locator("#strips .strip .value").AllInnerTextsAsync(),
    ];

    private Task<IJSHandle> ExpectInkAsync(string lane) => _page.WaitForFunctionAsync(
        """
        lane => {
          const canvas = document.querySelector(`${lane} canvas`);
          const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
          let inked = 0;
          for (let i = 3; i < data.length; i += 4) if (data[i] > 60) inked++;
          return inked > 300;
        }
        """,
        lane);

    private async Task<byte[]> SavedAsync(string kind, string? ending = null)
    {
        IDownload download = await _page.RunAndWaitForDownloadAsync(() => _page.Locator("#save-" + kind).ClickAsync());
        Assert.EndsWith("." + (ending ?? kind), download.SuggestedFilename, StringComparison.Ordinal);
        return await File.ReadAllBytesAsync(await download.PathAsync());
    }

    private async Task OpenAsync(string query, int width = 1280, int height = 1400, ColorScheme scheme = ColorScheme.Light)
    {
        _context = await fixture.Browser.NewContextAsync(new BrowserNewContextOptions
        {
            ViewportSize = new ViewportSize { Width = width, Height = height },
            ColorScheme = scheme,
            TimezoneId = "Europe/Vienna",
        });
        _page = await _context.NewPageAsync();
        _page.PageError += (_, error) => _mishaps.Add(error);
        _page.Console += (_, message) =>
        {
            if (message.Type == "error")
            {
                _mishaps.Add(message.Text);
            }
        };
        await _page.GotoAsync(new Uri(night.Served.Address, $"night.html?{query}").ToString());
    }

    /// <summary>Keeps a picture where a person wants to look at one: DRIFTWATCH_SCREENSHOTS names the folder.</summary>
    private async Task KeepAsync(string file)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, file) });
            await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, "whole-" + file), FullPage = true });
        }
    }
}
