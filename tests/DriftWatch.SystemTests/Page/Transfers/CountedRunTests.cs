using System.Globalization;
using System.Text.Json;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.SystemTests.Lines;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>
/// Places on the tape by a channel that counts, from its line to the page: a counter or a timecode beside the practice rig. The rig's tape
/// runs for its line-up, stands, runs and stands again, so that a run begins and ends by the machine's state with nobody there.
/// </summary>
[Collection(BrowserCollection.Name)]
public sealed class CountedRunTests(BrowserFixture fixture) : IAsyncLifetime, IDisposable
{
    private const string Script = """
        title  Tape that runs for the line-up, stands, runs for keeps and stands
        length 1:00:00
        nuisances off
        at 0:01 air on
        at 0:02 wheel on
        at 0:04 thread
        at 0:05 run
        at 0:22 stop
        at 0:27 run
        at 0:37 stop
        """;

    private static readonly Guid Transfer = Guid.Parse("0190a6f0-0002-7000-8000-000000000001");
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-counted-").FullName;
    private Companion? _wire;
    private Companion? _emitter;
    private RunningBench? _bench;
    private ServedBench? _served;

    private string Port => Path.Combine(_folder, "port");

    private string Log => Path.Combine(_folder, "began.log");

    public async Task InitializeAsync()
    {
        _wire = await Companion.Wire(Port, Port + "-far");
        _emitter = await Companion.ServiceScript("counter_emitter.py", Port + "-far", Log);
    }

    public async Task DisposeAsync()
    {
        if (_served is not null)
        {
            await _served.DisposeAsync();
        }

        if (_bench is not null)
        {
            await _bench.DisposeAsync();
        }
    }

