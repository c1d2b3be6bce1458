using System.Net;
using System.Text;
using System.Text.Json;
using DriftWatch.Running;
using DriftWatch.Web;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Tests.Web;

/// <summary>The page and API of benches on a loopback port that the system chooses.</summary>
public sealed class ServedBench : IAsyncDisposable
{
    private readonly WebApplication _app;

    private ServedBench(WebApplication app, string address)
    {
        _app = app;
        Address = new Uri(address);
        Client = new HttpClient { BaseAddress = Address };
    }

    public Uri Address { get; }

    public HttpClient Client { get; }

    public IServiceProvider Services => _app.Services;

    public static Task<ServedBench> StartAsync(WebSettings settings, params IBenchView[] benches) => StartAsync(settings, _ => { }, benches);

    /// <summary>As <paramref name="former"/>, which has ended, was: a service that comes back.</summary>
    public static Task<ServedBench> StartAgainAsync(ServedBench former, WebSettings settings, params IBenchView[] benches) => StartAsync(settings, _ => { }, former.Address.Port, benches);

    /// <param name="settings">The service's own settings.</param>
    /// <param name="more">What else is put into the host, such as a log that is kept.</param>
    /// <param name="benches">What it watches.</param>
    public static Task<ServedBench> StartAsync(WebSettings settings, Action<WebApplicationBuilder> more, params IBenchView[] benches) => StartAsync(settings, more, 0, benches);

    private static async Task<ServedBench> StartAsync(WebSettings settings, Action<WebApplicationBuilder> more, int port, IBenchView[] benches)
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.AddDriftWatchWeb(settings);
        more(builder);
        builder.WebHost.UseUrls($"http://127.0.0.1:{port}");
        WebApplication app = builder.Build();
        app.MapDriftWatch(benches);
        await app.StartAsync();
        string address = app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.Single();
        return new ServedBench(app, address);
    }

    public async Task<JsonElement> GetAsync(string path, HttpStatusCode expected = HttpStatusCode.OK)
    {
        using HttpResponseMessage response = await Client.GetAsync(new Uri(path, UriKind.Relative));
        return await ReadAsync(response, expected);
    }

    public async Task<JsonElement> PostAsync(string path, string json, HttpStatusCode expected = HttpStatusCode.OK)
    {
        using var content = new StringContent(json, Encoding.UTF8, "application/json");
        using HttpResponseMessage response = await Client.PostAsync(new Uri(path, UriKind.Relative), content);
        return await ReadAsync(response, expected);
    }

    public static async Task<JsonElement> ReadAsync(HttpResponseMessage response, HttpStatusCode expected)
    {
        string text = await response.Content.ReadAsStringAsync();
        if (response.StatusCode != expected)
        {
            throw new InvalidOperationException($"Expected {expected}, got {response.StatusCode}: {text}");
        }

        using JsonDocument document = JsonDocument.Parse(text);
        return document.RootElement.Clone();
    }

    public async ValueTask DisposeAsync()
    {
        Client.Dispose();
        await _app.StopAsync();
        await _app.DisposeAsync();
    }
}
