using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text.Json;

namespace DriftWatch.SystemTests.Service;

/// <summary>The service as a process of its own: started, asked, killed. What it logs is kept.</summary>
internal sealed class ServiceProcess : IDisposable
{
    private static readonly HttpClient Http = new() { Timeout = TimeSpan.FromSeconds(5) };
    private static readonly string Program = Path.Combine(AppContext.BaseDirectory, "driftwatch.dll");

    private readonly Process _process;
    private readonly List<string> _said = [];

    private ServiceProcess(IEnumerable<string> arguments, IReadOnlyDictionary<string, string>? environment, params ReadOnlySpan<string> before)
    {
        string[] command = [.. before, "dotnet", Program, .. arguments];
        var start = new ProcessStartInfo(command[0]) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in command.Skip(1))
        {
            start.ArgumentList.Add(argument);
        }

        foreach ((string name, string value) in environment ?? new Dictionary<string, string>())
        {
            start.Environment[name] = value;
        }

        StartedAt = TimeProvider.System.GetUtcNow();
        _process = new Process { StartInfo = start };
        _process.OutputDataReceived += Heard;
        _process.ErrorDataReceived += Heard;
        _process.Start();
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    public DateTimeOffset StartedAt { get; }

    public int Port { get; private set; }

    public int ProcessId => _process.Id;

    public IReadOnlyList<string> Said
    {
        get
        {
            lock (_said)
            {
                return [.. _said];
            }
        }
    }

    /// <summary>Runs any verb to its end and gives its exit code and what it said.</summary>
    public static Task<(int Code, string Said)> RunAsync(params string[] arguments) => RunAsync([], arguments);

    /// <summary>The same with more in its environment.</summary>
    public static async Task<(int Code, string Said)> RunAsync(IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        using var process = new ServiceProcess(arguments, environment);
        await process._process.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(60), TimeProvider.System);
        return (process._process.ExitCode, string.Join('\n', process.Said));
    }

    /// <summary>The same under another command, such as a tracer or a change of user.</summary>
    public static async Task<(int Code, string Said)> RunAsync(string[] before, string[] arguments)
    {
        using var process = new ServiceProcess(arguments, environment: null, before);
        await process._process.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(60), TimeProvider.System);
        return (process._process.ExitCode, string.Join('\n', process.Said));
    }

    /// <summary>Starts any verb and waits for nothing.</summary>
    public static ServiceProcess Start(params string[] arguments) => new(arguments, environment: null);

    /// <summary>The same with more in its environment.</summary>
    public static ServiceProcess Start(IReadOnlyDictionary<string, string> environment, params string[] arguments) => new(arguments, environment);

    /// <summary>Starts <c>watch</c> and waits for nothing.</summary>
    public static ServiceProcess Launch(
        string bench, string store, IReadOnlyDictionary<string, string>? environment = null, params ReadOnlySpan<string> before)
    {
        int port = FreePort();
        return new ServiceProcess(
            ["watch", bench, "--store", store, "--listen", $"127.0.0.1:{port.ToString(CultureInfo.InvariantCulture)}"], environment, before)
        {
            Port = port,
        };
    }

    /// <summary>Starts <c>watch</c> and waits until it is ready to be asked.</summary>
    public static async Task<ServiceProcess> WatchAsync(
        string bench, string store, IReadOnlyDictionary<string, string>? environment = null, string[]? before = null)
    {
        ServiceProcess service = Launch(bench, store, environment, before ?? []);
        for (int i = 0; i < 300; i++)
        {
            if (service._process.HasExited)
            {
                Assert.Fail("The service ended: " + string.Join('\n', service.Said));
            }

            try
            {
                using HttpResponseMessage answer = await Http.GetAsync(new Uri($"http://127.0.0.1:{service.Port}/healthz"));
                if (answer.StatusCode == HttpStatusCode.OK)
                {
                    return service;
                }
            }
            catch (HttpRequestException)
            {
                // Not listening yet.
            }

            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }

        Assert.Fail("The service did not listen within 15 s: " + string.Join('\n', service.Said));
        return service;
    }

    public async Task<JsonElement> GetAsync(string path)
    {
        using HttpResponseMessage answer = await Http.GetAsync(new Uri($"http://127.0.0.1:{Port}{path}"));
        return JsonDocument.Parse(await answer.Content.ReadAsByteArrayAsync()).RootElement;
    }

    public async Task<JsonElement> PostAsync(string path, object body)
    {
        using HttpResponseMessage answer = await Http.PostAsync(new Uri($"http://127.0.0.1:{Port}{path}"), JsonContentOf(body));
        return JsonDocument.Parse(await answer.Content.ReadAsByteArrayAsync()).RootElement;
    }

    /// <summary>Enters a person's act.</summary>
    public async Task<JsonElement> ActAsync(string bench, string command, object body)
    {
        using HttpResponseMessage answer = await Http.PostAsync(
            new Uri($"http://127.0.0.1:{Port}/api/v1/benches/{bench}/commands/{command}"), JsonContentOf(body));
        return JsonDocument.Parse(await answer.Content.ReadAsByteArrayAsync()).RootElement;
    }

    /// <summary>True when it has ended within the time.</summary>
    public async Task<bool> EndsWithinAsync(TimeSpan limit)
    {
        try
        {
            await _process.WaitForExitAsync().WaitAsync(limit, TimeProvider.System);
            return true;
        }
        catch (TimeoutException)
        {
            return false;
        }
    }

    /// <summary>Power gone: no warning, no time.</summary>
    public void KillHard()
    {
        _process.Kill(entireProcessTree: true);
        _process.WaitForExit();
    }

    /// <summary>Asks it to stop with a signal and gives the exit code and how long it took.</summary>
    public async Task<(int Code, TimeSpan Took)> StopAsync(string signal = "TERM")
    {
        long asked = Stopwatch.GetTimestamp();
        using Process kill = Process.Start("kill", [$"-{signal}", _process.Id.ToString(CultureInfo.InvariantCulture)]);
        await _process.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20), TimeProvider.System);
        return (_process.ExitCode, Stopwatch.GetElapsedTime(asked));
    }

    /// <summary>The instant that the log gives for an event, by its id; null when it was not logged.</summary>
    public DateTimeOffset? LoggedAt(int eventId) => Said
        .Where(l => l.StartsWith('{'))
        .Select(l => JsonDocument.Parse(l).RootElement)
        .Where(e => e.GetProperty("EventId").GetInt32() == eventId)
        .Select(e => (DateTimeOffset?)DateTimeOffset.Parse(e.GetProperty("Timestamp").GetString()!, CultureInfo.InvariantCulture))
        .FirstOrDefault();

    public int TimesLogged(int eventId) =>
        Said.Count(l => l.StartsWith('{') && JsonDocument.Parse(l).RootElement.GetProperty("EventId").GetInt32() == eventId);

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            KillHard();
        }

        _process.Dispose();
    }

    private static StringContent JsonContentOf(object body) =>
        new(JsonSerializer.Serialize(body), System.Text.Encoding.UTF8, "application/json");

    internal static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    private void Heard(object sender, DataReceivedEventArgs e)
    {
        if (e.Data is not null)
        {
            lock (_said)
            {
                _said.Add(e.Data);
            }
        }
    }
}
