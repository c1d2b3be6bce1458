using System.IO.Compression;
using System.Net;
using System.Text.Json;
using DriftWatch.Tests.Storage;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>A store whose every number is known, served, and asked for spans of any length.</summary>
public sealed class KnownNightFixture : IAsyncLifetime, IDisposable
{
    private readonly StoreFolder _folder = new();
    private StoredView? _view;

    internal ServedBench Served { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        KnownNight.Fill(_folder);
        _view = new StoredView(_folder.Path);
        Served = await ServedBench.StartAsync(new WebSettings(), _view);
    }

    public async Task DisposeAsync() => await Served.DisposeAsync();

    public void Dispose()
    {
        _view?.Dispose();
        _folder.Dispose();
    }
}

public sealed class SpanApiTests(KnownNightFixture fixture) : IClassFixture<KnownNightFixture>
{
    private const string Root = "/api/v1/benches/west-bench/span";
    private readonly ServedBench _served = fixture.Served;

    [Theory]
    [InlineData(-31_536_000, KnownNight.Seconds)] // a year and the night: hours
    [InlineData(-2_592_000, KnownNight.Seconds)] // a month: minutes or hours
    [InlineData(0, KnownNight.Seconds)]
    [InlineData(3600, 7200)]
    [InlineData(KnownNight.DipAt - 300, KnownNight.DipAt + 300)]
    [InlineData(KnownNight.DipAt - 30, KnownNight.DipAt + 30)]
    [InlineData(KnownNight.DipAt - 2, KnownNight.DipAt + 2)]
    public async Task One_reading_that_dipped_is_in_the_column_of_its_instant_at_every_zoom(double from, double to)
    {
        foreach (int columns in (int[])[1, 7, 100, 333, 1200, 5000])
        {
            JsonElement answer = await GetAsync(from, to, $"&columns={columns}&channels=channel-0");
            JsonElement channel = answer.GetProperty("channels")[0];
            double step = answer.GetProperty("columnSeconds").GetDouble();
            DateTimeOffset begin = answer.GetProperty("starts")[0].GetProperty("at").GetDateTimeOffset();
            double?[] minimum = Numbers(channel, "minimum");
            Assert.InRange(answer.GetProperty("count").GetInt32(), 1, columns + 1);
            Assert.Equal(answer.GetProperty("count").GetInt32(), minimum.Length);
            int at = (int)Math.Floor((KnownNight.Begin.AddSeconds(KnownNight.DipAt) - begin).TotalSeconds / step);
            Assert.Equal(KnownNight.Dip, minimum[at]);
            Assert.Equal(1, minimum.Count(m => m < KnownNight.Level));
            double?[] maximum = Numbers(channel, "maximum");
            Assert.All(maximum.Where((m, i) => m is not null && i != at), m => Assert.Equal(KnownNight.Level, m));
            Assert.Equal(step > 1 ? KnownNight.Level : KnownNight.Dip, maximum[at]); // alone in its column below a second
        }
    }

    [Fact]
    public async Task Every_column_holds_just_what_was_read_in_it_and_asking_again_gives_the_same()
    {
        string first = await _served.Client.GetStringAsync(Path(0, KnownNight.Seconds, "&columns=600"));
        JsonElement answer = JsonDocument.Parse(first).RootElement;
        Assert.Equal(30, answer.GetProperty("columnSeconds").GetDouble());
        JsonElement channel = answer.GetProperty("channels")[0];
        double?[] mean = Numbers(channel, "mean");

        // Readings stand at the whole seconds 1 to 18,000; a column has those from its begin to before its end.
        Assert.Equal(KnownNight.Level, mean[0]);
        Assert.Equal(((29 * KnownNight.Level) + KnownNight.Dip) / 30, mean[KnownNight.DipAt / 30]!.Value, 1e-5);
        Assert.Equal(KnownNight.Dip, Numbers(channel, "minimum")[KnownNight.DipAt / 30]);
        for (int i = 0; i < mean.Length; i++)
        {
            bool gap = i * 30 > KnownNight.Gap.From && (i + 1) * 30 <= KnownNight.Gap.To;
            bool faulty = i * 30 > KnownNight.Faults.From && (i + 1) * 30 <= KnownNight.Faults.To;
            Assert.Equal(gap || faulty, mean[i] is null);
        }

        int[] faults = [.. channel.GetProperty("faults").EnumerateArray().Select(f => f.GetInt32())];
        Assert.Equal(60, faults.Where((_, i) => i % 2 == 1).Sum());
        Assert.Equal(KnownNight.Faults.From / 30, faults[0]);
        Assert.Equal(first, await _served.Client.GetStringAsync(Path(0, KnownNight.Seconds, "&columns=600")));

        // Panned by a few columns: those in both are the same.
        JsonElement panned = await GetAsync(90, KnownNight.Seconds + 90, "&columns=600");
        Assert.Equal(mean[3..], Numbers(panned.GetProperty("channels")[0], "mean")[..(mean.Length - 3)]);
    }

