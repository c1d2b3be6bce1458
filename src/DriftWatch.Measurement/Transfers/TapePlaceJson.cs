using System.Text.Json;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;

namespace DriftWatch.Measurement.Transfers;

/// <summary>A place on the tape in a line of JSON: the object <c>tape</c>, left out where none is known.</summary>
public static class TapePlaceJson
{
    private const string Name = "tape";

    public static void Write(Utf8JsonWriter writer, TapePlace? place)
    {
        ArgumentNullException.ThrowIfNull(writer);
        if (place is { } known)
        {
            writer.WriteStartObject(Name);
            writer.WriteNumber("seconds", known.Seconds);
            writer.WriteString("basis", Slugs.Of(known.Basis));
            writer.WriteEndObject();
        }
    }

    /// <param name="line">The object that may hold it.</param>
    /// <exception cref="FormatException">The basis is none of those that are known.</exception>
    public static TapePlace? Read(JsonElement line) => line.TryGetProperty(Name, out JsonElement place)
        ? new TapePlace(place.GetProperty("seconds").GetDouble(), place.Word<PositionBasis>("basis"))
        : null;
}
