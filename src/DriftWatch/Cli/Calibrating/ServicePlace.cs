using System.Text.Json;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Cli.Calibrating;

/// <summary>A running service, by its API: the input's raw value is read from it, and the calibration goes through its door.</summary>
internal sealed class ServicePlace : ICalibrationPlace
{
    private readonly ServiceClient _service;
    private readonly string _address;
    private readonly string? _by;
    private readonly string? _applyFrom;
    private string? _bench;
    private string _channel = "";

    public ServicePlace(string address, string? bench, string? by, long? from)
    {
        Uri service = Uri.TryCreate(address, UriKind.Absolute, out Uri? given)
            ? given
            : throw new CommandException(ExitCode.Usage, $"{address}: no address; write for example http://127.0.0.1:{WatchCommand.DefaultPort}");
        _service = new ServiceClient(service, ExitCode.BadInput);
        _address = address;
        _bench = bench;
        _by = by;
        _applyFrom = from is { } utc ? UtcText.FromNanoseconds(utc) : null;
    }

    public (string Label, string Unit, string RawUnit) Channel { get; private set; }

    public bool IsLive => true;

    public async Task BeginAsync(string channel, CancellationToken cancel)
    {
        if (_bench is null)
        {
            JsonElement benches = await _service.GetAsync("benches", cancel);
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
        CalibrationDocument.Read(await SendAsync("/try", sheet, id: null, cancel));

    public async Task<CalibrationDocument> EnterAsync(CalibrationSheet sheet, Guid? id, CancellationToken cancel) =>
        CalibrationDocument.Read((await SendAsync("", sheet, id, cancel)).GetProperty("document"));

    public void Dispose() => _service.Dispose();

    private Task<JsonElement> SendAsync(string what, CalibrationSheet sheet, Guid? id, CancellationToken cancel) => _service.PostAsync(
        $"benches/{Uri.EscapeDataString(_bench!)}/channels/{Uri.EscapeDataString(_channel)}/calibrations{what}",
        new { Id = id, By = _by, ApplyFrom = _applyFrom, Sheet = sheet }, cancel);

    private async Task<JsonElement?> Now(string channel, CancellationToken cancel)
    {
        JsonElement answer = await _service.GetAsync($"benches/{Uri.EscapeDataString(_bench!)}/channels", cancel);
        JsonElement found = answer.GetProperty("items").EnumerateArray().FirstOrDefault(c => c.GetProperty("id").GetString() == channel);
        return found.ValueKind == JsonValueKind.Undefined ? null : found;
    }
}
