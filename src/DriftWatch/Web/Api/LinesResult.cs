using System.Buffers;
using System.Text.Json;

namespace DriftWatch.Web.Api;

/// <summary>A page of lines with their cursors, each line written by the one writer of its format, so that no second form can grow.</summary>
/// <param name="name">What a line is called beside its cursor.</param>
/// <param name="rows">Cursor and line, in order.</param>
/// <param name="nextCursor">Where the next page begins.</param>
/// <param name="write">Writes a line.</param>
internal abstract class LinesResult<T>(string name, IEnumerable<(long Cursor, T Line)> rows, long nextCursor, Action<Utf8JsonWriter, T> write) : IResult
{
    public async Task ExecuteAsync(HttpContext httpContext)
    {
        var buffer = new ArrayBufferWriter<byte>(4096);
        using (var writer = new Utf8JsonWriter(buffer, ApiJson.WriterOptions))
        {
            writer.WriteStartObject();
            writer.WriteStartArray("items");
            foreach ((long cursor, T line) in rows)
            {
                writer.WriteStartObject();
                writer.WriteNumber("cursor", cursor);
                writer.WritePropertyName(name);
                write(writer, line);
                writer.WriteEndObject();
            }

            writer.WriteEndArray();
            writer.WriteNumber("nextCursor", nextCursor);
            writer.WriteEndObject();
        }

        httpContext.Response.ContentType = "application/json; charset=utf-8";
        await httpContext.Response.Body.WriteAsync(buffer.WrittenMemory, httpContext.RequestAborted);
    }
}
