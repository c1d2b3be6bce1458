using System.Net;
using System.Text.Json;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>Too often is put off with 429 and a time to wait, and leaves others alone.</summary>
public sealed class RateTests : IAsyncLifetime
{
    private const string Root = "/api/v1/benches/practice";
    private AccessScene _scene = null!;

    public async Task InitializeAsync() => _scene = await AccessScene.StartAsync();

    public async Task DisposeAsync() => await _scene.DisposeAsync();

    [Fact]
    public async Task Guessing_tokens_is_put_off_by_address_in_the_header_and_at_the_door_alike()
    {
        string guess = "dw-aaaaaaaa-" + new string('a', 40);
        HttpStatusCode[] first = await Task.WhenAll(Enumerable.Range(0, 10).Select(async i =>
            (await (i % 2 == 0 ? _scene.AskAsync(HttpMethod.Get, Root, guess) : _scene.AskAsync(HttpMethod.Post, "/api/v1/session", null, $$"""{"token":"{{guess}}"}"""))).Status));
        Assert.All(first, status => Assert.Equal(HttpStatusCode.Unauthorized, status));
        foreach ((HttpMethod method, string path, string? token, string? json) in (IEnumerable<(HttpMethod, string, string?, string?)>)[
            (HttpMethod.Get, Root, guess, null), (HttpMethod.Post, "/api/v1/session", null, $$"""{"token":"{{_scene.Ida.Token}}"}""")])
        {
            using HttpResponseMessage response = await _scene.SendAsync(method, path, token, json);
            Assert.Equal(HttpStatusCode.TooManyRequests, response.StatusCode);
            Assert.InRange(response.Headers.RetryAfter!.Delta!.Value.TotalSeconds, 1, 10);
        }

        // Another address is not held up by it.
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ida.Token, null, (AccessScene.FromHeader, "192.0.2.8"))).Status);
    }

    /// <summary>A page's worth of requests that come together, all with a token that was not seen before.</summary>
    [Fact]
    public async Task A_good_token_counts_as_one_attempt_however_many_requests_bring_it_at_once()
    {
        Assert.All(await ManyAsync(60, _ => _scene.AskAsync(HttpMethod.Get, Root, _scene.Ida.Token)), status => Assert.Equal(HttpStatusCode.OK, status));
        Assert.Single(_scene.Log, line => line.StartsWith("2114 ", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Acts_are_counted_by_person()
    {
        HttpStatusCode[] done = await ManyAsync(60, _ => _scene.AskAsync(HttpMethod.Post, Root + "/commands/mark", _scene.Ida.Token, """{"note":"x"}"""));
        Assert.InRange(done.Count(s => s == HttpStatusCode.OK), 30, 59);
        using HttpResponseMessage refused = await _scene.SendAsync(HttpMethod.Post, Root + "/commands/mark", _scene.Ida.Token, """{"note":"x"}""");
        if (refused.StatusCode == HttpStatusCode.TooManyRequests)
        {
            JsonElement problem = await ServedBench.ReadAsync(refused, HttpStatusCode.TooManyRequests);
            Assert.Equal("urn:driftwatch:problem:too-often", problem.GetProperty("type").GetString());
            Assert.NotNull(refused.Headers.RetryAfter);
        }

        Assert.Contains(_scene.Log, line => line.StartsWith("2108 person Ida Wren asks too often", StringComparison.Ordinal));
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(
            HttpMethod.Post, Root + "/commands/mark", null, """{"by":"Ben","note":"x"}""", (AccessScene.FromHeader, "127.0.0.1"))).Status);
    }

    [Fact]
    public async Task Reads_that_take_time_are_counted_and_others_are_not()
    {
        HttpStatusCode[] heavy = await ManyAsync(900, _ => _scene.AskAsync(HttpMethod.Get, Root + "/channels/regulated-air/history?buckets=1", _scene.Ben.Token));
        Assert.InRange(heavy.Count(s => s == HttpStatusCode.OK), 400, 899);
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root + "/channels", _scene.Ben.Token)).Status);
    }

    [Fact]
    public async Task Streams_of_one_client_are_bounded_and_one_that_closes_makes_room()
    {
        var open = new List<HttpResponseMessage>();
        for (int i = 0; i < 12; i++)
        {
            open.Add(await _scene.SendAsync(HttpMethod.Get, Root + "/live", _scene.Ben.Token));
        }

        Assert.All(open, stream => Assert.Equal(HttpStatusCode.OK, stream.StatusCode));
        using HttpResponseMessage refused = await _scene.SendAsync(HttpMethod.Get, Root + "/live", _scene.Ben.Token);
        Assert.Equal(HttpStatusCode.TooManyRequests, refused.StatusCode);
        Assert.NotNull(refused.Headers.RetryAfter);
        open[0].Dispose();
        for (int i = 0; i < 200; i++)
        {
            using HttpResponseMessage again = await _scene.SendAsync(HttpMethod.Get, Root + "/live", _scene.Ben.Token);
            if (again.StatusCode == HttpStatusCode.OK)
            {
                open.ForEach(stream => stream.Dispose());
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }

        Assert.Fail("The place of a closed stream was not free within 10 s.");
    }

    private static async Task<HttpStatusCode[]> ManyAsync(int count, Func<int, Task<(HttpStatusCode Status, JsonElement Body)>> ask) =>
        await Task.WhenAll(Enumerable.Range(0, count).Select(async i => (await ask(i)).Status));
}
