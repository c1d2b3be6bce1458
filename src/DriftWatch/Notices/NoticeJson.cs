using System.Text.Encodings.Web;
using System.Text.Json;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Notices;

/// <summary>
/// A notice as JSON: what webhooks and brokers are given, and what the outbox keeps. Fields always in the same order;
/// the published schema is <c>schemas/notice.schema.json</c>.
/// </summary>
internal static class NoticeJson
{
    public const string Format = "driftwatch.notice/1";

    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static byte[] ToUtf8(AlarmNotice notice)
    {
        using var stream = new MemoryStream(1024);
        using (var writer = new Utf8JsonWriter(stream, Options))
        {
            Write(writer, notice);
        }

        return stream.ToArray();
    }

    /// <exception cref="FormatException">The text is no notice of this format.</exception>
    public static AlarmNotice Read(ReadOnlyMemory<byte> utf8)
    {
        try
        {
            using JsonDocument document = JsonDocument.Parse(utf8);
            JsonElement root = document.RootElement;
            if (root.GetProperty("format").GetString() != Format)
            {
                throw new FormatException($"Not a notice of format {Format}.");
            }

            JsonElement alarm = root.GetProperty("alarm");
            return new AlarmNotice
            {
                Id = root.GetProperty("id").GetString()!,
                Kind = Parse<NoticeKind>(root, "kind"),
                Bench = root.GetProperty("bench").GetString()!,
                BenchLabel = root.GetProperty("label").GetString()!,
                Priority = Parse<AlarmPriority>(root, "priority"),
                AtUtc = Utc(root),
                Subject = root.GetProperty("subject").GetString()!,
                Text = root.GetProperty("text").GetString()!,
                Alarm = alarm.ValueKind == JsonValueKind.Null ? null : AlarmJson.Read(System.Text.Encoding.UTF8.GetBytes(alarm.GetRawText())),
                Count = root.GetProperty("count").GetInt32(),
                Items = [.. root.GetProperty("items").EnumerateArray().Select(Item)],
            };
        }
        catch (Exception exception) when (exception is JsonException or KeyNotFoundException or InvalidOperationException)
        {
            throw new FormatException($"Not a notice of format {Format}: {exception.Message}", exception);
        }
    }

    private static void Write(Utf8JsonWriter writer, AlarmNotice notice)
    {
        writer.WriteStartObject();
        writer.WriteString("format", Format);
        writer.WriteString("id", notice.Id);
        writer.WriteString("kind", Slugs.Of(notice.Kind));
        writer.WriteString("bench", notice.Bench);
        writer.WriteString("label", notice.BenchLabel);
        writer.WriteString("priority", Slugs.Of(notice.Priority));
        writer.WriteString("at", UtcText.FromNanoseconds(notice.AtUtc));
        writer.WriteString("subject", notice.Subject);
        writer.WriteString("text", notice.Text);
        writer.WriteString("caution", AlarmNotice.Caution);
        writer.WritePropertyName("alarm");
        if (notice.Alarm is { } line)
        {
            AlarmJson.Write(writer, line);
        }
        else
        {
            writer.WriteNullValue();
        }

        writer.WriteNumber("count", notice.Count);
        writer.WriteStartArray("items");
        foreach (NoticeItem item in notice.Items)
        {
            writer.WriteStartObject();
            writer.WriteString("alarm", item.Alarm);
            writer.WriteString("tag", item.Tag);
            writer.WriteString("priority", Slugs.Of(item.Priority));
            writer.WriteString("step", Slugs.Of(item.Step));
            writer.WriteString("at", UtcText.FromNanoseconds(item.AtUtc));
            writer.WriteString("text", item.Text);
            writer.WriteEndObject();
        }

        writer.WriteEndArray();
        writer.WriteEndObject();
    }

    private static NoticeItem Item(JsonElement item) => new(
        item.GetProperty("alarm").GetString()!,
        item.GetProperty("tag").GetString()!,
        Parse<AlarmPriority>(item, "priority"),
        Parse<AlarmStep>(item, "step"),
        Utc(item),
        item.GetProperty("text").GetString()!);

    private static long Utc(JsonElement element) =>
        UtcText.TryParse(element.GetProperty("at").GetString()!, out long utc) ? utc : throw new FormatException("Field 'at' holds no time.");

    private static T Parse<T>(JsonElement element, string name)
        where T : struct, Enum =>
        Slugs.TryParse(element.GetProperty(name).GetString()!, out T value)
            ? value
            : throw new FormatException($"Field '{name}' holds an unknown word.");
}
