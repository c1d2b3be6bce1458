using System.Globalization;
using System.Net;
using System.Net.Sockets;
using DriftWatch.SystemTests.Service;
using Microsoft.Playwright;
using Xunit;
using static Microsoft.Playwright.Assertions;

namespace DriftWatch.SystemTests.Page;

/// <summary>A real service that goes and comes back, and a network that does, under a page that stays open: said at once, caught up without a gap.</summary>
[Collection(BrowserCollection.Name)]
public sealed class RestartTests(BrowserFixture fixture) : IDisposable
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
