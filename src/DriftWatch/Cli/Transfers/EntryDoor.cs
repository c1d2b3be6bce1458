using System.Text.Json;
using System.Text.Json.Nodes;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Transfers;
using DriftWatch.Web.Api;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Cli.Transfers;

/// <summary>
/// How an entry gets from the command line into a bench's book: through the door of the service that writes to the
/// store, or straight into the journal where none does.
/// </summary>
internal static class EntryDoor
{
    /// <returns>The answer as the API gives it.</returns>
    /// <exception cref="CommandException">It was refused; the message says why and what to do.</exception>
    public static async Task<JsonObject> EnterAsync(string folder, Uri service, EntryRequest request, CancellationToken cancel)
    {
        BenchDefinition bench = BenchOf(folder);
        try
        {
            using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
            return await EnterAsync(folder, store, request);
        }
        catch (StoreException exception) when (exception.Trouble == StoreTrouble.InUse)
        {
            return await SendAsync(service, bench.Id, request, cancel);
        }
    }

    /// <summary>The bench that was last in force here.</summary>
    public static BenchDefinition BenchOf(string folder)
    {
        using BenchReader reader = Open(folder);
        return reader.DifferentBenches() is [.., var last]
            ? last.Bench
            : throw new CommandException(ExitCode.BadInput, $"{folder}: nothing was recorded here yet");
    }

    public static BenchReader Open(string folder) => new(SourceArguments.StoreFolder(folder));

    private static async Task<JsonObject> EnterAsync(string folder, BenchStore store, EntryRequest request)
    {
        using BenchReader reader = store.OpenReader();
        using var desk = new TransferDesk(reader, () => store.CurrentBench!, Journal, TimeProvider.System, (id, utc) => QuantityThen.At(folder, id, utc));
        EntryOutcome outcome = await desk.EnterAsync(request, request.By!, "declared");
        if (outcome.Problem is { } problem)
        {
            throw new CommandException(ExitCode.NotSound, $"{problem.What} {problem.Remedy}");
        }

        EngineStart.CatchUp(store, NullLogger.Instance); // judging takes note of it as a service would
        return JsonSerializer.SerializeToNode(Web.Api.Transfers.EntryAnswer.Of(outcome), ApiJson.Options)!.AsObject();

        Task<long> Journal(Measurement.Transfers.EntryCommand entry)
        {
            // Time of the log stands still while nobody watches: the entry comes at its end, and says itself what it is about.
            store.Append([EngineInput.OfCommand(store.LastTime, entry) with { Number = store.LastNumber + 1 }]);
            return Task.FromResult(store.LastNumber);
        }
    }

    private static async Task<JsonObject> SendAsync(Uri service, string bench, EntryRequest request, CancellationToken cancel)
    {
        using var client = new ServiceClient(service, ExitCode.NotSound);
        try
        {
            return JsonObject.Create(await client.PostAsync($"benches/{Uri.EscapeDataString(bench)}/entries", request, cancel)) ?? [];
        }
        catch (CommandException exception) when (exception.Code == ExitCode.Environment)
        {
            throw new CommandException(
                ExitCode.Environment, $"a service writes to this store. {exception.Message}, and say with --service where that is", exception);
        }
    }
}
