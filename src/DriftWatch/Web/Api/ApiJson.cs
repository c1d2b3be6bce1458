using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace DriftWatch.Web.Api;

/// <summary>One JSON dialect for the whole API: camelCase, ISO 8601 times in UTC, numbers as numbers, unknown fields refused.</summary>
internal static class ApiJson
{
    public static JsonSerializerOptions Options { get; } = Create();

    /// <summary>As finding lines are written: µ and − stay readable. Served as JSON with nosniff, never inside HTML.</summary>
    public static JsonWriterOptions WriterOptions { get; } = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static void Configure(JsonSerializerOptions options)
    {
        options.PropertyNamingPolicy = JsonNamingPolicy.CamelCase;
        options.NumberHandling = JsonNumberHandling.Strict;
        options.UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow; // a misspelt field is said, not swallowed
    }

    private static JsonSerializerOptions Create()
    {
        var options = new JsonSerializerOptions(JsonSerializerDefaults.Web);
        Configure(options);
        return options;
    }
}
