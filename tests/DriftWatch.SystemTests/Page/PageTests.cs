using System.Text.RegularExpressions;
using Deque.AxeCore.Playwright;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

[Collection(BrowserCollection.Name)]
public sealed partial class PageTests(BrowserFixture fixture) : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private readonly List<string> _mishaps = [];
    private ServedBench _served = null!;
    private IBrowserContext _context = null!;
    private IPage _page = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync()
    {
        await _context.DisposeAsync();
        await _served.DisposeAsync();
    }

    [Fact]
    public async Task Values_move_with_their_unit_and_the_state_stands_in_words()
    {
        await OpenAsync();
        ILocator air = Number("regulated-air");
        await Expect(air).ToHaveTextAsync(TwoDecimals());
        string first = await air.InnerTextAsync();
        await Expect(air).Not.ToHaveTextAsync(first);
        await Expect(Strip("regulated-air").Locator(".unit")).ToHaveTextAsync("psi");
        await Expect(Strip("regulated-air").Locator(".words")).ToHaveTextAsync("within limits, 48 to 52");
        await Expect(Strip("video-level").Locator(".words")).ToHaveTextAsync("no limits set");
        await Expect(_page.Locator("#state-word")).ToHaveTextAsync("Locked");
        _bench.State = MachineState.NoAir;
        await Expect(_page.Locator("#state-word")).ToHaveTextAsync("No air");
        await Expect(_page.Locator("#way [aria-current=step]")).ToHaveTextAsync("No air");
        await Expect(_page.Locator("#utc")).ToHaveTextAsync(UtcClock());
        await Expect(_page.Locator(".caution")).ToContainTextAsync("no safety interlock");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task A_line_that_goes_down_is_named_with_its_reason()
    {
        await OpenAsync();
        await Expect(_page.Locator("#lines")).ToHaveTextAsync("all talk");
        _bench.Instruments = [new InstrumentNotice("rig", LinkState.Down, "the port vanished")];
        await Expect(_page.Locator("#lines")).ToHaveTextAsync("Practice rig is down: the port vanished");
    }

    [Fact]
    public async Task A_new_bench_file_in_force_is_shown_without_loading_the_page_again()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        _bench.Bench = _bench.Bench with
        {
            SourceHash = new string('b', 64),
            Channels = [.. _bench.Bench.Channels.Where(c => c.Id != "supply-air").Select(c => c.Id == "regulated-air" ? c with { Label = "Bearing air" } : c)],
        };
        await Expect(Strip("regulated-air").Locator("h3")).ToHaveTextAsync("Bearing air");
        await Expect(Strip("supply-air")).ToHaveCountAsync(0);
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "steady");
    }

    [Fact]
    public async Task Silence_is_shown_as_stale_and_the_old_number_is_gone()
    {
        _bench.Hold("guide-vacuum", 11.5);
        _bench.Silence("guide-vacuum", TimeSpan.FromSeconds(6));
        await OpenAsync();
        await Expect(Strip("guide-vacuum")).ToHaveAttributeAsync("data-mood", "stale");
        await Expect(Strip("guide-vacuum").Locator(".words")).ToHaveTextAsync(NoDataSince());
        await Expect(Number("guide-vacuum")).ToHaveTextAsync("—");
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "steady");
        _bench.Speak("guide-vacuum");
        await Expect(Strip("guide-vacuum")).ToHaveAttributeAsync("data-mood", "steady");
        await Expect(Number("guide-vacuum")).ToHaveTextAsync("11.50");
    }

    [Fact]
    public async Task A_fault_is_named_and_shows_no_number()
    {
        await OpenAsync();
        await Expect(Number("guide-vacuum")).ToHaveTextAsync(TwoDecimals());
        _bench.Fail("guide-vacuum", FaultCode.OpenLoop);
        await Expect(Strip("guide-vacuum").Locator(".words")).ToHaveTextAsync("fault: open loop");
        await Expect(Number("guide-vacuum")).ToHaveTextAsync("—");
    }

    [Fact]
    public async Task A_finding_appears_is_announced_and_is_acknowledged_under_a_declared_name()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals()); // it listens
        FindingLine line = _bench.Say(_bench.MakeFinding(
            "f1", "air-below-setpoint", "regulated-air", "Regulated air is 44.10 psi, below 45 psi.", value: 44.1, limit: 45));
        ILocator item = _page.Locator("#open [data-finding=f1]");
        await Expect(item).ToContainTextAsync("Air below setpoint");
        await Expect(item).ToContainTextAsync("44.10 psi against 45.00 psi");
        await Expect(item).ToContainTextAsync("a compressor that does not keep up");
        await Expect(_page.Locator("#announce")).ToHaveTextAsync("Alarm: Regulated air is 44.10 psi, below 45 psi.");
        await Expect(_page).ToHaveTitleAsync("1 alarm · DriftWatch");
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "alarm");

        // By keyboard alone.
        await item.GetByRole(AriaRole.Button).FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.GetByRole(AriaRole.Dialog)).ToContainTextAsync("declared");
        await _page.Keyboard.TypeAsync("Ida Wren");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(item).ToContainTextAsync("Seen by Ida Wren");
        var command = Assert.IsType<AcknowledgeCommand>(Assert.Single(_bench.Entered));
        Assert.Equal(("Ida Wren", "declared", "f1"), (command.By, command.Identity, command.Finding));

        _bench.End(line);
        await Expect(_page.Locator("#recent [data-finding=f1]")).ToContainTextAsync("Air below setpoint");
        await Expect(_page.Locator("#open-none")).ToBeVisibleAsync();
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "steady");
    }

    [Fact]
    public async Task Marks_and_baselines_are_entered_and_a_refusal_is_read_out()
    {
        await OpenAsync(name: "Ida Wren");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Mark this moment" }).ClickAsync();
        await _page.GetByLabel("Remark").FillAsync("splice");
        _bench.Refusal = new IOException("No space left on the device.");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Mark", Exact = true }).ClickAsync();
        await Expect(_page.Locator("#ask-error")).ToContainTextAsync("No space left");
        _bench.Refusal = null;
        await _page.GetByRole(AriaRole.Button, new() { Name = "Mark", Exact = true }).ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        await _page.GetByRole(AriaRole.Button, new() { Name = "Take baseline" }).ClickAsync();
        await _page.GetByRole(AriaRole.Button, new() { Name = "Take it" }).ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        Assert.Equal("splice", Assert.IsType<MarkCommand>(_bench.Entered[0]).Note);
        Assert.IsType<BaselineCommand>(_bench.Entered[1]);
    }

    /// <summary>A press that is swallowed is a mark that nobody finds; "no alarm" before anybody asked is a lie.</summary>
    [Fact]
    public async Task Before_the_bench_is_known_nothing_can_be_pressed_and_nothing_is_said_to_be_well()
    {
        var hold = new TaskCompletionSource();
        _context = await fixture.Browser.NewContextAsync();
        _page = await _context.NewPageAsync();
        await _page.RouteAsync("**/api/v1/session", async route =>
        {
            await hold.Task;
            await route.ContinueAsync();
        });
        await _page.GotoAsync(_served.Address.ToString());
        string[] buttons = ["Mark this moment", "Take baseline", "How the alarms do", "What if other limits", "Who is told"];
        foreach (string button in buttons)
        {
            await Expect(_page.GetByRole(AriaRole.Button, new() { Name = button })).ToBeDisabledAsync();
        }

        await Expect(_page.Locator("#alarms-none, #open-none")).ToHaveCountAsync(2);
        await Expect(_page.Locator("#alarms-none")).ToBeHiddenAsync();
        await Expect(_page.Locator("#open-none")).ToBeHiddenAsync();
        hold.SetResult();
        foreach (string button in buttons)
        {
            await Expect(_page.GetByRole(AriaRole.Button, new() { Name = button })).ToBeEnabledAsync();
        }

        await Expect(_page.Locator("#alarms-none")).ToBeVisibleAsync();
        await Expect(_page.Locator("#open-none")).ToBeVisibleAsync();
    }

    [Fact]
    public async Task When_the_service_goes_the_page_says_so_and_nothing_stays_normal()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        await _served.DisposeAsync();
        await Expect(_page.Locator("#lost")).ToContainTextAsync("Connection lost at");
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "stale", new() { Timeout = 15_000 });
        await Expect(_page.Locator(".strip[data-mood=steady]")).ToHaveCountAsync(0);
        await Expect(_page.Locator("#store")).ToContainTextAsync("not known");
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    [Fact]
    public async Task Lines_and_the_frame_are_really_drawn()
    {
        await OpenAsync(width: 1280, height: 800);
        await Strip("timing").ScrollIntoViewIfNeededAsync(); // a frame is fetched for who sees it
        await Expect(Number("timing")).Not.ToHaveTextAsync("—");
        foreach (string channel in (string[])["regulated-air", "guide-vacuum", "timing"])
        {
            await Strip(channel).ScrollIntoViewIfNeededAsync();
            // Inked points of the trace's colour: an empty chart has none.
            await _page.WaitForFunctionAsync(
                """
                id => {
                  const canvas = document.querySelector(`[data-channel="${id}"] canvas`);
                  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
                  let inked = 0;
                  for (let i = 0; i < data.length; i += 4) if (data[i] < 60 && data[i + 1] > 70 && data[i + 3] > 200) inked++;
                  return inked > canvas.width / 3; // a flat line has a point a column, and the scale has none
                }
                """,
                channel);
        }
    }

    [Theory]
    [InlineData(390, 844)]
    [InlineData(1280, 800)]
    [InlineData(1920, 1080)]
    public async Task It_fits_its_screen_in_light_and_dark_and_axe_finds_nothing(int width, int height)
    {
        FakeScene.Set(_bench);
        foreach (ColorScheme scheme in (ColorScheme[])[ColorScheme.Light, ColorScheme.Dark])
        {
            if (_context is not null)
            {
                await _context.DisposeAsync();
            }

            await OpenAsync(width, height, scheme);
            await Expect(Number("regulated-air")).Not.ToHaveTextAsync("—");
            await Expect(_page.Locator("#open .finding")).ToHaveCountAsync(2);
            await Expect(Strip("room-temperature")).ToHaveAttributeAsync("data-mood", "stale");
            Assert.Equal(width, await _page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
            await Expect(_page.Locator(".strip[data-history=loaded]")).ToHaveCountAsync(16);
            ILocator more = _page.Locator(".alarm .folded, .finding .folded");
            if (width < 600)
            {
                await ExpectFirstOnAPhoneAsync(height);
                ILocator raised = Alarm("air-below-setpoint.regulated-air").Locator("dt", new() { HasText = "Raised" });
                await Expect(raised).ToBeHiddenAsync(); // rarely asked for, and a screen is soon full
                await KeepAsync($"page-{width}-{scheme.ToString().ToLowerInvariant()}.png");
                await Alarm("air-below-setpoint.regulated-air").Locator(".folded > summary").FocusAsync();
                await _page.Keyboard.PressAsync("Enter");
                await Expect(raised).ToBeVisibleAsync();
                _bench.Book(_bench.OpenAlarms.Single(a => a.Tag == "air-below-setpoint.regulated-air") with { Input = 9000, Step = AlarmStep.CauseNamed, Cause = "regulator" });
                await Expect(Alarm("air-below-setpoint.regulated-air")).ToContainTextAsync("Regulator");
                await Expect(raised).ToBeVisibleAsync(); // what a person opened stays open when more is said
            }
            else
            {
                await Expect(more).ToHaveCountAsync(0);
            }

            await KeepAsync($"page-{width}-{scheme.ToString().ToLowerInvariant()}-opened.png");
            var result = await _page.RunAxe();
            Assert.True(result.Violations.Length == 0, string.Join("\n", result.Violations.Select(
                v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
        }

        Assert.Empty(_mishaps);
    }

    /// <summary>At the rack: state, the gravest alarms and the worst channels in two screens; the rest at a press, by keyboard too.</summary>
    private async Task ExpectFirstOnAPhoneAsync(int height)
    {
        ILocator alarms = _page.Locator("#alarms > li"), strips = _page.Locator(".worst .strip");
        await Expect(strips.Nth(0)).ToHaveAttributeAsync("data-mood", "alarm"); // they are put in order once a second
        foreach (ILocator needed in (ILocator[])[_page.Locator("#state-word"), _page.Locator("#boards"), alarms.Nth(0), alarms.Nth(1), strips.Nth(0), strips.Nth(1), strips.Nth(2)])
        {
            LocatorBoundingBoxResult box = (await needed.BoundingBoxAsync())!;
            Assert.InRange(box.Y + box.Height, 0, 2 * height);
        }

        Assert.InRange(await _page.EvaluateAsync<int>("document.documentElement.scrollHeight"), 1, 4 * height);
        await Expect(alarms.Nth(2)).ToBeHiddenAsync();
        await Expect(_page.Locator("#alarms-more")).ToHaveTextAsync("1 more alarm");
        await Expect(strips.Nth(5)).ToBeHiddenAsync();
        foreach (string list in (string[])["alarms", "strips"])
        {
            await _page.Locator($"#{list}-more").FocusAsync();
            await _page.Keyboard.PressAsync("Enter");
            await Expect(_page.Locator($"#{list}-more")).ToContainTextAsync("Only the");
        }

        await Expect(alarms.Nth(2)).ToBeVisibleAsync();
        await Expect(strips.Last).ToBeVisibleAsync();
    }

    [GeneratedRegex(@"^−?\d+\.\d\d$", RegexOptions.None, 1000)]
    private static partial Regex TwoDecimals();

    [GeneratedRegex(@"^no data since [\d -]*\d\d:\d\d:\d\d; last 11\.50 inH₂O$", RegexOptions.None, 1000)]
    private static partial Regex NoDataSince();

    [GeneratedRegex(@"^\d\d:\d\d:\d\d UTC$", RegexOptions.None, 1000)]
    private static partial Regex UtcClock();

    private ILocator Strip(string channel) => _page.Locator($".strip[data-channel={channel}]");

    private ILocator Number(string channel) => Strip(channel).Locator(".number");

    private async Task OpenAsync(int width = 1280, int height = 1400, ColorScheme scheme = ColorScheme.Light, string? name = null)
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
        if (name is not null)
        {
            await _page.AddInitScriptAsync($"localStorage.setItem('driftwatch.name', '{name}')");
        }

        await _page.GotoAsync(_served.Address.ToString());
    }

    /// <summary>Keeps a picture where a person wants to look at one: DRIFTWATCH_SCREENSHOTS names the folder.</summary>
    private async Task KeepAsync(string file)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, file) });
            await Strip("guide-vacuum").ScrollIntoViewIfNeededAsync();
            await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, "scrolled-" + file) });
        }
    }
}