    [Fact]
    public async Task What_happened_tells_when_it_was_watched_and_what_of_the_span_is_yet_to_come()
    {
        JsonElement events = await _served.GetAsync($"{Root}/events?from={KnownNight.At(-3600)}&to={KnownNight.At(KnownNight.Seconds + 3600)}");
        Assert.Equal(KnownNight.Seconds - 600, events.GetProperty("watchedSeconds").GetDouble(), 2.0);
        Assert.Equal(3600 + 600, events.GetProperty("unwatchedSeconds").GetDouble(), 2.0);
        Assert.Equal(2, events.GetProperty("watched").GetArrayLength());
        Assert.Equal(0, events.GetProperty("alarms").GetArrayLength());
    }

    [Fact]
    public async Task A_slope_is_told_with_its_interval_its_limit_and_what_it_was_made_of()
    {
        JsonElement drifts = await _served.GetAsync($"{Root}/drifts?from={KnownNight.At(0)}&to={KnownNight.At(KnownNight.Seconds)}");
        JsonElement[] items = [.. drifts.GetProperty("items").EnumerateArray()];
        JsonElement rising = items[0];
        Assert.Equal("channel-1", rising.GetProperty("id").GetString()); // the only one with a limit ahead stands first
        Assert.True(rising.GetProperty("isDrift").GetBoolean());
        Assert.InRange(KnownNight.SlopePerHour, rising.GetProperty("slopePerHourLow").GetDouble(), rising.GetProperty("slopePerHourHigh").GetDouble());
        Assert.Equal("begin", rising.GetProperty("tolerates").GetString());
        double now = rising.GetProperty("value").GetDouble();
        double hours = (KnownNight.HighLimit - now) / rising.GetProperty("slopePerHour").GetDouble();
        Assert.True(hours > 5); // farther off than the span is long
        Assert.Equal(JsonValueKind.Null, rising.GetProperty("secondsLeft").ValueKind);
        Assert.Equal(1160, rising.GetProperty("means").GetInt32()); // 15 s each, less those of the gap
        JsonElement standing = items.Single(i => i.GetProperty("id").GetString() == "channel-0");
        Assert.False(standing.GetProperty("isDrift").GetBoolean());
    }

