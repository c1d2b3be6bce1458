using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using DriftWatch.Measurement.Time;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Reads query parameters by hand, so that a wrong one is answered with its name and what to write instead.</summary>
internal static class Parameters
{
    public static bool TryCount(
        string? text, string name, int otherwise, int most, out int count, [NotNullWhen(false)] out ProblemHttpResult? problem) =>
        TryWhole(text, name, otherwise, 1, most, out count, out problem);

    public static bool TryWhole(
        string? text, string name, int otherwise, int least, int most, out int count, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        count = otherwise;
        if (string.IsNullOrEmpty(text))
        {
            return true;
        }

        if (int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out count) && count >= least && count <= most)
        {
            return true;
        }

        problem = Problems.BadParameter(name, $"'{text}' is not a whole number from {least} to {most}.", $"Write {name}={otherwise}, or leave it out.");
        return false;
    }

    public static bool TryCursor(string? text, string name, out long cursor, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        cursor = 0;
        if (string.IsNullOrEmpty(text) || (long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out cursor) && cursor >= 0))
        {
            return true;
        }

        problem = Problems.BadParameter(name, $"'{text}' is not a cursor.", $"Use the 'nextCursor' of an earlier answer, or {name}=0 to begin.");
        return false;
    }

    /// <summary>One of some words; the first of them where none is given.</summary>
    public static bool TryChoice(
        string? text, string name, IReadOnlyList<string> words, [NotNullWhen(true)] out string? chosen, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        chosen = string.IsNullOrEmpty(text) ? words[0] : words.FirstOrDefault(w => w == text);
        if (chosen is not null)
        {
            return true;
        }

        problem = Problems.BadParameter(name, $"'{text}' is not one of {string.Join(", ", words)}.", $"Write {name}={words[0]}, or leave it out.");
        return false;
    }

    /// <summary>A time zone by the name that this machine knows it by; UTC where none is given.</summary>
    public static bool TryZone(
        string? text, string name, [NotNullWhen(true)] out TimeZoneInfo? zone, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        zone = TimeZoneInfo.Utc;
        if (string.IsNullOrEmpty(text) || string.Equals(text, "utc", StringComparison.OrdinalIgnoreCase) || TimeZoneInfo.TryFindSystemTimeZoneById(text, out zone))
        {
            return true;
        }

        problem = Problems.BadParameter(name, $"'{text}' is no time zone this machine knows.", $"Write {name}=Europe/Paris or another such name, or leave it out for UTC.");
        return false;
    }

    public static bool TryInstant(
        string? text, string name, long otherwise, out long utcNanoseconds, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        utcNanoseconds = otherwise;
        if (string.IsNullOrEmpty(text))
        {
            return true;
        }

        // Within the span that nanoseconds in 64 bits can count (1678 to 2261), with room for spans to be added.
        if (UtcText.TryParse(text, out utcNanoseconds) && text.Length >= 10 && IsCountable(text))
        {
            return true;
        }

        problem = Problems.BadParameter(
            name, $"'{text}' is not a time.", $"Write it after RFC 3339, such as {name}=2026-03-29T01:30:00Z; a '+' of an offset is written %2B.");
        return false;
    }

    private static bool IsCountable(string text) =>
        DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out DateTimeOffset instant)
        && instant.Year is > 1900 and < 2200;
}
