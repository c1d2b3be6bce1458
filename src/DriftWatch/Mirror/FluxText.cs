using System.Globalization;

namespace DriftWatch.Mirror;

/// <summary>Words of Flux.</summary>
internal static class FluxText
{
    public static string Quoted(string word) => "\"" + word.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("\"", "\\\"", StringComparison.Ordinal).Replace("${", "\\${", StringComparison.Ordinal) + "\"";

    public static string Time(long utcMilliseconds) => DateTimeOffset.FromUnixTimeMilliseconds(utcMilliseconds).ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);
}
