using System.Net;
using System.Text.Json;
using DriftWatch.Configuration;
using DriftWatch.Running;
using DriftWatch.Tests.Web.Access;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>Two people who sign in by the access file: one signs the pre-flight and judges, the other countersigns; page, book and report tell that both were signed in.</summary>
[Collection(BrowserCollection.Name)]
public sealed class SignedTransferTests(BrowserFixture fixture) : IDisposable
{
    private const string Root = "/api/v1/benches/practice/";
    private const string Transfer = "0190a6f0-0002-7000-8000-000000000001";
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-signed-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Who_signs_is_who_is_signed_in_and_the_report_says_how_each_is_known()
    {
        await using RunningBench bench = RunningBench.Start(
            new RunningBenchOptions
            {
                BenchPath = Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml"), StoreFolder = Path.Combine(_folder, "store"), ProfileFolders = ProfileFolders.Default,
            },
            NullLoggerFactory.Instance);
        await using AccessScene scene = await AccessScene.StartAsync(bench, "operator");
        const string tape = "0190a6f0-0001-7000-8000-000000000001";
        await EnterAsync(scene, $$"""{"kind":"tape-described","tape":"{{tape}}","identifier":"MC-0117","standard":"525/60","speedInchesPerSecond":15}""");
        await EnterAsync(scene, $$"""{"kind":"transfer-opened","tape":"{{tape}}","transfer":"{{Transfer}}"}""");
        await EnterAsync(scene, $$"""{"kind":"pass-opened","transfer":"{{Transfer}}"}""");

        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(scene.Served.Address, $"transfers.html?transfer={Transfer}"));
        IPage page = opened.Page;
        await SignInAsync(page, scene.Ida.Token, "Ida Wren");
        await page.Locator("#checks .item.next button.strong").FocusAsync();
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("[data-key=tape-inspected] .signed")).ToContainTextAsync("Signed as done: Ida Wren (signed in)");
        await EnterAsync(scene, """{"kind":"run-began"}""");
        await Expect(page.Locator("#next")).ToContainTextAsync("The tape runs.");
        await EnterAsync(scene, """{"kind":"run-ended"}""");
        await page.Locator("#give-verdict").ClickAsync();
        await Expect(page.Locator("#given-by")).ToContainTextAsync("Given by Ida Wren (signed in)");

        // No name can be written: who is signed in signs, and the verdict's giver is not its second person.
        await page.Locator("#countersign").ClickAsync();
        await Expect(page.GetByLabel("Name of the second person")).ToBeHiddenAsync();
        await page.Locator("#ask").GetByRole(AriaRole.Button, new() { Name = "Countersign", Exact = true }).ClickAsync();
        await Expect(page.Locator("#ask-error")).ToContainTextAsync("somebody else has to countersign it");
        await page.Locator("#ask-cancel").ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await SignInAsync(page, scene.Ben.Token, "Ben Moor"); // the door that opens by itself leads back to this transfer
        await page.Locator("#countersign").ClickAsync();
        await page.Locator("#ask").GetByRole(AriaRole.Button, new() { Name = "Countersign", Exact = true }).ClickAsync();
        await Expect(page.Locator("#given-second")).ToContainTextAsync("● Countersigned by Ben Moor (signed in)");
        await opened.KeepAsync("signed-in.png");

        using HttpResponseMessage report = await scene.SendAsync(HttpMethod.Get, $"{Root}transfers/{Transfer}/report.html", scene.Ben.Token);
        string text = await report.Content.ReadAsStringAsync();
        Assert.Equal(HttpStatusCode.OK, report.StatusCode);
        Assert.Contains("Given by Ida Wren (signed in).", text, StringComparison.Ordinal);
        Assert.Contains("Countersigned by Ben Moor (signed in).", text, StringComparison.Ordinal);
        Assert.Contains("Ida Wren (signed in), ", text, StringComparison.Ordinal); // beside the item of the pre-flight
        Assert.DoesNotContain("(declared)", text, StringComparison.Ordinal);
    }

    private static async Task SignInAsync(IPage page, string token, string name)
    {
        await page.GetByLabel("Token").FillAsync(token);
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#who-is")).ToContainTextAsync(name);
    }

    private static async Task EnterAsync(AccessScene scene, string json)
    {
        (HttpStatusCode status, JsonElement body) = await scene.AskAsync(HttpMethod.Post, Root + "entries", scene.Ida.Token, json);
        Assert.True(status == HttpStatusCode.OK, body.ToString());
    }
}
