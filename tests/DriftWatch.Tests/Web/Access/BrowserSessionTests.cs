using System.Net;
using System.Text;
using System.Text.Json;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>The cookie of a sign-in, what it is good for, and that no other page can use it.</summary>
public sealed class BrowserSessionTests : IAsyncLifetime
{
    private const string Root = "/api/v1/benches/practice";
    private const string Mark = Root + "/commands/mark";
    private AccessScene _scene = null!;

    public async Task InitializeAsync() => _scene = await AccessScene.StartAsync();

    public async Task DisposeAsync() => await _scene.DisposeAsync();

    [Fact]
    public async Task Signing_in_gives_a_cookie_that_scripts_and_other_sites_can_not_use()
    {
        (string set, string cookie) = await _scene.SignInAsync(_scene.Ida.Token);
        Assert.StartsWith($"driftwatch-{_scene.Served.Address.Port}=", set, StringComparison.Ordinal);
        string[] parts = [.. set.Split(';').Skip(1).Select(p => p.Trim().ToLowerInvariant()).Order(StringComparer.Ordinal)];
        Assert.Equal(["httponly", "path=/", "samesite=strict"], parts);
        Assert.DoesNotContain(_scene.Ida.Token[12..], set, StringComparison.Ordinal);

        (HttpStatusCode status, JsonElement who) = await _scene.AskAsync(HttpMethod.Get, "/api/v1/session", token: null, json: null, ("Cookie", cookie));
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Equal(("Ida Wren", "operator", "token"), (who.GetProperty("name").GetString(), who.GetProperty("role").GetString(), who.GetProperty("identity").GetString()));
        Assert.InRange(who.GetProperty("secondsLeft").GetDouble(), 12 * 3600 - 60, 12 * 3600);
        using HttpResponseMessage stream = await _scene.SendAsync(HttpMethod.Get, Root + "/live", token: null, json: null, ("Cookie", cookie));
        Assert.Equal("text/event-stream", stream.Content.Headers.ContentType!.MediaType);
    }

    [Theory]
    [InlineData("Origin", "http://evil.example", "application/json", 403)]
    [InlineData("Origin", "null", "application/json", 403)]
    [InlineData("Sec-Fetch-Site", "cross-site", "application/json", 403)]
    [InlineData("Sec-Fetch-Site", "same-site", "application/json", 403)]
    [InlineData("Sec-Fetch-Site", "same-origin", "text/plain", 415)]
    [InlineData("Sec-Fetch-Site", "same-origin", "application/x-www-form-urlencoded", 415)]
    [InlineData("Sec-Fetch-Site", "same-origin", "application/json", 200)]
    public async Task A_foreign_page_can_not_act_with_the_cookie_nor_sign_anybody_in(string header, string value, string type, int due)
    {
        (_, string cookie) = await _scene.SignInAsync(_scene.Ida.Token);
        foreach ((string path, string body) in (IEnumerable<(string, string)>)[(Mark, """{"note":"x"}"""), ("/api/v1/session", $$"""{"token":"{{_scene.Ida.Token}}"}""")])
        {
            using HttpResponseMessage response = await _scene.SendAsync(HttpMethod.Post, path, new StringContent(body, Encoding.UTF8, type), ("Cookie", cookie), (header, value));
            Assert.Equal((path, due), (path, (int)response.StatusCode));
        }

        Assert.Equal(due == 200 ? 1 : 0, _scene.Bench.Entered.Count);
    }

