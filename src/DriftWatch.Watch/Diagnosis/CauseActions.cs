namespace DriftWatch.Watch.Diagnosis;

/// <summary>What is done first about a cause, for who acts on what judgement named.</summary>
public static class CauseActions
{
    private static readonly Dictionary<string, string> Known = SignatureTable.All.ToDictionary(s => s.Cause, s => s.FirstAction, StringComparer.Ordinal);

    /// <summary>In one or two sentences; null for a cause that the table does not have, such as <c>unknown</c>.</summary>
    public static string? FirstOf(string? cause) => cause is null ? null : Known.GetValueOrDefault(cause);
}
