using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Web;

/// <summary>The fake's book of transfers: none, unless the test gives it one.</summary>
public sealed partial class FakeBench
{
    internal TransferDesk? Desk { get; set; }

    TransferDesk? IBenchView.Transfers => Desk;
}

/// <summary>A book whose entries are kept in memory, beside an empty store: readings prove nothing, what people enter stands.</summary>
internal sealed class FakeBook : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-book-").FullName;
    private readonly BenchStore _store;
    private readonly BenchReader _reader;
    private long _number;

    public FakeBook(FakeBench bench)
    {
        _store = BenchStore.Open(_folder, new BenchStoreOptions());
        _reader = _store.OpenReader();
        Desk = new TransferDesk(
            _reader, () => bench.Bench, _ => Task.FromResult(Interlocked.Increment(ref _number)), TimeProvider.System, present: (step, by) => PresentReading.Of(bench, step, by));
        bench.Desk = Desk;
    }

    public TransferDesk Desk { get; }

    /// <summary>Enters what can be entered; anything else is a mistake of the test.</summary>
    public async Task<EntryOutcome> EnterAsync(EntryRequest request, string by = "Ida Wren")
    {
        EntryOutcome outcome = await Desk.EnterAsync(request, by, "declared");
        return outcome.Problem is { } problem ? throw new InvalidOperationException($"{problem.What} {problem.Remedy}") : outcome;
    }

    public void Dispose()
    {
        Desk.Dispose();
        _reader.Dispose();
        _store.Dispose();
        Directory.Delete(_folder, recursive: true);
    }
}
