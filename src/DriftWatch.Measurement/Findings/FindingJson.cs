using System.Text.Encodings.Web;
using System.Text.Json;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Measurement.Findings;

/// <summary>
/// Writes finding lines as JSON Lines, one object a line, fields always in the same order and numbers in the shortest
/// form that reads back to the same double. The published schema is <c>schemas/finding.schema.json</c>.
/// </summary>
public static class FindingJson
{
    public const string Format = "driftwatch.finding/1";

    private static readonly JsonWriterOptions Options = new()
    {
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping, // a file, never a page: keep µ and − readable
        SkipValidation = false,
    };

    /// <summary>Writes the object without a line end.</summary>
    public static void Write(Stream stream, FindingLine line)
    {
        using var writer = new Utf8JsonWriter(stream, Options);
        Write(writer, line);
    }

    public static byte[] ToUtf8(FindingLine line)
    {
        using var stream = new MemoryStream(512);
        Write(stream, line);
        return stream.ToArray();
    }

    public static void Write(Utf8JsonWriter writer, FindingLine line)
    {
        writer.WriteStartObject();
        writer.WriteString("format", Format);
        writer.WriteString("id", line.Id);
        writer.WriteString("phase", Slugs.Of(line.Phase));
        writer.WriteNumber("input", line.Input);
        writer.WriteString("bench", line.Bench);
        writer.WriteString("benchHash", line.BenchHash);
        writer.WriteString("kind", line.Kind);
        WriteText(writer, "channel", line.Channel);
        writer.WriteString("severity", Slugs.Of(line.Severity));
        writer.WriteString("start", UtcText.FromNanoseconds(line.StartUtc));
        WriteText(writer, "end", line.EndUtc is { } end ? UtcText.FromNanoseconds(end) : null);
        writer.WriteString("raised", UtcText.FromNanoseconds(line.RaisedUtc));
        WriteNumber(writer, "value", line.Value);
        WriteNumber(writer, "limit", line.Limit);
        WriteText(writer, "unit", line.Unit);
        WriteText(writer, "limitSource", line.LimitSource);
        writer.WriteString("cause", line.Cause);
        writer.WriteString("state", Slugs.Of(line.State));
        writer.WriteString("text", line.Text);
        writer.WriteStartObject("details");
        foreach (FindingDetail detail in line.Details)
        {
            if (detail.Word is not null)
            {
                writer.WriteString(detail.Name, detail.Word);
            }
            else
            {
                WriteNumber(writer, detail.Name, detail.Number);
            }
        }

        writer.WriteEndObject();
        writer.WriteStartObject("engine");
        writer.WriteNumber("start", line.Start.Nanoseconds);
        if (line.End is { } engineEnd)
        {
            writer.WriteNumber("end", engineEnd.Nanoseconds);
        }
        else
        {
            writer.WriteNull("end");
        }

        writer.WriteNumber("raised", line.RaisedAt.Nanoseconds);
        writer.WriteEndObject();
        if (line.Recalibrated is { } ids)
        {
            writer.WriteStartArray("recalibrated");
            foreach (Guid id in ids)
            {
                writer.WriteStringValue(id);
            }

            writer.WriteEndArray();
        }

        writer.WriteEndObject();
    }

    /// <summary>Reads back what <see cref="Write(Utf8JsonWriter, FindingLine)"/> wrote.</summary>
    /// <exception cref="FormatException">The text is not a finding line of this format.</exception>
    public static FindingLine Read(ReadOnlyMemory<byte> utf8)
    {
        using JsonDocument document = JsonDocument.Parse(utf8);
        JsonElement root = document.RootElement;
        if (root.GetProperty("format").GetString() != Format)
        {
            throw new FormatException($"Not a finding line of format {Format}.");
        }

        JsonElement engine = root.GetProperty("engine");
        return new FindingLine
        {
            Id = Text(root, "id")!,
            Phase = Parse<FindingPhase>(root, "phase"),
            Recalibrated = root.TryGetProperty("recalibrated", out JsonElement ids) ? [.. ids.EnumerateArray().Select(i => i.GetGuid())] : null,
            Input = root.GetProperty("input").GetInt64(),
            Bench = Text(root, "bench")!,
            BenchHash = Text(root, "benchHash")!,
            Kind = Text(root, "kind")!,
            Channel = Text(root, "channel"),
            Severity = Parse<Severity>(root, "severity"),
            Start = new EngineTime(engine.GetProperty("start").GetInt64()),
            End = engine.GetProperty("end") is { ValueKind: JsonValueKind.Number } end ? new EngineTime(end.GetInt64()) : null,
            RaisedAt = new EngineTime(engine.GetProperty("raised").GetInt64()),
            StartUtc = Utc(root, "start")!.Value,
            EndUtc = Utc(root, "end"),
            RaisedUtc = Utc(root, "raised")!.Value,
            Value = Number(root, "value"),
            Limit = Number(root, "limit"),
            Unit = Text(root, "unit"),
            LimitSource = Text(root, "limitSource"),
            Cause = Text(root, "cause")!,
            State = Parse<MachineState>(root, "state"),
            Text = Text(root, "text")!,
            Details =
            [
                .. root.GetProperty("details").EnumerateObject().Select(p => p.Value.ValueKind == JsonValueKind.String
                    ? new FindingDetail(p.Name, null, p.Value.GetString())
                    : new FindingDetail(p.Name, p.Value.ValueKind == JsonValueKind.Null ? null : p.Value.GetDouble())),
            ],
        };
    }

    private static string? Text(JsonElement element, string name) => element.GetProperty(name).GetString();

    private static double? Number(JsonElement element, string name) =>
        element.GetProperty(name) is { ValueKind: JsonValueKind.Number } number ? number.GetDouble() : null;

    private static long? Utc(JsonElement element, string name) =>
        Text(element, name) is { } text && UtcText.TryParse(text, out long nanoseconds) ? nanoseconds : null;

    private static T Parse<T>(JsonElement element, string name)
        where T : struct, Enum =>
        Slugs.TryParse(Text(element, name)!, out T value)
            ? value
            : throw new FormatException($"Field '{name}' holds an unknown word '{Text(element, name)}'.");

    private static void WriteText(Utf8JsonWriter writer, string name, string? value)
    {
        if (value is null)
        {
            writer.WriteNull(name);
        }
        else
        {
            writer.WriteString(name, value);
        }
    }

    private static void WriteNumber(Utf8JsonWriter writer, string name, double? value)
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
