using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace DriftWatch.Cli;

/// <summary>
/// A running service as the command line reaches it: by its API, signed in with the token in <see cref="TokenVariable"/>.
/// A token is taken from nowhere else: an argument would stand in the list of processes and in the shell's history.
/// </summary>
internal sealed class ServiceClient : IDisposable
{
    /// <summary>A token for a service that asks for one.</summary>
    public const string TokenVariable = "DRIFTWATCH_TOKEN";

    private static readonly JsonSerializerOptions Sent = new(JsonSerializerDefaults.Web) { DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    private readonly HttpClient _http;
    private readonly Uri _service;
    private readonly int _refusal;

    /// <param name="service">Its address.</param>
    /// <param name="refusal">What the program returns where the service says no.</param>
    public ServiceClient(Uri service, int refusal)
    {
        _service = service;
        _refusal = refusal;
        _http = new HttpClient { BaseAddress = new Uri(service.ToString().TrimEnd('/') + "/api/v1/"), Timeout = TimeSpan.FromSeconds(30) };
        if (Environment.GetEnvironmentVariable(TokenVariable) is { Length: > 0 } token)
        {
            _http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", token);
        }
    }

    public Task<JsonElement> GetAsync(string path, CancellationToken cancel) => AskAsync(HttpMethod.Get, path, null, cancel);

    public Task<JsonElement> PostAsync<T>(string path, T body, CancellationToken cancel) =>
        AskAsync(HttpMethod.Post, path, JsonContent.Create(body, options: Sent), cancel);

    public void Dispose() => _http.Dispose();

    /// <exception cref="CommandException">The service refused, with its own words and remedy; or it does not answer.</exception>
    private async Task<JsonElement> AskAsync(HttpMethod method, string path, HttpContent? body, CancellationToken cancel)
    {
        using var request = new HttpRequestMessage(method, path) { Content = body };
        try
        {
            using HttpResponseMessage response = await _http.SendAsync(request, cancel);
            using JsonDocument answer = await JsonDocument.ParseAsync(await response.Content.ReadAsStreamAsync(cancel), cancellationToken: cancel);
            return response.IsSuccessStatusCode
                ? answer.RootElement.Clone()
                : throw new CommandException(_refusal, $"{Said(answer.RootElement, "detail") ?? response.ReasonPhrase} {Said(answer.RootElement, "remedy")}".TrimEnd());
        }
        catch (Exception exception) when (exception is HttpRequestException or JsonException || (exception is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            throw new CommandException(
                ExitCode.Environment, $"{_service}: the service does not answer ({exception.Message.TrimEnd('.')}); look whether it runs and listens there", exception);
        }
    }

    private static string? Said(JsonElement problem, string field) =>
        problem.ValueKind == JsonValueKind.Object && problem.TryGetProperty(field, out JsonElement text) ? text.GetString() : null;
}
