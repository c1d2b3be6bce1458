using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Drifts;
using DriftWatch.Web;

namespace DriftWatch.Tests.Web;

/// <summary>RF of the heads side by side: what is said, and that no old or faulty level is taken for one.</summary>
public sealed class HeadsApiTests : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        Hold(-4, -4.5, -5, -4.5);
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task Heads_that_lie_together_wait_for_a_baseline_of_their_limits()
    {
        JsonElement answer = await HeadsAsync();
        Assert.Equal(1, answer.GetProperty("spreadDb").GetDouble(), 9);
        Assert.Equal("agree", answer.GetProperty("tells").GetString());
        Assert.Contains("there is no baseline of them all", answer.GetProperty("says").GetString(), StringComparison.Ordinal);
        JsonElement third = answer.GetProperty("heads")[2];
        Assert.Equal(-5 + (13.0 / 3), third.GetProperty("fromOthersDb").GetDouble(), 9);
        Assert.Equal("not-judged", third.GetProperty("standing").GetString());
        Assert.Contains("wait for a baseline", third.GetProperty("says").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_head_that_fell_is_named_and_stands_beyond_its_limit()
    {
        Baseline(-4, -4.5, -5, -4.5);
        Hold(-4, -4.5, -9, -4.5);
        JsonElement answer = await HeadsAsync();
        Assert.Equal(3, answer.GetProperty("oddHead").GetInt32());
        Assert.StartsWith("Head 3 lies apart: 4.0 dB below", answer.GetProperty("says").GetString(), StringComparison.Ordinal);
        Assert.Equal("anna", answer.GetProperty("baseline").GetProperty("by").GetString());
        JsonElement third = answer.GetProperty("heads")[2];
        Assert.Equal(-4, third.GetProperty("fromBaselineDb").GetDouble(), 9);
        Assert.Equal("advisory", third.GetProperty("standing").GetString());
        Assert.Equal("beyond its advisory limit of -7.0 dB", third.GetProperty("says").GetString());
        Assert.Equal(-7, third.GetProperty("limits")[0].GetProperty("atDb").GetDouble(), 9);
        Assert.Equal("good", answer.GetProperty("heads")[0].GetProperty("standing").GetString());
    }

    [Fact]
    public async Task A_level_that_is_old_or_a_fault_is_none()
    {
        _bench.Silence("rf-2", TimeSpan.FromSeconds(60));
        _bench.Fail("rf-4", FaultCode.OverRange);
        JsonElement answer = await HeadsAsync();
        foreach (int head in new[] { 2, 4 })
        {
            Assert.Equal(JsonValueKind.Null, answer.GetProperty("heads")[head - 1].GetProperty("levelDb").ValueKind);
        }

        Assert.Equal("no-data", answer.GetProperty("heads")[1].GetProperty("standing").GetString());
        Assert.Equal("fault: over range", answer.GetProperty("heads")[3].GetProperty("says").GetString());
        Assert.EndsWith("Heads 2, 4 tell nothing now.", answer.GetProperty("says").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_trend_is_told_only_of_a_head_that_tells_now_and_from_a_table_of_late()
    {
        _bench.Drifts = new DriftTable(_bench.Now - TimeSpan.FromSeconds(50),
        [
            Drift("rf-1", -1.24, -1.6, -0.8) with { MinutesLeft = 80, WindowMinutes = 30 },
            Drift("rf-2", -0.1, -0.3, 0.2),
            Drift("rf-3", -5, -6, -4),
            new ChannelDrift { Id = "rf-4", Label = "RF head 4", Unit = "dB", Untold = "too-little-seen" },
        ]);
        _bench.Silence("rf-3", TimeSpan.FromSeconds(60));
        Assert.Equal(
            ["falls 1.2 dB/h over 30 min (95 %: 0.8 to 1.6); at its limit in 80 min at this rate", "steady: -0.1 dB/h (95 %: -0.3 to +0.2)", "no level now", "too little seen yet"],
            await TrendsAsync());

        _bench.Drifts = _bench.Drifts with { At = _bench.Now - TimeSpan.FromMinutes(4) };
        Assert.Equal("not looked at of late", (await TrendsAsync())[0]);
    }

    private static ChannelDrift Drift(string id, double slope, double low, double high) =>
        new() { Id = id, Label = id, Unit = "dB", SlopePerHour = slope, SlopePerHourLow = low, SlopePerHourHigh = high };

    private async Task<string[]> TrendsAsync() =>
        [.. (await HeadsAsync()).GetProperty("heads").EnumerateArray().Select(h => h.GetProperty("trend").GetProperty("says").GetString()!)];

    [Fact]
    public async Task A_bench_without_heads_and_one_that_is_not_there()
    {
        await using ServedBench other = await ServedBench.StartAsync(
            new WebSettings(), new FakeBench(TimeProvider.System, "air", [FakeBenchDefinition.Series(1, "supply-air", "Supply air", ChannelRole.SupplyAir, "psi")]));
        JsonElement answer = await other.GetAsync("/api/v1/benches/air/heads");
        Assert.Empty(answer.GetProperty("heads").EnumerateArray());
        Assert.Contains("no head's RF", answer.GetProperty("says").GetString(), StringComparison.Ordinal);
        await other.GetAsync("/api/v1/benches/none/heads", HttpStatusCode.NotFound);
    }

    private Task<JsonElement> HeadsAsync() => _served.GetAsync("/api/v1/benches/practice/heads");

    private void Hold(params double[] levels)
    {
        for (int head = 1; head <= levels.Length; head++)
        {
            _bench.Hold($"rf-{head}", levels[head - 1]);
        }
    }

    private void Baseline(params double[] levels) => _bench.Taken.Add(new TakenBaseline
    {
        Number = 1,
        At = EngineTime.FromSeconds(3000),
        UtcNanoseconds = _bench.ToUtcNanoseconds(EngineTime.FromSeconds(3000)),
        Bench = "practice",
        BenchHash = _bench.Bench.SourceHash,
        State = MachineState.Locked,
        By = "anna",
        Standing = BaselineStanding.Confirmed,
        Values = [.. levels.Select((l, i) => new BaselineValue($"rf-{i + 1}", "dB", l, 0.1, null, null, 30, 1))],
    });
}
