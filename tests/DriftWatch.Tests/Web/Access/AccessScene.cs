using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using DriftWatch.Running;
using DriftWatch.Web;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Tests.Web.Access;

/// <summary>
/// A served bench with an access file: Ida Wren acts, Ben Moor reads. Requests come from another machine, as a filter before everything says, unless
/// a header of the test says from where.
/// </summary>
public sealed class AccessScene : IAsyncDisposable
{
    public const string FromHeader = "X-Test-From";
    public const string Elsewhere = "192.0.2.7";
    private const int QuickRounds = 100_000; // the fewest that are taken: the tests wait for each

    private readonly ConcurrentQueue<string> _log = new();

    private AccessScene(string folder) => Folder = folder;

    public string Folder { get; }

    public string AccessPath => Path.Combine(Folder, "access.toml");

    public FakeBench Bench { get; } = new(TimeProvider.System);

    public ServedBench Served { get; private set; } = null!;

    /// <summary>Keeps no cookies: each test sends its own.</summary>
    private HttpClient Client { get; set; } = null!;

    public (string Id, string Token) Ida { get; } = Tokens.Make();

    public (string Id, string Token) Ben { get; } = Tokens.Make();

    /// <summary>Every line of the log, with its event's number and all it carries.</summary>
    public IReadOnlyList<string> Log => [.. _log];

    /// <param name="proxy">More of the access file, such as [proxy].</param>
    /// <param name="isNear">Whether requests come from this machine instead.</param>
    /// <param name="hosts">Names it may be asked by.</param>
    public static Task<AccessScene> StartAsync(string proxy = "", bool isNear = false, params string[] hosts) => StartAsync(null, "reader", proxy, isNear, hosts);

    /// <summary>The same before a bench of the test's own, with a role of the test's choice for Ben Moor.</summary>
    internal static Task<AccessScene> StartAsync(IBenchView bench, string bensRole) => StartAsync(bench, bensRole, "", isNear: false, []);

    private static async Task<AccessScene> StartAsync(IBenchView? bench, string bensRole, string proxy, bool isNear, string[] hosts)
    {
        var scene = new AccessScene(Directory.CreateTempSubdirectory("driftwatch-access-").FullName);
        scene.Write(scene.IdasEntry() + Entry("Ben Moor", bensRole, scene.Ben) + proxy);
        scene.Served = await ServedBench.StartAsync(
            new WebSettings { AccessFile = scene.AccessPath, AllowedHosts = hosts },
            builder =>
            {
                builder.Logging.AddProvider(new KeptLog(scene._log)).SetMinimumLevel(LogLevel.Trace);
                builder.Services.AddSingleton<IStartupFilter>(new From(isNear ? IPAddress.Loopback : IPAddress.Parse(Elsewhere)));
            },
            bench ?? scene.Bench);
        scene.Client = new HttpClient(new SocketsHttpHandler { UseCookies = false }) { BaseAddress = scene.Served.Address };
        return scene;
    }

    public string IdasEntry() => Entry("Ida Wren", "operator", Ida);

    public string BensEntry() => Entry("Ben Moor", "reader", Ben);

    public void Write(string text)
    {
        File.WriteAllText(AccessPath, text);
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(AccessPath, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        }
    }

    /// <summary>One request, as a program sends it.</summary>
    public async Task<HttpResponseMessage> SendAsync(HttpMethod method, string path, string? token = null, string? json = null, params (string Name, string Value)[] headers)
    {
        List<(string, string)> all = [.. headers];
        if (token is not null)
        {
            all.Add(("Authorization", "Bearer " + token));
        }

        return await SendAsync(method, path, json is null ? null : new StringContent(json, Encoding.UTF8, "application/json"), [.. all]);
    }

    /// <summary>The same with a body of any kind.</summary>
    public async Task<HttpResponseMessage> SendAsync(HttpMethod method, string path, HttpContent? content, params (string Name, string Value)[] headers)
    {
        using var request = new HttpRequestMessage(method, path) { Content = content };
        foreach ((string name, string value) in headers)
        {
            request.Headers.TryAddWithoutValidation(name, value);
        }

        return await Client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead);
    }

    /// <summary>The same, read to its end.</summary>
    public async Task<(HttpStatusCode Status, JsonElement Body)> AskAsync(
        HttpMethod method, string path, string? token = null, string? json = null, params (string Name, string Value)[] headers)
    {
        using HttpResponseMessage response = await SendAsync(method, path, token, json, headers);
        string text = await response.Content.ReadAsStringAsync();
        return (response.StatusCode, text.Length > 0 ? JsonDocument.Parse(text).RootElement.Clone() : default);
    }

    /// <summary>Signs in as a browser does and gives the whole Set-Cookie, and the part that is sent back.</summary>
    public async Task<(string SetCookie, string Cookie)> SignInAsync(string token, params (string Name, string Value)[] headers)
    {
        using HttpResponseMessage response = await SendAsync(HttpMethod.Post, "/api/v1/session", token: null, json: $$"""{"token":"{{token}}"}""", headers);
        response.EnsureSuccessStatusCode();
        string set = response.Headers.GetValues("Set-Cookie").Single();
        return (set, set[..set.IndexOf(';', StringComparison.Ordinal)]);
    }

    public async ValueTask DisposeAsync()
    {
        Client.Dispose();
        await Served.DisposeAsync();
        Directory.Delete(Folder, recursive: true);
    }

    private static string Entry(string name, string role, (string Id, string Token) made) => $"""
        [[person]]
        name = "{name}"
        role = "{role}"
        token-id = "{made.Id}"
        token-hash = "{TokenHash.Of(made.Token, QuickRounds)}"

        """;

    private sealed class From(IPAddress otherwise) : IStartupFilter
    {
        public Action<IApplicationBuilder> Configure(Action<IApplicationBuilder> next) => app =>
        {
            app.Use((context, following) =>
            {
                string said = context.Request.Headers[FromHeader].ToString();
                context.Connection.RemoteIpAddress = said.Length > 0 ? IPAddress.Parse(said) : otherwise;
                return following(context);
            });
            next(app);
        };
    }

    private sealed class KeptLog(ConcurrentQueue<string> lines) : ILoggerProvider, ILogger
    {
        public ILogger CreateLogger(string categoryName) => this;

        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => true;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
            lines.Enqueue(string.Create(CultureInfo.InvariantCulture, $"{eventId.Id} {formatter(state, exception)} {state} {exception}"));

        public void Dispose()
        {
            // Nothing is held.
        }
    }
}
