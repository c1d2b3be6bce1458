using System.Globalization;

namespace DriftWatch.Reports.Documents;

/// <summary>What a document says where there were more finding lines than it holds: nothing is left out in silence.</summary>
internal static class LeftOut
{
    /// <summary>One sentence; null where nothing is left out.</summary>
    /// <param name="lines">How many, the oldest.</param>
    /// <param name="whereAllAre">A sentence on where they are to be had.</param>
    public static string? Words(long lines, string whereAllAre) => lines == 0
        ? null
        : string.Create(CultureInfo.InvariantCulture, $"There were more findings than are told here: the oldest {(lines == 1 ? "line is" : $"{lines:N0} lines are")} left out. {whereAllAre}");

    public static IEnumerable<Block> Blocks(long lines, string whereAllAre) => Words(lines, whereAllAre) is { } words ? [new Paragraph(words)] : [];
}
