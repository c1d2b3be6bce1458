using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>Alarms by ear, of a page whose tones and sentences are counted and whose time the test sets.</summary>
[Collection(BrowserCollection.Name)]
public sealed class SoundTests(BrowserFixture fixture) : OpenPage(fixture)
{
    private const string Tag = "pressure-sag.regulated-air";

    // The page looks once a second; a third of one more in case it is just about to.
    private static readonly TimeSpan TwoLooks = TimeSpan.FromSeconds(2.3);

    private ILocator Sound => Page.Locator("#sound");

    [Fact]
    public async Task What_is_high_and_waits_is_heard_again_each_half_minute_until_a_person_answers_for_it()
    {
        await OpenListeningAsync();
        AlarmTransition alarm = FakeScene.Alarm(Bench, Tag, AlarmPriority.High);
        Bench.Book(alarm);
        await ExpectSaidAsync(1);
        await PassAsync(29_999);
        await ExpectNoMoreSaidAsync(1);
        await PassAsync(1);
        await ExpectSaidAsync(2);
        await PassAsync(29_999);
        await ExpectNoMoreSaidAsync(2);
        await PassAsync(1);
        await ExpectSaidAsync(3);
        string[] said = await SaidAsync();
        Assert.All(said, s => Assert.StartsWith("high alarm. ", s, StringComparison.Ordinal));
        Assert.Single(said.Distinct());

        Bench.Book(alarm with { Input = alarm.Input + 1, Step = AlarmStep.Acknowledged, To = AlarmState.Acknowledged, IsAcknowledged = true, By = "Ida Wren" });
        await Expect(Page.Locator($"[data-alarm='{Tag}']")).ToHaveAttributeAsync("data-state", "acknowledged");
        await PassAsync(90_000);
        await ExpectNoMoreSaidAsync(3);
        Assert.Empty(Mishaps);
    }

    [Fact]
    public async Task What_is_of_medium_priority_is_heard_once()
    {
        Bench.Calls = new PageNotices { LeastPriority = AlarmPriority.Medium };
        await OpenListeningAsync();
        Bench.Book(FakeScene.Alarm(Bench, Tag, AlarmPriority.Medium));
        await ExpectSaidAsync(1);
        await PassAsync(90_000);
        await ExpectNoMoreSaidAsync(1);
    }

    [Fact]
    public async Task A_page_that_has_lost_the_service_says_aloud_each_half_minute_that_no_alarm_can_be_heard()
    {
        await OpenListeningAsync();
        await ExpectNoMoreSaidAsync(0);
        await Served.DisposeAsync();
        await Expect(Page.Locator("#lost")).ToContainTextAsync("Connection lost at");
        await ExpectSaidAsync(1);
        await Expect(Sound).ToHaveAttributeAsync("data-last", "deaf");
        await PassAsync(29_999);
        await ExpectNoMoreSaidAsync(1);
        await PassAsync(1);
        await ExpectSaidAsync(2);
        Assert.All(await SaidAsync(), s => Assert.Equal("Connection to DriftWatch lost. No alarm can be heard here.", s));
        Assert.Equal(2 + 6 + 6, await TonesAsync()); // the two of the button, then high climbs three times

        Served = await ServedBench.StartAgainAsync(Served, new WebSettings(), Bench);
        await Expect(Page.Locator("#lost")).ToBeHiddenAsync(new() { Timeout = 20_000 });
        await PassAsync(90_000);
        await ExpectNoMoreSaidAsync(2);
    }

    [Theory]
    [InlineData(true, false, 2 + 6, 0)]
    [InlineData(false, true, 2, 1)]
    public async Task The_bench_file_takes_away_the_tone_or_the_voice(bool sound, bool speech, int tones, int sentences)
    {
        Bench.Calls = new PageNotices { LeastPriority = AlarmPriority.Medium, Sound = sound, Speech = speech };
        await OpenListeningAsync();
        Bench.Book(FakeScene.Alarm(Bench, Tag, AlarmPriority.High));
        await Expect(Sound).ToHaveAttributeAsync("data-last", Tag);
        await ExpectNoMoreSaidAsync(sentences);
        Assert.Equal(tones, await TonesAsync());
    }

    [Fact]
    public async Task A_bench_file_that_takes_both_away_leaves_nothing_to_turn_on()
    {
        Bench.Calls = new PageNotices { LeastPriority = AlarmPriority.Medium, Sound = false, Speech = false };
        await OpenAsync();
        await Expect(Sound).ToHaveTextAsync("No sound, by the bench file");
        await Expect(Sound).ToBeDisabledAsync();
        await KeepAsync("no-sound.png");
    }

    /// <summary>Opens the page, waits until it knows what the bench file says, counts what it says from there and turns the sound on.</summary>
    private async Task OpenListeningAsync()
    {
        await OpenAsync();
        await Page.WaitForFunctionAsync("() => Number.parseFloat(document.querySelector('.strip[data-channel=regulated-air] .number')?.textContent) > 0");
        if (Bench.Calls.LeastPriority == AlarmPriority.Medium)
        {
            await Expect(Page.GetByLabel("medium priority too")).ToBeCheckedAsync();
        }

        await Page.EvaluateAsync("""
            () => {
              globalThis.tones = 0;
              globalThis.said = [];
              globalThis.clock = performance.now();
              performance.now = () => clock;
              globalThis.AudioContext = class extends AudioContext { createOscillator() { globalThis.tones++; return super.createOscillator(); } };
              speechSynthesis.speak = words => said.push(words.text);
            }
            """);
        await Sound.ClickAsync();
        await Expect(Sound).ToHaveTextAsync("Sound is on");
    }

    private async Task PassAsync(int milliseconds) => await Page.EvaluateAsync("ms => { clock += ms; }", milliseconds);

    private Task<int> TonesAsync() => Page.EvaluateAsync<int>("() => tones");

    private Task<string[]> SaidAsync() => Page.EvaluateAsync<string[]>("() => said");

    private async Task ExpectSaidAsync(int times)
    {
        await Page.WaitForFunctionAsync("times => said.length >= times", times);
        Assert.Equal(times, (await SaidAsync()).Length);
    }

    private async Task ExpectNoMoreSaidAsync(int times)
    {
        await Task.Delay(TwoLooks, TimeProvider.System);
        Assert.Equal(times, (await SaidAsync()).Length);
    }
}
