using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using DriftWatch.SystemTests.Service;
using DriftWatch.Tests.Support;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>
/// Ninety recorded minutes whose way a person writes down afterwards, in a browser, each entry dated by hand; and the same acts by command
/// line, under the same ids, on another copy of that store. Reports, proofs and lists have to be the same.
/// </summary>
[Collection(BrowserCollection.Name)]
public sealed partial class WrittenAfterwardsTests(BrowserFixture fixture) : IDisposable
{
    private const string Name = "sound-transfer";
    private const string Zone = "Europe/Vienna"; // of the browser: an hour ahead of UTC in January
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-afterwards-").FullName;
    private readonly List<(JsonElement Sent, JsonElement Answer)> _entries = [];

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Ninety_recorded_minutes_give_the_same_report_by_browser_and_by_command_line()
    {
        string recordings = Path.Combine(Checkout.Root, "replay-data", Name);
        string byPage = Path.Combine(_folder, "by-page", Name);
        await DoneAsync("import", Path.Combine(recordings, "recording.csv.gz"), "--store", byPage);
        string byCommands = Directory.CreateDirectory(Path.Combine(_folder, "by-commands", Name)).FullName;
        foreach (string file in Directory.EnumerateFiles(byPage).Where(f => !Path.GetFileName(f).StartsWith("writer.", StringComparison.Ordinal)))
        {
            File.Copy(file, Path.Combine(byCommands, Path.GetFileName(file)));
        }

        (string html, byte[] pdf) = await ByPageAsync(Path.Combine(recordings, "bench.toml"), Path.Combine(_folder, "by-page"));
        Assert.Equal(13, _entries.Count);
        foreach ((JsonElement sent, JsonElement answer) in _entries)
        {
            await DoneAsync([.. Command(sent, answer, byCommands)]);
        }

        string transfer = Text(_entries[1].Answer, "transfer");
        string[] papers = [Path.Combine(_folder, "r.html"), Path.Combine(_folder, "r.pdf")];
        await ReportedAsync(byCommands, transfer, papers[0], DateTimeOffset.Parse(Made().Match(html).Groups["at"].Value, CultureInfo.InvariantCulture));
        Assert.True(html.Length > 500_000 && html.Contains("MC-0117", StringComparison.Ordinal), "This is no report.");
        Assert.Equal(await File.ReadAllTextAsync(papers[0]), html);
        string served = Path.Combine(_folder, "served.pdf");
        await File.WriteAllBytesAsync(served, pdf);
        Keep(served, papers[0]);
        Assert.Contains("Harbour regatta", await PrintedAsync(served), StringComparison.Ordinal);
        string made = MadeInPrint().Match(System.Text.Encoding.Latin1.GetString(pdf)).Groups["at"].Value;
        await ReportedAsync(byCommands, transfer, papers[1], DateTimeOffset.ParseExact(made, "yyyyMMddHHmmss", CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal));
        Assert.True((await File.ReadAllBytesAsync(papers[1])).AsSpan().SequenceEqual(pdf), "The two PDFs differ.");

        // What readings proved, what is to be run again, and what the rules came to.
        foreach (string verb in new[] { "show", "review" })
        {
            string said = await DoneAsync("transfer", verb, byPage);
            Assert.Equal(await DoneAsync("transfer", verb, byCommands), said);
            Assert.Contains(verb == "show" ? "proved: When the wheel began to turn" : "1 section to run again", said, StringComparison.Ordinal);
        }
    }

