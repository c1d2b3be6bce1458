using Deque.AxeCore.Playwright;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;
using DriftWatch.Running;
using DriftWatch.Watch.Drifts;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>The units a person chooses, and what a number means.</summary>
[Collection(BrowserCollection.Name)]
public sealed class UnitsTests(BrowserFixture fixture) : OpenPage(fixture)
{
    /// <summary>Held against the conversions that judge, and those of NIST SP 811 (appendix B.8) for the one they lack.</summary>
    [Theory]
    [InlineData("psi", "kPa")]
    [InlineData("psi", "bar")]
    [InlineData("bar", "kPa")]
    [InlineData("inH2O", "Pa")]
    [InlineData("mil", "um")]
    [InlineData("us", "ns")]
    [InlineData("degC", "degF")]
    [InlineData("degF", "degC")]
    public async Task The_page_converts_as_judgement_does(string from, string to)
    {
        await OpenAsync();
        foreach (double value in (double[])[50, 11.2, -24, 0])
        {
            double shown = await ConvertedAsync(from, to, value);
            double right = Unit.Parse(from).Convert(value, Unit.Parse(to));
            Assert.Equal(right, shown, 1e-6 * Math.Max(1, Math.Abs(right))); // UnitsNet's inch of water is rounded at the eighth digit
        }
    }

    [Fact]
    public async Task A_millimetre_of_water_is_standard_gravity_in_pascals_and_a_change_has_no_zero()
    {
        await OpenAsync();
        Assert.Equal(25.4, await ConvertedAsync("inH2O", "mmH2O", 1), 1e-12);
        Assert.Equal(249.08891, await ConvertedAsync("inH2O", "Pa", 1), 1e-9);
        Assert.Equal("+1.8 °F", await Page.EvaluateAsync<string>(
            "async () => { const u = await import('/units.js'); u.choose('temperature', 'degF'); return u.showChange(1, 'degC'); }"));
        Assert.Equal("+6.89 kPa/min", await Page.EvaluateAsync<string>(
            "async () => { const u = await import('/units.js'); u.choose('pressure', 'kPa'); return u.showChange(1, 'psi/min'); }"));
        Assert.Equal(50, await Page.EvaluateAsync<double>("async () => { const u = await import('/units.js'); return u.back(u.convert(50, 'psi'), 'psi'); }"), 1e-9);
    }

    [Fact]
    public async Task Everything_on_the_page_follows_the_choice_which_stays_in_the_browser()
    {
        Bench.Hold("regulated-air", 50);
        Bench.Silence("guide-vacuum", TimeSpan.FromSeconds(6));
        Bench.Say(Bench.MakeFinding("f1", "air-below-setpoint", "regulated-air", "Regulated air is 44.10 psi, below 45 psi.", value: 44.1, limit: 45));
        await OpenAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync("50.00");
        await Page.GetByRole(AriaRole.Button, new() { Name = "Units" }).FocusAsync();
        await Page.Keyboard.PressAsync("Enter");
        await Page.GetByLabel("Air pressure", new() { Exact = true }).SelectOptionAsync("kPa");
        await Page.GetByLabel("Vacuum", new() { Exact = true }).SelectOptionAsync("Pa");
        var result = await Page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join('\n', result.Violations.Select(v => v.Help)));
        await Page.Keyboard.PressAsync("Escape");
        await Expect(Number("regulated-air")).ToHaveTextAsync("344.7");
        await Expect(Strip("regulated-air").Locator(".unit")).ToHaveTextAsync("kPa");
        await Expect(Strip("guide-vacuum").Locator(".words")).ToContainTextAsync("Pa");
        await Expect(Page.Locator("#open [data-finding=f1]")).ToContainTextAsync("304.1 kPa against 310.3 kPa");
        await Expect(Page.Locator("#open [data-finding=f1]")).ToContainTextAsync("Regulated air is 304.1 kPa, below 310 kPa."); // the sentence too, with the digits that it was told with
        await Page.ReloadAsync();
        await Expect(Number("regulated-air")).ToHaveTextAsync("344.7");
        Assert.Empty(Mishaps);
    }

    [Fact]
    public async Task What_a_number_means_is_one_press_away_with_its_limits_and_its_baseline()
    {
        Bench.Taken.Add(new TakenBaseline
        {
            Number = 7, At = Bench.Now, UtcNanoseconds = Bench.ToUtcNanoseconds(Bench.Now), Bench = "practice", BenchHash = Bench.Bench.SourceHash,
            State = MachineState.Locked, By = "Ida Wren", Standing = BaselineStanding.Confirmed, Unwell = ["drifting"],
            Values = [new BaselineValue("regulated-air", "psi", 50.1, 0.05, 0.2, 9.67, 300, 1)],
        });
        Bench.Drifts = new DriftTable(Bench.Now, [new ChannelDrift { Id = "regulated-air", Label = "Regulated air", Unit = "psi", Baseline = 50.1, Untold = "too-little-seen" }]);
        Bench.Bench = Bench.Bench with
        {
            Channels = [.. Bench.Bench.Channels.Select(c => c.Id == "regulated-air" ? c with { Limits = [.. DefaultLimits.For(c, "525/60", c).Skip(1), c.Limits[0]] } : c)],
        };
        Bench.Hold("regulated-air", 50);
        await OpenAsync();
        await Strip("regulated-air").GetByRole(AriaRole.Button, new() { Name = "Regulated air" }).FocusAsync();
        await Page.Keyboard.PressAsync("Enter");
        ILocator told = Page.GetByRole(AriaRole.Dialog, new() { Name = "Regulated air" });
        await Expect(told).ToContainTextAsync("The wheel floats on it");
        await Expect(told).ToContainTextAsync("Practice rig, input regulated-air");
        await Expect(told).ToContainTextAsync("Alarm below 45 psi");
        await Expect(told).ToContainTextAsync("Source: common practice, no source.");
        await Expect(told).ToContainTextAsync("Delay and deadband: the machine: the usual 15 s of a pressure are too long for an air bearing.");
        await Expect(told.Locator("li").Last).ToContainTextAsync("Delay and deadband: bench file."); // of which the delay is not the default's
        await Expect(told).ToContainTextAsync("50.10 psi ± 0.02 psi (standard error)");
        await Expect(told).ToContainTextAsync("by Ida Wren, while locked");
        await Expect(told).ToContainTextAsync("something drifted");
        await Expect(told).ToContainTextAsync("version 1, in the bench file from the start");
        await Expect(told).ToContainTextAsync("50.00 psi");
        await KeepAsync("explain-1280.png");
        var result = await Page.RunAxe();
        Assert.True(result.Violations.Length == 0, string.Join('\n', result.Violations.Select(v => v.Help)));
        await Page.Keyboard.PressAsync("Escape");
        await Expect(told).ToBeHiddenAsync();
        Assert.Empty(Mishaps);
    }

    private Task<double> ConvertedAsync(string from, string to, double value) => Page.EvaluateAsync<double>(
        "async ([from, to, value]) => { const u = await import('/units.js'); u.choose(u.kinds.find(k => from in k.units).id, to); return u.convert(value, from); }",
        new object[] { from, to, value });
}
