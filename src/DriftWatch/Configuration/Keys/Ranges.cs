using System.Globalization;

namespace DriftWatch.Configuration.Keys;

/// <summary>The range of a key in words, for messages and the reference.</summary>
internal static class Ranges
{
    /// <summary>Null where anything goes.</summary>
    public static string? InWords(KeyDefinition key)
    {
        if (key.Minimum is null && key.Maximum is null)
        {
            return null;
        }

        string unit = key.Kind switch
        {
            KeyKind.Numbers or KeyKind.Points or KeyKind.Choices or KeyKind.Slugs or KeyKind.Texts => " items",
            KeyKind.Text => " characters",
            _ => key.Unit is null ? "" : " " + key.Unit,
        };
        return (key.Minimum, key.Maximum) switch
        {
            ({ } least, null) => $"{One(key, least)} or more{unit}",
            (null, { } greatest) => $"at most {One(key, greatest)}{unit}",
            ({ } least, { } greatest) when least == greatest => $"{One(key, least)}{unit}",
            ({ } least, { } greatest) => $"{One(key, least)} to {One(key, greatest)}{unit}",
            _ => null,
        };
    }

    private static string One(KeyDefinition key, double value) => key.Kind == KeyKind.Duration
        ? DurationText.Write(TimeSpan.FromTicks((long)Math.Round(value * TimeSpan.TicksPerSecond)))
        : value.ToString("0.######", CultureInfo.InvariantCulture);
}
