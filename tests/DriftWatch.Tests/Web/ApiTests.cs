using System.Net;
using System.Text.Json;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Running;
using DriftWatch.Tests.Storage;
using DriftWatch.Watch.Drifts;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class ApiTests : IAsyncLifetime
{
    private const string Root = "/api/v1/benches/practice";
    private readonly FakeBench _bench = new(TimeProvider.System);
    private readonly FakeBench _other = new(TimeProvider.System, "second");
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench, _other);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task Every_bench_is_listed_with_its_state_in_a_slug_and_its_time_in_utc()
    {
        JsonElement items = (await _served.GetAsync("/api/v1/benches")).GetProperty("items");
        Assert.Equal(["practice", "second"], items.EnumerateArray().Select(b => b.GetProperty("id").GetString()!));
        Assert.Equal("locked", items[0].GetProperty("state").GetString());
        Assert.EndsWith("Z", items[0].GetProperty("now").GetString());
    }

    [Fact]
    public async Task A_bench_tells_its_channels_with_units_limits_and_their_sources()
    {
        JsonElement answer = await _served.GetAsync(Root);
        JsonElement air = answer.GetProperty("channels").EnumerateArray().Single(c => c.GetProperty("id").GetString() == "regulated-air");
        Assert.Equal("psi", air.GetProperty("unit").GetString());
        Assert.Equal(50, air.GetProperty("setpoint").GetDouble());
        Assert.Equal(4, air.GetProperty("limits").GetArrayLength());
        Assert.Equal("common practice, no source", air.GetProperty("limits")[0].GetProperty("source").GetString());
        Assert.Equal("bench file", air.GetProperty("limits")[0].GetProperty("delaySource").GetString()); // it has not the delay of the default

        ChannelDefinition channel = _bench.Bench.Channels.Single(c => c.Id == "regulated-air");
        _bench.Bench = _bench.Bench with { Channels = [channel with { Limits = DefaultLimits.For(channel, "525/60", channel) }] };
        JsonElement ofDefault = (await _served.GetAsync(Root)).GetProperty("channels")[0].GetProperty("limits")[0];
        Assert.Matches("^the machine: the usual 15 s of a pressure are too long .*; derived: ", ofDefault.GetProperty("delaySource").GetString());
        Assert.Equal("talking", answer.GetProperty("instruments")[0].GetProperty("state").GetString());
    }

    [Fact]
    public async Task Channels_now_give_a_value_or_a_fault_and_never_both()
    {
        _bench.Fail("guide-vacuum", FaultCode.OpenLoop);
        JsonElement[] items = [.. (await _served.GetAsync(Root + "/channels")).GetProperty("items").EnumerateArray()];
        JsonElement vacuum = items.Single(c => c.GetProperty("id").GetString() == "guide-vacuum");
        Assert.Equal("open-loop", vacuum.GetProperty("fault").GetString());
        Assert.Equal(JsonValueKind.Null, vacuum.GetProperty("value").ValueKind);
        JsonElement air = items.Single(c => c.GetProperty("id").GetString() == "regulated-air");
        Assert.InRange(air.GetProperty("value").GetDouble(), 49, 51);
        Assert.Equal(JsonValueKind.Null, air.GetProperty("fault").ValueKind);
        Assert.InRange(air.GetProperty("ageSeconds").GetDouble(), 0, 60);
    }

    [Fact]
    public async Task A_channel_tells_its_calibration_and_the_range_of_its_instrument_in_both_units()
    {
        ChannelDefinition air = _bench.Bench.Channels[1];
        _bench.Bench = _bench.Bench with
        {
            Channels =
            [
                air with
                {
                    Calibration = LineCalibration.Through(0.5, 0, 4.5, 100) with { Version = 3, EnteredUtcNanoseconds = 1_772_323_200_000_000_000, Note = "dead weight" },
                    Faults = new FaultRules { Low = 0.25, High = 4.75 },
                },
            ],
            Quantities = [new QuantityDefinition { Kind = QuantityKind.Skew, Id = "skew", Label = "Timing skew, end to end", Unit = "ns" }],
        };
        JsonElement answer = await _served.GetAsync(Root);
        JsonElement channel = answer.GetProperty("channels")[0];
        Assert.Equal("regulated-air", channel.GetProperty("input").GetString());
        JsonElement calibration = channel.GetProperty("calibration");
        Assert.Equal((3, "line", "V"), (calibration.GetProperty("version").GetInt32(), calibration.GetProperty("form").GetString(), calibration.GetProperty("rawUnit").GetString()));
        Assert.Equal("2026-03-01T00:00:00.000Z", calibration.GetProperty("entered").GetString());
        Assert.Equal("dead weight", calibration.GetProperty("note").GetString());
        JsonElement range = channel.GetProperty("range");
        Assert.Equal((0.25, -6.25), (range.GetProperty("rawLow").GetDouble(), range.GetProperty("low").GetDouble()));
        Assert.Equal(106.25, range.GetProperty("high").GetDouble(), 1e-9);
        JsonElement skew = answer.GetProperty("quantities")[0];
        Assert.Contains("guide in or out", skew.GetProperty("meaning").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Drifts_come_with_their_units_and_what_cannot_be_told_is_null_with_a_reason()
    {
        Assert.Equal(JsonValueKind.Null, (await _served.GetAsync(Root + "/drifts")).GetProperty("at").ValueKind);
        _bench.Drifts = new DriftTable(
            _bench.Now,
            [
                new ChannelDrift { Id = "regulated-air", Label = "Regulated air", Unit = "psi", Baseline = 50, Value = 50.5, Limit = 52, UsedShare = 0.25, SlopePerHour = 0.5, MinutesLeft = 180 },
                new ChannelDrift { Id = "guide-vacuum", Label = "Guide vacuum", Unit = "inH2O", Untold = "no-baseline" },
            ]);
        JsonElement answer = await _served.GetAsync(Root + "/drifts");
        Assert.EndsWith("Z", answer.GetProperty("at").GetString());
        JsonElement first = answer.GetProperty("items")[0];
        Assert.Equal("psi", first.GetProperty("unit").GetString());
        Assert.Equal(180, first.GetProperty("minutesLeft").GetDouble());
        Assert.Equal(JsonValueKind.Null, first.GetProperty("untold").ValueKind);
        Assert.Equal("no-baseline", answer.GetProperty("items")[1].GetProperty("untold").GetString());
        Assert.Equal(JsonValueKind.Null, answer.GetProperty("items")[1].GetProperty("slopePerHour").ValueKind);
    }

    [Fact]
    public async Task Baselines_come_newest_last_and_no_more_than_asked_for()
    {
        _bench.Taken.AddRange([BaselineStoreTests.Make(5, 0, 50), BaselineStoreTests.Make(9, 7, 50.25)]);
        JsonElement answer = await _served.GetAsync(Root + "/baselines?limit=1");
        Assert.Equal(2, answer.GetProperty("first").GetInt32());
        JsonElement baseline = Assert.Single(answer.GetProperty("items").EnumerateArray());
        Assert.Equal("2026-03-08T20:00:00.000Z", baseline.GetProperty("at").GetString());
        Assert.Equal("stable", baseline.GetProperty("standing").GetString());
        JsonElement air = baseline.GetProperty("values")[0];
        Assert.Equal(50.25, air.GetProperty("value").GetDouble());
        Assert.Equal(0.05 / Math.Sqrt(9.67), air.GetProperty("standardError").GetDouble(), 1e-12);
        Assert.Equal(JsonValueKind.Null, baseline.GetProperty("values")[2].GetProperty("deviation").ValueKind);
    }

    [Fact]
    public async Task History_comes_in_columns_of_equal_length_within_the_span_asked_for()
    {
        string to = Iso(_bench.ToUtcNanoseconds(_bench.Now));
        string from = Iso(_bench.ToUtcNanoseconds(_bench.Now - TimeSpan.FromMinutes(2)));
        JsonElement answer = await _served.GetAsync($"{Root}/channels/regulated-air/history?from={from}&to={to}&buckets=60");
        int count = answer.GetProperty("start").GetArrayLength();
        Assert.InRange(count, 55, 60);
        foreach (string column in (string[])["bucketSeconds", "count", "minimum", "maximum", "mean", "faults"])
        {
            Assert.Equal(count, answer.GetProperty(column).GetArrayLength());
        }

        Assert.Equal(from, answer.GetProperty("from").GetString());
        Assert.True(answer.GetProperty("minimum")[0].GetDouble() <= answer.GetProperty("maximum")[0].GetDouble());
    }

    [Fact]
    public async Task A_bucket_of_faults_alone_has_no_numbers()
    {
        JsonElement answer = await _served.GetAsync(Root + "/channels/room-humidity/history?buckets=100");
        int faulty = Enumerable.Range(0, answer.GetProperty("count").GetArrayLength()).First(i => answer.GetProperty("faults")[i].GetInt32() > 0);
        Assert.Equal(0, answer.GetProperty("count")[faulty].GetInt32());
        Assert.Equal(JsonValueKind.Null, answer.GetProperty("mean")[faulty].ValueKind);
    }

    [Fact]
    public async Task A_channel_is_found_by_its_former_name()
    {
        _bench.Bench = _bench.Bench with
        {
            Channels = [.. _bench.Bench.Channels.Select(c => c.Id == "supply-air" ? c with { Aliases = ["house-air"] } : c)],
        };
        Assert.Equal("supply-air", (await _served.GetAsync(Root + "/channels/house-air/history")).GetProperty("channel").GetString());
    }

    [Fact]
    public async Task The_latest_frame_names_head_and_angle_of_each_point()
    {
        JsonElement frame = await _served.GetAsync(Root + "/channels/timing/frames/latest");
        Assert.Equal(64, frame.GetProperty("values").GetArrayLength());
        Assert.Equal(64, frame.GetProperty("heads").GetArrayLength());
        Assert.Equal(64, frame.GetProperty("anglesDegrees").GetArrayLength());
        Assert.Equal("ns", frame.GetProperty("unit").GetString());
    }

    [Theory]
    [InlineData("/channels/regulated-air/history?from=yesterday", "from")]
    [InlineData("/channels/regulated-air/history?to=noon", "to")]
    [InlineData("/channels/regulated-air/history?to=0001-01-01T00:00:00Z", "to")]
    [InlineData("/channels/regulated-air/history?buckets=0", "buckets")]
    [InlineData("/channels/regulated-air/history?buckets=5001", "buckets")]
    [InlineData("/channels/regulated-air/history?buckets=many", "buckets")]
    [InlineData("/channels/regulated-air/history?from=2026-01-02T00:00:00Z&to=2026-01-01T00:00:00Z", "from")]
    [InlineData("/findings?after=-1", "after")]
    [InlineData("/findings?after=x", "after")]
    [InlineData("/findings?limit=1001", "limit")]
    [InlineData("/findings/latest?limit=0", "limit")]
    [InlineData("/live?after=now", "after")]
    public async Task A_bad_parameter_is_named_with_what_to_write_instead(string path, string parameter)
    {
        JsonElement problem = await _served.GetAsync(Root + path, HttpStatusCode.BadRequest);
        Assert.Equal(parameter, problem.GetProperty("parameter").GetString());
        Assert.Equal(400, problem.GetProperty("status").GetInt32());
        Assert.Contains(parameter, problem.GetProperty("title").GetString(), StringComparison.Ordinal);
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
    }

    [Theory]
    [InlineData("/api/v1/benches/none")]
    [InlineData("/api/v1/benches/none/channels")]
    [InlineData("/api/v1/benches/none/drifts")]
    [InlineData("/api/v1/benches/none/baselines")]
    [InlineData("/api/v1/benches/none/findings")]
    [InlineData("/api/v1/benches/none/findings/latest")]
    [InlineData("/api/v1/benches/none/findings/open")]
    [InlineData("/api/v1/benches/none/health")]
    [InlineData("/api/v1/benches/none/live")]
    [InlineData("/api/v1/benches/practice/channels/none/history")]
    [InlineData("/api/v1/benches/practice/channels/none/frames/latest")]
    [InlineData("/api/v1/benches/practice/channels/timing/history")]
    [InlineData("/api/v1/benches/practice/channels/regulated-air/frames/latest")]
    [InlineData("/api/v1/nothing")]
    [InlineData("/api/v2/benches")]
    public async Task What_is_not_there_is_a_problem_with_a_remedy(string path)
    {
        using HttpResponseMessage response = await _served.Client.GetAsync(new Uri(path, UriKind.Relative));
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType); // RFC 9457
        JsonElement problem = await ServedBench.ReadAsync(response, HttpStatusCode.NotFound);
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
        Assert.StartsWith("urn:driftwatch:problem:", problem.GetProperty("type").GetString());
    }

    [Fact]
    public async Task A_wrong_method_is_a_problem_too()
    {
        using var request = new HttpRequestMessage(HttpMethod.Delete, Root + "/channels")
        {
            Content = new StringContent("{}", System.Text.Encoding.UTF8, "application/json"),
        };
        using HttpResponseMessage response = await _served.Client.SendAsync(request);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType);
        await ServedBench.ReadAsync(response, HttpStatusCode.MethodNotAllowed);
    }

    [Fact]
    public async Task Findings_page_by_cursor_without_losing_or_repeating_a_line()
    {
        for (int i = 0; i < 25; i++)
        {
            _bench.Say(_bench.MakeFinding("f" + i, "note", null, "Line " + i, Severity.Note));
        }

        var seen = new List<string>();
        long cursor = 0;
        while (true)
        {
            JsonElement page = await _served.GetAsync($"{Root}/findings?after={cursor}&limit=10");
            if (page.GetProperty("items").GetArrayLength() == 0)
            {
                break;
            }

            seen.AddRange(page.GetProperty("items").EnumerateArray().Select(i => i.GetProperty("finding").GetProperty("id").GetString()!));
            cursor = page.GetProperty("nextCursor").GetInt64();
        }

        Assert.Equal(Enumerable.Range(0, 25).Select(i => "f" + i), seen);
    }

    [Fact]
    public async Task The_api_writes_a_finding_byte_for_byte_as_the_finding_lines_do()
    {
        FindingLine line = _bench.Say(_bench.MakeFinding(
            "f1", "air-below-setpoint", "regulated-air", "Air is 44.10 psi, under 45 (−5.9 < limit, µ).", value: 44.1, limit: 45));
        string page = await _served.Client.GetStringAsync(new Uri(Root + "/findings/latest?limit=5", UriKind.Relative));
        Assert.Contains(System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(line)), page, StringComparison.Ordinal);
        JsonElement open = await _served.GetAsync(Root + "/findings/open");
        Assert.Equal("f1", open.GetProperty("items")[0].GetProperty("finding").GetProperty("id").GetString());
    }

    [Fact]
    public async Task The_document_lists_every_path()
    {
        JsonElement paths = (await _served.GetAsync("/api/v1/openapi.json")).GetProperty("paths");
        string[] names = [.. paths.EnumerateObject().Select(p => p.Name)];
        Assert.Contains("/api/v1/benches/{bench}/channels/{channel}/history", names);
        Assert.Contains("/api/v1/benches/{bench}/commands/{command}", names);
        Assert.Contains("/api/v1/benches/{bench}/live", names);
        Assert.Contains("/readyz", names);
        Assert.DoesNotContain(names, n => n.Contains("rest", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Alive_answers_even_when_nothing_is_ready()
    {
        _bench.Health = new HealthReport(null, null, null, null, "disk full", 12, 0, 0);
        Assert.Equal("alive", (await _served.GetAsync("/healthz")).GetProperty("status").GetString());
        JsonElement ready = await _served.GetAsync("/readyz", HttpStatusCode.ServiceUnavailable);
        JsonElement first = ready.GetProperty("benches")[0];
        Assert.Equal("not-yet", first.GetProperty("sampling").GetProperty("state").GetString());
        Assert.Equal("trouble", first.GetProperty("storing").GetProperty("state").GetString());
        Assert.Equal("disk full", first.GetProperty("storeTrouble").GetString());
    }

    public static TheoryData<string, HealthReport> Stale => new()
    {
        { "sampling", FakeBench.Healthy with { Sampling = TimeSpan.FromSeconds(5.1) } },
        { "storing", FakeBench.Healthy with { Storing = TimeSpan.FromSeconds(6) } },
        { "judging", FakeBench.Healthy with { Judging = TimeSpan.FromSeconds(6) } },
        { "noticing", FakeBench.Healthy with { Noticing = TimeSpan.FromSeconds(6) } },
    };

    [Theory]
    [MemberData(nameof(Stale))]
    public async Task Each_part_that_is_stale_makes_the_service_not_ready(string part, HealthReport health)
    {
        Assert.True((await _served.GetAsync("/readyz")).GetProperty("ready").GetBoolean());
        _bench.Health = health;
        JsonElement ready = await _served.GetAsync("/readyz", HttpStatusCode.ServiceUnavailable);
        Assert.Equal("stale", ready.GetProperty("benches")[0].GetProperty(part).GetProperty("state").GetString());
        Assert.False((await _served.GetAsync(Root + "/health")).GetProperty("ready").GetBoolean());
    }

    private static string Iso(long utc) => Measurement.Time.UtcText.FromNanoseconds(utc);
}
