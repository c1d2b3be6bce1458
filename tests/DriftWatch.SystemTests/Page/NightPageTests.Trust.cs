using System.Text.Json.Nodes;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>What was not read is not told: no word of one span stands over another, and nothing is called quiet that nobody has looked at.</summary>
public sealed partial class NightPageTests
{
    [Fact]
    public async Task A_span_whose_events_can_not_be_read_is_never_called_sound_and_the_next_that_can_is_told_again()
    {
        await OpenAsync(Night);
        await Expect(_page.Locator("#verdict")).ToHaveTextAsync(NotSound());
        await _page.RouteAsync("**/span/events?*", route => route.FulfillAsync(new() { Status = 503, ContentType = "application/problem+json", Body = "{\"detail\":\"The store is busy.\"}" }));
        await _page.Locator("#axis").FocusAsync();
        await _page.Keyboard.PressAsync("+");
        await Expect(_page.Locator("#verdict")).ToContainTextAsync("Can’t be told");
        await Expect(_page.Locator("#sentence")).ToHaveTextAsync("");
        await Expect(_page.Locator("#list li")).ToHaveCountAsync(0);
        await Expect(_page.Locator("#list-none")).ToBeHiddenAsync();
        await Expect(_page.Locator("#lost")).ToContainTextAsync("The store is busy.");
        await Expect(_page.Locator("[data-lane=alarms] canvas")).ToHaveAttributeAsync("aria-label", "Alarms: not read yet");

        await _page.UnrouteAsync("**/span/events?*");
        await _page.Keyboard.PressAsync("-");
        await Expect(_page.Locator("#verdict")).ToHaveTextAsync(NotSound());
        await Expect(_page.Locator("#lost")).ToBeHiddenAsync();
        await Expect(_page.Locator("#list li").First).ToBeVisibleAsync();
    }

    [Theory]
    [InlineData("counter", "by the machine’s counter")]
    [InlineData("elapsed-time", "by the time since the run began")]
    public async Task Where_on_the_tape_a_finding_lies_is_told_with_how_that_is_known(string basis, string words)
    {
        await OpenAsync(Night);
        await OpenedPage.ChangeAnswerAsync(_page, "**/span/events?*", a =>
        {
            foreach (JsonNode? item in a["findings"]!.AsArray().Concat(a["alarms"]!.AsArray()))
            {
                item!["tape"] = new JsonObject { ["seconds"] = 754.4, ["basis"] = basis };
            }
        });
        await _page.ReloadAsync();
        await _page.Locator("#list button").Filter(new() { HasText = "Sensor fault" }).First.ClickAsync();
        await Expect(_page.Locator("#picked")).ToContainTextAsync("On the tape");
        await Expect(_page.Locator("#picked")).ToContainTextAsync($"0:12:34.4, {words}");
    }

    [Fact]
    public async Task While_a_span_is_read_its_lanes_and_channels_say_so()
    {
        var held = new TaskCompletionSource();
        await OpenAsync(Night);
        await Expect(_page.Locator("#verdict")).ToHaveTextAsync(NotSound());
        await _page.RouteAsync("**/span?*", HoldAsync);
        await _page.RouteAsync("**/span/events?*", HoldAsync);
        await _page.Locator("#presets [data-span=\"7d\"]").ClickAsync();
        await Expect(_page.Locator("#verdict")).ToHaveTextAsync("Reading …");
        await Expect(_page.Locator(".strip .extent").First).ToHaveTextAsync("reading …");
        await Expect(_page.Locator("[data-lane=findings] canvas")).ToHaveAttributeAsync("aria-label", "Findings: not read yet");
        held.SetResult();
        await Expect(_page.Locator("#verdict")).Not.ToHaveTextAsync("Reading …");

        async Task HoldAsync(IRoute route)
        {
            await held.Task;
            await route.ContinueAsync();
        }
    }

    [Fact]
    public async Task What_a_lane_shows_is_explained_one_click_away()
    {
        await OpenAsync(Night);
        await _page.Locator(".strip[data-channel=regulated-air] .about").ClickAsync();
        await Expect(_page.GetByRole(AriaRole.Dialog)).ToContainTextAsync("The wheel floats on it");
    }

    [Fact]
    public async Task The_other_night_is_named_and_each_channel_tells_how_far_it_is_from_then()
    {
        await OpenAsync(Night + "&compare=2026-01-15T09:00:00Z");
        await Expect(_page.Locator("#against")).ToContainTextAsync("15 Jan 2026");
        await Expect(_page.Locator(".strip[data-channel=regulated-air] .extent")).ToContainTextAsync("against then");
    }
}
