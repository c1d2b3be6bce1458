using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using DriftWatch.Configuration;
using DriftWatch.Running;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>
/// A tape taken through the bench on the page, on a practice rig that runs: described, signed by keyboard, lined up by what the service
/// reads, run and marked while the service goes and comes back, judged by two people, and handed on.
/// </summary>
[Collection(BrowserCollection.Name)]
public sealed class TransferFlowPageTests(BrowserFixture fixture) : IAsyncLifetime, IDisposable
{
    private const string Script = """
        title  Tape that runs at once
        length 1:00:00
        nuisances off
        at 0:01 air on
        at 0:03 wheel on
        at 0:05 thread
        at 0:06 run
        """;

    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-flow-").FullName;
    private RunningBench _bench = null!;
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        string bench = await File.ReadAllTextAsync(Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml"));
        await File.WriteAllTextAsync(Path.Combine(_folder, "bench.toml"), bench.Replace("{ seed = 1 }", "{ seed = 1, script = \"at-once.rig\" }", StringComparison.Ordinal));
        await File.WriteAllTextAsync(Path.Combine(_folder, "at-once.rig"), Script);
        _bench = Start();
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await StopAsync();

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_tape_goes_its_whole_way_on_the_page()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "transfers.html"), 1280, 1000);
        IPage page = opened.Page;
        await page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await DescribeAsync(page);
        await SignAsync(page);
        await LineUpAsync(page);
        await RunAsync(page);
        await opened.KeepAsync("flow-run.png");
        await JudgeAsync(page);
        await opened.KeepAsync("flow-judged.png");

        // Nothing on the way went wrong but that the service was away.
        Assert.All(opened.Mishaps, m => Assert.Matches(new Regex("ERR_|Failed to load resource|409|400", RegexOptions.None, TimeSpan.FromSeconds(1)), m));
    }

    /// <summary>A machine that is lined up to another standard has to be lined up again: it is told above the steps, before anything is turned.</summary>
    [Fact]
    public async Task A_tape_of_the_other_standard_is_told_before_its_line_up()
    {
        JsonElement tape = await EnterAsync("\"kind\":\"tape-described\",\"identifier\":\"MC-0625\",\"standard\":\"625/50\",\"speedInchesPerSecond\":15");
        JsonElement transfer = await EnterAsync($"\"kind\":\"transfer-opened\",\"tape\":\"{tape.GetProperty("tape").GetString()}\"");
        string id = transfer.GetProperty("transfer").GetString()!;
        await EnterAsync($"\"kind\":\"pass-opened\",\"transfer\":\"{id}\"");
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, $"transfers.html?bench=practice&transfer={id}"), 1280, 1000);
        IPage page = opened.Page;
        await page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await Expect(page.Locator("#next")).ToContainTextAsync("Pre-flight");
        await page.EvaluateAsync("document.querySelector('#stage-line-up').open = true");
        ILocator standard = page.Locator("#line-up-standard");
        await Expect(standard).ToContainTextAsync(
            new Regex(@"▲ contradicted: The wheel turns 2\d\d\.\d times a second, which is 525/60; the tape is 625/50\. Switch the machine’s standard", RegexOptions.None, TimeSpan.FromSeconds(1)),
            new() { Timeout = 60_000 });
        await opened.KeepAsync("line-up-wrong-standard.png");
        await page.Locator("#end-line-up").ClickAsync();
        await Expect(page.Locator("#ask-text")).ToContainTextAsync("which is 525/60; the tape is 625/50");
        await page.Locator("#ask-cancel").ClickAsync();

        // Described rightly, the sentence goes the other way at the next look.
        await EnterAsync($"\"kind\":\"tape-described\",\"tape\":\"{tape.GetProperty("tape").GetString()}\",\"identifier\":\"MC-0625\",\"standard\":\"525/60\",\"speedInchesPerSecond\":15");
        await Expect(standard).ToContainTextAsync("● proved: The wheel turns");
    }

    private Task<JsonElement> EnterAsync(string fields) => _served.PostAsync("/api/v1/benches/practice/entries", $"{{\"by\":\"Ida Wren\",{fields}}}");

    private static async Task DescribeAsync(IPage page)
    {
        await Expect(page.Locator("#book-none")).ToBeVisibleAsync();
        await page.Locator("#new-tape-box summary").FocusAsync();
        await page.Keyboard.PressAsync("Enter");
        await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.TypeAsync("MC-0117");
        await page.GetByLabel("Standard").SelectOptionAsync("525/60");
        await page.GetByLabel("Condition").FillAsync("two splices");

        // What was typed outlives a closed page.
        await page.ReloadAsync();
        await page.Locator("#new-tape-box summary").ClickAsync();
        await Expect(page.GetByLabel("Identifier")).ToHaveValueAsync("MC-0117");
        await Expect(page.GetByLabel("Condition")).ToHaveValueAsync("two splices");
        await page.GetByLabel("Condition").PressAsync("Enter");
        ILocator open = page.GetByRole(AriaRole.Button, new() { Name = "Open a transfer of MC-0117" });
        await Expect(open).ToBeFocusedAsync();
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#pass-title")).ToHaveTextAsync("MC-0117");
        await Expect(page.Locator("#next")).ToHaveTextAsync("Begin its first pass.");
        await page.Locator("#begin-pass").ClickAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("Pre-flight: Inspect the tape");
    }

    /// <summary>By keyboard alone: Enter signs, and the next item has the focus.</summary>
    private static async Task SignAsync(IPage page)
    {
        ILocator far = page.Locator("#stage-checks .how-far");
        await page.Locator("#checks .item.next button.strong").FocusAsync();
        for (int i = 1; i <= 3; i++)
        {
            await page.Keyboard.PressAsync("Enter");
            await Expect(far).ToHaveTextAsync($"{i} of 11 signed");
            await Expect(page.Locator("#checks .item.next button.strong")).ToBeFocusedAsync();
        }

        // Not done needs a word why; what was written stays, and a page that is opened again knows what was signed.
        await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.PressAsync("Enter");
        ILocator drained = page.Locator("[data-key=filter-drained]");
        await Expect(drained.Locator(".error")).ToHaveTextAsync("What is left undone needs a reason. Say why in 'note'.");
        await drained.GetByLabel("Note").FillAsync("the drain is stuck");
        await page.ReloadAsync();
        await Expect(far).ToHaveTextAsync("3 of 11 signed");
        await Expect(drained.GetByLabel("Note")).ToHaveValueAsync("the drain is stuck");
        await drained.GetByRole(AriaRole.Button, new() { NameRegex = new Regex("^Not done", RegexOptions.None, TimeSpan.FromSeconds(1)) }).PressAsync("Enter");
        await Expect(far).ToHaveTextAsync("4 of 11 signed, ◇ 1 not done");
        await Expect(drained.Locator(".signed")).ToContainTextAsync("◇ Signed as not done: Ida Wren (declared)");

        for (int i = 5; i <= 11; i++)
        {
            if (await page.Locator("#checks .item.next").GetAttributeAsync("data-key") == "air-before-wheel")
            {
                await Expect(page.Locator("#checks .item.next .proof")).ToContainTextAsync("proved"); // on a quick machine the wheel stands still yet
            }

            if (await page.Locator("#checks .item.next").GetAttributeAsync("data-key") == "head-hours")
            {
                await page.Locator("#checks .item.next").GetByLabel("Value").FillAsync("620"); // the limit is 500
                await page.Locator("#checks .item.next button.strong").FocusAsync();
            }

            await Expect(page.Locator("#checks .item.next button.strong")).ToBeFocusedAsync();
            await page.Keyboard.PressAsync("Enter");
            await Expect(far).ToContainTextAsync($"{i} of 11 signed");
        }

        // What readings hold against a signature stands beside it; the setpoint's half minute may still reach back to where the air came up.
        await Expect(far).ToHaveTextAsync(new Regex("11 of 11 signed, ◇ 1 not done, ▲ [12] contradicted", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(page.Locator("[data-key=head-hours]")).ToHaveAttributeAsync("data-standing", "contradicted");
        await Expect(page.Locator("[data-key=head-hours] .signed")).ToContainTextAsync("▲ contradicted: 620 h of 500 h.");
        await Expect(page.Locator("[data-key=air-before-wheel] .signed")).ToContainTextAsync("● proved: When the wheel began to turn");
        await Expect(page.Locator("[data-key=setpoint] .signed")).ToContainTextAsync("Regulated air is");
    }

    private async Task LineUpAsync(IPage page)
    {
        await Expect(page.Locator("#next")).ToContainTextAsync("Line-up: Tracking");
        await Expect(page.Locator("#stage-line-up")).ToHaveAttributeAsync("open", "");
        await Expect(page.Locator("#state-word")).ToHaveTextAsync("Locked", new() { Timeout = 60_000 });
        ILocator far = page.Locator("#stage-line-up .how-far");
        await Expect(page.Locator("#line-up-standard")).ToContainTextAsync("● proved: The wheel turns 2");
        await Expect(page.Locator("#step-title")).ToContainTextAsync("Step 1 of 10: Tracking");
        await Expect(page.Locator("#step-now output")).ToContainTextAsync("dB");
        await SettledAsync(page.Locator("#step-now output"));
        await page.GetByRole(AriaRole.Button, new() { Name = "Keep what it reads now" }).ClickAsync();
        await page.GetByLabel("What was turned").FillAsync("tracking, half a turn");
        await page.ReloadAsync();
        await Expect(page.GetByLabel("What was turned")).ToHaveValueAsync("tracking, half a turn");
        await Expect(page.Locator("#step-now output")).ToContainTextAsync("dB");
        await page.GetByRole(AriaRole.Button, new() { Name = "Record this step" }).ClickAsync();
        await Expect(far).ToHaveTextAsync("1 of 10 steps");

        // Guide height: a derived quantity, held to its tolerance.
        await Expect(page.Locator("#step-title")).ToContainTextAsync("Guide height");
        await Expect(page.Locator("#step-about")).ToContainTextAsync("Tolerance: −20 to 20 ns");
        await Expect(page.GetByRole(AriaRole.Link, new() { Name = "Look at the timing of the heads" })).ToHaveAttributeAsync("href", "heads.html?bench=practice&aid=timing#timing");
        await Expect(page.Locator("#step-now")).ToContainTextAsync("tolerance", new() { Timeout = 30_000 });
        await page.GetByRole(AriaRole.Button, new() { Name = "Record this step" }).ClickAsync();
        await Expect(far).ToContainTextAsync("2 of 10 steps");

        // One by hand, marked so, and the others left out with a word why.
        await Expect(page.Locator("#step-title")).ToContainTextAsync("Guide penetration");
        await page.GetByLabel("Read", new() { Exact = true }).SelectOptionAsync("hand");
        await page.GetByLabel("In the end, ns").FillAsync("99");
        await page.GetByRole(AriaRole.Button, new() { Name = "Record this step" }).ClickAsync();
        await Expect(far).ToContainTextAsync("▲ 1 outside");
        for (int i = 4; i <= 10; i++)
        {
            await Expect(page.Locator("#step-title")).ToContainTextAsync($"Step {i} of 10");
            await page.GetByLabel("Note (needed where it is left out)").FillAsync("not on this tape");
            await page.GetByRole(AriaRole.Button, new() { Name = "Leave it out" }).ClickAsync();
            await Expect(far).ToContainTextAsync($"{i} of 10 steps");
        }

        JsonElement[] steps = [.. (await PassAsync(page)).GetProperty("steps").EnumerateArray()];
        Assert.Equal("rf-common", steps[0].GetProperty("readBy").GetString());
        Assert.InRange(steps[0].GetProperty("before").GetDouble() - steps[0].GetProperty("after").GetDouble(), -1, 1); // nobody turned anything on the rig
        Assert.Equal("scallop", steps[1].GetProperty("readBy").GetString());
        Assert.Equal(JsonValueKind.Null, steps[2].GetProperty("readBy").ValueKind);
        await page.Locator("#end-line-up").ClickAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("Let the tape run");
        JsonElement baselines = await _served.GetAsync("/api/v1/benches/practice/baselines");
        Assert.Contains("Ida Wren", baselines.GetRawText(), StringComparison.Ordinal);
    }

    /// <summary>The heads' RF still rises for a moment after the lock: two readings, more than one asking apart, have to agree.</summary>
    private static async Task SettledAsync(ILocator output)
    {
        long begin = TimeProvider.System.GetTimestamp();
        double last = double.NaN, now = await ReadAsync();
        while (!(Math.Abs(now - last) < 0.5))
        {
            Assert.True(TimeProvider.System.GetElapsedTime(begin) < TimeSpan.FromSeconds(40), $"it does not settle: {last} dB, then {now} dB");
            await Task.Delay(TimeSpan.FromSeconds(1.3), TimeProvider.System);
            (last, now) = (now, await ReadAsync());
        }

        async Task<double> ReadAsync() =>
            double.TryParse((await output.InnerTextAsync()).Replace('−', '-').Split(' ')[0], CultureInfo.InvariantCulture, out double read) ? read : double.NaN;
    }

    private async Task RunAsync(IPage page)
    {
        await page.Locator("#begin-run").ClickAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("The tape runs.");
        await Expect(page.Locator("#run-standard")).ToContainTextAsync(new Regex(@"● proved: The wheel turns (?:239\.[5-9]|240(?:\.[0-4])?) times a second", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(page.Locator("#run-basis")).ToContainTextAsync("by the time since the run began");
        await page.Locator("#pass-title").ClickAsync();
        await page.Keyboard.PressAsync("k");
        await Expect(page.Locator("#notes li")).ToHaveCountAsync(1);
        await Expect(page.Locator("#mark-said")).ToContainTextAsync("Mark set at 0:00:");

        // A k that is typed marks nothing.
        await page.GetByLabel("Words for a note").PressSequentiallyAsync("knock in the picture");
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#notes li").First).ToContainTextAsync("◦ Note");
        await Expect(page.Locator("#notes li")).ToHaveCountAsync(2);

        // The service goes: a mark set meanwhile waits with its instant, and is entered once the service is back.
        ServedBench former = _served;
        await StopAsync();
        await Expect(page.Locator("body")).ToHaveAttributeAsync("data-link", "lost");
        await page.Locator("#pass-title").ClickAsync();
        await page.Keyboard.PressAsync("k");
        await Expect(page.Locator("#unsent")).ToContainTextAsync("1 mark not sent yet");
        _bench = Start();
        _served = await ServedBench.StartAgainAsync(former, new WebSettings(), _bench);
        await Expect(page.Locator("#notes li")).ToHaveCountAsync(3, new() { Timeout = 40_000 });
        await Expect(page.Locator("#unsent")).ToBeHiddenAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("The tape runs.");
        JsonElement[] notes = [.. (await PassAsync(page)).GetProperty("notes").EnumerateArray()];
        Assert.Equal([true, false, true], notes.Select(n => n.GetProperty("mark").GetBoolean()));
        JsonElement late = notes[2].GetProperty("signed");
        Assert.True(string.CompareOrdinal(late.GetProperty("about").GetString(), late.GetProperty("entered").GetString()) < 0, late.GetRawText());
    }

    private async Task JudgeAsync(IPage page)
    {
        await page.Locator("#end-run").ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "End it", Exact = true }).ClickAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("give the verdict");
        await Expect(page.Locator("#items tr")).Not.ToHaveCountAsync(0);
        await Expect(page.Locator("#reasons li").Filter(new() { HasText = "checks-contradicted" })).ToHaveCountAsync(1);
        string csv = (await page.GetByRole(AriaRole.Link, new() { Name = "Sections to run again as CSV" }).GetAttributeAsync("href"))!;
        Assert.StartsWith("from", await _served.Client.GetStringAsync(new Uri(_served.Address, csv)), StringComparison.Ordinal);
        string rules = await page.Locator("#verdict").InputValueAsync();
        await page.Locator("#verdict").SelectOptionAsync("sound");
        await page.Locator("#give-verdict").ClickAsync();
        await Expect(page.Locator("#verdict-error .error")).ToHaveTextAsync("A verdict other than the rules come to needs a reason. Say why in 'note'.");
        await page.Locator("#verdict").SelectOptionAsync(rules);
        await page.Locator("#give-verdict").ClickAsync();
        await Expect(page.Locator("#given-by")).ToContainTextAsync("Given by Ida Wren (declared)");
        await CountersignAsync(page, "Ida Wren");
        await Expect(page.Locator("#ask-error")).ToContainTextAsync("somebody else has to countersign it");
        await page.Locator("#ask-cancel").ClickAsync();
        await CountersignAsync(page, "Tom Ashby");
        await Expect(page.Locator("#next")).ToHaveTextAsync("Done.");
        await Expect(page.Locator("#stage-papers")).ToHaveAttributeAsync("open", "");
        string report = (await page.GetByRole(AriaRole.Link, new() { Name = "Save the report (PDF)" }).GetAttributeAsync("href"))!;
        byte[] pdf = await _served.Client.GetByteArrayAsync(new Uri(_served.Address, report));
        Assert.Equal("%PDF"u8.ToArray(), pdf[..4]);
        await Expect(page.Locator("#papers-said")).ToContainTextAsync("a minute after the end of the run");

        // Another pass adds up; the first stays as it was.
        await page.Locator("#begin-pass").ClickAsync();
        await Expect(page.Locator("#passes li")).ToHaveCountAsync(2);
        await Expect(page.Locator("#next")).ToContainTextAsync("Pre-flight: Inspect the tape");
        await page.GetByRole(AriaRole.Link, new() { Name = "Pass 1", Exact = true }).ClickAsync();
        await Expect(page.Locator("#next")).ToHaveTextAsync("Done.");
    }

    private static async Task CountersignAsync(IPage page, string name)
    {
        await page.Locator("#countersign").ClickAsync();
        await page.GetByLabel("Name of the second person").FillAsync(name);
        await page.Keyboard.PressAsync("Enter");
    }

    private async Task<JsonElement> PassAsync(IPage page)
    {
        string transfer = System.Web.HttpUtility.ParseQueryString(new Uri(page.Url).Query)["transfer"]!;
        return (await _served.GetAsync($"/api/v1/benches/practice/transfers/{transfer}")).GetProperty("passes")[0];
    }

    private RunningBench Start() => RunningBench.Start(
        new RunningBenchOptions { BenchPath = Path.Combine(_folder, "bench.toml"), StoreFolder = Path.Combine(_folder, "store"), ProfileFolders = ProfileFolders.Default },
        NullLoggerFactory.Instance);

    private async Task StopAsync()
    {
        await _served.DisposeAsync();
        await _bench.DisposeAsync();
    }
}
