using System.Text.Json;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Measurement.Names;

/// <summary>Fields of the formats that are kept for ever as lines of JSON: each one is there, null where it has no value.</summary>
internal static class LineFields
{
    public static string? Text(this JsonElement line, string name) => line.GetProperty(name).GetString();

    public static double? Number(this JsonElement line, string name) =>
        line.GetProperty(name) is { ValueKind: JsonValueKind.Number } number ? number.GetDouble() : null;

    /// <summary>Nanoseconds since 1970; null where there is no instant.</summary>
    public static long? Utc(this JsonElement line, string name) =>
        line.Text(name) is { } text && UtcText.TryParse(text, out long nanoseconds) ? nanoseconds : null;

    /// <exception cref="FormatException">It is none of the words of <typeparamref name="T"/>.</exception>
    public static T Word<T>(this JsonElement line, string name)
        where T : struct, Enum =>
        Slugs.TryParse(line.Text(name)!, out T value)
            ? value
            : throw new FormatException($"Field '{name}' holds an unknown word '{line.Text(name)}'.");

    /// <summary>What is no number is written as null.</summary>
    public static void WriteNumberOrNull(this Utf8JsonWriter writer, string name, double? value)
    {
        if (value is { } number && double.IsFinite(number))
        {
            writer.WriteNumber(name, number);
        }
        else
        {
            writer.WriteNull(name);
        }
    }
}
