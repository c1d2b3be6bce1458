using System.Net;
using System.Text.Json;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Web;

namespace DriftWatch.Tests.Web;

/// <summary>How instruments and the store do, and that nothing which is old, faulty or missing is called good.</summary>
public sealed class InstrumentApiTests : IAsyncLifetime
{
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync() => _served = await ServedBench.StartAsync(new WebSettings(), _bench);

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task An_instrument_that_brings_what_is_due_is_good()
    {
        JsonElement rig = await RigAsync();
        Assert.Equal("good", rig.GetProperty("standing").GetString());
        Assert.Equal(161, rig.GetProperty("duePerSecond").GetDouble(), 6); // sixteen at 10 Hz and a frame a second
        Assert.Equal(161, rig.GetProperty("perSecond").GetDouble(), 6);
        Assert.Equal("inside this program: no hardware, its numbers are simulated", rig.GetProperty("reach").GetString());
        Assert.Equal(JsonValueKind.Null, rig.GetProperty("lines").ValueKind);
        Assert.Equal(17, rig.GetProperty("channels").GetArrayLength());
    }

    [Fact]
    public async Task What_is_old_faulty_or_too_few_is_named_and_the_worst_stands()
    {
        _bench.Rates["rf-1"] = 8.5; // of ten, over a minute
        JsonElement rig = await RigAsync();
        Assert.Equal("slow", rig.GetProperty("standing").GetString());
        Assert.Equal("Fewer values than due of RF head 1.", rig.GetProperty("says").GetString());

        _bench.Fail("rf-2", FaultCode.OverRange);
        rig = await RigAsync();
        Assert.Equal("faulty", rig.GetProperty("standing").GetString());
        Assert.Equal("The newest reading is a fault of RF head 2.", rig.GetProperty("says").GetString());

        _bench.Silence("rf-3", TimeSpan.FromMinutes(1));
        rig = await RigAsync();
        Assert.Equal("silent", rig.GetProperty("standing").GetString());
        Assert.Equal("No fresh reading of RF head 3.", rig.GetProperty("says").GetString());
        Assert.Equal(["slow", "faulty", "silent", "good"], rig.GetProperty("channels").EnumerateArray().Skip(4).Take(4).Select(c => c.GetProperty("standing").GetString()));

        _bench.Instruments = [new("rig", LinkState.Down, "the port is gone", TimeSpan.FromSeconds(4))];
        rig = await RigAsync();
        Assert.Equal("down", rig.GetProperty("standing").GetString());
        Assert.Contains("the port is gone", rig.GetProperty("says").GetString(), StringComparison.Ordinal);
        Assert.Equal(4, rig.GetProperty("retryInSeconds").GetDouble());

        _bench.Instruments = [];
        Assert.Equal("unheard", (await RigAsync()).GetProperty("standing").GetString());
    }

