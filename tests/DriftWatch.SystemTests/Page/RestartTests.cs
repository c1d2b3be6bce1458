using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text.RegularExpressions;
using DriftWatch.SystemTests.Service;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>A real service that goes and comes back, and a network that does, under a page that stays open: said at once, caught up without a gap.</summary>
[Collection(BrowserCollection.Name)]
public sealed partial class RestartTests(BrowserFixture fixture) : IDisposable
{
    private static readonly string Bench = Path.Combine(AppContext.BaseDirectory, "device-profiles", "practice-rig", "bench.toml");
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-restart-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    /// <summary>The service is killed behind a relay that then leads to its successor: the address of the page stays.</summary>
    [Fact]
    public async Task A_service_that_was_killed_and_started_again_goes_on_under_the_open_page()
    {
        using ServiceProcess first = await ServiceProcess.WatchAsync(Bench, _folder);
        await using var relay = new Relay(first.Port);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, relay.Address);
        await ExpectTalkAsync(opened.Page);
        await MarkAsync(first, "before it was killed");
        await ExpectOnceAsync(opened.Page, "before it was killed");

        first.KillHard();
        await ExpectLostAsync(opened.Page);
        using ServiceProcess second = await ServiceProcess.WatchAsync(Bench, _folder);
        await MarkAsync(second, "nobody saw it");
        relay.Target = second.Port;
        await ExpectTalkAsync(opened.Page);
        await ExpectOnceAsync(opened.Page, "nobody saw it");
        await ExpectOnceAsync(opened.Page, "before it was killed");
    }

    [Fact]
    public async Task What_happened_while_the_network_was_away_stands_on_the_page_once_it_is_back()
    {
        using ServiceProcess service = await ServiceProcess.WatchAsync(Bench, _folder);
        await using var relay = new Relay(service.Port);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, relay.Address);
        await ExpectTalkAsync(opened.Page);

        relay.Cut();
        await ExpectLostAsync(opened.Page);
        await MarkAsync(service, "nobody saw it");
        relay.Mend();
        await ExpectTalkAsync(opened.Page);
        await ExpectOnceAsync(opened.Page, "nobody saw it");

        // The service measured all the while: the line has what the page did not hear, but for the bucket that was half full.
        await opened.Page.WaitForFunctionAsync("() => Number(document.querySelector('.strip[data-channel=regulated-air]').dataset.gapSeconds) <= 2");
    }

    /// <summary>The night that follows the clock: what came while the network was away is read, lanes and list, once it is back.</summary>
    [Fact]
    public async Task A_night_that_follows_now_says_at_once_that_the_network_went_and_has_no_gap_once_it_is_back()
    {
        using ServiceProcess service = await ServiceProcess.WatchAsync(Bench, _folder);
        await using var relay = new Relay(service.Port);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, FollowingNight(relay.Address));
        IPage page = opened.Page;
        await ExpectTalkAtNightAsync(page);

        relay.Cut();
        DateTimeOffset cut = TimeProvider.System.GetUtcNow();
        await ExpectLostAtNightAsync(page);
        await MarkAsync(service, "nobody saw it");
        await Task.Delay(TimeSpan.FromSeconds(6), TimeProvider.System);
        DateTimeOffset mended = TimeProvider.System.GetUtcNow();
        relay.Mend();
        await ExpectTalkAtNightAsync(page);
        await ExpectOnceAtNightAsync(page, "nobody saw it");
        await page.GetByRole(AriaRole.Button, new() { Name = "Follow now" }).ClickAsync(); // so that what is pointed at stays where it is
        await ExpectShowsAsync(page, mended);
        for (DateTimeOffset at = cut; at < mended; at += TimeSpan.FromSeconds(1))
        {
            await Expect(await PointAtAsync(page, at)).ToHaveTextAsync(Psi());
        }
    }

    [Fact]
    public async Task A_night_goes_on_after_the_service_was_killed_and_does_not_fill_what_nobody_measured()
    {
        using ServiceProcess first = await ServiceProcess.WatchAsync(Bench, _folder);
        await using var relay = new Relay(first.Port);
        await using OpenedPage opened = await OpenedPage.OpenAsync(fixture.Browser, FollowingNight(relay.Address));
        IPage page = opened.Page;
        await ExpectTalkAtNightAsync(page);
        await MarkAsync(first, "before it was killed");
        await ExpectOnceAtNightAsync(page, "before it was killed");

        first.KillHard();
        DateTimeOffset killed = TimeProvider.System.GetUtcNow();
        await ExpectLostAtNightAsync(page);
        await Task.Delay(TimeSpan.FromSeconds(6), TimeProvider.System);
        using ServiceProcess second = await ServiceProcess.WatchAsync(Bench, _folder);
        await MarkAsync(second, "nobody saw it");
        relay.Target = second.Port;
        await ExpectTalkAtNightAsync(page);
        await ExpectOnceAtNightAsync(page, "nobody saw it");
        await ExpectOnceAtNightAsync(page, "before it was killed");
        DateTimeOffset back = TimeProvider.System.GetUtcNow();
        await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
        await page.GetByRole(AriaRole.Button, new() { Name = "Follow now" }).ClickAsync();
        await ExpectShowsAsync(page, back);
        await Expect(await PointAtAsync(page, killed + TimeSpan.FromSeconds(4))).ToHaveTextAsync("no reading");
        await Expect(await PointAtAsync(page, back)).ToHaveTextAsync(Psi());
    }

    /// <summary>Ten minutes that end now, one lane: a column is under a second.</summary>
    private static Uri FollowingNight(Uri address)
    {
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        return new Uri(address, FormattableString.Invariant($"night.html?live=1&channels=regulated-air&from={now.AddMinutes(-10):yyyy-MM-ddTHH:mm:ssZ}&to={now:yyyy-MM-ddTHH:mm:ssZ}"));
    }

    private static async Task ExpectTalkAtNightAsync(IPage page)
    {
        await Expect(page.Locator("body")).ToHaveAttributeAsync("data-link", "up", new() { Timeout = 30_000 });
        await Expect(page.Locator("#lost")).ToBeHiddenAsync();
        await Expect(page.Locator("#verdict")).ToHaveTextAsync(Verdict());
    }

    private static async Task ExpectLostAtNightAsync(IPage page)
    {
        await Expect(page.Locator("#lost")).ToContainTextAsync("Connection lost at", new() { Timeout = 6_000 });
        await Expect(page.Locator("#verdict")).ToHaveTextAsync("Can’t be told: the connection is lost.");
    }

    private static async Task ExpectOnceAtNightAsync(IPage page, string note) =>
        await Expect(page.Locator("#list").GetByText(note)).ToHaveCountAsync(1, new() { Timeout = 15_000 });

    /// <summary>The columns on the screen are of the span on the screen, and it reaches over an instant.</summary>
    private static Task<IJSHandle> ExpectShowsAsync(IPage page, DateTimeOffset at) => page.WaitForFunctionAsync(
        "at => { const [, to] = document.body.dataset.columns.split('-').map(Number); return to >= at; }", at.ToUnixTimeMilliseconds());

    /// <summary>The value of the lane where the mouse points at an instant.</summary>
    private static async Task<ILocator> PointAtAsync(IPage page, DateTimeOffset at)
    {
        double[] place = await page.EvaluateAsync<double[]>(
            """
            async at => {
              const { drawn } = await import('./chart.js');
              const [from, to] = document.body.dataset.columns.split('-').map(Number);
              const { left, top, width, height } = document.querySelector('.strip .plot').getBoundingClientRect();
              return [left + (at - from) / (to - from) * (width - drawn.axis), top + height / 2];
            }
            """,
            at.ToUnixTimeMilliseconds());
        await page.Mouse.MoveAsync((float)place[0], (float)place[1]);
        await Expect(page.Locator("#cursor-time")).Not.ToBeEmptyAsync();
        return page.Locator(".strip[data-channel=regulated-air] .value");
    }

    /// <summary>Whatever it is, it was told.</summary>
    [GeneratedRegex("^(?:Sound|Not sound|No alarm)", RegexOptions.None, 1000)]
    private static partial Regex Verdict();

    [GeneratedRegex(@"^\d+\.\d\d psi$", RegexOptions.None, 1000)]
    private static partial Regex Psi();

    private static async Task MarkAsync(ServiceProcess service, string note)
    {
        string bench = (await service.GetAsync("/api/v1/benches")).GetProperty("items")[0].GetProperty("id").GetString()!;
        await service.ActAsync(bench, "mark", new { by = "Ida Wren", note });
    }

    private static async Task ExpectTalkAsync(IPage page)
    {
        await Expect(page.Locator("body")).ToHaveAttributeAsync("data-link", "up", new() { Timeout = 30_000 });
        await Expect(page.Locator("#lost")).ToBeHiddenAsync();
        await Expect(page.Locator("#state-word")).Not.ToHaveTextAsync("State not known");
        await Expect(page.Locator(".strip[data-mood=stale]")).ToHaveCountAsync(0, new() { Timeout = 30_000 });
    }

    /// <summary>At once: a beat comes each second, and the third that does not is said.</summary>
    private static async Task ExpectLostAsync(IPage page)
    {
        await Expect(page.Locator("#lost")).ToContainTextAsync("Connection lost at", new() { Timeout = 6_000 });
        await Expect(page.Locator("#state-word")).ToHaveTextAsync("State not known");
        await Expect(page.Locator("#lines")).ToHaveTextAsync("not known: connection lost");
        await Expect(page.Locator(".strip[data-mood=steady]")).ToHaveCountAsync(0, new() { Timeout = 15_000 });
    }

    private static async Task ExpectOnceAsync(IPage page, string note) =>
        await Expect(page.Locator("#recent").GetByText(note)).ToHaveCountAsync(1, new() { Timeout = 15_000 });

    /// <summary>The network between page and service: a port that stays while what is behind it goes.</summary>
    private sealed class Relay : IAsyncDisposable
    {
        private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
        private readonly Lock _gate = new();
        private readonly List<TcpClient> _open = [];
        private readonly Task _accepting;
        private volatile bool _isCut;

        public Relay(int target)
        {
            Target = target;
            _listener.Start();
            Address = new Uri($"http://127.0.0.1:{((IPEndPoint)_listener.LocalEndpoint).Port.ToString(CultureInfo.InvariantCulture)}/");
            _accepting = AcceptAsync();
        }

        public Uri Address { get; }

        public int Target { get; set; }

        public void Cut()
        {
            _isCut = true;
            CloseAll();
        }

        public void Mend() => _isCut = false;

        public async ValueTask DisposeAsync()
        {
            _listener.Stop();
            CloseAll();
            await _accepting;
            _listener.Dispose();
        }

        private void CloseAll()
        {
            lock (_gate)
            {
                _open.ForEach(client => client.Dispose());
                _open.Clear();
            }
        }

        private async Task AcceptAsync()
        {
            while (true)
            {
                try
                {
                    _ = JoinAsync(await _listener.AcceptTcpClientAsync());
                }
                catch (Exception exception) when (exception is SocketException or ObjectDisposedException)
                {
                    return;
                }
            }
        }

        private async Task JoinAsync(TcpClient near)
        {
            using (near)
            {
                if (_isCut)
                {
                    return;
                }

                using var far = new TcpClient();
                lock (_gate)
                {
                    _open.AddRange([near, far]);
                }

                try
                {
                    await far.ConnectAsync(IPAddress.Loopback, Target);
                    await Task.WhenAny(near.GetStream().CopyToAsync(far.GetStream()), far.GetStream().CopyToAsync(near.GetStream()));
                }
                catch (Exception exception) when (exception is IOException or SocketException or ObjectDisposedException or InvalidOperationException)
                {
                    // It was cut, or nobody is there: the page sees a connection that ends.
                }
            }
        }
    }
}
