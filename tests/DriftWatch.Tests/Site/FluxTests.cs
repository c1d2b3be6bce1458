using System.Net;
using System.Net.Http.Headers;
using System.Text.Json;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;
using Xunit;

namespace DriftWatch.Tests.Site;

/// <summary>Flux, asked through the client, of a server that answers as its documentation says: annotated CSV. No such server was run here.</summary>
public sealed class FluxTests
{
    /// <summary>Two fields of one bench, each a table of its own, as the annotated CSV of the documentation lays them out.</summary>
    private const string Standing = """
        #group,false,false,true,true,false,false,true,true,true,true
        #datatype,string,long,dateTime:RFC3339,dateTime:RFC3339,dateTime:RFC3339,long,string,string,string,string
        #default,_result,,,,,,,,,
        ,result,table,_start,_stop,_time,_value,_field,_measurement,bench,site
        ,,0,2026-05-01T00:00:00Z,2026-05-06T07:08:09Z,2026-05-06T07:08:04Z,5,state,driftwatch_bench,west,annex
        ,,1,2026-05-01T00:00:00Z,2026-05-06T07:08:09Z,2026-05-06T07:08:04Z,2,alarms,driftwatch_bench,west,annex

        #group,false,false,true,true,false,false,true,true,true,true
        #datatype,string,long,dateTime:RFC3339,dateTime:RFC3339,dateTime:RFC3339,double,string,string,string,string
        #default,_result,,,,,,,,,
        ,result,table,_start,_stop,_time,_value,_field,_measurement,bench,site
        ,,2,2026-05-01T00:00:00Z,2026-05-06T07:08:09Z,2026-05-06T07:08:04Z,1778051284.25,utc,driftwatch_bench,west,annex

        """;

    [Fact]
    public async Task Fields_of_a_series_come_together()
    {
        var door = new Says(Standing, "text/csv");
        using ISiteServer server = SiteServers.Open(CountWay.Flux, Way(door), "drift \"watch\"");
        SiteRow row = Assert.Single(await server.NewestAsync("driftwatch_bench", ["state", "alarms", "utc"], TimeSpan.FromHours(1), CancellationToken.None));
        Assert.Equal(new Dictionary<string, string> { ["bench"] = "west", ["site"] = "annex" }, row.Tags);
        Assert.Equal(new Dictionary<string, double> { ["state"] = 5, ["alarms"] = 2, ["utc"] = 1778051284.25 }, row.Fields);
        Assert.Equal(("/api/v2/query", "Token right"), (door.Path, door.Key));
        Assert.Contains("org=archive", door.Query, StringComparison.Ordinal);
        Assert.Equal(
            """from(bucket: "drift \"watch\"") |> range(start: -3600s) |> filter(fn: (r) => r._measurement == "driftwatch_bench" and (r._field == "state" or r._field == "alarms" or r._field == "utc")) |> last()""",
            door.Asked);
    }

    [Fact]
    public async Task A_count_of_a_window_is_read_and_none_is_none()
    {
        const string count = "#group,false,false,false\n#datatype,string,long,long\n#default,_result,,\n,result,table,_value\n,,0,123456\n\n";
        var settings = new MirrorSettings { Id = "annex", File = "bench.toml", Line = 1, Url = new WebAddress(new Uri("http://series.example.org")), Bucket = "b", Counts = CountWay.Flux };
        var door = new Says(count, "text/csv");
        using LineServer server = Way(door);
        Assert.Equal(123456, await ServerCounts.AskAsync(server, settings, "west", 1_778_051_284_250, 1_778_051_584_250, CancellationToken.None));
        Assert.Equal(
            """from(bucket: "b") |> range(start: 2026-05-06T07:08:04.250Z, stop: 2026-05-06T07:13:04.250Z) |> filter(fn: (r) => r._measurement == "driftwatch_reading" and r._field == "quality" and r.bench == "west" and not exists r.site) |> group() |> count()""",
            door.Asked);
        await ServerCounts.AskAsync(server, settings with { Site = "annex" }, "west", 0, 1000, CancellationToken.None);
        Assert.Contains("""r.bench == "west" and r.site == "annex")""", door.Asked, StringComparison.Ordinal); // another site's bench of that name is another
        using LineServer none = Way(new Says("\r\n", "text/csv"));
        Assert.Equal(0, await ServerCounts.AskAsync(none, settings, "west", 0, 1000, CancellationToken.None));
    }

    [Fact]
    public async Task A_refusal_and_an_error_within_an_answer_are_told()
    {
        using LineServer refuses = Way(new Says("""{"code":"unauthorized","message":"unauthorized access"}""", "application/json", HttpStatusCode.Unauthorized));
        HttpRequestException said = await Assert.ThrowsAsync<HttpRequestException>(() => refuses.AskFluxAsync("buckets()", CancellationToken.None));
        Assert.Contains("401", said.Message, StringComparison.Ordinal);
        Assert.Contains("unauthorized access", said.Message, StringComparison.Ordinal);
        using LineServer fails = Way(new Says("#datatype,string,string\n#group,true,true\n#default,,\n,error,reference\n,failed to create physical plan,897\n\n", "text/csv"));
        FormatException error = await Assert.ThrowsAsync<FormatException>(() => fails.AskFluxAsync("buckets()", CancellationToken.None));
        Assert.Contains("failed to create physical plan", error.Message, StringComparison.Ordinal);
    }

    private static LineServer Way(HttpMessageHandler door) =>
        new(new LineServerOptions { Url = new Uri("http://series.example.org"), Bucket = "b", Organisation = "archive", Key = () => "right" }, door);

    private sealed class Says(string answer, string kind, HttpStatusCode status = HttpStatusCode.OK) : HttpMessageHandler
    {
        public string? Path { get; private set; }

        public string? Query { get; private set; }

        public string? Key { get; private set; }

        public string? Asked { get; private set; }

        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            (Path, Query, Key) = (request.RequestUri!.AbsolutePath, request.RequestUri.Query, request.Headers.Authorization?.ToString());
            using JsonDocument body = JsonDocument.Parse(await request.Content!.ReadAsStringAsync(cancellationToken));
            Asked = body.RootElement.GetProperty("query").GetString();
            return new HttpResponseMessage(status) { Content = new StringContent(answer, new MediaTypeHeaderValue(kind)) };
        }
    }
}
