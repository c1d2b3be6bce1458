using System.Text.Encodings.Web;
using System.Text.Json;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Measurement.Alarms;

/// <summary>
/// The book's lines as JSON Lines, one object a line, fields always in the same order. The published schema is
/// <c>schemas/alarm.schema.json</c>.
/// </summary>
public static class AlarmJson
{
    public const string Format = "driftwatch.alarm/1";

    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static byte[] ToUtf8(AlarmTransition line)
    {
        using var stream = new MemoryStream(768);
        using (var writer = new Utf8JsonWriter(stream, Options))
        {
            Write(writer, line);
        }

        return stream.ToArray();
    }

    public static void Write(Utf8JsonWriter writer, AlarmTransition line)
    {
        ArgumentNullException.ThrowIfNull(writer);
        ArgumentNullException.ThrowIfNull(line);
        writer.WriteStartObject();
        writer.WriteString("format", Format);
        writer.WriteString("id", line.Id);
        writer.WriteString("tag", line.Tag);
        writer.WriteNumber("input", line.Input);
        writer.WriteNumber("place", line.Place);
        writer.WriteString("bench", line.Bench);
        writer.WriteString("benchHash", line.BenchHash);
        writer.WriteString("step", Slugs.Of(line.Step));
        writer.WriteString("from", Slugs.Of(line.From));
        writer.WriteString("to", Slugs.Of(line.To));
        writer.WriteBoolean("active", line.IsActive);
        writer.WriteBoolean("acknowledged", line.IsAcknowledged);
        writer.WriteString("priority", Slugs.Of(line.Priority));
        if (line.Consequence is not null)
        {
            writer.WriteString("consequence", line.Consequence);
        }

        writer.WriteString("at", UtcText.FromNanoseconds(line.AtUtc));
        writer.WriteString("raised", UtcText.FromNanoseconds(line.RaisedUtc));
        writer.WriteString("start", UtcText.FromNanoseconds(line.StartUtc));
        writer.WriteString("state", Slugs.Of(line.State));
        writer.WriteString("firstOut", line.FirstOut);
        writer.WriteString("finding", line.Finding);
        writer.WriteNumber("findings", line.Findings);
        writer.WriteString("channel", line.Channel);
        writer.WriteNumberOrNull("value", line.Value);
        writer.WriteNumberOrNull("limit", line.Limit);
        writer.WriteString("unit", line.Unit);
        writer.WriteString("limitSource", line.LimitSource);
        writer.WriteNumberOrNull("baseline", line.Baseline);
        TapePlaceJson.Write(writer, line.OnTape);
        writer.WriteString("cause", line.Cause);
        writer.WriteString("by", line.By);
        if (line.Identity is not null)
        {
            writer.WriteString("identity", line.Identity);
        }

        writer.WriteString("why", line.Why);
        writer.WriteString("shelvedUntil", line.ShelvedUntilUtc is { } until ? UtcText.FromNanoseconds(until) : null);
        writer.WriteString("text", line.Text);
        writer.WriteStartObject("engine");
        writer.WriteNumber("at", line.At.Nanoseconds);
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

    /// <summary>Reads back what <see cref="Write"/> wrote.</summary>
    /// <exception cref="FormatException">The text is no line of the book of this format.</exception>
    public static AlarmTransition Read(ReadOnlyMemory<byte> utf8)
    {
        try
        {
            using JsonDocument document = JsonDocument.Parse(utf8);
            JsonElement root = document.RootElement;
            if (root.GetProperty("format").GetString() != Format)
            {
                throw new FormatException($"Not a line of format {Format}.");
            }

            return new AlarmTransition
            {
                Id = root.Text("id")!,
                Tag = root.Text("tag")!,
                Input = root.GetProperty("input").GetInt64(),
                Place = root.GetProperty("place").GetInt32(),
                OnTape = TapePlaceJson.Read(root),
                Bench = root.Text("bench")!,
                BenchHash = root.Text("benchHash")!,
                Step = root.Word<AlarmStep>("step"),
                From = root.Word<AlarmState>("from"),
                To = root.Word<AlarmState>("to"),
                IsActive = root.GetProperty("active").GetBoolean(),
                IsAcknowledged = root.GetProperty("acknowledged").GetBoolean(),
                Priority = root.Word<AlarmPriority>("priority"),
                Consequence = root.TryGetProperty("consequence", out JsonElement consequence) ? consequence.GetString() : null,
                At = new EngineTime(root.GetProperty("engine").GetProperty("at").GetInt64()),
                AtUtc = root.Utc("at")!.Value,
                RaisedUtc = root.Utc("raised")!.Value,
                StartUtc = root.Utc("start")!.Value,
                State = root.Word<MachineState>("state"),
                FirstOut = root.Text("firstOut")!,
                Finding = root.Text("finding"),
                Findings = root.GetProperty("findings").GetInt32(),
                Channel = root.Text("channel"),
                Value = root.Number("value"),
                Limit = root.Number("limit"),
                Unit = root.Text("unit"),
                LimitSource = root.Text("limitSource"),
                Baseline = root.Number("baseline"),
                Cause = root.Text("cause"),
                By = root.Text("by"),
                Identity = root.TryGetProperty("identity", out JsonElement identity) ? identity.GetString() : null,
                Why = root.Text("why"),
                ShelvedUntilUtc = root.Utc("shelvedUntil"),
                Text = root.Text("text")!,
                Recalibrated = root.TryGetProperty("recalibrated", out JsonElement ids) ? [.. ids.EnumerateArray().Select(i => i.GetGuid())] : null,
            };
        }
        catch (Exception exception) when (exception is JsonException or KeyNotFoundException or InvalidOperationException)
        {
            throw new FormatException($"Not a line of format {Format}: {exception.Message}", exception);
        }
    }
}
