using System.Net;
using System.Text.Json;
using DriftWatch.Mirror;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>How mirrors stand, over the API; where they go and what they sign with is not told.</summary>
public sealed class MirrorApiTests : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task What_is_wrong_is_told_with_its_remedy_and_no_address_or_key()
    {
        Assert.Empty((await _served.GetAsync("/api/v1/benches/practice/mirrors")).GetProperty("mirrors").EnumerateArray());
        _bench.Mirrors =
        [
            new MirrorReport
            {
                Settings = new MirrorSettings
                {
                    Id = "annex", File = "bench.toml", Line = 9, Bucket = "driftwatch", Url = new WebAddress(new Uri("https://hidden.example.org")), Key = new SecretPlace("HIDDEN", null),
                },
                State = MirrorState.Waiting, Trouble = "connection refused", Remedy = "look whether it runs", WaitingSinceUtc = 1_775_000_000_000_000_000, OlderInputs = 12, Behind = TimeSpan.FromSeconds(90),
            },
        ];
        JsonElement answer = await _served.GetAsync("/api/v1/benches/practice/mirrors");
        JsonElement mirror = Assert.Single(answer.GetProperty("mirrors").EnumerateArray());
        Assert.Equal(("waiting", "connection refused", "look whether it runs", 90.0, 12), (
            mirror.GetProperty("state").GetString(), mirror.GetProperty("trouble").GetString(), mirror.GetProperty("remedy").GetString(), mirror.GetProperty("behindSeconds").GetDouble(), mirror.GetProperty("olderInputs").GetInt32()));
        Assert.Equal("2026-03-31T23:33:20.000Z", mirror.GetProperty("waitingSince").GetString());
        Assert.DoesNotContain("hidden", answer.ToString(), StringComparison.OrdinalIgnoreCase);
        await _served.GetAsync("/api/v1/benches/none/mirrors", HttpStatusCode.NotFound);
    }
}
