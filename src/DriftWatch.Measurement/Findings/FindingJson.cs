using System.Text.Encodings.Web;
using System.Text.Json;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

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
        writer.WriteString("channel", line.Channel);
        writer.WriteString("severity", Slugs.Of(line.Severity));
        writer.WriteString("start", UtcText.FromNanoseconds(line.StartUtc));
        writer.WriteString("end", line.EndUtc is { } end ? UtcText.FromNanoseconds(end) : null);
        writer.WriteString("raised", UtcText.FromNanoseconds(line.RaisedUtc));
        writer.WriteNumberOrNull("value", line.Value);
        writer.WriteNumberOrNull("limit", line.Limit);
        writer.WriteString("unit", line.Unit);
        writer.WriteString("limitSource", line.LimitSource);
        writer.WriteString("cause", line.Cause);
        writer.WriteString("state", Slugs.Of(line.State));
        TapePlaceJson.Write(writer, line.OnTape);
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
                writer.WriteNumberOrNull(detail.Name, detail.Number);
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
            Id = root.Text("id")!,
            Phase = root.Word<FindingPhase>("phase"),
            Recalibrated = root.TryGetProperty("recalibrated", out JsonElement ids) ? [.. ids.EnumerateArray().Select(i => i.GetGuid())] : null,
            OnTape = TapePlaceJson.Read(root),
            Input = root.GetProperty("input").GetInt64(),
            Bench = root.Text("bench")!,
            BenchHash = root.Text("benchHash")!,
            Kind = root.Text("kind")!,
            Channel = root.Text("channel"),
            Severity = root.Word<Severity>("severity"),
            Start = new EngineTime(engine.GetProperty("start").GetInt64()),
            End = engine.GetProperty("end") is { ValueKind: JsonValueKind.Number } end ? new EngineTime(end.GetInt64()) : null,
            RaisedAt = new EngineTime(engine.GetProperty("raised").GetInt64()),
            StartUtc = root.Utc("start")!.Value,
            EndUtc = root.Utc("end"),
            RaisedUtc = root.Utc("raised")!.Value,
            Value = root.Number("value"),
            Limit = root.Number("limit"),
            Unit = root.Text("unit"),
            LimitSource = root.Text("limitSource"),
            Cause = root.Text("cause")!,
            State = root.Word<MachineState>("state"),
            Text = root.Text("text")!,
            Details =
            [
                .. root.GetProperty("details").EnumerateObject().Select(p => p.Value.ValueKind == JsonValueKind.String
                    ? new FindingDetail(p.Name, null, p.Value.GetString())
                    : new FindingDetail(p.Name, p.Value.ValueKind == JsonValueKind.Null ? null : p.Value.GetDouble())),
            ],
        };
    }
}