    [Fact]
    public async Task Lines_rejects_faults_and_reconnects_come_as_they_were_counted()
    {
        _bench.Tally = new InstrumentTally("rig", 3, new LineTally(900, 0, 7, 1, 2, new Dictionary<LineReject, long> { [LineReject.BadNumber] = 2, [LineReject.BadChecksum] = 5 }));
        EngineTime at = _bench.Now;
        _bench.Link = new LinkTally(_bench.Instruments[0], at, 2, 1, "no answer", at - TimeSpan.FromMinutes(1));
        _bench.FaultsOf["rf-1"] = ([(FaultCode.NoAnswer, 4), (FaultCode.BadChecksum, 9)], at);
        _bench.FaultsOf["rf-2"] = ([(FaultCode.NoAnswer, 2)], at - TimeSpan.FromSeconds(5));
        JsonElement rig = await RigAsync();
        Assert.Equal((3, 2, 1), (rig.GetProperty("missedTicks").GetInt64(), rig.GetProperty("downs").GetInt32(), rig.GetProperty("reconnects").GetInt32()));
        JsonElement lines = rig.GetProperty("lines");
        Assert.Equal((900, 7, 1, 2), (Of("valid"), Of("sequenceGaps"), Of("sequenceRepeats"), Of("sequenceRestarts")));
        Assert.Equal(["bad-checksum 5", "bad-number 2"], lines.GetProperty("rejects").EnumerateArray().Select(r => $"{r.GetProperty("reason")} {r.GetProperty("count")}"));
        Assert.Equal("the checksum does not match", lines.GetProperty("rejects")[0].GetProperty("words").GetString());
        Assert.Equal(["bad-checksum 9", "no-answer 6"], rig.GetProperty("faults").EnumerateArray().Select(r => $"{r.GetProperty("fault")} {r.GetProperty("count")}"));
        Assert.Equal(("rf-1", "no-answer"), (rig.GetProperty("lastFault").GetProperty("channel").GetString(), rig.GetProperty("lastFault").GetProperty("fault").GetString()));
        Assert.Equal("no answer", rig.GetProperty("lastDown").GetString());

        long Of(string name) => lines.GetProperty(name).GetInt64();
    }

    [Fact]
    public async Task The_store_is_good_only_while_all_is_stored_and_its_disk_answers()
    {
        JsonElement store = await StoreAsync();
        Assert.Equal("good", store.GetProperty("standing").GetString());
        Assert.Equal((1000, 5000, 100), (store.GetProperty("bytes").GetInt64(), store.GetProperty("freeBytes").GetInt64(), store.GetProperty("floorBytes").GetInt64()));
        Assert.Equal("2026-03", store.GetProperty("months")[0].GetString());
        Assert.Equal("2026-03-01T00:00:00.000Z", store.GetProperty("recordsCopied").GetString());

        _bench.Check = new FileCheck(DateTimeOffset.UnixEpoch, [new FileProblem("/somewhere/2026-02.db", "a block fails its checksum")]);
        store = await StoreAsync();
        Assert.Equal("trouble", store.GetProperty("standing").GetString());
        Assert.DoesNotContain("somewhere", store.ToString(), StringComparison.Ordinal); // a page need not learn where files lie
        Assert.Equal("2026-02.db", store.GetProperty("damaged")[0].GetString());

        _bench.Health = FakeBench.Healthy with { StoreTrouble = "the disk is full", ReadingsHeldInMemory = 12 };
        store = await StoreAsync();
        Assert.Equal("What comes now is not stored but held in memory: the disk is full", store.GetProperty("says").GetString());

        (_bench.Health, _bench.Check, _bench.Facts) = (FakeBench.Healthy, null, null);
        store = await StoreAsync();
        Assert.Equal("unknown", store.GetProperty("standing").GetString());
        Assert.Equal(JsonValueKind.Null, store.GetProperty("bytes").ValueKind);

        _bench.Health = FakeBench.Healthy with { DroppedReadings = 4 };
        Assert.StartsWith("4 readings were lost", (await StoreAsync()).GetProperty("says").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bench_that_is_not_there_is_404_and_openapi_knows_both()
    {
        await _served.GetAsync("/api/v1/benches/nowhere/instruments", HttpStatusCode.NotFound);
        await _served.GetAsync("/api/v1/benches/nowhere/store", HttpStatusCode.NotFound);
        JsonElement paths = (await _served.GetAsync("/api/v1/openapi.json")).GetProperty("paths");
        Assert.True(paths.TryGetProperty("/api/v1/benches/{bench}/instruments", out _));
        Assert.True(paths.TryGetProperty("/api/v1/benches/{bench}/store", out _));
    }

    private async Task<JsonElement> RigAsync() => (await _served.GetAsync("/api/v1/benches/practice/instruments")).GetProperty("items")[0];

    private Task<JsonElement> StoreAsync() => _served.GetAsync("/api/v1/benches/practice/store");
}
