using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Reports.Dossiers;
using DriftWatch.Transfers;
using DriftWatch.Watch;
using DriftWatch.Watch.Quantities;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Running;

/// <summary>What a derived quantity was at an instant, worked out of the store, against what the engine told when it came to it.</summary>
[Collection(ImportedStores.Name)]
public sealed class QuantityThenTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public QuantityThenTests(ImportedStores stores)
    {
        TransferredStore.Make(stores.Sound, Store);
        TransferredStore.OpenAnotherPass(Store);
    }

    private string Store => _folder.PathOf("store");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void It_is_what_was_told_live()
    {
        long utc = TransferredStore.Utc("08:20:00");
        List<QuantityNow> told = Live(utc, out BenchDefinition bench);
        QuantityNow[] known = [.. told.Where(q => q.Value is not null)];
        Assert.NotEmpty(known);
        foreach (QuantityNow quantity in known)
        {
            QuantityValue was = QuantityThen.At(Store, quantity.Id, utc)!.Value;
            Assert.Equal(quantity.Value!.Value, was.Value, 1e-9 * Math.Max(1, Math.Abs(was.Value)));
            Assert.Equal(bench.Quantities.First(q => q.Id == quantity.Id).Unit, was.Unit);
        }

        Assert.Null(QuantityThen.At(Store, "no-such", utc));
        Assert.Null(QuantityThen.At(Store, known[0].Id, TransferredStore.Utc("03:00:00"))); // nothing was recorded then
    }

    /// <summary>The service was restarted between the value before and the value after: nothing of what was told is remembered, and the record has it.</summary>
    [Fact]
    public async Task A_step_keeps_what_a_quantity_read_before_over_a_restart()
    {
        long utc = TransferredStore.Utc("08:20:00");
        QuantityNow before = Live(utc, out BenchDefinition bench).First(q => q.Value is not null);
        TransferProcedures lists = bench.Procedures!;
        string unit = bench.Quantities.First(q => q.Id == before.Id).Unit;
        BenchDefinition now = bench with
        {
            Procedures = lists with
            {
                LineUp = lists.LineUp with { Steps = [new LineUpStepDefinition { Key = "look", Text = "Look at it.", Reads = [before.Id], Unit = unit, Source = "test" }] },
            },
        };
        using var reader = new BenchReader(Store);
        long number = 100_000_000;
        var request = new EntryRequest { Kind = "line-up-step", Step = "look", ReadBy = before.Id, BeforeAt = "2026-01-15T08:20:00Z", About = "2026-01-15T08:21:00Z" };
        using (var forgetful = new TransferDesk(reader, () => now, _ => Task.FromResult(++number), TimeProvider.System))
        {
            Assert.Contains("is not known any more", (await forgetful.EnterAsync(request, "Ida", "declared")).Problem!.What, StringComparison.Ordinal);
        }

        using var desk = new TransferDesk(reader, () => now, _ => Task.FromResult(++number), TimeProvider.System, (id, at) => QuantityThen.At(Store, id, at));
        EntryOutcome outcome = await desk.EnterAsync(request, "Ida", "declared");
        Assert.Null(outcome.Problem);
        var step = (LineUpStepRecorded)outcome.Entry!.Body;
        Assert.Equal(before.Value!.Value, step.Before!.Value, 1e-9 * Math.Max(1, Math.Abs(before.Value.Value)));
        Assert.Equal(Live(TransferredStore.Utc("08:21:00"), out _).First(q => q.Id == before.Id).Value!.Value, step.After!.Value, 1e-9 * Math.Max(1, Math.Abs(step.After.Value)));
        Assert.Equal(before.Id, step.Before.Channel);
    }

    /// <summary>All of the log from its beginning, as a service judged it.</summary>
    private List<QuantityNow> Live(long utc, out BenchDefinition bench)
    {
        using var reader = new BenchReader(Store);
        AnchorTable anchors = reader.ReadAnchors();
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var told = new List<QuantityNow>();
        foreach (EngineInput input in reader.ReadInputs(0))
        {
            if (!input.IsLate && anchors.ToUtcNanoseconds(input.Time) > utc)
            {
                break;
            }

            engine.Apply(input, lines, alarms);
            if (input.Kind == InputKind.Tick)
            {
                engine.ReadQuantities(told);
            }
        }

        bench = engine.Bench!;
        return told;
    }
}
