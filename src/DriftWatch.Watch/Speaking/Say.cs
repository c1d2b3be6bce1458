using System.Globalization;

namespace DriftWatch.Watch.Speaking;

/// <summary>Numbers as they stand in sentences for people; files carry the full value beside them.</summary>
internal static class Say
{
    public static string Number(double value) => double.IsFinite(value)
        ? value.ToString(Math.Abs(value) >= 100 ? "0.#" : "0.0##", CultureInfo.InvariantCulture)
        : "?";

    public static string Number(double? value) => value is { } number ? Number(number) : "?";

    public static string Seconds(TimeSpan span) => span.TotalSeconds.ToString("0.0##", CultureInfo.InvariantCulture);
}
