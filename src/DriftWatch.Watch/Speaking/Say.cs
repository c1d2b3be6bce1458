using System.Globalization;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Watch.Speaking;

/// <summary>Numbers as they stand in sentences for people; files carry the full value beside them.</summary>
internal static class Say
{
    public static string Number(double value) => double.IsFinite(value)
        ? value.ToString(Math.Abs(value) switch { >= 100 => "0.#", >= 1 => "0.0#", _ => "0.0##" }, NumbersForPeople.Format)
        : "?";

    public static string Number(double? value) => value is { } number ? Number(number) : "?";

    /// <summary>A length of time by its two greatest units; two minutes and less in seconds.</summary>
    public static string Length(double seconds)
    {
        long whole = (long)Math.Min(Math.Round(seconds), TimeSpan.MaxValue.TotalSeconds - 1);
        return whole switch
        {
            <= 120 => $"{Number(seconds)} s",
            < 2 * 3600 => Two(whole / 60, "min", whole % 60, "s"),
            < 2 * 86400 => Two(whole / 3600, "h", whole % 3600 / 60, "min"),
            _ => Two(whole / 86400, "d", whole % 86400 / 3600, "h"),
        };
    }

    private static string Two(long great, string greatUnit, long small, string smallUnit) =>
        string.Create(CultureInfo.InvariantCulture, $"{great} {greatUnit} {small} {smallUnit}");

    public static string Seconds(TimeSpan span) => span.TotalSeconds.ToString("0.0##", CultureInfo.InvariantCulture);
}
