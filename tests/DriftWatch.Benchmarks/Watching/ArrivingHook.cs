using System.Diagnostics;
using System.Threading.Channels;
using DriftWatch.Notices;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>A webhook in this process that stamps what arrives before it reads it.</summary>
internal sealed class ArrivingHook : IAsyncDisposable
{
    private readonly WebApplication _server;
    private readonly Channel<Arrival> _arrived = Channel.CreateUnbounded<Arrival>();

    private ArrivingHook(WebApplication server) => _server = server;

    public Uri Url => new(_server.Urls.First());

    public static async Task<ArrivingHook> StartAsync()
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseUrls("http://127.0.0.1:0");
        var hook = new ArrivingHook(builder.Build());
        hook._server.MapPost("/", async (HttpRequest request) =>
        {
            long stamp = Stopwatch.GetTimestamp();
            DateTimeOffset utc = TimeProvider.System.GetUtcNow();
            using var body = new MemoryStream();
            await request.Body.CopyToAsync(body);
            hook._arrived.Writer.TryWrite(new Arrival(stamp, utc, NoticeJson.Read(body.ToArray())));
            return Results.NoContent();
        });
        await hook._server.StartAsync();
        return hook;
    }

    public ValueTask<Arrival> NextAsync(CancellationToken cancel = default) => _arrived.Reader.ReadAsync(cancel);

    public ValueTask DisposeAsync() => _server.DisposeAsync();

    internal sealed record Arrival(long Stamp, DateTimeOffset Utc, AlarmNotice Notice);
}
