using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>Who may do what from another machine, and under which name.</summary>
public sealed class AccessApiTests : IAsyncLifetime
{
    private const string Root = "/api/v1/benches/practice";
    private const string Mark = Root + "/commands/mark";
    private AccessScene _scene = null!;

    public async Task InitializeAsync() => _scene = await AccessScene.StartAsync();

    public async Task DisposeAsync() => await _scene.DisposeAsync();

    public static TheoryData<string> Reads => new(
        "/api/v1/benches", Root, Root + "/channels", Root + "/channels/regulated-air/history", Root + "/findings", Root + "/alarms/health",
        Root + "/notices", Root + "/health", Root + "/live", "/api/v1/openapi.json", "/api/v1/session", "/api/v1/nothing-there");

    [Theory]
    [MemberData(nameof(Reads))]
    public async Task A_stranger_reads_nothing_and_is_told_how_to_sign_in(string path)
    {
        (HttpStatusCode status, JsonElement problem) = await _scene.AskAsync(HttpMethod.Get, path);
        Assert.Equal(HttpStatusCode.Unauthorized, status);
        Assert.Equal("urn:driftwatch:problem:not-signed-in", problem.GetProperty("type").GetString());
        Assert.Contains("Bearer", problem.GetProperty("remedy").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_reader_reads_and_does_not_act()
    {
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
        (string Method, string Path, string? Json)[] acts =
        [
            ("POST", Mark, """{"note":"x"}"""), ("POST", Root + "/what-if", "{}"), ("DELETE", Root + "/what-if/1", "{}"),
            ("POST", Root + "/notices/test", "{}"), ("POST", Root + "/commands/baseline", "{}"), ("POST", Root + "/commands/reload", "{}"),
        ];
        foreach ((string method, string path, string? json) in acts)
        {
            (HttpStatusCode status, JsonElement problem) = await _scene.AskAsync(new HttpMethod(method), path, _scene.Ben.Token, json);
            Assert.Equal((path, HttpStatusCode.Forbidden), (path, status));
            Assert.Equal("urn:driftwatch:problem:only-reader", problem.GetProperty("type").GetString());
        }

        Assert.Empty(_scene.Bench.Entered);
        Assert.Contains(_scene.Log, line => line.StartsWith("2107 Ben Moor (reader) may not POST", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_reader_measures_because_that_changes_nothing()
    {
        const string Filter = "/api/v1/measure/filter";
        const string Drop = """{"atRest":51.2,"underFlow":49.9}""";
        (HttpStatusCode status, JsonElement answer) = await _scene.AskAsync(HttpMethod.Post, Filter, _scene.Ben.Token, Drop);
        Assert.Equal((HttpStatusCode.OK, true), (status, answer.GetProperty("told").GetBoolean()));
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Post, Filter, token: null, Drop)).Status);
        Assert.Empty(_scene.Bench.Entered);
    }

    /// <summary>Whoever adds an act and forgets to say that it is one meets this, and so does whoever calls an act a reckoning.</summary>
    [Fact]
    public void Everything_that_changes_something_needs_an_operator()
    {
        string[] reckonings = ["/api/v1/measure/", "/api/v1/benches/{bench}/channels/{channel}/calibrations/try"];
        IEnumerable<RouteEndpoint> acts = _scene.Served.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>()
            .Where(e => e.Metadata.GetMetadata<HttpMethodMetadata>()!.HttpMethods.Any(m => m is not "GET" and not "HEAD"));
        foreach (RouteEndpoint act in acts.Where(a => a.RoutePattern.RawText != "/api/v1/session"))
        {
            bool isReckoning = reckonings.Any(r => act.RoutePattern.RawText!.StartsWith(r, StringComparison.Ordinal));
            Assert.True(isReckoning == (act.Metadata.GetMetadata<ReckonsOnly>() is not null), $"{act.DisplayName} is no act, or hides that it is one.");
            Assert.True(isReckoning || act.Metadata.GetMetadata<IAuthorizeData>()?.Policy == "operator", $"{act.DisplayName} lets readers act.");
            Assert.Null(act.Metadata.GetMetadata<IAllowAnonymous>());
        }
    }

    [Fact]
    public async Task An_operator_signs_with_the_name_of_the_token_and_with_no_other()
    {
        (HttpStatusCode status, JsonElement answer) = await _scene.AskAsync(HttpMethod.Post, Mark, _scene.Ida.Token, """{"note":"splice"}""");
        Assert.Equal((HttpStatusCode.OK, "token"), (status, answer.GetProperty("identity").GetString()));
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Post, Mark, _scene.Ida.Token, """{"by":"Ida Wren","note":"reel"}""")).Status);
        (status, JsonElement problem) = await _scene.AskAsync(HttpMethod.Post, Mark, _scene.Ida.Token, """{"by":"Ben Moor","note":"x"}""");
        Assert.Equal((HttpStatusCode.Forbidden, "by"), (status, problem.GetProperty("parameter").GetString()));
        (status, _) = await _scene.AskAsync(HttpMethod.Post, Root + "/notices/test", _scene.Ida.Token, """{"by":"Ben Moor"}""");
        Assert.Equal(HttpStatusCode.Forbidden, status);
        Assert.All(_scene.Bench.Entered, command => Assert.Equal(("Ida Wren", "token"), (command.By, command.Identity)));
        Assert.Equal(2, _scene.Bench.Entered.Count);
        Assert.Single(_scene.Log, line => line.StartsWith("2114 The token of Ida Wren (operator) was shown", StringComparison.Ordinal));
        Assert.Contains(_scene.Log, line => line.StartsWith("2109 Bench practice: Ida Wren (token) did mark", StringComparison.Ordinal));
    }

    [Fact]
    public async Task This_machine_itself_declares_a_name_and_needs_no_sign_in()
    {
        (string, string)[] near = [(AccessScene.FromHeader, "127.0.0.1")];
        (HttpStatusCode status, _) = await _scene.AskAsync(HttpMethod.Post, Mark, token: null, """{"by":"Ida Wren","note":"x"}""", near);
        Assert.Equal(HttpStatusCode.OK, status);
        Command command = Assert.Single(_scene.Bench.Entered);
        Assert.Equal(("Ida Wren", "declared"), (command.By, command.Identity));
        (_, JsonElement who) = await _scene.AskAsync(HttpMethod.Get, "/api/v1/session", token: null, json: null, near);
        Assert.Equal(("declared", true), (who.GetProperty("identity").GetString(), who.GetProperty("mayAct").GetBoolean()));
        (status, JsonElement problem) = await _scene.AskAsync(HttpMethod.Post, Mark, token: null, """{"note":"x"}""", near);
        Assert.Equal((HttpStatusCode.BadRequest, "by"), (status, problem.GetProperty("parameter").GetString()));
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, token: null, json: null, (AccessScene.FromHeader, "::ffff:127.0.0.1"))).Status);
    }

    [Fact]
    public async Task A_wrong_token_is_refused_from_this_machine_too_and_waits()
    {
        string wrong = _scene.Ida.Token[..^1] + (_scene.Ida.Token[^1] == 'a' ? 'b' : 'a');
        long since = TimeProvider.System.GetTimestamp();
        foreach (string from in (string[])["127.0.0.1", AccessScene.Elsewhere])
        {
            (HttpStatusCode status, JsonElement problem) = await _scene.AskAsync(HttpMethod.Get, Root, wrong, json: null, (AccessScene.FromHeader, from));
            Assert.Equal(HttpStatusCode.Unauthorized, status);
            Assert.Equal("urn:driftwatch:problem:wrong-token", problem.GetProperty("type").GetString());
        }

        Assert.True(TimeProvider.System.GetElapsedTime(since) >= TimeSpan.FromSeconds(2));
        Assert.Contains(_scene.Log, line => line.StartsWith($"2105 A token from {AccessScene.Elsewhere} was refused", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Strangers_are_told_words_of_state_and_nothing_else()
    {
        (HttpStatusCode status, JsonElement alive) = await _scene.AskAsync(HttpMethod.Get, "/healthz");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Equal("""{"status":"alive"}""", alive.GetRawText());
        _scene.Bench.Health = FakeBench.Healthy with { Storing = TimeSpan.FromSeconds(6), StoreTrouble = "disk full on /srv/bench" };
        (status, JsonElement ready) = await _scene.AskAsync(HttpMethod.Get, "/readyz");
        Assert.Equal(HttpStatusCode.ServiceUnavailable, status);
        Assert.Equal("""{"ready":false,"sampling":"fresh","storing":"trouble","judging":"fresh","noticing":"not-set-up"}""", ready.GetRawText());
        (_, ready) = await _scene.AskAsync(HttpMethod.Get, "/readyz", _scene.Ben.Token);
        Assert.Equal("disk full on /srv/bench", ready.GetProperty("benches")[0].GetProperty("storeTrouble").GetString());
    }

    [Fact]
    public async Task A_token_taken_from_the_file_is_worth_nothing_within_seconds_and_its_streams_end()
    {
        using HttpResponseMessage stream = await _scene.SendAsync(HttpMethod.Get, Root + "/live", _scene.Ben.Token);
        using Stream events = await stream.Content.ReadAsStreamAsync();
        byte[] some = new byte[1 << 16];
        Assert.True(await events.ReadAsync(some) > 0);
        _scene.Write(_scene.IdasEntry() + "# Ben is gone\n");
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(20), TimeProvider.System);
        while (await events.ReadAsync(some, patience.Token) > 0)
        {
            // What was on its way.
        }

        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ida.Token)).Status);
        Assert.Contains(_scene.Log, line => line.StartsWith("2110 ", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_token_whose_last_day_is_over_lets_nobody_in_and_the_log_says_where_it_stands()
    {
        _scene.Write(_scene.IdasEntry() + _scene.BensEntry() + "until = \"2020-01-31\"\n");
        _scene.Served.Services.GetRequiredService<AccessDesk>().Look();
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ida.Token)).Status);
        Assert.Contains(_scene.Log, line => line.StartsWith($"2115 {_scene.AccessPath}(", StringComparison.Ordinal) && line.Contains("'until'", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_file_that_became_wrong_leaves_in_force_what_it_said_and_one_that_is_gone_lets_nobody_in()
    {
        var desk = _scene.Served.Services.GetRequiredService<AccessDesk>();
        _scene.Write(_scene.IdasEntry() + "[session]\nidel = 3\n");
        desk.Look();
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
        Assert.Contains(_scene.Log, line => line.StartsWith("2111 ", StringComparison.Ordinal) && line.Contains("write 'idle'", StringComparison.Ordinal));
        File.Delete(_scene.AccessPath);
        desk.Look();
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
        _scene.Write(_scene.BensEntry());
        desk.Look();
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Get, Root, _scene.Ben.Token)).Status);
    }

    [Fact]
    public async Task The_document_says_who_may_use_what()
    {
        (_, JsonElement document) = await _scene.AskAsync(HttpMethod.Get, "/api/v1/openapi.json", _scene.Ben.Token);
        JsonElement schemes = document.GetProperty("components").GetProperty("securitySchemes");
        Assert.Equal("bearer", schemes.GetProperty("token").GetProperty("scheme").GetString());
        Assert.Equal("cookie", schemes.GetProperty("session").GetProperty("in").GetString());
        foreach (JsonProperty path in document.GetProperty("paths").EnumerateObject())
        {
            foreach (JsonProperty operation in path.Value.EnumerateObject())
            {
                bool isOpen = path.Name is "/healthz" or "/readyz" || (path.Name == "/api/v1/session" && operation.Name != "get");
                bool isAct = operation.Name != "get" && !isOpen && !path.Name.StartsWith("/api/v1/measure/", StringComparison.Ordinal) && !path.Name.EndsWith("/try", StringComparison.Ordinal);
                JsonElement responses = operation.Value.GetProperty("responses");
                Assert.Equal((path.Name, !isOpen), (path.Name, operation.Value.TryGetProperty("security", out JsonElement security) && security.GetArrayLength() == 3));
                Assert.True(isOpen || responses.TryGetProperty("401", out _), path.Name);
                Assert.True(!isAct || responses.TryGetProperty("403", out _), path.Name);
                Assert.True(!isAct || responses.TryGetProperty("429", out _), path.Name);
            }
        }

        Assert.True(document.GetProperty("paths").GetProperty(Root.Replace("practice", "{bench}", StringComparison.Ordinal) + "/channels/{channel}/history")
            .GetProperty("get").GetProperty("responses").TryGetProperty("429", out _));
    }
}
