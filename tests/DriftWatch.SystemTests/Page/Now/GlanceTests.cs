using Deque.AxeCore.Playwright;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Running;
using DriftWatch.Tests.Web;
using DriftWatch.Watch.Drifts;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>What an engineer sees from across the room: boards, beams, what drifts, and the keys.</summary>
[Collection(BrowserCollection.Name)]
public sealed class GlanceTests(BrowserFixture fixture) : OpenPage(fixture)
{
    public override async Task InitializeAsync()
    {
        Bench.Bench = Bench.Bench with
        {
            Quantities =
            [
                Quantity("skew", "Timing skew, end to end", QuantityKind.Skew, 100),
                Quantity("scallop", "Timing scallop, sagitta", QuantityKind.Scallop, 60),
            ],
        };
        Bench.Tell("skew", 62);
        Bench.Tell("scallop", 3);
        Bench.Drifts = new DriftTable(Bench.Now,
        [
            Drift("guide-vacuum", "Guide vacuum", "inH2O", 11.2, 10, -0.62) with { MinutesLeft = 74, MinutesLeftLow = 52, MinutesLeftHigh = 131 },
            Drift("regulated-air", "Regulated air", "psi", 50, 52, 0.001) with { Significance = 0.6 },
            Drift("skew", "Timing skew, end to end", "ns", 0, 100, 4) with { MinutesLeft = null },
            Drift("scallop", "Timing scallop, sagitta", "ns", 0, 60, 1) with { SlopePerHour = null, Significance = null },
            .. Enumerable.Range(1, 4).Select(h => Drift($"rf-{h}", $"RF head {h}", "dB", -4.2, -6.2, -0.001) with { Significance = 0.7 }),
        ]);
        await base.InitializeAsync();
    }

    private ILocator Board(string name) => Page.Locator($".board[data-board='{name}']");

    [Fact]
    public async Task Each_board_and_strip_says_what_is_used_and_which_way_it_goes()
    {
        Bench.Hold("guide-vacuum", 10.6);
        await OpenAsync();
        await Expect(Page.Locator(".board h3")).ToHaveTextAsync(["Air", "Vacuum", "Head 1", "Head 2", "Head 3", "Head 4", "Skew"]);
        await Expect(Board("Vacuum").Locator(".number")).ToHaveTextAsync("10.60");
        await Expect(Board("Vacuum").Locator(".used")).ToHaveTextAsync("50 % used, low, falls ↘");
        await Expect(Strip("guide-vacuum").Locator(".used")).ToHaveTextAsync("50 % used, low, falls ↘");
        await Expect(Board("Geometry").Locator(".which")).ToHaveTextAsync("Timing skew, end to end");
        await Expect(Board("Geometry").Locator(".used")).ToHaveTextAsync("62 % used, high, rises ↗");
        await Expect(Strip("scallop").Locator(".used")).ToHaveTextAsync("5 % used, high");
        await Expect(Strip("audio-level").Locator(".used")).ToHaveTextAsync("no limits");
        ILocator drift = Page.Locator("[data-drift=guide-vacuum]");
        await Expect(drift).ToContainTextAsync("Falls −0.62 inH₂O an hour");
        await Expect(drift).ToContainTextAsync("at 10.00 inH₂O in 74 min (52 min to 131 min)".Replace("131 min", "2 h 11 min", StringComparison.Ordinal));
        await Expect(Page.Locator(".drift")).ToHaveCountAsync(1);
        await Expect(Page.Locator("#summary")).ToContainTextAsync("nearest to its limit");
        Assert.Empty(Mishaps);
    }

    [Fact]
    public async Task What_is_silent_faulty_or_untold_shows_no_number_no_share_and_no_drift()
    {
        Bench.Hold("guide-vacuum", 10.6);
        await OpenAsync();
        await Expect(Page.Locator("[data-drift=guide-vacuum]")).ToBeVisibleAsync();
        Bench.Silence("guide-vacuum", TimeSpan.FromSeconds(60));
        Bench.Fail("rf-2", FaultCode.OpenLoop);
        Bench.Tell("skew", null);
        foreach ((string board, string mood, string words) in ((string, string, string)[])[("Vacuum", "stale", "No data"), ("Head 2", "fault", "Fault")])
        {
            await Expect(Board(board)).ToHaveAttributeAsync("data-mood", mood);
            await Expect(Board(board).Locator(".words")).ToHaveTextAsync(words);
            await Expect(Board(board).Locator(".number")).ToHaveTextAsync("—");
            await Expect(Board(board).Locator(".used")).ToHaveTextAsync("");
            await Expect(Board(board).Locator(".spent")).ToBeHiddenAsync();
        }

        await Expect(Strip("skew")).ToHaveAttributeAsync("data-mood", "untold");
        await Expect(Number("skew")).ToHaveTextAsync("—");
        await Expect(Page.Locator(".drift")).ToHaveCountAsync(0);
        await Expect(Page.Locator("#drifts-said")).ToContainTextAsync("nothing is said: no good reading now");
        await Expect(Page.Locator("#summary")).ToContainTextAsync("1 faulty, 1 without data");
    }

