using System.Text.RegularExpressions;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>
/// Which rows of a table are run, by '--rows' and a regular expression over the row's first cells as they are printed. Each row has seeds of
/// its own, so that one alone gives the figures that it has in the whole table.
/// </summary>
public static class RowFilter
{
    private static Regex? _wanted;

    public static bool Wants(FormattableString firstCells) => _wanted is null || _wanted.IsMatch(FormattableString.Invariant(firstCells));

    /// <summary>Takes '--rows PATTERN' out of the arguments.</summary>
    /// <returns>The other arguments.</returns>
    public static string[] From(string[] args)
    {
        int at = Array.IndexOf(args, "--rows");
        if (at < 0 || at + 1 >= args.Length)
        {
            return args;
        }

        _wanted = new Regex(args[at + 1], RegexOptions.CultureInvariant, TimeSpan.FromSeconds(1));
        return [.. args[..at], .. args[(at + 2)..]];
    }
}
