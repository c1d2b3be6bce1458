using System.Text.RegularExpressions;
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

    /// <summary>A counter that counts milliseconds is told in its place, and goes on by the time since its last reading once it is silent.</summary>
    [Fact]
    public async Task The_place_of_a_run_is_the_counter_s_in_its_unit_and_goes_on_where_it_is_silent()
    {
        await using OpenedPage opened = await RunningAsync();
        IPage page = opened.Page;
        await Expect(page.Locator("#run-place")).ToHaveTextAsync(new Regex("^0:30:0[01]$", RegexOptions.None, TimeSpan.FromSeconds(1)));
        await Expect(page.Locator("#run-basis")).ToHaveTextAsync("by the machine’s counter");
        _bench.Silence("tape-counter");
        await Expect(page.Locator("#run-basis")).ToHaveTextAsync("by the counter’s last reading and the time since: it has been silent for more than 5 s", new() { Timeout = 20_000 });
        await Expect(page.Locator("#run-place")).ToHaveTextAsync(new Regex("^0:30:(?:0[5-9]|1)", RegexOptions.None, TimeSpan.FromSeconds(1))); // by the time since the run began it would be in its first minute
        await opened.KeepAsync("run-silent.png");
    }

    /// <summary>An answer that passes is no refusal: the mark waits, is told, and is entered with its own instant later.</summary>
    [Fact]
    public async Task A_mark_that_comes_too_soon_waits_and_is_sent_again()
    {
        await using OpenedPage opened = await RunningAsync();
        IPage page = opened.Page;
        int[] passing = [403, 408, 425, 429];
        int sent = 0;
        await page.RouteAsync("**/entries", route => sent++ < passing.Length
            ? route.FulfillAsync(new() { Status = passing[sent - 1], ContentType = "application/problem+json", Body = "{\"detail\":\"Too many at once.\"}" })
            : route.ContinueAsync());
        await page.Locator("#pass-title").ClickAsync();
        await page.Keyboard.PressAsync("k");
        await Expect(page.Locator("#unsent")).ToContainTextAsync("✕ 1 mark not sent yet, at 0:30:0");
        await Expect(page.Locator("#unsent")).ToContainTextAsync("Too many at once. The page sends again by itself.");
        await Expect(page.Locator("#mark-said")).Not.ToContainTextAsync("was not entered");
        await Expect(page.Locator("#notes li")).ToHaveCountAsync(1, new() { Timeout = 40_000 });
        await Expect(page.Locator("#unsent")).ToBeHiddenAsync();
        Assert.Equal(passing.Length + 1, sent);
    }

    /// <summary>The pass in hand with its tape running since just now, on a bench whose counter counts milliseconds and stands at half an hour.</summary>
    private async Task<OpenedPage> RunningAsync()
    {
        _bench.Bench = _bench.Bench with
        {
            Channels = [.. _bench.Bench.Channels, FakeBenchDefinition.Series(90, "tape-counter", "Tape counter", ChannelRole.TapeCounter, "ms")],
        };
        _bench.Hold("tape-counter", 30 * 60_000);
        await _book!.EnterAsync(new() { Kind = "run-began" });
        OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, new Uri(_served.Address, $"transfers.html?transfer={KnownBook.InHand}"));
        await opened.Page.EvaluateAsync("localStorage.setItem('driftwatch.name', 'Ida Wren')");
        await Expect(opened.Page.Locator("#next")).ToContainTextAsync("The tape runs.");
        return opened;
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
