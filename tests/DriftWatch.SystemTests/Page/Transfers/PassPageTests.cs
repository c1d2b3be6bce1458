using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Web;
using DriftWatch.Tests.Web.Access;
using DriftWatch.Web;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>Book and passes as they are shown: at every width, in light, dark and forced colours, and to who only reads.</summary>
[Collection(BrowserCollection.Name)]
public sealed class PassPageTests(BrowserFixture fixture) : IAsyncLifetime, IDisposable
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private FakeBook? _book;
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        _bench.Bench = FakeBenchDefinition.Make("practice", quantities: [new QuantityDefinition { Id = "rf-common", Label = "RF of all heads", Kind = QuantityKind.RfCommon, Unit = "dB" }]);
        _bench.Tell("rf-common", -4.25);
        _book = new FakeBook(_bench);
        await KnownBook.WriteAsync(_book);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _book?.Dispose();

    [Fact]
    public async Task Book_and_passes_fit_in_every_look_and_axe_finds_nothing()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, "transfers.html"));
        IPage page = opened.Page;
        await Expect(page.Locator("#transfers .card")).ToHaveCountAsync(2);
        await Expect(page.Locator("#hand-said")).ToHaveTextAsync("In hand: pass 1 of MC-0118, being prepared.");
        await Expect(page.Locator("#bare li")).ToContainTextAsync("VT 1047");
        await Expect(page.Locator("#transfers .card").Nth(1)).ToContainTextAsync("Run again, by Ida Wren, countersigned by Tom Ashby");
        await page.Locator("#new-tape-box summary").ClickAsync();
        await opened.CheckLooksAsync("book");

        await page.Locator("#hand-open").ClickAsync();
        await Expect(page.Locator("#next")).ToContainTextAsync("Pre-flight: Carry and seat the reels");
        await Expect(page.Locator("#checks .item.next h4")).ToContainTextAsync("2. Carry and seat");
        await Expect(page.Locator("[data-key=setpoint] .proof")).ToContainTextAsync("Readings now ○ can’t tell");
        await page.EvaluateAsync("document.querySelector('#stage-line-up').open = true");
        await Expect(page.Locator("#step-now")).ToContainTextAsync("−4.3 dB");
        await page.Locator("#when-title").ClickAsync();
        await page.GetByLabel("Happened at").FillAsync("2026-01-15 08:50");
        await Expect(page.Locator("#when-title")).ToHaveTextAsync("◇ The next entry is dated 2026-01-15 08:50:00");
        await opened.CheckLooksAsync("in-hand");
        await page.EvaluateAsync("scrollTo(0, 1200)");
        await Expect(page.Locator("#when-title")).ToBeInViewportAsync(); // it stays in sight while it dates what is entered

        await page.GotoAsync(new Uri(_served.Address, $"transfers.html?bench=practice&transfer={KnownBook.Done}&pass=1").ToString());
        await Expect(page.Locator("#next")).ToHaveTextAsync("Done.");
        await page.EvaluateAsync("document.querySelectorAll('.stage').forEach(s => { s.open = true; })");
        await Expect(page.Locator("#given-by")).ToContainTextAsync("Given by Ida Wren (declared)");
        await Expect(page.Locator("#run-standard")).ToHaveTextAsync("Standard ○ can’t tell: No reading of the head wheel's speed: the standard was not checked.");
        await Expect(page.Locator("#sections tr")).ToHaveCountAsync(1);
        await Expect(page.Locator("#reasons li").First).ToBeVisibleAsync();
        await Expect(page.Locator("[data-key=head-hours] .signed")).ToContainTextAsync("▲ contradicted: 512 h of 500 h.");
        await Expect(page.Locator("#papers a").First).ToHaveAttributeAsync("href", $"/api/v1/benches/practice/transfers/{KnownBook.Done}/report.pdf?pass=1&zone=Europe%2FVienna");
        await opened.CheckLooksAsync("done");

        // What is over is only looked at: nothing of it can be signed, recorded, run or marked.
        await Expect(page.Locator("#checks .do:visible, #step-form:visible, #end-line-up:visible, #begin-run:visible, #mark:visible, #end-run:visible, #give-up:visible")).ToHaveCountAsync(0);
        await Expect(page.Locator("#begin-pass")).ToBeVisibleAsync();
    }

    [Fact]
    public async Task Another_tape_at_once_is_refused_in_the_service_s_own_words()
    {
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, $"transfers.html?transfer={KnownBook.Done}"));
        IPage page = opened.Page;
        await page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await page.Locator("#begin-pass").ClickAsync();
        await Expect(page.Locator("#pass-acts .error")).ToHaveTextAsync(
            "Pass 1 of tape MC-0118 is being prepared on this machine, and one machine takes one pass at a time. Take it through its run, or give it up.");
        await Expect(page.Locator("#begin-pass")).ToBeFocusedAsync();

        // A tape that comes back has another transfer; the first stays as it is.
        await page.GetByText("The tape as described").ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Open another transfer of this tape" }).ClickAsync();
        await Expect(page.Locator("#next")).ToHaveTextAsync("Begin its first pass.");
        await page.Locator("#back").ClickAsync();
        await Expect(page.Locator("#transfers .card").Filter(new() { HasText = "MC-0117" })).ToHaveCountAsync(2);
    }

    [Fact]
    public async Task Who_only_reads_sees_all_of_it_and_is_offered_nothing_to_do()
    {
        await using AccessScene scene = await AccessScene.StartAsync();
        using var book = new FakeBook(scene.Bench);
        await KnownBook.WriteAsync(book);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(scene.Served.Address, $"transfers.html?transfer={KnownBook.InHand}"));
        IPage page = opened.Page;
        await page.GetByLabel("Token").FillAsync(scene.Ben.Token);
        await page.Keyboard.PressAsync("Enter");
        await Expect(page.Locator("#who-is")).ToContainTextAsync("reader");
        await Expect(page.Locator("#checks .item")).ToHaveCountAsync(11);
        await Expect(page.Locator("#checks .item").First).ToContainTextAsync("Signed as done");
        await page.EvaluateAsync("document.querySelectorAll('.stage').forEach(s => { s.open = true; })");
        await Expect(page.Locator("#step-title")).ToContainTextAsync("Step 1 of");
        await Expect(page.Locator("#pass button:visible:not(.step)")).ToHaveCountAsync(0);
        await Expect(page.Locator("#pass input:visible, #pass select:visible")).ToHaveCountAsync(0);
    }
}