    /// <summary>A head that may fall by 15 dB an hour, or not at all, was once called steady four minutes before its limit.</summary>
    [Fact]
    public async Task That_no_slope_is_seen_for_the_noise_is_not_standing_still()
    {
        await OpenAsync();
        string[] words = await Page.EvaluateAsync<string[]>(
            """
            async () => {
              const { movesOf } = await import('/tolerance.js');
              const drift = (slope, low, high, significance, used) => movesOf({ slopePerHour: slope, slopePerHourLow: low, slopePerHourHigh: high, significance, usedSharePerHour: used });
              return [drift(-6.7, -14.6, 1.1, 0.09, 3), drift(-0.02, -0.05, 0.01, 0.2, 0.01), drift(-6.7, -8, -5.4, 1e-6, 3), drift(0.001, 0.0005, 0.0015, 1e-6, 0.0005), movesOf(null)].map(String);
            }
            """);
        Assert.Equal(["null", "steady", "falls", "steady", "null"], words);
    }

    [Fact]
    public async Task A_button_that_holds_the_focus_keeps_it_while_something_comes_in_above_it()
    {
        await OpenAsync();
        Assert.Equal("b,new,a,b", await Page.EvaluateAsync<string>(
            """
            async () => {
              const { fill } = await import('/dom.js');
              const host = document.body.appendChild(document.createElement('ul'));
              const item = name => Object.assign(document.createElement('button'), { textContent: name });
              const [a, b, gone] = ['a', 'b', 'gone'].map(item);
              fill(host, [gone, a, b]);
              b.focus();
              fill(host, [item('new'), a, b]);
              return [document.activeElement.textContent, ...[...host.children].map(c => c.textContent)].join();
            }
            """));
    }

    [Fact]
    public async Task Beyond_its_limit_is_said_before_the_limits_delay_is_over()
    {
        Bench.Hold("regulated-air", 47.5);
        await OpenAsync();
        await Expect(Strip("regulated-air").Locator(".words")).ToHaveTextAsync("beyond its limit just now");
        await Expect(Board("Air")).ToHaveAttributeAsync("data-mood", "advisory");
        await Expect(Board("Air").Locator(".used")).ToHaveTextAsync("beyond its limit, 125 %, steady →");
    }

    [Fact]
    public async Task By_keyboard_alone_the_worst_comes_first_an_alarm_is_reached_and_the_keys_are_shown_and_turned_off()
    {
        FakeScene.Set(Bench);
        await OpenAsync();
        await Expect(Strip("regulated-air")).ToHaveAttributeAsync("data-mood", "alarm");
        await Page.Keyboard.PressAsync("w");
        await Expect(Page.Locator("#order")).ToHaveAttributeAsync("aria-pressed", "true");
        await Expect(Page.Locator(".strip").First).ToHaveAttributeAsync("data-channel", "regulated-air");
        Assert.True(await Page.Locator(".strip").Nth(1).GetAttributeAsync("data-mood") is "stale" or "fault");
        await Page.Keyboard.PressAsync("w");
        await Expect(Page.Locator(".strip").First).ToHaveAttributeAsync("data-channel", "supply-air");
        await Page.Keyboard.PressAsync("a");
        await Expect(Page.Locator("#alarms button").First).ToBeFocusedAsync();
        await Page.Keyboard.PressAsync("c");
        await Page.Keyboard.PressAsync("n");
        await Expect(Strip("regulated-air").Locator(".about")).ToBeFocusedAsync();
        await Page.Keyboard.PressAsync("Enter");
        await Expect(Page.GetByRole(AriaRole.Dialog)).ToContainTextAsync("The wheel floats on it");
        await Page.Keyboard.PressAsync("Escape");
        await Page.Keyboard.PressAsync("?");
        await Expect(Page.Locator("#keys")).ToBeVisibleAsync();
        await Page.Locator("#keys-on").FocusAsync();
        await Page.Keyboard.PressAsync("Space");
        await Page.Keyboard.PressAsync("Escape");
        await Page.Keyboard.PressAsync("w");
        await Page.Keyboard.PressAsync("?");
        await Expect(Page.Locator("#keys")).ToBeVisibleAsync();
        await Expect(Page.Locator("#order")).ToHaveAttributeAsync("aria-pressed", "false");
        Assert.Empty(Mishaps);
    }

