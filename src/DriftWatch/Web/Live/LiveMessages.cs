using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Json;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch.Quantities;
using DriftWatch.Web.Api;

namespace DriftWatch.Web.Live;

/// <summary>
/// Writes the events of the live stream as bytes, once for all clients. Events: <c>hello</c> (who speaks, channel order,
/// cursor), <c>numbers</c>, <c>quantities</c> (the derived ones, once a second), <c>drifts</c> (as <c>GET drifts</c> answers, once a minute), <c>state</c>, <c>link</c>, <c>finding</c>, <c>alarm</c> (a line of the book), <c>health</c>, <c>bench</c> (the
/// bench file in force changed: read it again). Only <c>hello</c>, <c>finding</c> and <c>alarm</c> carry an id: see <see cref="LiveCursor"/>.
/// </summary>
internal static class LiveMessages
{
    /// <summary>Waiting time of the browser before it connects again, in milliseconds.</summary>
    private const int RetryMilliseconds = 1000;

    public static byte[] Hello(IBenchView view, IReadOnlyList<ChannelNow> channels, LiveCursor cursor) => Event("hello", cursor, writer =>
    {
        writer.WriteString("bench", view.Bench.Id);
        writer.WriteString("benchHash", view.Bench.SourceHash);
        writer.WriteString("state", Slugs.Of(view.State));
        writer.WriteNumber("cursor", cursor.Finding);
        writer.WriteNumber("alarmCursor", cursor.Alarm);
        writer.WriteStartArray("channels");
        foreach (ChannelNow channel in channels)
        {
            writer.WriteStringValue(channel.Channel.Id);
        }

        writer.WriteEndArray();
    });

    /// <summary>
    /// <c>e</c>: engine time in ms, <c>u</c>: the same instant in UTC ms since 1970, <c>v</c>: a row for each channel that has something
    /// new: [index, engine ms, value, minimum, maximum, fault slug], cut where the rest is null. Values to 7 digits:
    /// the exact ones are in the store.
    /// </summary>
    public static byte[] Numbers(IBenchView view, EngineTime now, IReadOnlyList<ChannelNow> channels, IReadOnlyList<int> changed) =>
        Event("numbers", null, writer =>
        {
            writer.WriteNumber("e", now.Nanoseconds / EngineTime.NanosecondsPerMillisecond);
            writer.WriteNumber("u", view.ToUtcNanoseconds(now) / EngineTime.NanosecondsPerMillisecond);
            writer.WriteStartArray("v");
            foreach (int index in changed)
            {
                WriteRow(writer, index, channels[index]);
            }

            writer.WriteEndArray();
        });

    /// <summary><c>e</c>: the engine time in ms that was judged, <c>v</c>: what each quantity is by its id, null where it can't be told. Values to 7 digits.</summary>
    public static byte[] Quantities(QuantityTable table) => Event("quantities", null, writer =>
    {
        writer.WriteNumber("e", table.At!.Value.Nanoseconds / EngineTime.NanosecondsPerMillisecond);
        writer.WriteStartObject("v");
        foreach (QuantityNow quantity in table.Items)
        {
            writer.WritePropertyName(quantity.Id);
            WriteValue(writer, quantity.Value);
        }

        writer.WriteEndObject();
    });

    public static byte[] Drifts(IBenchView view) => Event("drifts", DriftsAnswer.Of(view));

    public static byte[] State(MachineState state) => Event("state", null, writer => writer.WriteString("state", Slugs.Of(state)));

    public static byte[] Bench(string benchHash) => Event("bench", null, writer => writer.WriteString("benchHash", benchHash));

    public static byte[] Link(InstrumentNotice notice) => Event("link", null, writer =>
    {
        writer.WriteString("instrument", notice.Instrument);
        writer.WriteString("state", Slugs.Of(notice.State));
        writer.WriteString("reason", notice.Reason);
        if (notice.RetryIn is { } retry)
        {
            writer.WriteNumber("retryInSeconds", retry.TotalSeconds);
        }
    });

    public static byte[] Alarm(AlarmRow row, LiveCursor cursor) => Event("alarm", cursor, writer =>
    {
        writer.WriteNumber("cursor", row.Cursor);
        writer.WritePropertyName("alarm");
        AlarmJson.Write(writer, row.Line);
    });

    public static byte[] Finding(FindingRow row, LiveCursor cursor) => Event("finding", cursor, writer =>
    {
        writer.WriteNumber("cursor", row.Cursor);
        writer.WritePropertyName("finding");
        FindingJson.Write(writer, row.Line);
    });

    public static byte[] Health(HealthAnswer health) => Event("health", health);

    private static byte[] Event<T>(string name, T answer) =>
        [.. Encoding.UTF8.GetBytes($"event: {name}\ndata: "), .. JsonSerializer.SerializeToUtf8Bytes(answer, ApiJson.Options), .. "\n\n"u8];

    private static void WriteRow(Utf8JsonWriter writer, int index, ChannelNow now)
    {
        writer.WriteStartArray();
        writer.WriteNumberValue(index);
        if (now.At is { } at)
        {
            writer.WriteNumberValue(at.Nanoseconds / EngineTime.NanosecondsPerMillisecond);
            if (now.Fault is { } fault)
            {
                writer.WriteNullValue();
                writer.WriteNullValue();
                writer.WriteNullValue();
                writer.WriteStringValue(fault.ToSlug());
            }
            else
            {
                WriteValue(writer, now.Value);
                if (now.Minimum != now.Value || now.Maximum != now.Value)
                {
                    WriteValue(writer, now.Minimum);
                    WriteValue(writer, now.Maximum);
                }
            }
        }

        writer.WriteEndArray();
    }

    private static void WriteValue(Utf8JsonWriter writer, double? value)
    {
        Span<byte> text = stackalloc byte[32];
        if (value is { } number && double.IsFinite(number)
            && number.TryFormat(text, out int length, "G7", CultureInfo.InvariantCulture))
        {
            writer.WriteRawValue(text[..length], skipInputValidation: true);
        }
        else
        {
            writer.WriteNullValue();
        }
    }

    private static byte[] Event(string name, LiveCursor? id, Action<Utf8JsonWriter> write)
    {
        var buffer = new ArrayBufferWriter<byte>(1024);
        Append(buffer, $"event: {name}\n");
        if (id is { } cursor)
        {
            Append(buffer, $"id: {cursor}\n");
        }

        if (name == "hello")
        {
            Append(buffer, $"retry: {RetryMilliseconds}\n");
        }

        Append(buffer, "data: ");
        using (var writer = new Utf8JsonWriter(buffer, ApiJson.WriterOptions)) // one line: the writer doesn't indent and escapes line ends
        {
            writer.WriteStartObject();
            write(writer);
            writer.WriteEndObject();
        }

        Append(buffer, "\n\n");
        return buffer.WrittenSpan.ToArray();
    }

    private static void Append(ArrayBufferWriter<byte> buffer, string text) => Encoding.UTF8.GetBytes(text, buffer);
}