    private async Task<(string Html, byte[] Pdf)> ByPageAsync(string bench, string store)
    {
        using ServiceProcess service = await ServiceProcess.WatchAsync(bench, store);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri($"http://127.0.0.1:{service.Port}/transfers.html"), 1280, 1000);
        IPage page = opened.Page;
        await page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await page.Locator("#when-title").ClickAsync();
        await RefusedAsync(page);
        await PrepareAsync(page);
        await opened.KeepAsync("afterwards.png");
        await RunAndJudgeAsync(page);
        await opened.KeepAsync("afterwards-done.png");
        string html = await PaperAsync(page, "Open the report").ContinueWith(p => System.Text.Encoding.UTF8.GetString(p.Result), TaskScheduler.Default);
        byte[] pdf = await PaperAsync(page, "Save the report (PDF)");
        Assert.All(opened.Mishaps, m => Assert.Contains("409", m, StringComparison.Ordinal)); // the one that was refused
        Assert.Equal(0, (await service.StopAsync()).Code);
        return (html, pdf);
    }

    /// <summary>What is still to come is refused, with a remedy, and stays to be corrected.</summary>
    private static async Task RefusedAsync(IPage page)
    {
        await page.Locator("#new-tape-box summary").ClickAsync();
        await page.GetByLabel("Happened at").FillAsync("2100-01-01 00:00");
        await page.GetByLabel("Identifier").FillAsync("MC-0117");
        await page.GetByRole(AriaRole.Button, new() { Name = "Write this tape down" }).ClickAsync();
        await Expect(page.Locator("#new-tape .error")).ToHaveTextAsync("An entry can't be about an instant that is still to come. Leave 'about' out for now, or give an instant that has been.");
        await Expect(page.GetByLabel("Happened at")).ToHaveValueAsync("2100-01-01 00:00");
        await page.GetByLabel("Happened at").FillAsync("yesterday");
        await page.GetByRole(AriaRole.Button, new() { Name = "Write this tape down" }).ClickAsync();
        await Expect(page.Locator("#new-tape .error")).ToContainTextAsync("Happened at: ‘yesterday’ is no day and time. Write it such as 20");
        await page.GetByRole(AriaRole.Button, new() { Name = "Now", Exact = true }).ClickAsync();
        await Expect(page.Locator("#when-said")).ToHaveTextAsync("Empty: what you enter happens now.");
    }

    private async Task PrepareAsync(IPage page)
    {
        await page.GetByLabel("Title").FillAsync("Harbour regatta");
        await page.GetByLabel("Band").SelectOptionAsync("high-band");
        await page.GetByLabel("Condition").FillAsync("two splices");
        await EnterAsync(page, "07:50:00", page.GetByRole(AriaRole.Button, new() { Name = "Write this tape down" }));
        await EnterAsync(page, "07:52:00", page.GetByRole(AriaRole.Button, new() { Name = "Open a transfer of MC-0117" }));
        await EnterAsync(page, "07:55:00", page.Locator("#begin-pass"));

        ILocator air = page.Locator("[data-key=air-before-wheel]");
        await air.Locator("summary").ClickAsync();
        await EnterAsync(page, "07:56:00", air.Locator("button.strong"));
        await Expect(air.Locator(".signed")).ToContainTextAsync("○ can’t tell"); // the recording begins at 08:00
        await air.Locator("summary").ClickAsync();
        await EnterAsync(page, "08:01:20", air.Locator("button.strong"));
        await Expect(air.Locator(".signed")).ToContainTextAsync("● proved: When the wheel began to turn at 2026-01-15T08:00:3");
        ILocator drained = page.Locator("[data-key=filter-drained]");
        await drained.Locator("summary").ClickAsync();
        await drained.GetByLabel("Note").FillAsync("The drain is stuck.");
        await EnterAsync(page, "08:01:25", drained.GetByRole(AriaRole.Button, new() { NameRegex = NotDone() }));

        await page.Locator("#stage-line-up > summary").ClickAsync();
        await page.GetByLabel("Read", new() { Exact = true }).SelectOptionAsync("hand");
        await page.GetByLabel("Before, dB").FillAsync("-3");
        await page.GetByLabel("In the end, dB").FillAsync("-0.4");
        await page.GetByLabel("What was turned").FillAsync("tracking, half a turn");
        await EnterAsync(page, "08:01:30", page.GetByRole(AriaRole.Button, new() { Name = "Record this step" }));
    }

    private async Task RunAndJudgeAsync(IPage page)
    {
        await DateAsync(page, "08:01:50");
        await page.Locator("#end-line-up").ClickAsync(); // nine steps are missing, and it asks
        await SentAsync(page, page.Locator("#ask-do"), "08:01:50");
        await Expect(page.Locator("#next")).ToContainTextAsync("Let the tape run");
        await EnterAsync(page, "08:02:10", page.Locator("#begin-run"));
        await Expect(page.Locator("#run-standard")).ToContainTextAsync("● proved: The wheel turns 2");
        await page.GetByLabel("Words for a note").FillAsync("splice");
        await EnterAsync(page, "08:11:40", page.Locator("#mark"));
        await Expect(page.Locator("#mark-said")).ToHaveTextAsync("Mark set at 0:09:30.0.");
        await DateAsync(page, "09:26:50");
        await page.Locator("#end-run").ClickAsync();
        await Expect(page.Locator("#ask-text")).ToContainTextAsync("The run ends as of 2026-01-15 10:26:50");
        await SentAsync(page, page.Locator("#ask-do"), "09:26:50");
        await Expect(page.Locator("#by-rules-word")).ToHaveTextAsync("By the rules: ◇ Sound with remarks");
        await EnterAsync(page, "09:40:00", page.Locator("#give-verdict"));
        await DateAsync(page, "09:45:00");
        await page.Locator("#countersign").ClickAsync();
        await page.GetByLabel("Name of the second person").FillAsync("Tom Ashby");
        await SentAsync(page, page.Locator("#ask-do"), "09:45:00");
        await Expect(page.Locator("#next")).ToHaveTextAsync("Done.");
    }

    private async Task EnterAsync(IPage page, string at, ILocator button)
    {
        await DateAsync(page, at);
        await SentAsync(page, button, at);
    }

    /// <summary>As a person writes it: by the clock on the wall, an hour ahead.</summary>
    private static async Task DateAsync(IPage page, string at)
    {
        string wall = TimeOnly.Parse(at, CultureInfo.InvariantCulture).AddHours(1).ToString("HH:mm:ss", CultureInfo.InvariantCulture);
        await page.GetByLabel("Happened at").FillAsync($"2026-01-15 {wall}");
        await Expect(page.Locator("#when-title")).ToHaveTextAsync($"◇ The next entry is dated 2026-01-15 {wall}");
        await Expect(page.Locator("#when-said")).ToContainTextAsync($"2026-01-15T{at}Z");
    }

    private async Task SentAsync(IPage page, ILocator button, string at)
    {
        IResponse answer = await page.RunAndWaitForResponseAsync(() => button.ClickAsync(), r => r.Url.EndsWith("/entries", StringComparison.Ordinal) && r.Request.Method == "POST");
        Assert.True(answer.Ok, await answer.TextAsync());
        JsonElement sent = JsonDocument.Parse(answer.Request.PostData!).RootElement;
        Assert.Equal($"2026-01-15T{at}.000Z", Text(sent, "about"));
        _entries.Add((sent, JsonDocument.Parse(await answer.BodyAsync()).RootElement));
        await Expect(page.GetByLabel("Happened at")).ToHaveValueAsync(""); // it dates one entry
    }

    private static async Task<byte[]> PaperAsync(IPage page, string name)
    {
        string href = (await page.GetByRole(AriaRole.Link, new() { Name = name, Exact = true }).GetAttributeAsync("href"))!;
        IAPIResponse answer = await page.APIRequest.GetAsync(new Uri(new Uri(page.Url), href).ToString());
        Assert.True(answer.Ok, answer.StatusText);
        return await answer.BodyAsync();
    }

    /// <summary>The same act by command line, under the ids that the page and the service gave it.</summary>
    private static List<string> Command(JsonElement sent, JsonElement answer, string store)
    {
        string kind = Text(sent, "kind");
        string verb = kind switch
        {
            "tape-described" => "tape", "transfer-opened" => "open", "pass-opened" => "pass", "check-signed" => "check", "line-up-step" => "step", "line-up-ended" => "lined-up",
            "run-began" => "begin", "run-ended" => "end", "note" => "note", "verdict-given" => "verdict", _ => "countersign",
        };
        List<string> words = ["transfer", verb, store];
        words.AddRange(verb is "check" or "step" ? [Text(sent, verb)] : []);
        words.AddRange(verb is "tape" or "open" ? ["--tape", Text(answer, "tape")] : []);
        words.AddRange(verb is "open" or "pass" ? ["--transfer", Text(answer, "transfer")] : []);
        words.AddRange(verb is "pass" ? ["--pass", Text(answer, "pass")] : []);
        foreach (JsonProperty field in sent.EnumerateObject().Where(f => f.Name is not ("kind" or "check" or "step" or "tape" or "transfer" or "pass" or "done")))
        {
            words.Add(field.Name == "speedInchesPerSecond" ? "--speed" : "--" + field.Name);
            if (field.Value.ValueKind != JsonValueKind.True)
            {
                words.Add(field.Value.ToString());
            }
        }

        return words;
    }

    private static async Task<string> DoneAsync(params string[] arguments)
    {
        (int code, string said) = await ServiceProcess.RunAsync(arguments);
        Assert.True(code == 0, $"{string.Join(' ', arguments)}: {said}");
        return said;
    }

    /// <summary>By command line at the instant at which the page had it made: then not a byte may differ.</summary>
    private async Task ReportedAsync(string store, string transfer, string paper, DateTimeOffset at)
    {
        (int code, string said) = await ServiceProcess.RunAsync(FakedClock.Standing(_folder, at), "report", store, "--transfer", transfer, "--zone", Zone, "--out", paper);
        Assert.True(code == 0, said);
    }

    private static async Task<string> PrintedAsync(string pdf)
    {
        using var process = Process.Start(new ProcessStartInfo("pdftotext", ["-layout", pdf, "-"]) { RedirectStandardOutput = true, UseShellExecute = false })!;
        string text = await process.StandardOutput.ReadToEndAsync();
        await process.WaitForExitAsync();
        Assert.Equal(0, process.ExitCode);
        return text;
    }

    private static void Keep(params string[] files)
    {
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            Array.ForEach(files, f => File.Copy(f, Path.Combine(folder, Path.GetFileName(f)), overwrite: true));
        }
    }

    private static string Text(JsonElement of, string field) => of.GetProperty(field).GetString()!;

    [GeneratedRegex("Made <time datetime=\"(?<at>[^\"]+)\">", RegexOptions.ExplicitCapture, 5000)]
    private static partial Regex Made();

    [GeneratedRegex("/CreationDate \\(D:(?<at>\\d{14})", RegexOptions.ExplicitCapture, 5000)]
    private static partial Regex MadeInPrint();

    [GeneratedRegex("^Not done", RegexOptions.None, 1000)]
    private static partial Regex NotDone();
}
