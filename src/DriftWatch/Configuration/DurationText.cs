using System.Globalization;

namespace DriftWatch.Configuration;

/// <summary>Durations as bench files write them: a number, a space if liked, and ms, s, min or h. Resolution 100 ns.</summary>
internal static class DurationText
{
    private static readonly (string Unit, double Seconds)[] Units = [("ms", 1e-3), ("s", 1), ("min", 60), ("h", 3600)];

    public static bool TryParse(string text, out TimeSpan duration)
    {
        ReadOnlySpan<char> trimmed = text.AsSpan().Trim();
        int end = trimmed.Length;
        while (end > 0 && char.IsAsciiLetter(trimmed[end - 1]))
        {
            end--;
        }

        ReadOnlySpan<char> unit = trimmed[end..];
        duration = TimeSpan.Zero;
        if (!double.TryParse(trimmed[..end].Trim(), NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double number))
        {
            return false;
        }

        foreach ((string name, double seconds) in Units)
        {
            if (unit.SequenceEqual(name) && Math.Abs(number * seconds) < 1e9)
            {
                duration = TimeSpan.FromTicks((long)Math.Round(number * seconds * TimeSpan.TicksPerSecond));
                return true;
            }
        }

        return false;
    }

    /// <summary>The shortest form that reads back equal.</summary>
    public static string Write(TimeSpan duration)
    {
        double seconds = duration.Ticks / (double)TimeSpan.TicksPerSecond;
        for (int i = Units.Length - 1; i > 0; i--)
        {
            double number = seconds / Units[i].Seconds;
            if (Math.Abs(number) >= 1 && number == Math.Floor(number) || (i == 1 && Math.Abs(number) >= 1) || seconds == 0)
            {
                return (seconds == 0 ? "0 s" : Number(number) + " " + Units[i].Unit);
            }
        }

        return Number(seconds * 1e3) + " ms";
    }

    private static string Number(double number) =>
        Math.Round(number, 7).ToString("0.#######", CultureInfo.InvariantCulture);
}
