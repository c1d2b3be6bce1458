using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>The book of alarms, its measures and the second judgement, as the API gives them.</summary>
public sealed class AlarmApiTests : IAsyncLifetime, IDisposable
{
    private const string Root = "/api/v1/benches/practice/";
    private const string Span = "\"from\":\"2026-03-01T00:00:00Z\",\"to\":\"2026-03-01T12:00:00Z\"";

    // Only a net under a test that would else hang; nothing is measured by it.
    private readonly CancellationTokenSource _patience = new(TimeSpan.FromSeconds(60));
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    public void Dispose() => _patience.Dispose();

    [Fact]
    public async Task The_book_comes_page_by_page_with_the_very_lines_and_what_is_open_by_itself()
    {
        AlarmTransition[] lines =
        [
            AlarmStoreTests.Line(5, 0),
            AlarmStoreTests.Line(7, 0) with { Id = "bench.alarm.stale.guide-vacuum.7", Tag = "stale.guide-vacuum" },
            AlarmStoreTests.Line(9, 0, AlarmStep.Returned) with { To = AlarmState.Normal, IsActive = false },
        ];
        Array.ForEach(lines, _bench.Book);
        JsonElement first = await _served.GetAsync(Root + "alarms?limit=2");
        Assert.Equal(2, first.GetProperty("nextCursor").GetInt64());
        JsonElement rest = await _served.GetAsync(Root + "alarms?after=2");
        JsonElement[] items = [.. first.GetProperty("items").EnumerateArray(), .. rest.GetProperty("items").EnumerateArray()];
        Assert.Equal([1, 2, 3], items.Select(i => i.GetProperty("cursor").GetInt64()));
        Assert.Equal(lines, items.Select(i => AlarmJson.Read(System.Text.Encoding.UTF8.GetBytes(i.GetProperty("alarm").GetRawText()))));
        JsonElement open = (await _served.GetAsync(Root + "alarms/open")).GetProperty("items");
        Assert.Equal("stale.guide-vacuum", Assert.Single(open.EnumerateArray()).GetProperty("alarm").GetProperty("tag").GetString());
        Assert.Equal(3, (await _served.GetAsync(Root + "alarms/latest?limit=1")).GetProperty("items")[0].GetProperty("cursor").GetInt64());
    }

    [Fact]
    public async Task The_measures_come_with_targets_that_say_their_source_and_null_where_nothing_can_be_told()
    {
        _bench.Book(AlarmStoreTests.Line(5, 0));
        JsonElement answer = await _served.GetAsync(Root + "alarms/health?from=1970-01-01T00:00:00Z&to=1970-01-01T01:00:00Z");
        Assert.Equal(1, answer.GetProperty("calls").GetInt32());
        Assert.Equal(1 / 6.0, answer.GetProperty("callsPerTenMinutes").GetDouble(), 1e-9);
        Assert.Equal(JsonValueKind.Null, answer.GetProperty("meanSecondsToAcknowledge").ValueKind);
        JsonElement row = answer.GetProperty("rows").EnumerateArray().Single(r => r.GetProperty("measure").GetString() == "per-day");
        Assert.Equal(("24", "within", "from memory"), (row.GetProperty("value").GetString(), row.GetProperty("verdict").GetString(), row.GetProperty("source").GetString()));
        Assert.Contains("no conformance is claimed", answer.GetProperty("caveat").GetString(), StringComparison.Ordinal);
        JsonElement week = await _served.GetAsync(Root + "alarms/health");
        Assert.Equal(7, (Instant(week, "to") - Instant(week, "from")).TotalDays, 1e-6);
    }

    [Theory]
    [InlineData("alarms?limit=0", "limit")]
    [InlineData("alarms?after=x", "after")]
    [InlineData("alarms/latest?limit=9999", "limit")]
    [InlineData("alarms/health?from=yesterday", "from")]
    [InlineData("alarms/health?from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", "from")]
    [InlineData("live?after=1.x", "after")]
    public async Task A_parameter_that_cannot_be_used_is_named_with_its_remedy(string path, string parameter)
    {
        JsonElement problem = await _served.GetAsync(Root + path, HttpStatusCode.BadRequest);
        Assert.Equal(parameter, problem.GetProperty("parameter").GetString());
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
    }

    [Fact]
    public async Task The_description_of_the_api_has_the_new_paths()
    {
        string[] paths = [.. (await _served.GetAsync("/api/v1/openapi.json")).GetProperty("paths").EnumerateObject().Select(p => p.Name)];
        foreach (string path in (string[])["alarms", "alarms/latest", "alarms/open", "alarms/health", "what-if", "what-if/{id}"])
        {
            Assert.Contains("/api/v1/benches/{bench}/" + path, paths);
        }

        await _served.GetAsync("/api/v1/benches/nobody/alarms", HttpStatusCode.NotFound);
    }