    [Fact]
    public async Task Signing_out_ends_it_with_its_streams()
    {
        (_, string cookie) = await _scene.SignInAsync(_scene.Ida.Token);
        using HttpResponseMessage stream = await _scene.SendAsync(HttpMethod.Get, Root + "/live", token: null, json: null, ("Cookie", cookie));
        using Stream events = await stream.Content.ReadAsStreamAsync();
        using HttpResponseMessage gone = await _scene.SendAsync(HttpMethod.Delete, "/api/v1/session", token: null, "{}", ("Cookie", cookie));
        Assert.Equal(HttpStatusCode.NoContent, gone.StatusCode);
        Assert.Contains("max-age=0", gone.Headers.GetValues("Set-Cookie").Single(), StringComparison.OrdinalIgnoreCase);
        byte[] some = new byte[1 << 16];
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(20), TimeProvider.System);
        while (await events.ReadAsync(some, patience.Token) > 0)
        {
            // What was on its way.
        }

        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, token: null, json: null, ("Cookie", cookie))).Status);
        Assert.Contains(_scene.Log, line => line.StartsWith("2103 Ida Wren signed out", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Signing_in_anew_gives_another_cookie_and_ends_the_one_before()
    {
        (_, string first) = await _scene.SignInAsync(_scene.Ida.Token);
        (_, string second) = await _scene.SignInAsync(_scene.Ida.Token, ("Cookie", first));
        Assert.NotEqual(first, second);
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, token: null, json: null, ("Cookie", first))).Status);
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, token: null, json: null, ("Cookie", second))).Status);
    }

    [Theory]
    [InlineData("""{"token":""}""", 400)]
    [InlineData("{}", 400)]
    [InlineData("[", 400)]
    [InlineData("""{"token":"dw-aaaaaaaa-aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"}""", 401)]
    [InlineData("""{"token":"not one at all"}""", 401)]
    public async Task What_is_no_token_signs_nobody_in(string body, int due)
    {
        using HttpResponseMessage response = await _scene.SendAsync(HttpMethod.Post, "/api/v1/session", token: null, body);
        Assert.Equal(due, (int)response.StatusCode);
        Assert.False(response.Headers.Contains("Set-Cookie"));
        JsonElement problem = await ServedBench.ReadAsync(response, (HttpStatusCode)due);
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
    }

    /// <summary>Everything that a run says, on the wire and in its log, with all of it turned on.</summary>
    [Fact]
    public async Task No_secret_stands_in_any_answer_or_line_of_the_log()
    {
        var said = new StringBuilder();
        (string set, string cookie) = await _scene.SignInAsync(_scene.Ida.Token);
        string wrong = _scene.Ben.Token[..^1] + (_scene.Ben.Token[^1] == 'a' ? 'b' : 'a');
        foreach (string token in (string[])[_scene.Ida.Token, wrong])
        {
            foreach ((HttpMethod method, string path, string? body) in (IEnumerable<(HttpMethod, string, string?)>)[
                (HttpMethod.Get, "/api/v1/session", null), (HttpMethod.Get, Root, null), (HttpMethod.Post, Mark, """{"note":"x"}"""), (HttpMethod.Get, "/api/v1/openapi.json", null),
                (HttpMethod.Post, "/api/v1/session", $$"""{"token":"{{wrong}}","more":1}"""), (HttpMethod.Post, "/api/v1/session", $$"""{"{{wrong}}":1}"""), (HttpMethod.Get, "/readyz", null),
                (HttpMethod.Get, "/signin.html", null)])
            {
                using HttpResponseMessage response = await _scene.SendAsync(method, path, token, body, ("Cookie", cookie));
                said.Append(response.Headers).Append(await response.Content.ReadAsStringAsync());
            }
        }

        (await _scene.SendAsync(HttpMethod.Delete, "/api/v1/session", token: null, "{}", ("Cookie", cookie))).Dispose();
        string all = said + string.Join('\n', _scene.Log);
        Assert.Contains("Ida Wren", all, StringComparison.Ordinal);
        string secretOfCookie = cookie[(cookie.IndexOf('=', StringComparison.Ordinal) + 1)..];
        Assert.All((string[])[_scene.Ida.Token[12..], wrong[12..^1], secretOfCookie], secret => Assert.DoesNotContain(secret, all, StringComparison.Ordinal));
        Assert.Contains(secretOfCookie, set, StringComparison.Ordinal);
    }
}