    [Fact]
    public async Task The_channel_that_moves_first_is_told_with_its_lead_and_how_sure_that_is()
    {
        string span = $"from={KnownNight.At(7900)}&to={KnownNight.At(KnownNight.Seconds)}";
        JsonElement told = await _served.GetAsync($"{Root}/relation?{span}&first=channel-2&second=channel-3");
        Assert.Equal("first-leads", told.GetProperty("verdict").GetString());
        Assert.Equal(KnownNight.LagSeconds, told.GetProperty("lagSeconds").GetDouble(), told.GetProperty("stepSeconds").GetDouble());
        Assert.True(told.GetProperty("relationP").GetDouble() < 0.01);
        JsonElement unrelated = await _served.GetAsync($"{Root}/relation?{span}&first=channel-1&second=channel-3");
        Assert.True(unrelated.GetProperty("why").GetString() == "no-relation", unrelated.ToString());
        JsonElement flat = await _served.GetAsync($"{Root}/relation?{span}&first=channel-0&second=channel-3");
        Assert.Contains("distinct values", flat.GetProperty("untold").GetString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("?from=yesterday", "from")]
    [InlineData("?from=2026-01-15T20:00:00Z&to=2026-01-15T19:00:00Z", "from")]
    [InlineData("?from=1950-01-15T20:00:00Z&to=2026-01-15T19:00:00Z", "from")]
    [InlineData("?columns=0", "columns")]
    [InlineData("?columns=5001", "columns")]
    [InlineData("?channels=nose", "channels")]
    [InlineData("/relation?first=channel-0", "second")]
    [InlineData("/relation?first=channel-0&second=channel-0", "second")]
    [InlineData("/picture?format=gif", "format")]
    [InlineData("/picture?zone=Mars/Olympus", "zone")]
    [InlineData("/picture?width=100", "width")]
    [InlineData("/picture?panel=5000", "panel")]
    [InlineData("/csv?from=2026-01-01T00:00:00Z&to=2026-02-01T00:00:00Z&values=readings", "values")]
    [InlineData("/csv?values=all", "values")]
    public async Task A_wrong_parameter_is_named_with_what_to_write_instead(string query, string parameter)
    {
        JsonElement problem = await _served.GetAsync(Root + query, HttpStatusCode.BadRequest);
        Assert.Equal(parameter, problem.GetProperty("parameter").GetString());
        Assert.NotEqual("", problem.GetProperty("remedy").GetString());
    }

    [Fact]
    public async Task A_bench_that_is_not_there_is_said() => await _served.GetAsync("/api/v1/benches/nowhere/span", HttpStatusCode.NotFound);

    [Fact]
    public async Task Pictures_and_tables_of_a_span_are_what_the_command_line_makes()
    {
        byte[] png = await _served.Client.GetByteArrayAsync(Path("/picture", 0, KnownNight.Seconds, "&format=png"));
        Assert.Equal([0x89, 0x50, 0x4e, 0x47], png[..4]); // RFC 2083: the signature of a PNG
        string svg = await _served.Client.GetStringAsync(Path("/picture", 0, KnownNight.Seconds, "&format=svg&zone=Europe/Paris"));
        Assert.Contains("<svg viewBox", svg, StringComparison.Ordinal);
        byte[] ofYear = await _served.Client.GetByteArrayAsync(Path("/picture", -31_000_000, KnownNight.Seconds, "&format=png"));
        Assert.True(ofYear.Length > 1000);

        string[] rows = (await _served.Client.GetStringAsync(Path("/csv", 5000, 5050, "&channels=channel-0"))).TrimEnd().Split('\n');
        Assert.Equal("time,channel-0,channel-0.min,channel-0.max", rows[0].TrimEnd());
        Assert.Equal(50 + 1, rows.Length);
        Assert.Contains($"{KnownNight.At(KnownNight.DipAt)},36.25", rows.Single(r => r.Contains("36.25", StringComparison.Ordinal)), StringComparison.Ordinal);

        using HttpResponseMessage columns = await _served.Client.GetAsync(Path("/csv", -200_000, KnownNight.Seconds, "&channels=channel-0"));
        Assert.EndsWith("-columns.csv", columns.Content.Headers.ContentDisposition!.FileName!.Trim('"'), StringComparison.Ordinal);
        Assert.Contains(",36.25,48.75", await columns.Content.ReadAsStringAsync(), StringComparison.Ordinal); // least and greatest of its column

        using HttpResponseMessage nothing = await _served.Client.GetAsync(Path("/picture", -7200, -3600, ""));
        Assert.Equal(HttpStatusCode.NotFound, nothing.StatusCode);
    }

    [Fact]
    public async Task Answers_are_compressed_for_who_can_read_that_and_described()
    {
        foreach ((string name, Func<Stream, Stream> unpack) in ((string, Func<Stream, Stream>)[])
            [("br", s => new BrotliStream(s, CompressionMode.Decompress)), ("gzip", s => new GZipStream(s, CompressionMode.Decompress))])
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, Path(0, KnownNight.Seconds, ""));
            request.Headers.AcceptEncoding.ParseAdd(name);
            using HttpResponseMessage response = await _served.Client.SendAsync(request);
            Assert.Equal([name], response.Content.Headers.ContentEncoding);
            await using Stream plain = unpack(await response.Content.ReadAsStreamAsync());
            Assert.Equal("west-bench", (await JsonDocument.ParseAsync(plain)).RootElement.GetProperty("bench").GetString());
        }

        JsonElement paths = (await _served.GetAsync("/api/v1/openapi.json")).GetProperty("paths");
        foreach (string path in (string[])["", "/events", "/drifts", "/relation", "/picture", "/csv"])
        {
            JsonElement get = paths.GetProperty("/api/v1/benches/{bench}/span" + path).GetProperty("get");
            Assert.NotEqual("", get.GetProperty("summary").GetString());
            Assert.All(get.GetProperty("parameters").EnumerateArray().Where(p => p.GetProperty("in").GetString() == "query"), p => Assert.NotEqual("", p.GetProperty("description").GetString()));
        }
    }

    private Task<JsonElement> GetAsync(double from, double to, string more) => _served.GetAsync(Path(from, to, more));

    private static string Path(double from, double to, string more) => Path("", from, to, more);

    private static string Path(string what, double from, double to, string more) => $"{Root}{what}?from={KnownNight.At(from)}&to={KnownNight.At(to)}{more}";

    private static double?[] Numbers(JsonElement channel, string name) =>
        [.. channel.GetProperty(name).EnumerateArray().Select(v => v.ValueKind == JsonValueKind.Null ? (double?)null : v.GetDouble())];
}
