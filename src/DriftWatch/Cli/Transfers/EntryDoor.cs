using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization;
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
    /// <summary>A token for a service that asks for one.</summary>
    public const string TokenVariable = "DRIFTWATCH_TOKEN";

    private static readonly JsonSerializerOptions Sent = new(ApiJson.Options) { DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    /// <returns>The answer as the API gives it.</returns>
    /// <exception cref="CommandException">It was refused; the message says why and what to do.</exception>
    public static async Task<JsonObject> EnterAsync(string folder, Uri service, EntryRequest request, CancellationToken cancel)
    {
        BenchDefinition bench = BenchOf(folder);
        try
        {
            using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions());
            return await EnterAsync(store, request);
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

    public static BenchReader Open(string folder) => File.Exists(Path.Combine(folder, "records.db"))
        ? new BenchReader(folder)
        : throw new CommandException(ExitCode.BadInput, $"{folder} holds no store; name a bench's own folder, such as driftwatch-data/mybench");

    private static async Task<JsonObject> EnterAsync(BenchStore store, EntryRequest request)
    {
        using BenchReader reader = store.OpenReader();
        using var desk = new TransferDesk(reader, () => store.CurrentBench!, Journal, TimeProvider.System);
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
        using var client = new HttpClient { BaseAddress = service, Timeout = TimeSpan.FromSeconds(20) };
        if (Environment.GetEnvironmentVariable(TokenVariable) is { Length: > 0 } token)
        {
            client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", token);
        }

        try
        {
            using HttpResponseMessage answer = await client.PostAsJsonAsync(new Uri($"api/v1/benches/{bench}/entries", UriKind.Relative), request, Sent, cancel);
            JsonObject body = await answer.Content.ReadFromJsonAsync<JsonObject>(cancel) ?? [];
            return answer.IsSuccessStatusCode
                ? body
                : throw new CommandException(ExitCode.NotSound, $"{(string?)body["detail"] ?? answer.ReasonPhrase} {(string?)body["remedy"]}");
        }
        catch (Exception exception) when (exception is HttpRequestException or JsonException || (exception is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            throw new CommandException(
                ExitCode.Environment,
                $"a service writes to this store, and {service} does not answer ({exception.Message.TrimEnd('.')}); say with --service where it listens, or stop it", exception);
        }
    }
}
