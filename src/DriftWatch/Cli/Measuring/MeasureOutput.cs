using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary>Prints what a measurement came to.</summary>
internal static class MeasureOutput
{
    /// <summary>Reads a file of numbers and prints its report; the exit code.</summary>
    public static int OfFile(FileInfo file, TextWriter output, Func<NumberTable, MeasureReport> read)
    {
        string path = file.ToString(); // as it was written
        return Write(Path.GetFileName(path), Told(path, () => read(NumberTable.Read(path))), output);
    }

    /// <exception cref="CommandException">It can't be told.</exception>
    public static T Told<T>(string path, Func<T> read)
    {
        try
        {
            return read();
        }
        catch (CannotTellException untold)
        {
            throw new CommandException(ExitCode.NotSound, $"{path}: {untold.Message}");
        }
    }

    public static int Write(string? name, MeasureReport report, TextWriter output)
    {
        for (int i = 0; i < report.Opening.Count; i++)
        {
            output.WriteLine(i == 0 && name is not null ? $"{name}: {report.Opening[i]}" : report.Opening[i]);
        }

        bool any = report.Opening.Count > 0;
        foreach (ReportPart part in report.Parts)
        {
            if (any && !part.IsJoined)
            {
                output.WriteLine();
            }

            any = true;
            Write(part, output);
        }

        if (report.Caution is { } caution)
        {
            output.WriteLine();
            output.WriteLine(caution);
        }

        return report.IsSound ? ExitCode.Done : ExitCode.NotSound;
    }

    private static void Write(ReportPart part, TextWriter output)
    {
        if (part.Title is { } title)
        {
            output.WriteLine(title);
        }

        switch (part.Layout)
        {
            case ReportLayout.Table:
                TextTable.Write(output, part.Columns, part.Rows);
                break;
            case ReportLayout.Figures:
                foreach (string[] row in part.Rows)
                {
                    output.WriteLine($"  {row[0],-24} {row[1]}");
                }

                break;
            default:
                foreach (string line in part.Lines)
                {
                    output.WriteLine(part.Layout == ReportLayout.List ? $"- {line}" : line);
                }

                break;
        }
    }
}
