using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Who did something, and how the name is known: the words of the page.</summary>
internal static class ReportWho
{
    public static string Of(EntryCommand entry) => entry.By == EntryCommand.Automatic ? "by itself" : Of(entry.By, entry.Identity);

    /// <param name="by">The name.</param>
    /// <param name="identity">declared, token or proxy; null in records from before it was kept.</param>
    public static string Of(string by, string? identity) => $"{by} ({identity switch
    {
        null => "not told how known",
        "token" => "signed in",
        "proxy" => "signed in by the proxy",
        _ => "declared",
    }})";
}
