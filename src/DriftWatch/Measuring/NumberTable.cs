using System.Globalization;
using DriftWatch.Acquisition.Recordings;

namespace DriftWatch.Measuring;

/// <summary>
/// A small table of numbers that a person or another program wrote: a heading of column names, then a row a line, cells parted by
/// commas; empty lines and lines that begin with # are passed over. Every mistake names file, line, column and remedy.
/// </summary>
internal sealed class NumberTable
{
    private readonly string _file;
    private readonly long _headingLine;
    private readonly string[] _columns;
    private readonly List<(long Line, string[] Cells)> _rows = [];

    private NumberTable(string file, long headingLine, string[] columns) => (_file, _headingLine, _columns) = (file, headingLine, columns);

    public int Count => _rows.Count;

    /// <exception cref="RecordingException">No heading, a row of another length, or nothing below the heading.</exception>
    public static NumberTable Read(string path) => Of(path, File.ReadLines(path));

    /// <summary>The same of text that came another way; <paramref name="name"/> stands in the messages.</summary>
    /// <inheritdoc cref="Read"/>
    public static NumberTable OfText(string name, string text) => Of(name, text.ReplaceLineEndings("\n").Split('\n'));

    private static NumberTable Of(string path, IEnumerable<string> lines)
    {
        NumberTable? table = null;
        long line = 0;
        foreach (string text in lines)
        {
            line++;
            if (text.Trim().Length == 0 || text.StartsWith('#'))
            {
                continue;
            }

            string[] cells = [.. text.Split(',').Select(c => c.Trim().Trim('"'))];
            if (table is null)
            {
                table = new NumberTable(path, line, [.. cells.Select(c => c.ToLowerInvariant())]);
            }
            else if (cells.Length != table._columns.Length)
            {
                throw new RecordingException(
                    path, line, 1, $"the row has {cells.Length} cells, the heading {table._columns.Length}", "write one cell for each column, empty where there is nothing");
            }
            else
            {
                table._rows.Add((line, cells));
            }
        }

        if (table is null || table.Count == 0)
        {
            throw new RecordingException(path, line + 1, 1, table is null ? "the file has no heading" : "there is no row below the heading", "write a heading of column names and a row a sample");
        }

        return table;
    }

    public bool Has(string column) => Array.IndexOf(_columns, column) >= 0;

    /// <summary>The first of these columns that is there.</summary>
    public string? OneOf(params string[] columns) => columns.FirstOrDefault(Has);

    /// <summary>The first of these columns that is there.</summary>
    /// <exception cref="RecordingException">None is.</exception>
    public string Needed(string what, params string[] columns) =>
        OneOf(columns) ?? throw new RecordingException(_file, _headingLine, 1, $"the heading has no column for {what}", $"name it '{columns[0]}'");

    /// <summary>A whole column of numbers.</summary>
    /// <inheritdoc cref="Number"/>
    public double[] Column(string column, double least = double.NegativeInfinity, double greatest = double.PositiveInfinity) =>
        [.. Enumerable.Range(0, Count).Select(row => Number(row, column, least, greatest))];

    /// <summary>The column of times, rising from row to row.</summary>
    /// <exception cref="RecordingException">There is none, a cell is no number, or a time is not later than the one before.</exception>
    public double[] Seconds()
    {
        string time = Needed("time in s", "time", "seconds", "time-s");
        double[] seconds = Column(time);
        for (int row = 1; row < seconds.Length; row++)
        {
            if (seconds[row] <= seconds[row - 1])
            {
                throw Mistake(row, time, $"{Text(row, time)} s is not later than the row before", "put the rows in the order of time, one reading a row");
            }
        }

        return seconds;
    }

    /// <summary>The table as a whole is not what was asked for.</summary>
    public RecordingException Unfit(string what, string remedy) => new(_file, _headingLine, 1, what, remedy);

    public long LineOf(int row) => _rows[row].Line;

    /// <summary>Text of a cell; empty where the column is not there.</summary>
    public string Text(int row, string column) => Array.IndexOf(_columns, column) is var at and >= 0 ? _rows[row].Cells[at] : "";

    /// <exception cref="RecordingException">The cell is no finite number, or not within the bounds.</exception>
    public double Number(int row, string column, double least = double.NegativeInfinity, double greatest = double.PositiveInfinity)
    {
        string text = Text(row, column);
        if (double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out double value) && double.IsFinite(value) && value >= least && value <= greatest)
        {
            return value;
        }

        string bounds = double.IsFinite(least) && double.IsFinite(greatest) ? $" from {least} to {greatest}" : "";
        throw Mistake(row, column, text.Length == 0 ? $"'{column}' is empty" : $"'{text}' in '{column}' is no number{bounds}", $"write a number{bounds} with a point, such as {(double.IsFinite(least) ? least : -12.5)}");
    }

    /// <exception cref="RecordingException">The cell is no whole number within the bounds.</exception>
    public int Whole(int row, string column, int least, int greatest)
    {
        double value = Number(row, column, least, greatest);
        return value == Math.Floor(value)
            ? (int)value
            : throw Mistake(row, column, $"'{Text(row, column)}' in '{column}' is no whole number", $"write a whole number from {least} to {greatest}");
    }

    public RecordingException Mistake(int row, string column, string what, string remedy)
    {
        int at = Math.Max(0, Array.IndexOf(_columns, column));
        int position = 1 + _rows[row].Cells.Take(at).Sum(c => c.Length + 1);
        return new RecordingException(_file, _rows[row].Line, position, what, remedy);
    }
}
