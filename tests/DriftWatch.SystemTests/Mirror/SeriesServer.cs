using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text.Json;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;
using DriftWatch.SystemTests.Lines;

namespace DriftWatch.SystemTests.Mirror;

/// <summary>A real time-series server of Debian's on loopback, with a folder of its own, that can be killed and started again.</summary>
internal sealed class SeriesServer : IDisposable
{
    private readonly HttpClient _http = new() { Timeout = TimeSpan.FromSeconds(20) };
    private readonly bool _isPromql;
    private readonly string[] _more;
    private readonly string _folder;
    private Companion? _process;

    private SeriesServer(bool isPromql, string folder, string[] more)
    {
        (_isPromql, _folder, _more) = (isPromql, folder, more);
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        Port = ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    public int Port { get; }

    public string Url => $"http://127.0.0.1:{Port}";

    /// <summary>As a bench file names it.</summary>
    public string Toml => _isPromql
        ? $"\n[[mirror]]\nid = \"site\"\nurl = \"{Url}\"\ncounts = \"promql\"\nsite = \"annex\"\n"
        : $"\n[[mirror]]\nid = \"site\"\nurl = \"{Url}\"\nway = \"v1\"\nsite = \"annex\"\n";

    public static Task<SeriesServer> BeginAsync(string kind, params string[] more) =>
        BeginInAsync(kind, Directory.CreateTempSubdirectory("driftwatch-series-").FullName, more);

    /// <summary>The same in a folder that is there, and goes with it.</summary>
    public static async Task<SeriesServer> BeginInAsync(string kind, string folder, params string[] more)
    {
        var server = new SeriesServer(kind == "victoria-metrics", folder, more);
        await server.StartAsync();
        if (!server._isPromql)
        {
            using HttpResponseMessage made = await server._http.PostAsync(new Uri(server.Url + "/query?q=CREATE%20DATABASE%20driftwatch"), content: null);
            made.EnsureSuccessStatusCode();
        }

        return server;
    }

    /// <summary>Asked in its own language.</summary>
    public ISiteServer Site()
    {
        var way = new LineServer(new LineServerOptions { Url = new Uri(Url), Bucket = "driftwatch" }, new SocketsHttpHandler());
        return _isPromql ? new PromqlSite(way) : new InfluxqlSite(way, "driftwatch");
    }

    public async Task StartAsync()
    {
        _process = _isPromql
            ? Companion.Process(
                "/usr/bin/victoria-metrics", "victoria-metrics",
                [$"-storageDataPath={_folder}", $"-httpListenAddr=127.0.0.1:{Port}", "-retentionPeriod=100y", "-search.latencyOffset=0s", "-search.disableCache", "-loggerLevel=ERROR", .. _more])
            : Companion.Process("/usr/bin/influxd", "influxdb", "-config", Configuration());
        for (int i = 0; i < 400; i++)
        {
            try
            {
                using HttpResponseMessage answer = await _http.GetAsync(new Uri(Url + (_isPromql ? "/health" : "/ping")));
                return;
            }
            catch (HttpRequestException)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
            }
        }

        Assert.Fail("the server does not answer: " + _process.Said);
    }

    /// <summary>By signal 9.</summary>
    public void Kill()
    {
        _process?.Dispose();
        _process = null;
    }

    /// <summary>How many lines of the book of alarms it holds.</summary>
    public async Task<int> AlarmLinesAsync()
    {
        if (_isPromql)
        {
            string text = await _http.GetStringAsync(new Uri(Url + "/api/v1/export?match[]=" + Uri.EscapeDataString("{__name__=\"driftwatch_alarm_state\"}")));
            return text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Sum(line =>
            {
                using JsonDocument series = JsonDocument.Parse(line);
                return series.RootElement.GetProperty("values").GetArrayLength();
            });
        }

        using JsonDocument json = JsonDocument.Parse(await _http.GetStringAsync(new Uri(Url + "/query?db=driftwatch&q=" + Uri.EscapeDataString("SELECT count(state) FROM driftwatch_alarm"))));
        return json.RootElement.GetProperty("results")[0].TryGetProperty("series", out JsonElement all) ? all[0].GetProperty("values")[0][1].GetInt32() : 0;
    }

    /// <summary>Every value that it holds of a bench's channels: by channel and instant in milliseconds; more than one where it keeps doubles.</summary>
    public async Task<Dictionary<(string Channel, long At), List<double>>> ValuesAsync(string field = "value", string measurement = "driftwatch_reading")
    {
        var values = new Dictionary<(string, long), List<double>>();
        if (_isPromql)
        {
            await _http.GetStringAsync(new Uri(Url + "/internal/force_flush"));
            string text = await _http.GetStringAsync(new Uri(Url + "/api/v1/export?match[]=" + Uri.EscapeDataString($"{{__name__=\"{measurement}_{field}\"}}")));
            foreach (string line in text.Split('\n', StringSplitOptions.RemoveEmptyEntries))
            {
                using JsonDocument series = JsonDocument.Parse(line);
                string channel = series.RootElement.GetProperty("metric").GetProperty("channel").GetString()!;
                foreach ((JsonElement at, JsonElement value) in series.RootElement.GetProperty("timestamps").EnumerateArray().Zip(series.RootElement.GetProperty("values").EnumerateArray()))
                {
                    Add(channel, at.GetInt64(), value.GetDouble());
                }
            }

            return values;
        }

        string answer = await _http.GetStringAsync(new Uri(Url + "/query?db=driftwatch&epoch=ms&q=" + Uri.EscapeDataString($"SELECT \"{field}\" FROM {measurement} GROUP BY channel")));
        using JsonDocument json = JsonDocument.Parse(answer);
        if (!json.RootElement.GetProperty("results")[0].TryGetProperty("series", out JsonElement all))
        {
            return values; // nothing of it is there
        }

        foreach (JsonElement series in all.EnumerateArray())
        {
            string channel = series.GetProperty("tags").GetProperty("channel").GetString()!;
            foreach (JsonElement row in series.GetProperty("values").EnumerateArray())
            {
                Add(channel, row[0].GetInt64(), row[1].GetDouble());
            }
        }

        return values;

        void Add(string channel, long at, double value)
        {
            if (!values.TryGetValue((channel, at), out List<double>? held))
            {
                values.Add((channel, at), held = []);
            }

            held.Add(value);
        }
    }

    public void Dispose()
    {
        Kill();
        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private string Configuration()
    {
        string file = Path.Combine(_folder, "influxdb.conf");
        File.WriteAllText(file, string.Create(CultureInfo.InvariantCulture, $"""
            reporting-disabled = true
            bind-address = "127.0.0.1:0"

            [meta]
            dir = "{_folder}/meta"

            [data]
            dir = "{_folder}/data"
            wal-dir = "{_folder}/wal"
            query-log-enabled = false

            [http]
            bind-address = "127.0.0.1:{Port}"
            log-enabled = false
            {string.Join('\n', _more)}

            [monitor]
            store-enabled = false
            """));
        return file;
    }
}
