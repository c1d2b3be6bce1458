using System.CommandLine;
using DriftWatch.Reports;
using DriftWatch.Reports.Documents;

namespace DriftWatch.Cli;

/// <summary>Files that a document is written to: the ending tells which kind.</summary>
internal static class DocumentFile
{
    /// <param name="otherwise">What happens without it; empty where it must be given.</param>
    /// <param name="isRequired">Whether it must be given.</param>
    public static Option<string[]> Option(string otherwise, bool isRequired) => new("--out")
    {
        Description = $"The file to write: NAME.pdf or NAME.html. May be repeated. It appears only once it is whole. {otherwise}".TrimEnd(),
        HelpName = "FILE",
        Required = isRequired,
    };

    /// <exception cref="CommandException">An ending that tells no kind of document.</exception>
    public static string[] Checked(string[]? files)
    {
        foreach (string file in files ?? [])
        {
            if (!IsPdf(file) && !file.EndsWith(".html", StringComparison.OrdinalIgnoreCase))
            {
                throw new CommandException(ExitCode.Usage, $"the ending of '{file}' tells no kind of report; write NAME.pdf or NAME.html");
            }
        }

        return files ?? [];
    }

    public static void Write(IEnumerable<string> files, Document document, string what, TextWriter said)
    {
        foreach (string file in files)
        {
            WholeFile.Write(file, stream =>
            {
                if (IsPdf(file))
                {
                    PdfDocument.Write(stream, document);
                }
                else
                {
                    HtmlDocument.Write(stream, document);
                }
            });
            said.WriteLine($"Wrote {what} to {file}.");
        }
    }

    private static bool IsPdf(string file) => file.EndsWith(".pdf", StringComparison.OrdinalIgnoreCase);
}
