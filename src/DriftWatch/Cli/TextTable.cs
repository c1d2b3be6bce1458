namespace DriftWatch.Cli;

/// <summary>Columns of text for a terminal or a file: two spaces between columns, the last one ragged.</summary>
internal static class TextTable
{
    public static void Write(TextWriter output, IReadOnlyList<string> headings, IEnumerable<string[]> rows)
    {
        List<string[]> all = [[.. headings], .. rows];
        int[] widths = [.. headings.Select((_, column) => all.Max(row => row[column].Length))];
        foreach (string[] row in all)
        {
            output.WriteLine(string.Join("  ", row.Select((cell, column) => column == row.Length - 1 ? cell : cell.PadRight(widths[column]))));
        }
    }
}
