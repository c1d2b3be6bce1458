using System.Globalization;
using System.Text.RegularExpressions;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using Xunit.Abstractions;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Heads;

[Collection(BrowserCollection.Name)]
public sealed partial class HeadsPageTests(BrowserFixture fixture, ITestOutputHelper output) : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        HoldHeads(mil: 0);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task The_newest_record_is_taken_apart_follows_and_stands_still_when_asked()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        ILocator from = page.Locator("#timing-from");
        await Expect(from).ToHaveTextAsync(LiveFrame());
        await Expect(page.Locator("#timing-turns article")).ToHaveCountAsync(2);
        await Expect(page.Locator("#timing-turns")).ToContainTextAsync("Guide in or out (penetration)");
        await Expect(page.Locator("#timing-turns .big").First).ToContainTextAsync("mil");
        await Expect(page.Locator("#timing-turns .do")).ToHaveTextAsync([Told(), Told()]);
        await Expect(page.Locator("#timing-canvas")).ToHaveAttributeAsync("aria-label", MeasuredAndFitted());
        string first = await FrameAsync(page);
        await Expect(from).Not.ToContainTextAsync(first + ",");
        await page.GetByRole(AriaRole.Button, new() { Name = "Hold still" }).ClickAsync();
        await Expect(from).ToHaveTextAsync(HeldFrame());
        string held = await FrameAsync(page);
        await Task.Delay(TimeSpan.FromMilliseconds(1500), TimeProvider.System);
        Assert.Equal(held, await FrameAsync(page));
        await page.GetByLabel("What is played").SelectOptionAsync("own");
        await Expect(page.Locator("#timing-turns")).ToContainTextAsync("shows neither guide nor heads");
        Assert.Equal(held, await FrameAsync(page));
        await page.GetByRole(AriaRole.Button, new() { Name = "Held still" }).ClickAsync();
        await Expect(from).ToHaveTextAsync(LiveFrame());
        Assert.Empty(opened.Mishaps);
    }

    [Theory]
    [InlineData(ColorScheme.Light, ForcedColors.None)]
    [InlineData(ColorScheme.Dark, ForcedColors.None)]
    [InlineData(ColorScheme.Dark, ForcedColors.Active)]
    public async Task On_a_wall_screen_four_heads_stand_side_by_side_and_are_read_from_three_metres(ColorScheme scheme, ForcedColors forced)
    {
        const double MillimetresAPixel = 1210.0 / 3840; // 55 inches, 16 to 9
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "heads.html"), 3840, 2160, scheme, forced);
        IPage page = opened.Page;
        await Expect(page.Locator("#timing-turns article")).ToHaveCountAsync(2);
        await Expect(page.Locator("#rf-heads > li")).ToHaveCountAsync(4);
        await Expect(page.Locator("#rf-heads .number").First).Not.ToHaveTextAsync("—");
        await opened.KeepAsync($"heads-wall-{scheme}-{forced}.png");
        double[] tops = await page.EvaluateAsync<double[]>("() => [...document.querySelectorAll('#rf-heads > li')].map(li => li.getBoundingClientRect().top)");
        Assert.Single(tops.Distinct());
        foreach (string part in (string[])["#rf-heads h3", "#rf-heads .number", "#rf-heads .standing", "#timing-turns h3", "#timing-turns .big", "#timing-turns .do strong"])
        {
            double[] capitals = await page.EvaluateAsync<double[]>(
                """
                part => [...document.querySelectorAll(part)].map(node => {
                  const style = getComputedStyle(node), ctx = document.createElement('canvas').getContext('2d');
                  ctx.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
                  return ctx.measureText('H').actualBoundingBoxAscent;
                })
                """,
                part);
            Assert.All(capitals, capital => Assert.True(capital * MillimetresAPixel >= 17, $"{part}: capitals of {capital * MillimetresAPixel:0.0} mm"));
        }

        string[] cut = await page.EvaluateAsync<string[]>(
            "() => [...document.querySelectorAll('#rf-heads > li, #rf-heads > li *, #timing-turns article, #timing-turns article *')].filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0).map(e => e.className || e.tagName)");
        Assert.Empty(cut);
        double[] shown = await page.EvaluateAsync<double[]>("() => ['#rf-heads', '#timing-turns'].map(id => document.querySelector(id).getBoundingClientRect().bottom)");
        Assert.All(shown, bottom => Assert.InRange(bottom, 1, 2160)); // nobody scrolls a wall
        await opened.CheckAsync();
    }

    [Fact]
    public async Task A_record_from_a_file_is_shown_as_one_and_a_mistake_in_it_is_named_with_line_and_remedy()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await Expect(page.Locator("#timing-from")).ToHaveTextAsync(LiveFrame());
        await LoadAsync(page, "#timing-file", "bad.csv", "head,angle,error\n1,-40,3\n1,x,3\n");
        await Expect(page.Locator("#timing-error")).ToHaveTextAsync(
            "bad.csv: Line 3, column 3: 'x' in 'angle' is no number from -90 to 90. Write a number from -90 to 90 with a point, such as -90.");
        await Expect(page.Locator("#timing-from")).ToHaveTextAsync(LiveFrame());
        string rows = string.Concat(Enumerable.Range(0, 64).Select(i =>
        {
            double angle = -42 + (84.0 * (i % 16) / 15);
            return string.Create(CultureInfo.InvariantCulture, $"{1 + (i / 16)},{angle:0.##},{(-272 * Math.Sin(angle * Math.PI / 180)) + (i % 3):0.#}\n");
        }));
        await LoadAsync(page, "#timing-file", "record.csv", "head,angle,error\n" + rows);
        await Expect(page.Locator("#timing-from")).ToHaveTextAsync("From a file: record.csv. It does not follow the machine.");
        await Expect(page.Locator("#timing-error")).ToBeHiddenAsync();
        await Expect(page.Locator("#timing-turns")).ToContainTextAsync("▲ Move the guide in/out (penetration) IN, towards the wheel by 0.4");
        await page.GetByRole(AriaRole.Button, new() { Name = "Back to live" }).ClickAsync();
        await Expect(page.Locator("#timing-from")).ToHaveTextAsync(LiveFrame());
    }

    [Fact]
    public async Task A_record_that_no_new_one_follows_is_old_and_looks_so()
    {
        await using OpenedPage opened = await OpenAsync();
        await Expect(opened.Page.Locator("#timing")).ToHaveAttributeAsync("data-standing", "live");
        _bench.Silence("timing");
        await Expect(opened.Page.Locator("#timing")).ToHaveAttributeAsync("data-standing", "old");
        await Expect(opened.Page.Locator("#timing-from")).ToContainTextAsync("No new one comes.");
    }

    [Fact]
    public async Task A_head_without_a_fresh_level_shows_none_and_is_left_out_of_a_take()
    {
        _bench.Silence("rf-2", TimeSpan.FromSeconds(60));
        _bench.Fail("rf-4", FaultCode.OverRange);
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        ILocator heads = page.Locator("#rf-heads > li");
        await Expect(heads.Nth(1)).ToHaveAttributeAsync("data-standing", "no-data");
        await Expect(heads.Nth(1).Locator(".number")).ToHaveTextAsync("—");
        await Expect(heads.Nth(3).Locator(".standing")).ToHaveTextAsync("✕ fault: over range");
        await Expect(page.Locator("#rf-says")).ToContainTextAsync("Heads 2, 4 tell nothing now.");
        await Expect(heads.Nth(1).Locator(".trend")).ToHaveTextAsync("no level now");
        await page.GetByLabel("Position", new() { Exact = true }).FillAsync("1");
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.GetByLabel("Head 2, dB, row 1")).ToHaveValueAsync("");
        await Expect(page.GetByLabel("Head 3, dB, row 1")).Not.ToHaveValueAsync("");
        await Expect(page.Locator("#aid [role=status]")).ToContainTextAsync("left empty: RF head 2: no data since");
        await Expect(page.Locator("#aid [role=status]")).ToContainTextAsync("RF head 4: fault, over range");
        foreach (int head in new[] { 1, 3 })
        {
            _bench.Silence($"rf-{head}", TimeSpan.FromSeconds(60));
        }

        await Expect(page.Locator("#aid output")).ToHaveTextAsync(["nothing", "nothing", "nothing", "nothing"]);
        await page.GetByLabel("Position", new() { Exact = true }).FillAsync("2");
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#aid [role=status]")).ToContainTextAsync("Nothing taken.");
        await Expect(page.Locator(".sheet tbody tr")).ToHaveCountAsync(1);
    }

    [Fact]
    public async Task A_whole_sweep_of_the_tracking_control_goes_by_keyboard_alone()
    {
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        ILocator position = page.GetByLabel("Position", new() { Exact = true });
        await Expect(position).ToBeVisibleAsync();
        for (int i = 0; !await position.EvaluateAsync<bool>("e => e === document.activeElement"); i++)
        {
            Assert.True(i < 60, "the position can't be reached by Tab");
            await page.Keyboard.PressAsync("Tab");
        }

        var shown = new List<double>();
        for (int mil = -4; mil <= 4; mil++)
        {
            HoldHeads(mil);
            await Expect(page.Locator("#aid output").First).ToHaveTextAsync(
                Level(1, mil).ToString("0.00", CultureInfo.InvariantCulture).Replace('-', '−')); // the hand waits until the needle stands
            await page.Keyboard.TypeAsync(mil.ToString(CultureInfo.InvariantCulture));
            await page.Keyboard.PressAsync("Enter");
            await Expect(page.Locator("#aid")).ToHaveAttributeAsync("data-rows", (mil + 5).ToString(CultureInfo.InvariantCulture));
            shown.Add(double.Parse((await page.Locator("#aid").GetAttributeAsync("data-shown-ms"))!, CultureInfo.InvariantCulture));
        }

        output.WriteLine($"From a taken reading to its answer on the screen: median {shown.Order().ElementAt(shown.Count / 2)} ms, worst {shown.Max()} ms of {shown.Count}; the service worked {await page.Locator("#aid").GetAttributeAsync("data-worked-ms")} ms on the last.");
        await Expect(page.Locator(".headline")).ToHaveTextAsync(SetIt());
        await Expect(page.Locator("#aid canvas")).ToHaveAttributeAsync("aria-label", new Regex("Set the control to", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(page.Locator("#aid .careful")).ToContainTextAsync("15,000 rev/min");

        // A slip of the pen is corrected in its cell, and the answer follows.
        await page.GetByLabel("Head 1, dB, row 5").FillAsync("x");
        await Expect(page.Locator("#aid .error")).ToContainTextAsync("Row 5: Line 6, column 3: 'x' in 'head1' is no number.");
        await page.GetByLabel("Head 1, dB, row 5").FillAsync(Level(1, 0).ToString("0.00", CultureInfo.InvariantCulture));
        await Expect(page.Locator(".headline")).ToHaveTextAsync(SetIt());

        // What was swept outlives a reload, and goes by itself to the next aid's tab by arrow.
        await page.ReloadAsync();
        await Expect(page.Locator(".sheet tbody tr")).ToHaveCountAsync(9);
        await page.Locator("#tab-tracking").FocusAsync();
        await page.Keyboard.PressAsync("ArrowLeft");
        await Expect(page.Locator("#tab-filter")).ToHaveAttributeAsync("aria-selected", "true");
        await Expect(page.Locator("#aid .careful")).ToContainTextAsync("compressed air");
        Assert.DoesNotContain(opened.Mishaps, m => !m.Contains("422", StringComparison.Ordinal)); // the slip of the pen
    }

    [Fact]
    public async Task Every_aid_comes_to_an_answer()
    {
        await using OpenedPage opened = await OpenAsync("?aid=filter");
        IPage page = opened.Page;
        _bench.Hold("regulated-air", 51.2);
        await Expect(page.GetByLabel("Pressure from")).ToHaveValueAsync("regulated-air");
        await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System); // until the page has heard of it
        await page.GetByRole(AriaRole.Button, new() { Name = "Take the present value for At rest, psi" }).ClickAsync();
        await page.GetByLabel("Under flow, psi", new() { Exact = true }).FillAsync("49.9");
        await page.GetByLabel("Drop when the element was new").FillAsync("0.6");
        await Expect(page.Locator(".headline")).ToContainTextAsync("It has grown: change the filter's element.");

        await page.Locator("#tab-equaliser").ClickAsync();
        await LoadAsync(page, "#aid-file", "eq.csv", "setting,level\n" + string.Concat(Enumerable.Range(0, 21).Select(i => i / 2.0).Select(s =>
            string.Create(CultureInfo.InvariantCulture, $"{s},{(0.8 * s) - (5 * Math.Exp(-Math.Pow((s - 5.5) / 2, 2))) + (0.05 * Math.Sin(s * 31)):0.00}\n"))));
        await Expect(page.Locator(".headline")).ToContainTextAsync("Set the equaliser to the dip:");
        await opened.KeepAsync("heads-equaliser.png");

        await page.Locator("#tab-matching").ClickAsync();
        await LoadAsync(page, "#aid-file", "bars.csv", "head,dark,bright\n1,100,700\n1,101,701\n2,100,680\n2,101,681\n");
        await Expect(page.Locator("#aid .parts")).ToContainTextAsync("Head 2: turn the gain up by 3.");

        await page.Locator("#tab-levels").ClickAsync();
        await page.GetByLabel("Standard", new() { Exact = true }).Last.SelectOptionAsync("625");
        await page.GetByLabel("White", new() { Exact = true }).FillAsync("700");
        await page.GetByLabel("Sync, its depth", new() { Exact = true }).FillAsync("300");
        await Expect(page.Locator(".headline")).ToHaveTextAsync("The levels are good.");

        await page.Locator("#tab-half-error").ClickAsync();
        await page.GetByLabel("Standard error of one reading, ns").FillAsync("2");
        await Expect(page.Locator(".headline")).ToContainTextAsync("Record the test signal");
        await page.Locator("#enter-error").FillAsync("-60");
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator(".headline")).ToContainTextAsync("along the heads' motion");
        await opened.KeepAsync("heads-half-error.png");

        await page.Locator("#tab-leak-down").ClickAsync();
        await LoadAsync(page, "#aid-file", "fall.csv", "time,pressure\n" + string.Concat(Enumerable.Range(0, 151).Select(i => 2 * i).Select(t =>
            string.Create(CultureInfo.InvariantCulture, $"{t},{(104.7 * Math.Exp(-t / 3000.0)) - 14.7 + (0.02 * Math.Sin(t * 13)):0.000}\n"))));
        await Expect(page.Locator("#aid .error")).ToContainTextAsync("Receiver with its pipes, litres: It is missing.");
        await page.GetByLabel("Receiver with its pipes, litres").FillAsync("24");
        await Expect(page.Locator(".headline")).ToContainTextAsync("standard litres a minute");
        await opened.KeepAsync("heads-leak-down.png");
        Assert.DoesNotContain(opened.Mishaps, m => !m.Contains("400 (Bad Request)", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(390, 844, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1280, 1400, ColorScheme.Dark, ForcedColors.None)]
    [InlineData(1920, 1080, ColorScheme.Light, ForcedColors.None)]
    [InlineData(1280, 1400, ColorScheme.Dark, ForcedColors.Active)]
    public async Task It_fits_and_axe_finds_nothing(int width, int height, ColorScheme scheme, ForcedColors forced)
    {
        _bench.Fail("rf-4", FaultCode.OverRange);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "heads.html"), width, height, scheme, forced);
        await Expect(opened.Page.Locator("#timing-turns article")).ToHaveCountAsync(2);
        await LoadAsync(opened.Page, "#aid-file", "sweep.csv", "position,head1,head2\n" + string.Concat(Enumerable.Range(-5, 11).Select(mil =>
            string.Create(CultureInfo.InvariantCulture, $"{mil},{Level(1, mil):0.00},{Level(2, mil):0.00}\n"))));
        await Expect(opened.Page.Locator(".headline")).ToHaveTextAsync(SetIt());
        await Expect(opened.Page.Locator("#rf-heads .past figcaption").First).ToContainTextAsync("last 10 min:");
        await opened.KeepAsync($"heads-{width}-{scheme}-{forced}.png");
        await opened.CheckAsync();

        // What a head's number means is one click away, and open it passes as well.
        await opened.Page.Locator("#rf-heads .about").First.ClickAsync();
        await Expect(opened.Page.GetByRole(AriaRole.Dialog)).ToContainTextAsync("Level of the RF that one head reads off the tape.");
        await opened.CheckAsync();
    }

    /// <summary>The triangle of a track 10 mil wide, heads a quarter of a mil high.</summary>
    private static double Level(int head, double mil) => TrackingTriangle.LevelDb(mil - 0.25) - 5 - (0.1 * head) + (0.04 * Math.Sin((7 * mil) + (3 * head)));

    private void HoldHeads(double mil)
    {
        for (int head = 1; head <= 4; head++)
        {
            _bench.Hold($"rf-{head}", Level(head, mil));
        }
    }

    private Task<OpenedPage> OpenAsync(string query = "") => OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "heads.html" + query));

    private static Task LoadAsync(IPage page, string selector, string name, string text) =>
        page.SetInputFilesAsync(selector, new FilePayload { Name = name, MimeType = "text/csv", Buffer = System.Text.Encoding.UTF8.GetBytes(text) });

    private static async Task<string> FrameAsync(IPage page) => Frame().Match(await page.Locator("#timing-from").InnerTextAsync()).Value;

    [GeneratedRegex(@"frame \d+", RegexOptions.None, 1000)]
    private static partial Regex Frame();

    [GeneratedRegex(@"^Live: frame \d+, \d+\.\d s ago\.$", RegexOptions.None, 1000)]
    private static partial Regex LiveFrame();

    [GeneratedRegex(@"^Held still: frame \d+ of \d\d:\d\d:\d\d\. It does not follow the machine\.$", RegexOptions.None, 1000)]
    private static partial Regex HeldFrame();

    [GeneratedRegex("^[▲●◇] (?:Move|Leave) the guide (?:height|in/out)", RegexOptions.None, 1000)]
    private static partial Regex Told();

    [GeneratedRegex(@"measured and fitted; scallop, sagitta [+−\d.]+ ± [\d.]+ ns; skew, end to end [+−\d.]+ ± [\d.]+ ns", RegexOptions.None, 1000)]
    private static partial Regex MeasuredAndFitted();

    [GeneratedRegex(@"^Set the control to 0\.2\d* mil \(95 %: 0\.\d+ to 0\.\d+\)", RegexOptions.None, 1000)]
    private static partial Regex SetIt();
}
