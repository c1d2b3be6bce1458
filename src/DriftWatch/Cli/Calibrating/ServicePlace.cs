using System.Net.Http.Headers;
using System.Text.Json;
using System.Text.Json.Serialization;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Cli.Calibrating;

/// <summary>A running service, by its API: the input's raw value is read from it, and the calibration goes through its door.</summary>
internal sealed class ServicePlace : ICalibrationPlace
{
    private static readonly JsonSerializerOptions Options = new(JsonSerializerDefaults.Web) { DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    private readonly HttpClient _http;
    private readonly string _address;
    private readonly string? _by;
    private readonly string? _applyFrom;
    private string? _bench;
    private string _channel = "";

    public ServicePlace(string address, string? bench, string? by, long? from, string? tokenFile)
    {
        if (!Uri.TryCreate(address.TrimEnd('/') + "/api/v1/", UriKind.Absolute, out Uri? api))
        {
            throw new CommandException(ExitCode.Usage, $"{address}: no address; write for example http://127.0.0.1:{WatchCommand.DefaultPort}");
        }

        _address = address;
        _bench = bench;
        _by = by;
        _applyFrom = from is { } utc ? UtcText.FromNanoseconds(utc) : null;
        _http = new HttpClient { BaseAddress = api, Timeout = TimeSpan.FromSeconds(30) };
        if (tokenFile is not null)
        {
            _http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", Token(tokenFile));
        }
    }

    public (string Label, string Unit, string RawUnit) Channel { get; private set; }

    public bool IsLive => true;

    public async Task BeginAsync(string channel, CancellationToken cancel)
    {
        if (_bench is null)
        {
            JsonElement benches = await AskAsync(HttpMethod.Get, "benches", null, cancel);
            string[] ids = [.. benches.GetProperty("items").EnumerateArray().Select(b => b.GetProperty("id").GetString()!)];
            _bench = ids.Length == 1
                ? ids[0]
                : throw new CommandException(ExitCode.Usage, $"{_address} watches {(ids.Length == 0 ? "no bench" : string.Join(", ", ids))}; name one with --bench");
        }

        JsonElement now = await Now(channel, cancel)
            ?? throw new CommandException(ExitCode.Usage, $"bench '{_bench}' has no channel '{channel}'; 'driftwatch check' lists them");
        _channel = channel;
        Channel = (now.GetProperty("label").GetString()!, now.GetProperty("unit").GetString()!, now.GetProperty("rawUnit").GetString()!);
    }

    public async Task<(double Seconds, double Raw)?> ReadAsync(CancellationToken cancel)
    {
        JsonElement now = (await Now(_channel, cancel))!.Value;
        const double OldSeconds = 5; // as a reading is stale; common practice, no source
        return now.GetProperty("raw").ValueKind == JsonValueKind.Number && now.GetProperty("ageSeconds").GetDouble() < OldSeconds
            && UtcText.TryParse(now.GetProperty("at").GetString()!, out long at)
            ? (at / 1e9, now.GetProperty("raw").GetDouble())
            : null;
    }

    public async Task<CalibrationDocument> TryAsync(CalibrationSheet sheet, CancellationToken cancel) =>
        CalibrationDocument.Read(await SendAsync("/try", sheet, cancel));

    public async Task<CalibrationDocument> EnterAsync(CalibrationSheet sheet, CancellationToken cancel) =>
        CalibrationDocument.Read((await SendAsync("", sheet, cancel)).GetProperty("document"));

    public void Dispose() => _http.Dispose();

    private Task<JsonElement> SendAsync(string what, CalibrationSheet sheet, CancellationToken cancel) => AskAsync(
        HttpMethod.Post, $"benches/{Uri.EscapeDataString(_bench!)}/channels/{Uri.EscapeDataString(_channel)}/calibrations{what}",
        JsonContent.Create(new { By = _by, ApplyFrom = _applyFrom, Sheet = sheet }, options: Options), cancel);

    private async Task<JsonElement?> Now(string channel, CancellationToken cancel)
    {
        JsonElement answer = await AskAsync(HttpMethod.Get, $"benches/{Uri.EscapeDataString(_bench!)}/channels", null, cancel);
        JsonElement found = answer.GetProperty("items").EnumerateArray().FirstOrDefault(c => c.GetProperty("id").GetString() == channel);
        return found.ValueKind == JsonValueKind.Undefined ? null : found;
    }

    private async Task<JsonElement> AskAsync(HttpMethod method, string path, HttpContent? body, CancellationToken cancel)
    {
        using var request = new HttpRequestMessage(method, path) { Content = body };
        try
        {
            using HttpResponseMessage response = await _http.SendAsync(request, cancel);
            using JsonDocument answer = await JsonDocument.ParseAsync(await response.Content.ReadAsStreamAsync(cancel), cancellationToken: cancel);
            return response.IsSuccessStatusCode
                ? answer.RootElement.Clone()
                : throw new CommandException(ExitCode.BadInput, $"{_address}: {Said(answer.RootElement, "detail")} {Said(answer.RootElement, "remedy")}".TrimEnd());
        }
        catch (Exception exception) when (exception is HttpRequestException or JsonException || (exception is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            throw new CommandException(ExitCode.Environment, $"{_address}: the service does not answer ({exception.Message}); look whether it runs and listens there", exception);
        }
    }

    private static string? Said(JsonElement problem, string field) =>
        problem.ValueKind == JsonValueKind.Object && problem.TryGetProperty(field, out JsonElement text) ? text.GetString() : null;

    private static string Token(string file)
    {
        try
        {
            return File.ReadAllText(file).Trim();
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.BadInput, $"{file}: {exception.Message}", exception);
        }
    }
}
