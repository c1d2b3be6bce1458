using System.Text;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Reports;

namespace DriftWatch.Cli.Calibrating;

/// <summary>
/// What was measured so far at the terminal, as a calibration sheet on disk: a power cut after the ninth of ten points costs the tenth. It can be read,
/// put right and entered as any sheet.
/// </summary>
internal sealed class CalibrationDraft(string path)
{
    public string Path => path;

    /// <summary>What is kept from before; null for nothing.</summary>
    /// <exception cref="CommandException">There is a file, and it is no sheet.</exception>
    public CalibrationSheet? Read()
    {
        if (!File.Exists(path))
        {
            return null;
        }

        CalibrationSheetResult read = CalibrationSheetFile.Load(path);
        return read.Sheet ?? throw new CommandException(
            ExitCode.BadInput, string.Join(System.Environment.NewLine, [.. read.Mistakes.Select(m => m.ToString()), "put it right, move it away, or keep this calibration elsewhere with --keep FILE"]));
    }

    /// <exception cref="IOException">It can't be written.</exception>
    public void Keep(CalibrationSheet sheet) => WholeFile.Write(path, file =>
    {
        file.Write(Encoding.UTF8.GetBytes(CalibrationSheetText.Of(sheet)));
        file.Flush(flushToDisk: true);
    });

    public void Drop() => File.Delete(path);
}
