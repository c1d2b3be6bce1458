using System.Text.Json;
using System.Text.Json.Serialization;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;

namespace DriftWatch.Measurement.Inputs;

/// <summary>
/// The payloads of inputs that are not samples, as JSON, for the store's journal and the exported log alike: one form,
/// so that what was judged live is what is replayed. Doubles are written in the shortest form that reads back equal.
/// </summary>
public static class PayloadJson
{
    private static readonly JsonSerializerOptions Options = new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Skip,
        AllowOutOfOrderMetadataProperties = true,
        Converters = { new JsonStringEnumConverter() },
    };

    /// <summary>True for the kinds whose payload this class writes; samples, faults, frames and ticks have other forms.</summary>
    public static bool Carries(InputKind kind) =>
        kind is InputKind.Clock or InputKind.Bench or InputKind.Calibration or InputKind.Command;

    public static byte[] ToUtf8(in EngineInput input) => input.Kind switch
    {
        InputKind.Clock => JsonSerializer.SerializeToUtf8Bytes(input.ClockEvent, Options),
        InputKind.Bench => JsonSerializer.SerializeToUtf8Bytes(input.Bench, Options),
        InputKind.Calibration => JsonSerializer.SerializeToUtf8Bytes(input.Calibration, Options),
        InputKind.Command => JsonSerializer.SerializeToUtf8Bytes(input.Command, Options),
        _ => throw new ArgumentException($"An input of kind {input.Kind} has no JSON payload.", nameof(input)),
    };

    /// <exception cref="FormatException">The text is not a payload of that kind.</exception>
    public static object FromUtf8(InputKind kind, ReadOnlySpan<byte> utf8)
    {
        try
        {
            return kind switch
            {
                InputKind.Clock => JsonSerializer.Deserialize<ClockEvent>(utf8, Options)!,
                InputKind.Bench => JsonSerializer.Deserialize<BenchDefinition>(utf8, Options)!,
                InputKind.Calibration => JsonSerializer.Deserialize<Calibration>(utf8, Options)!,
                InputKind.Command => JsonSerializer.Deserialize<Command>(utf8, Options)!,
                _ => throw new ArgumentException($"An input of kind {kind} has no JSON payload.", nameof(kind)),
            };
        }
        catch (Exception exception) when (exception is JsonException or NotSupportedException)
        {
            throw new FormatException($"The payload of a {kind} input can't be read: {exception.Message}", exception);
        }
    }
}