    public void Dispose()
    {
        _emitter?.Dispose();
        _wire?.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task A_run_begins_and_ends_by_the_machine_s_state_and_its_places_are_the_counter_s()
    {
        await StartAsync(seconds: 1, "tape-counter");
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await Expect(page.Locator("#state-word")).ToHaveTextAsync("Locked"); // the line-up is of a tape that runs
        await EnterAsync("line-up-ended");
        await Expect(page.Locator("#next")).ToContainTextAsync("Let the tape run");
        await Expect(page.Locator("#next")).ToContainTextAsync("The tape runs.", new() { Timeout = 40_000 });
        await Expect(page.Locator("#run-began")).ToContainTextAsync("Began by the machine’s state: by itself");
        await Expect(page.Locator("#run-basis")).ToHaveTextAsync("by the machine’s counter");
        await MarkAsync(page);
        await Expect(page.Locator("#next")).ToContainTextAsync("give the verdict", new() { Timeout = 40_000 });
        await Expect(page.Locator("#run-began")).ToContainTextAsync("Ended: by itself");
        await Expect(page.Locator("#run-basis")).ToHaveTextAsync("by the machine’s counter");

        (JsonElement run, JsonElement mark) = await ReadAsync();
        Assert.Equal(("state", "automatic", "counter", "tape-counter"), (Text(run, "beganBy"), Text(run.GetProperty("ended"), "identity"), Text(run, "basis"), Text(run, "channel")));
        Held(mark, beginsAt: 90, "counter");
        Assert.Empty(opened.Mishaps);
    }

    [Fact]
    public async Task By_hand_a_timecode_tells_the_places_where_there_is_one()
    {
        await StartAsync(seconds: 300, "tape-counter", "timecode"); // tape that stands ends no run meanwhile
        await using OpenedPage opened = await OpenAsync();
        IPage page = opened.Page;
        await Expect(page.Locator("#next")).ToContainTextAsync("Pre-flight"); // the pass is shown, at its own stage
        await page.Locator("#stage-run").EvaluateAsync("stage => { stage.open = true; }");
        await Expect(page.Locator("#run-start")).ToBeHiddenAsync(); // nobody is asked what a channel tells
        await page.Locator("#begin-run").ClickAsync();
        await Expect(page.Locator("#run-basis")).ToHaveTextAsync("by recorded timecode");
        await Expect(page.Locator("#run-place")).ToContainTextAsync("1:00:");
        await MarkAsync(page);
        await EnterAsync("run-ended");
        (JsonElement run, JsonElement mark) = await ReadAsync();
        Assert.Equal(("hand", "timecode", "timecode"), (Text(run, "beganBy"), Text(run, "basis"), Text(run, "channel")));
        Held(mark, beginsAt: 3600, "timecode");
    }

    private static async Task MarkAsync(IPage page)
    {
        await page.Locator("#pass-title").ClickAsync();
        await page.Keyboard.PressAsync("k");
        await Expect(page.Locator("#notes li")).ToHaveCountAsync(1);
    }

    /// <summary>The mark lies where the line counted at its instant, by the emitter's own clock.</summary>
    private void Held(JsonElement mark, double beginsAt, string basis)
    {
        Assert.True(UtcText.TryParse(Text(mark, "from"), out long utc));
        double began = double.Parse(File.ReadAllText(Log), CultureInfo.InvariantCulture);
        Assert.Equal(basis, Text(mark, "basis"));
        Assert.Equal(beginsAt + (utc / 1e9) - began, mark.GetProperty("fromSeconds").GetDouble(), 0.5);
    }

    private async Task<(JsonElement Run, JsonElement Mark)> ReadAsync()
    {
        JsonElement pass = (await _served!.GetAsync($"/api/v1/benches/practice/transfers/{Transfer}")).GetProperty("passes")[0];
        JsonElement review = await _served.GetAsync($"/api/v1/benches/practice/transfers/{Transfer}/passes/{Text(pass, "id")}/review");
        return (pass.GetProperty("run"), review.GetProperty("items").EnumerateArray().Single(i => Text(i, "kind") == "mark"));
    }

    /// <param name="seconds">For so long tape runs before a run begins, and stands before it ends.</param>
    /// <param name="counters">Channels that count.</param>
    private async Task StartAsync(int seconds, params string[] counters)
    {
        string rig = await File.ReadAllTextAsync(Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml"));
        string rules = await File.ReadAllTextAsync(Path.Combine(Checkout.Root, "src", "DriftWatch", "Configuration", "procedures", "verdict.toml"));
        Directory.CreateDirectory(Path.Combine(_folder, "counting-line"));
        await File.WriteAllTextAsync(Path.Combine(_folder, "counting-line", "profile.toml"), """
            [instrument]
            name = "counting-line"
            title = "Counting line of the tests"
            protocol = "lines"

            [lines]
            delimiter = ","
            sequence = true
            checksum = "crc16"
            fields = 2

            [[input]]
            name = "tape-counter"
            unit = "s"
            field = 1

            [[input]]
            name = "timecode"
            unit = "s"
            field = 2
            """);
        await File.WriteAllTextAsync(Path.Combine(_folder, "stands.rig"), Script);
        await File.WriteAllTextAsync(
            Path.Combine(_folder, "verdict.toml"),
            rules.Replace("begins-after = \"20 s\"", $"begins-after = \"{seconds} s\"", StringComparison.Ordinal).Replace("ends-after = \"30 s\"", $"ends-after = \"{seconds} s\"", StringComparison.Ordinal));
        await File.WriteAllTextAsync(Path.Combine(_folder, "bench.toml"), rig.Replace("{ seed = 1 }", "{ seed = 1, script = \"stands.rig\" }", StringComparison.Ordinal) + $$"""


            [transfers]
            verdict-rules = "verdict.toml"

            [[instrument]]
            id = "counting"
            profile = "counting-line"
            serial = { port = "{{Port}}", baud = 115200 }
            """ + string.Concat(counters.Select(c => $"\n\n[[channel]]\nid = \"{c}\"\nlabel = \"{c}\"\nrole = \"{c}\"\nunit = \"s\"\ninstrument = \"counting\"\ninput = \"{c}\"\nperiod = \"100 ms\"\n")));
        _bench = RunningBench.Start(
            new RunningBenchOptions { BenchPath = Path.Combine(_folder, "bench.toml"), StoreFolder = Path.Combine(_folder, "store"), ProfileFolders = ProfileFolders.Default }, NullLoggerFactory.Instance);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
        const string tape = "0190a6f0-0001-7000-8000-000000000001";
        await EnterAsync("tape-described", ("tape", tape), ("identifier", "MC-0117"), ("standard", "525/60"), ("speedInchesPerSecond", 15.0));
        await EnterAsync("transfer-opened", ("tape", tape), ("transfer", Transfer));
        await EnterAsync("pass-opened", ("transfer", Transfer));
    }

    private async Task EnterAsync(string kind, params (string Key, object Value)[] fields)
    {
        var body = new Dictionary<string, object>(fields.ToDictionary(f => f.Key, f => f.Value)) { ["kind"] = kind, ["by"] = "Ida Wren" };
        using var content = new StringContent(JsonSerializer.Serialize(body), System.Text.Encoding.UTF8, "application/json");
        using HttpResponseMessage answer = await _served!.Client.PostAsync("/api/v1/benches/practice/entries", content);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
    }

    private async Task<OpenedPage> OpenAsync()
    {
        OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served!.Address, $"transfers.html?transfer={Transfer}"));
        await opened.Page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        return opened;
    }

    private static string Text(JsonElement of, string field) => of.GetProperty(field).GetString()!;
}
