using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;

namespace DriftWatch.Cli.Measuring;

/// <summary>What measurements of numbers take: columns of a file, and options within bounds.</summary>
internal static class MeasureInput
{
    /// <summary>The first of these columns that the file has.</summary>
    /// <exception cref="RecordingException">It has none of them.</exception>
    public static string Column(NumberTable table, string path, string what, params string[] names) =>
        table.OneOf(names) ?? throw new RecordingException(path, 1, 1, $"the heading has no column for {what}", $"name it '{names[0]}'");

    /// <summary>The column of times, rising from row to row.</summary>
    /// <exception cref="RecordingException">There is none, a cell is no number, or a time is not later than the one before.</exception>
    public static double[] Seconds(NumberTable table, string path)
    {
        string time = Column(table, path, "time in s", "time", "seconds", "time-s");
        double[] seconds = new double[table.Count];
        for (int row = 0; row < table.Count; row++)
        {
            seconds[row] = table.Number(row, time);
            if (row > 0 && seconds[row] <= seconds[row - 1])
            {
                throw table.Mistake(row, time, $"{table.Text(row, time)} s is not later than the row before", "put the rows in the order of time, one reading a row");
            }
        }

        return seconds;
    }

    /// <summary>A number within bounds, with a default.</summary>
    public static Option<double> Number(string name, string what, double least, double greatest, double standard = 0)
    {
        var option = new Option<double>(name) { Description = what };
        if (standard != 0)
        {
            option.DefaultValueFactory = _ => standard;
        }

        option.Validators.Add(result => Check(result.GetValueOrDefault<double>(), name, least, greatest, result.AddError));
        return option;
    }

    /// <summary>A number within bounds, or nothing.</summary>
    public static Option<double?> Optional(string name, string what, double least, double greatest)
    {
        var option = new Option<double?>(name) { Description = what };
        option.Validators.Add(result => Check(result.GetValueOrDefault<double?>(), name, least, greatest, result.AddError));
        return option;
    }

    private static void Check(double? value, string name, double least, double greatest, Action<string> error)
    {
        if (value is { } number && !(number >= least && number <= greatest))
        {
            error(string.Create(CultureInfo.InvariantCulture, $"{name} takes a number from {least} to {greatest}."));
        }
    }
}
