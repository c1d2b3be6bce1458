using System.Net;
using System.Text;
using System.Text.Json;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class RequestGuardTests : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() =>
        _served = await ServedBench.StartAsync(new WebSettings { AllowedHosts = ["bench.archive.example"] }, _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Theory]
    [InlineData("localhost:8080", 200)]
    [InlineData("LOCALHOST", 200)]
    [InlineData("127.0.0.1", 200)]
    [InlineData("[::1]:1234", 200)]
    [InlineData("bench.archive.example", 200)]
    [InlineData("evil.example", 421)]
    [InlineData("127.0.0.1.evil.example", 421)]
    [InlineData("localhost.evil.example", 421)]
    [InlineData("10.0.0.5", 421)]
    public async Task Only_our_own_host_names_are_served_page_api_and_health_alike(string host, int status)
    {
        foreach (string path in (string[])["/", "/api/v1/benches", "/healthz"])
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, path);
            request.Headers.Host = host;
            using HttpResponseMessage response = await _served.Client.SendAsync(request);
            Assert.Equal(status, (int)response.StatusCode);
        }
    }

    [Theory]
    [InlineData("Origin", "http://evil.example", 403)]
    [InlineData("Origin", "null", 403)]
    [InlineData("Sec-Fetch-Site", "cross-site", 403)]
    [InlineData("Sec-Fetch-Site", "same-site", 403)]
    [InlineData("Sec-Fetch-Site", "same-origin", 200)]
    [InlineData("X-Nothing", "1", 200)]
    public async Task An_act_from_a_foreign_page_is_refused(string header, string value, int status)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/benches/practice/commands/mark")
        {
            Content = new StringContent("""{"by":"Ida","note":"x"}""", Encoding.UTF8, "application/json"),
        };
        request.Headers.TryAddWithoutValidation(header, value);
        using HttpResponseMessage response = await _served.Client.SendAsync(request);
        Assert.Equal(status, (int)response.StatusCode);
        Assert.Equal(status == 200 ? 1 : 0, _bench.Entered.Count);
    }

    [Fact]
    public async Task An_act_from_our_own_page_is_taken()
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/benches/practice/commands/mark")
        {
            Content = new StringContent("""{"by":"Ida","note":"x"}""", Encoding.UTF8, "application/json"),
        };
        request.Headers.Add("Origin", _served.Address.GetLeftPart(UriPartial.Authority));
        using HttpResponseMessage response = await _served.Client.SendAsync(request);
        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
    }

    [Theory]
    [InlineData("text/plain")]
    [InlineData("application/x-www-form-urlencoded")]
    public async Task A_form_is_no_act(string type)
    {
        using var content = new StringContent("""{"by":"Ida","note":"x"}""", Encoding.UTF8, type);
        using HttpResponseMessage response = await _served.Client.PostAsync(new Uri("/api/v1/benches/practice/commands/mark", UriKind.Relative), content);
        JsonElement problem = await ServedBench.ReadAsync(response, HttpStatusCode.UnsupportedMediaType);
        Assert.Equal("urn:driftwatch:problem:not-json", problem.GetProperty("type").GetString());
        Assert.Empty(_bench.Entered);
    }

    [Theory]
    [InlineData("/")]
    [InlineData("/app.js")]
    [InlineData("/api/v1/benches")]
    [InlineData("/api/v1/nothing")]
    [InlineData("/healthz")]
    public async Task Every_answer_carries_the_security_headers_and_allows_no_other_origin(string path)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        request.Headers.Add("Origin", "http://evil.example");
        using HttpResponseMessage response = await _served.Client.SendAsync(request);
        string policy = Assert.Single(response.Headers.GetValues("Content-Security-Policy"));
        Assert.Contains("default-src 'none'", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.Equal("nosniff", Assert.Single(response.Headers.GetValues("X-Content-Type-Options")));
        Assert.Equal("DENY", Assert.Single(response.Headers.GetValues("X-Frame-Options")));
        Assert.False(response.Headers.Contains("Access-Control-Allow-Origin"));
        Assert.False(response.Headers.Contains("Server"));
    }
}
