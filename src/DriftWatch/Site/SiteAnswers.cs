using System.Text.Json;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Site;

/// <summary>Answers of servers as JSON, and what is said of one that nobody can read.</summary>
internal static class SiteAnswers
{
    private const int LongestSaid = 120;

    public static async Task<JsonDocument> AskAsync(LineServer server, string path, CancellationToken cancel)
    {
        string text = await server.AskAsync(path, cancel);
        try
        {
            return JsonDocument.Parse(text);
        }
        catch (JsonException exception)
        {
            throw new FormatException($"the server answers with what is no JSON: {(text.Length > LongestSaid ? text[..LongestSaid] + "…" : text)}", exception);
        }
    }

    public static void Read(JsonDocument answer, Action<JsonElement> read)
    {
        try
        {
            read(answer.RootElement);
        }
        catch (Exception exception) when (exception is KeyNotFoundException or InvalidOperationException or IndexOutOfRangeException)
        {
            throw new FormatException("the server answers a question with what is no answer to it", exception);
        }
    }
}