    [Fact]
    public async Task On_a_wall_screen_capitals_of_what_is_read_from_three_metres_are_17_millimetres()
    {
        const double MillimetresAPixel = 1210.0 / 3840; // 55 inches, 16 to 9
        await OpenAsync(3840, 2160);
        await Expect(Board("Vacuum").Locator(".number")).Not.ToHaveTextAsync("—");
        foreach (string part in (string[])[".board h3 .about", ".board .number", ".board .used", "#state-word"])
        {
            double capital = await Page.Locator(part).First.EvaluateAsync<double>(
                """
                node => {
                  const style = getComputedStyle(node), ctx = document.createElement('canvas').getContext('2d');
                  ctx.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
                  return ctx.measureText('H').actualBoundingBoxAscent;
                }
                """);
            Assert.True(capital * MillimetresAPixel >= 17, $"{part}: capitals of {capital * MillimetresAPixel:0.0} mm");
        }
    }

    [Theory]
    [InlineData(390, 844)]
    [InlineData(820, 1180)]
    [InlineData(1280, 800)]
    [InlineData(1920, 1080)]
    [InlineData(3840, 2160)]
    public async Task It_fits_in_light_dark_and_forced_colours_and_axe_finds_nothing(int width, int height)
    {
        FakeScene.Set(Bench);
        foreach ((ColorScheme scheme, ForcedColors forced) in (ValueTuple<ColorScheme, ForcedColors>[])[(ColorScheme.Light, ForcedColors.None), (ColorScheme.Dark, ForcedColors.None), (ColorScheme.Dark, ForcedColors.Active)])
        {
            await OpenAsync(width, height, scheme, forced);
            await Expect(Strip("room-temperature")).ToHaveAttributeAsync("data-mood", "stale");
            await Expect(Page.Locator(".strip[data-history=loaded]")).ToHaveCountAsync(16);
            await Expect(Page.Locator(".drift")).ToHaveCountAsync(1);
            Assert.Equal(width, await Page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
            foreach (ILocator part in await Page.Locator(".board, .strip .number, .strip .used").AllAsync())
            {
                Assert.True(await part.EvaluateAsync<bool>("n => n.scrollWidth <= n.clientWidth + 1 || getComputedStyle(n).display === 'inline'"), await part.InnerTextAsync());
            }

            string name = $"now-{width}-{scheme.ToString().ToLowerInvariant()}{(forced == ForcedColors.Active ? "-forced" : "")}";
            await KeepAsync($"{name}.png", full: width < 1280);
            var axe = await Page.RunAxe();
            Assert.True(axe.Violations.Length == 0, string.Join("\n", axe.Violations.Select(v => $"{v.Id}: {v.Help} {v.Nodes[0].Html}")));
        }
    }

    private static QuantityDefinition Quantity(string id, string label, QuantityKind kind, double limit) => new()
    {
        Id = id,
        Label = label,
        Kind = kind,
        Unit = "ns",
        Limits = [FakeBenchDefinition.Limit(LimitSide.High, Severity.Advisory, limit, LimitReference.Baseline), FakeBenchDefinition.Limit(LimitSide.Low, Severity.Advisory, -limit, LimitReference.Baseline)],
    };

    private static ChannelDrift Drift(string id, string label, string unit, double baseline, double limit, double slope) => new()
    {
        Id = id,
        Label = label,
        Unit = unit,
        Baseline = baseline,
        Value = baseline,
        Limit = limit,
        UsedShare = 0.38,
        UsedSharePerHour = slope / (limit - baseline),
        SlopePerHour = slope,
        SlopePerHourLow = slope - (Math.Abs(slope) / 3),
        SlopePerHourHigh = slope + (Math.Abs(slope) / 3),
        Significance = 1e-7,
        WindowMinutes = 30,
    };
}
