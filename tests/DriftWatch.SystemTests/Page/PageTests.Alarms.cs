using Deque.AxeCore.Playwright;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Tests.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>The alarms on the page: how they stand, what a person does with them, how they do as a whole, and what other limits would have told.</summary>
public sealed partial class PageTests
{
    [Fact]
    public async Task An_alarm_comes_with_its_priority_and_goes_when_it_is_back_to_normal()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals()); // it listens
        await Expect(_page.Locator("#alarms-none")).ToBeVisibleAsync();
        await Expect(_page.Locator(".defers")).ToContainTextAsync("hard-wired pressure switch");
        AlarmTransition low = FakeScene.Alarm(_bench, "stale.guide-vacuum", AlarmPriority.Low);
        AlarmTransition high = FakeScene.Alarm(_bench, "pressure-sag.regulated-air", AlarmPriority.High) with
        {
            Cause = "compressor-failing", Consequence = "the bearing loses its air, within seconds", FirstOut = "practice.supply-changed.supply-air.3",
            OnTape = new TapePlace(727.4, PositionBasis.Counter),
        };
        _bench.Book(low);
        _bench.Book(high);
        ILocator item = Alarm("pressure-sag.regulated-air");
        await Expect(item).ToContainTextAsync("High Pressure sag, Regulated air");
        await Expect(item).ToContainTextAsync("Stands, waits for a person");
        await Expect(item).ToContainTextAsync("Supply changed, Supply air");
        await Expect(item).ToContainTextAsync("Compressor failing");
        await Expect(item).ToContainTextAsync("If nobody acts");
        await Expect(item).ToContainTextAsync("the bearing loses its air, within seconds");
        await Expect(item).ToContainTextAsync("44.10 psi against 45.00 psi");
        await Expect(item).ToContainTextAsync("On the tape0:12:07.4, by the machine’s counter");
        await Expect(Alarm("stale.guide-vacuum")).Not.ToContainTextAsync("On the tape");
        await Expect(_page.Locator("#alarms > li").First).ToHaveAttributeAsync("data-alarm", "pressure-sag.regulated-air");
        await Expect(_page.Locator("#alarms-count")).ToHaveTextAsync("2 wait for a person");
        await Expect(_page.Locator("#announce")).ToHaveTextAsync("High alarm: What regulated-air says is beyond its limit.");

        _bench.Book(high with { Input = 50, Step = AlarmStep.Returned, To = AlarmState.Normal, IsActive = false });
        await Expect(item).ToHaveCountAsync(0);
        await Expect(Alarm("stale.guide-vacuum")).ToBeVisibleAsync();
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task Alarms_are_answered_for_by_keyboard_with_reasons_and_a_reason_is_asked_for_where_it_must_be()
    {
        AlarmTransition alarm = FakeScene.Alarm(_bench, "pressure-sag.regulated-air", AlarmPriority.High);
        _bench.Book(alarm);
        await OpenAsync(name: "Ida Wren");
        ILocator item = Alarm(alarm.Tag);
        await item.GetByRole(AriaRole.Button, new() { Name = "Acknowledge: Pressure sag, Regulated air" }).FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await _page.Keyboard.TypeAsync("tank is filling");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        var acknowledged = Assert.IsType<AcknowledgeCommand>(Assert.Single(_bench.Entered));
        Assert.Equal(("Ida Wren", "tank is filling", alarm.Id), (acknowledged.By, acknowledged.Note, acknowledged.Finding));
        _bench.Book(alarm with { Input = 60, Step = AlarmStep.Acknowledged, To = AlarmState.Acknowledged, IsAcknowledged = true, By = "Ida Wren", Why = "tank is filling" });
        await Expect(item).ToContainTextAsync("Acknowledged by Ida Wren (declared): tank is filling");

        await item.GetByText("Keep quiet").FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await item.GetByRole(AriaRole.Button, new() { Name = "Shelve until it is over" }).FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await _page.GetByLabel("Reason").FillAsync("known");
        await KeepAsync("shelve-until-over.png");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        var untilOver = Assert.IsType<ShelveCommand>(_bench.Entered[^1]);
        Assert.Equal((true, "known", alarm.Id), (untilOver.UntilOver, untilOver.Note, untilOver.Finding));
        await item.GetByRole(AriaRole.Button, new() { Name = "Shelve for a time" }).FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#ask-error")).ToContainTextAsync("Write why");
        await _page.GetByLabel("Reason").FillAsync("known, parts come");
        await _page.GetByLabel("Minutes, 1 to 1440").FillAsync("45");
        await _page.Keyboard.PressAsync("Enter");
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        var shelved = Assert.IsType<ShelveCommand>(_bench.Entered[^1]);
        Assert.Equal((TimeSpan.FromMinutes(45), "known, parts come", alarm.Id), (shelved.For, shelved.Note, shelved.Finding));
        _bench.Book(alarm with { Input = 70, Step = AlarmStep.Shelved, To = AlarmState.Shelved, By = "Ida Wren", Why = "known, parts come" });

        await item.GetByRole(AriaRole.Button, new() { Name = "Unshelve" }).ClickAsync();
        await _page.Locator("#ask-do").ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        Assert.Equal(alarm.Id, Assert.IsType<UnshelveCommand>(_bench.Entered[^1]).Finding);

        await item.GetByRole(AriaRole.Button, new() { Name = "Take out of service" }).ClickAsync();
        await _page.GetByLabel("Reason").FillAsync("sensor away");
        await _page.Locator("#ask-do").ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        Assert.Equal(alarm.Tag, Assert.IsType<OutOfServiceCommand>(_bench.Entered[^1]).Subject);
        _bench.Book(alarm with { Input = 80, Step = AlarmStep.TakenOutOfService, To = AlarmState.OutOfService, By = "Ida Wren", Why = "sensor away" });
        await item.GetByRole(AriaRole.Button, new() { Name = "Put back in service" }).ClickAsync();
        await _page.Locator("#ask-do").ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        Assert.Equal(alarm.Tag, Assert.IsType<InServiceCommand>(_bench.Entered[^1]).Subject);

        // What one trouble made is answered at once, with an entry for each.
        AlarmTransition[] ofOne = [.. ((string[])["supply-changed.supply-air", "below-limit.supply-air", "stale.guide-vacuum"])
            .Select(tag => FakeScene.Alarm(_bench, tag, AlarmPriority.Medium) with { FirstOut = "practice.supply-changed.supply-air.3" })];
        foreach (AlarmTransition one in ofOne)
        {
            _bench.Book(one);
        }

        ILocator all = _page.GetByRole(AriaRole.Button, new() { Name = "Acknowledge all 3 of this trouble" });
        await Expect(all).ToHaveCountAsync(1);
        await KeepAsync("one-trouble.png");
        await all.ClickAsync();
        await _page.Locator("#ask-do").ClickAsync();
        await Expect(_page.Locator("#ask")).ToBeHiddenAsync();
        Assert.Equal(ofOne.Select(a => a.Id).Order(StringComparer.Ordinal), _bench.Entered.TakeLast(3).Cast<AcknowledgeCommand>().Select(c => c.Finding).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Sound_is_off_until_a_person_turns_it_on_and_then_high_is_heard_and_medium_only_if_wanted()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        await _page.EvaluateAsync("() => { globalThis.AudioContext = class extends AudioContext { constructor() { super(); globalThis.sounding = this; globalThis.tones = 0; } createOscillator() { globalThis.tones++; return super.createOscillator(); } }; globalThis.said = []; speechSynthesis.speak = words => said.push(words.text); }");
        ILocator sound = _page.Locator("#sound");
        _bench.Book(FakeScene.Alarm(_bench, "below-limit.supply-air", AlarmPriority.Medium));
        await Expect(Alarm("below-limit.supply-air")).ToBeVisibleAsync();
        await Expect(sound).ToHaveAttributeAsync("aria-pressed", "false");
        Assert.Null(await sound.GetAttributeAsync("data-last"));
        await sound.FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        await Expect(sound).ToHaveTextAsync("Sound is on");
        _bench.Book(FakeScene.Alarm(_bench, "stale.guide-vacuum", AlarmPriority.Medium));
        await Expect(Alarm("stale.guide-vacuum")).ToBeVisibleAsync();
        Assert.Null(await sound.GetAttributeAsync("data-last"));
        _bench.Book(FakeScene.Alarm(_bench, "pressure-sag.regulated-air", AlarmPriority.High));
        await Expect(sound).ToHaveAttributeAsync("data-last", "pressure-sag.regulated-air");
        Assert.Equal(2 + 6, await _page.EvaluateAsync<int>("() => tones")); // the two of the button, then high climbs three times
        string spoken = Assert.Single(await _page.EvaluateAsync<string[]>("() => said"));
        Assert.StartsWith("high alarm. ", spoken, StringComparison.Ordinal);
        Assert.Contains("Regulated air", spoken, StringComparison.OrdinalIgnoreCase);
        await _page.GetByLabel("medium priority too").CheckAsync();
        _bench.Book(FakeScene.Alarm(_bench, "stale.room-temperature", AlarmPriority.Medium));
        await Expect(sound).ToHaveAttributeAsync("data-last", "stale.room-temperature");

        // A browser may take the sound away: the page says so and offers it again.
        await _page.EvaluateAsync("() => sounding.suspend()");
        await Expect(sound).ToHaveTextAsync("The browser stopped the sound: turn it on again");
        await Expect(sound).ToHaveAttributeAsync("aria-pressed", "false");
        await Expect(_page.Locator("#announce")).ToHaveTextAsync("The browser has stopped the sound: no alarm can be heard here.");
        await sound.ClickAsync();
        await Expect(sound).ToHaveTextAsync("Sound is on");
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task A_page_whose_notices_are_behind_says_so_in_its_head_and_makes_no_sound_of_it()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        ILocator sound = _page.Locator("#sound");
        await sound.ClickAsync();
        await Expect(sound).ToHaveTextAsync("Sound is on");
        _bench.Health = FakeBench.Healthy with { Noticing = TimeSpan.FromMinutes(3) };
        await Expect(_page.Locator("#store")).ToContainTextAsync("stale: notices");
        await KeepAsync("notices-behind.png");
        Assert.Null(await sound.GetAttributeAsync("data-last"));
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task While_the_store_takes_nothing_its_alarm_and_others_show_from_memory_and_are_heard_once()
    {
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        ILocator sound = _page.Locator("#sound");
        await sound.ClickAsync();
        await Expect(sound).ToHaveTextAsync("Sound is on");
        await _page.EvaluateAsync("() => { globalThis.said = []; speechSynthesis.speak = u => said.push(u.text); }");
        AlarmTransition ofStore = FakeScene.Alarm(_bench, "store-failing.bench", AlarmPriority.High) with
        {
            Channel = null, Cause = "disk-full", Value = 5, Limit = 5, Unit = "s",
            Text = "The store takes nothing: the disk is full. What is read and judged is held in memory, and is lost if the service or its computer stops.",
        };
        _bench.Health = FakeBench.Healthy with { StoreTrouble = "the disk is full", ReadingsHeldInMemory = 4200 };
        _bench.Hold(ofStore);
        await Expect(Alarm("store-failing.bench")).ToContainTextAsync("the disk is full");
        await Expect(Alarm("store-failing.bench")).ToContainTextAsync("Disk full");
        await Expect(sound).ToHaveAttributeAsync("data-last", "store-failing.bench");
        await Expect(_page.Locator("#store")).ToContainTextAsync("alarms show from memory");
        await KeepAsync("store-in-trouble.png");
        _bench.Hold(FakeScene.Alarm(_bench, "pressure-sag.regulated-air", AlarmPriority.High) with { Input = ofStore.Input + 1 });
        await Expect(Alarm("pressure-sag.regulated-air")).ToBeVisibleAsync();
        Assert.Equal(2, (await _page.EvaluateAsync<string[]>("() => said")).Length);
        var result = await _page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join('\n', result.Violations.Select(v => v.Help)));

        // It is stored: the lines come by the stream at last, and are no news.
        _bench.Health = FakeBench.Healthy;
        _bench.BookHeld();
        _bench.Book(ofStore with { Input = ofStore.Input + 9, Step = AlarmStep.Returned, To = AlarmState.ReturnedUnacknowledged, IsActive = false });
        await Expect(Alarm("store-failing.bench")).ToHaveAttributeAsync("data-state", "returned-unacknowledged");
        await Expect(Alarm("pressure-sag.regulated-air")).ToBeVisibleAsync();
        Assert.Equal(2, (await _page.EvaluateAsync<string[]>("() => said")).Length);
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task Who_is_told_stands_on_the_page_and_each_route_can_be_tested_there()
    {
        _bench.AddRoute("night-desk", works: true);
        _bench.AddRoute("old-pager", works: false);
        await OpenAsync(name: "Ida Wren");
        ILocator told = _page.GetByRole(AriaRole.Button, new() { Name = "Who is told" });
        await Expect(told).ToBeEnabledAsync(); // once it knows the bench
        await told.FocusAsync();
        await _page.Keyboard.PressAsync("Enter");
        ILocator desk = _page.Locator("#routes li[data-route='night-desk']"), pager = _page.Locator("#routes li[data-route='old-pager']");
        await Expect(desk).ToContainTextAsync("From medium priority, at once.");
        await Expect(pager).ToContainTextAsync("no answer");
        await Expect(_page.Locator("#told-said")).ToContainTextAsync("interlock");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Test night-desk" }).ClickAsync();
        await Expect(desk.Locator(".said")).ToHaveTextAsync("Sent: 200 OK");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Test old-pager" }).ClickAsync();
        await Expect(pager.Locator(".said")).ToHaveTextAsync("Not sent: no answer Look at the address.");
        Assert.Equal(["night-desk by Ida Wren", "old-pager by Ida Wren"], _bench.RoutesTested);
        var result = await _page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join('\n', result.Violations.Select(v => v.Help)));
        Assert.Empty(_mishaps);
    }

    [Fact]
    public async Task A_span_is_judged_again_from_the_page_and_what_would_have_come_is_told()
    {
        var limit = new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 8, OnDelay = TimeSpan.FromSeconds(1), OffDelay = TimeSpan.FromSeconds(1), Source = "bench file" };
        BenchDefinition night = TestBench.Of(TestBench.Series(TestBench.Vacuum, "regulated-air", ChannelRole.Other, "psi") with { Limits = [limit] });
        long now = _bench.ToUtcNanoseconds(_bench.Now);
        List<EngineInput> inputs = new Night(night).Series(TestBench.Vacuum, 0, 1200, t => t is >= 600 and < 660 ? 9 : 11).Inputs();
        inputs[0] = EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, new(default, now - 3_600_000_000_000))) with { Number = 1 };
        _bench.Again = () => new InputList(inputs);
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync(TwoDecimals());
        await _page.GetByRole(AriaRole.Button, new() { Name = "What if other limits" }).ClickAsync();
        await _page.GetByLabel("Channel", new() { Exact = true }).SelectOptionAsync("regulated-air");
        await _page.Locator("#try-limit").SelectOptionAsync(new SelectOptionValue { Index = LowAlarm() });
        await _page.GetByLabel("Value to try").FillAsync("9.5");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Judge again" }).ClickAsync();
        await Expect(_page.Locator("#try-said")).ToContainTextAsync("0 kept, 0 gone, 1 new.");
        await Expect(_page.Locator("#try-result li")).ToContainTextAsync("Below limit, Regulated air");
        await Expect(_page.Locator("#try-working")).ToBeHiddenAsync();

        await _page.Locator("#what-if summary").ClickAsync();
        await _page.Locator("#try-file").FillAsync("[bench]\nid = 5\n");
        await _page.GetByRole(AriaRole.Button, new() { Name = "Judge again" }).ClickAsync();
        await Expect(_page.Locator("#try-error")).ToContainTextAsync("bench.toml(2,");
        await _page.Keyboard.PressAsync("Escape");
        await Expect(_page.Locator("#what-if")).ToBeHiddenAsync();
    }

    [Theory]
    [InlineData(390, 844)]
    [InlineData(1280, 800)]
    public async Task The_measures_and_the_form_fit_their_screen_and_axe_finds_nothing(int width, int height)
    {
        FakeScene.Set(_bench);
        _bench.AddRoute("night-desk", works: true);
        _bench.AddRoute("old-pager", works: false);
        foreach (ColorScheme scheme in (ColorScheme[])[ColorScheme.Light, ColorScheme.Dark])
        {
            if (_context is not null)
            {
                await _context.DisposeAsync();
            }

            await OpenAsync(width, height, scheme);
            await Expect(_page.Locator("#alarms > li")).ToHaveCountAsync(3);
            await Look("alarms");
            await _page.Locator("#health-open").ClickAsync();
            await Expect(_page.Locator("#measures li")).ToHaveCountAsync(14);
            await Expect(_page.Locator("[data-measure=standing] .target")).ToHaveTextAsync("Target: under 10. Source: from memory.");
            await Expect(_page.Locator("[data-measure=most-frequent] .target")).ToContainTextAsync("not held against one machine. Source: secondary sources.");
            await Expect(_page.Locator("#frequent li").First).ToContainTextAsync("%)");
            await Expect(_page.Locator("#health-said")).ToContainTextAsync("no conformance is claimed");
            await Look("health");
            await _page.Locator("#health-close").ClickAsync();
            await _page.Locator("#told-open").ClickAsync();
            await Expect(_page.Locator("#routes li")).ToHaveCountAsync(2);
            await Look("told");
            await _page.Locator("#told-close").ClickAsync();
            await _page.Locator("#what-if-open").ClickAsync();
            await _page.Locator("#try-add").ClickAsync();
            await _page.Locator("#what-if summary").ClickAsync();
            await Look("what-if");

            async Task Look(string what)
            {
                if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
                {
                    await _page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, $"{what}-{width}-{scheme.ToString().ToLowerInvariant()}.png") });
                }

                Assert.Equal(width, await _page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
                Assert.True(await _page.EvaluateAsync<bool>("[...document.querySelectorAll('dialog[open]')].every(d => d.scrollWidth <= d.clientWidth)"), what);
                var result = await _page.RunAxe();
                Assert.True(result.Violations.Length == 0, what + "\n" + string.Join("\n", result.Violations.Select(
                    v => $"{v.Id}: {v.Help}: {string.Join(" | ", v.Nodes.Take(3).Select(n => n.Html))}")));
            }
        }

        Assert.Empty(_mishaps);
    }

    private ILocator Alarm(string tag) => _page.Locator($"#alarms [data-alarm='{tag}']");

    private int LowAlarm()
    {
        IReadOnlyList<LimitDefinition> limits = _bench.Bench.Channels.First(c => c.Id == "regulated-air").Limits;
        return limits.ToList().FindIndex(l => l.Side == LimitSide.Low && l.Severity == Severity.Alarm);
    }
}