    [Fact]
    public async Task A_span_is_judged_again_with_other_limits_and_the_alarms_are_held_against_each_other()
    {
        Give(1200);
        JsonElement job = await _served.PostAsync(
            Root + "what-if", $$"""{{{Span}},"limits":[{"channel":"guide-vacuum","side":"low","severity":"alarm","value":9.5}]}""", HttpStatusCode.Accepted);
        JsonElement done = await EndOfAsync(job);
        Assert.Equal("done", done.GetProperty("state").GetString());
        Assert.Equal(1, done.GetProperty("progress").GetDouble());
        Assert.Equal((1, 0, 1), (done.GetProperty("kept").GetInt32(), done.GetProperty("gone").GetInt32(), done.GetProperty("new").GetInt32()));
        JsonElement came = done.GetProperty("items")[1];
        Assert.Equal(("below-limit.guide-vacuum", "new"), (came.GetProperty("tag").GetString(), came.GetProperty("fate").GetString()));
        Assert.Equal(JsonValueKind.Null, came.GetProperty("was").ValueKind);
        Assert.StartsWith("2026-03-01T00:10:0", came.GetProperty("would").GetProperty("raised").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_runs_at_a_time_and_it_can_be_cancelled()
    {
        using var held = new ManualResetEventSlim();
        InputList? source = null;
        _bench.Again = () => source = new InputList(Night(3000)) { OnRead = at => Hold(at, held) };
        const string body = $$"""{{{Span}},"limits":[{"channel":"guide-vacuum","side":"low","severity":"alarm","value":9.5}]}""";
        JsonElement job = await _served.PostAsync(Root + "what-if", body, HttpStatusCode.Accepted);
        JsonElement busy = await _served.PostAsync(Root + "what-if", body, HttpStatusCode.Conflict);
        Assert.Equal(job.GetProperty("id").GetString(), busy.GetProperty("job").GetString());
        using (var request = new HttpRequestMessage(HttpMethod.Delete, Root + "what-if/" + job.GetProperty("id").GetString()) { Content = new StringContent("", null, "application/json") })
        {
            using HttpResponseMessage response = await _served.Client.SendAsync(request);
            Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        }

        held.Set();
        JsonElement ended = await EndOfAsync(job);
        Assert.Equal("cancelled", ended.GetProperty("state").GetString());
        Assert.Equal(JsonValueKind.Null, ended.GetProperty("items").ValueKind);
        Assert.True(source!.At < 40_000);
        Assert.Equal("running", (await _served.PostAsync(Root + "what-if", body, HttpStatusCode.Accepted)).GetProperty("state").GetString());
    }

    [Fact]
    public async Task A_store_that_cannot_be_read_fails_the_job_and_not_the_service()
    {
        JsonElement job = await _served.PostAsync(
            Root + "what-if", $$"""{{{Span}},"limits":[{"channel":"guide-vacuum","side":"low","severity":"alarm"}]}""", HttpStatusCode.Accepted);
        JsonElement ended = await EndOfAsync(job);
        Assert.Equal(("failed", "the fake bench keeps no readings"), (ended.GetProperty("state").GetString(), ended.GetProperty("trouble").GetString()));
        await _served.GetAsync(Root + "what-if/" + Guid.Empty, HttpStatusCode.NotFound);
    }

    [Theory]
    [InlineData("{}", 400, "from")]
    [InlineData("""{"from":"2026-03-01T00:00:00Z","to":"2026-03-02T00:00:01Z","limits":[]}""", 400, "to")]
    [InlineData("""{SPAN}""", 400, "limits")]
    [InlineData("""{SPAN,"limits":[{"channel":"guide-vacum","side":"low","severity":"alarm","value":1}]}""", 400, "limits[0].channel")]
    [InlineData("""{SPAN,"limits":[{"channel":"guide-vacuum","side":"left","severity":"alarm","value":1}]}""", 400, "limits[0].side")]
    [InlineData("""{SPAN,"limits":[{"channel":"guide-vacuum","side":"low","severity":"note","value":1}]}""", 400, "limits[0].severity")]
    [InlineData("""{SPAN,"limit":[]}""", 400, "limit")]
    public async Task What_cannot_be_tried_is_said_with_its_field(string body, int status, string parameter)
    {
        JsonElement problem = await _served.PostAsync(Root + "what-if", body.Replace("SPAN", Span, StringComparison.Ordinal), (HttpStatusCode)status);
        Assert.Equal(parameter, problem.GetProperty("parameter").GetString());
    }

    [Fact]
    public async Task A_bench_file_with_mistakes_comes_back_with_line_and_remedy()
    {
        string body = JsonSerializer.Serialize(new { from = "2026-03-01T00:00:00Z", to = "2026-03-01T12:00:00Z", benchFile = "[bench]\nid = \"b\"\nlable = \"x\"\n" });
        JsonElement problem = await _served.PostAsync(Root + "what-if", body, HttpStatusCode.UnprocessableEntity);
        Assert.Contains(problem.GetProperty("mistakes").EnumerateArray(), m => m.GetString()!.StartsWith("bench.toml(3,1): ", StringComparison.Ordinal));
    }

    /// <summary>Vacuum at 5 for a minute from 300 s on, and at 9 from 600 s on, under an alarm limit of 8.</summary>
    private static List<EngineInput> Night(double seconds)
    {
        var low = new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 8, OnDelay = TimeSpan.FromSeconds(1), OffDelay = TimeSpan.FromSeconds(1), Source = "bench file" };
        BenchDefinition bench = TestBench.Of(TestBench.Series(TestBench.Vacuum, "guide-vacuum", ChannelRole.Other, "inH2O") with { Limits = [low] });
        return new Night(bench).Series(TestBench.Vacuum, 0, seconds, t => t is >= 300 and < 360 ? 5 : t is >= 600 and < 660 ? 9 : 11).Inputs();
    }

    private void Give(double seconds) => _bench.Again = () => new InputList(Night(seconds));

    private void Hold(int at, ManualResetEventSlim held)
    {
        if (at == 100)
        {
            held.Wait(_patience.Token);
        }
    }

    private static DateTimeOffset Instant(JsonElement answer, string name) => answer.GetProperty(name).GetDateTimeOffset();

    private async Task<JsonElement> EndOfAsync(JsonElement job)
    {
        while (true)
        {
            JsonElement answer = await _served.GetAsync(Root + "what-if/" + job.GetProperty("id").GetString());
            if (answer.GetProperty("state").GetString() != "running")
            {
                return answer;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System, _patience.Token);
        }
    }
}
