using System.Net;
using System.Text.Json;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>The routes of notices over the API, and the test button's request.</summary>
public sealed class NoticeApiTests : IAsyncLifetime
{
    private const string Notices = "/api/v1/benches/practice/notices";
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), new FakeBench(TimeProvider.System));

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task The_routes_and_the_pages_own_settings_are_told_with_the_caution()
    {
        JsonElement answer = await _served.GetAsync(Notices);
        Assert.Contains("no safety interlock", answer.GetProperty("caution").GetString(), StringComparison.Ordinal);
        Assert.True(answer.GetProperty("page").GetProperty("sound").GetBoolean());
        Assert.Empty(answer.GetProperty("routes").EnumerateArray());
        await _served.GetAsync("/api/v1/benches/none/notices", HttpStatusCode.NotFound);
    }

    [Theory]
    [InlineData("{}", "by")]
    [InlineData("{\"by\":\" \"}", "by")]
    [InlineData("{\"by\":\"anna\",\"route\":\"none\"}", "route")]
    [InlineData("{\"by\":\"anna\",\"rout\":\"none\"}", "rout")]
    public async Task A_wrong_request_for_a_test_is_told_by_its_field(string body, string field)
    {
        JsonElement problem = await _served.PostAsync(Notices + "/test", body, HttpStatusCode.BadRequest);
        Assert.Equal(field, problem.GetProperty("parameter").GetString());
    }

    [Fact]
    public async Task A_test_of_a_bench_without_routes_tests_none() =>
        Assert.Empty((await _served.PostAsync(Notices + "/test", "{\"by\":\"anna\"}")).GetProperty("tests").EnumerateArray());
}
