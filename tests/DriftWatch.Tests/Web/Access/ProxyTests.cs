using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Inputs;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>What a proxy says is believed from its own address and from no other.</summary>
public sealed class ProxyTests : IAsyncLifetime
{
    private const string Root = "/api/v1/benches/practice";
    private const string Mark = Root + "/commands/mark";
    private const string Proxy = "10.9.8.7";
    private static readonly (string Name, string Value) FromProxy = (AccessScene.FromHeader, Proxy);
    private AccessScene _scene = null!;

    public async Task InitializeAsync() => _scene = await AccessScene.StartAsync(
        $"[proxy]\ntrusted = [\"{Proxy}\", \"127.0.0.2\"]\nname-header = \"X-Signed-In\"\nrole-header = \"X-Role\"\n", isNear: false, "bench.archive.example");

    public async Task DisposeAsync() => await _scene.DisposeAsync();

    [Fact]
    public async Task The_people_it_names_act_and_the_record_says_how_they_are_known()
    {
        (HttpStatusCode status, JsonElement answer) = await _scene.AskAsync(
            HttpMethod.Post, Mark, null, """{"note":"x"}""", FromProxy, ("X-Signed-In", "Una Reed"), ("X-Role", "operator"));
        Assert.Equal((HttpStatusCode.OK, "proxy"), (status, answer.GetProperty("identity").GetString()));
        Command command = Assert.Single(_scene.Bench.Entered);
        Assert.Equal(("Una Reed", "proxy"), (command.By, command.Identity));
    }

    [Theory]
    [InlineData(Proxy, "Una Reed", "reader", 403)]
    [InlineData(Proxy, "Una Reed", null, 403)]
    [InlineData(Proxy, "Una Reed", "root", 401)]
    [InlineData(Proxy, null, "operator", 401)]
    [InlineData("10.9.8.8", "Una Reed", "operator", 401)]
    public async Task Who_is_not_named_by_it_with_a_role_that_acts_does_not_act(string from, string? name, string? role, int due)
    {
        List<(string, string)> headers = [(AccessScene.FromHeader, from)];
        if (name is not null)
        {
            headers.Add(("X-Signed-In", name));
        }

        if (role is not null)
        {
            headers.Add(("X-Role", role));
        }

        (HttpStatusCode status, _) = await _scene.AskAsync(HttpMethod.Post, Mark, null, """{"note":"x"}""", [.. headers]);
        Assert.Equal(due, (int)status);
        Assert.Empty(_scene.Bench.Entered);
    }

    [Fact]
    public async Task The_password_that_a_proxy_asked_for_itself_and_passes_on_is_no_hindrance() =>
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(
            HttpMethod.Get, Root, null, null, FromProxy, ("X-Signed-In", "Una Reed"), ("Authorization", "Basic dW5hOng="))).Status);

    /// <summary>A proxy on this machine that forwards nobody's address must not make everybody near.</summary>
    [Theory]
    [InlineData("127.0.0.2", null)]
    [InlineData("127.0.0.2", "127.0.0.1")]
    [InlineData(Proxy, "127.0.0.1")]
    [InlineData(AccessScene.Elsewhere, "127.0.0.1")]
    public async Task Nobody_becomes_near_by_what_a_header_says(string from, string? forwarded)
    {
        (string, string)[] headers = forwarded is null ? [(AccessScene.FromHeader, from)] : [(AccessScene.FromHeader, from), ("X-Forwarded-For", forwarded)];
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, null, null, headers)).Status);
    }

    [Fact]
    public async Task Its_word_on_host_and_scheme_makes_the_cookie_a_secure_one_of_this_host_and_the_origin_ours()
    {
        (string, string)[] through = [FromProxy, ("X-Forwarded-For", "203.0.113.4"), ("X-Forwarded-Proto", "https"), ("X-Forwarded-Host", "bench.archive.example")];
        (string set, string cookie) = await _scene.SignInAsync(_scene.Ida.Token, through);
        Assert.StartsWith("__Host-driftwatch-443=", set, StringComparison.Ordinal);
        Assert.Contains("; secure", set, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("domain", set, StringComparison.OrdinalIgnoreCase);
        Assert.Contains(_scene.Log, line => line.StartsWith("2102 Ida Wren (operator) signed in from 203.0.113.4", StringComparison.Ordinal));

        (string, string)[] acting = [.. through, ("Cookie", cookie), ("Origin", "https://bench.archive.example")];
        Assert.Equal(HttpStatusCode.OK, (await _scene.AskAsync(HttpMethod.Post, Mark, null, """{"note":"x"}""", acting)).Status);
        (string, string)[] foreign = [.. through, ("Cookie", cookie), ("Origin", "http://bench.archive.example")];
        Assert.Equal(HttpStatusCode.Forbidden, (await _scene.AskAsync(HttpMethod.Post, Mark, null, """{"note":"x"}""", foreign)).Status);

        // The same cookie in the clear is none.
        Assert.Equal(HttpStatusCode.Unauthorized, (await _scene.AskAsync(HttpMethod.Get, Root, null, null, ("Cookie", cookie))).Status);
    }

    [Fact]
    public async Task A_host_that_it_forwards_must_be_one_of_ours()
    {
        (HttpStatusCode status, _) = await _scene.AskAsync(
            HttpMethod.Get, "/healthz", null, null, FromProxy, ("X-Forwarded-Host", "evil.example"));
        Assert.Equal(HttpStatusCode.MisdirectedRequest, status);
    }
}
