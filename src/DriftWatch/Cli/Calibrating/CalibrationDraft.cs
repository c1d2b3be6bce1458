using System.Security.Cryptography;
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

    /// <summary>Whether what was measured last lies there.</summary>
    public bool IsKept { get; private set; }

    /// <returns>Why it can't be written, for whoever measures to know; null where it is. A folder that takes nothing must not cost what was measured.</returns>
    public string? Keep(CalibrationSheet sheet)
    {
        try
        {
            WholeFile.Write(path, file =>
            {
                file.Write(Encoding.UTF8.GetBytes(CalibrationSheetText.Of(sheet)));
                file.Flush(flushToDisk: true);
            });
            IsKept = true;
            return null;
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            IsKept = false;
            return exception.Message;
        }
    }

    /// <summary>
    /// An id that the same points of the same channel by the same person have again (RFC 9562, version 8): the mains may fail after they were entered
    /// and before this file was dropped, and who enters them once more has entered them once.
    /// </summary>
    public static Guid IdOf(string channel, string? by, CalibrationSheet sheet)
    {
        byte[] hash = SHA256.HashData(Encoding.UTF8.GetBytes($"{channel}\n{by?.Trim()}\n{CalibrationSheetText.Of(new CalibrationSheet { Reference = sheet.Reference, Points = sheet.Points })}"));
        hash[6] = (byte)((hash[6] & 0x0f) | 0x80);
        hash[8] = (byte)((hash[8] & 0x3f) | 0x80);
        return new Guid(hash.AsSpan(0, 16), bigEndian: true);
    }

    public void Drop()
    {
        if (IsKept)
        {
            File.Delete(path);
        }
    }
}
