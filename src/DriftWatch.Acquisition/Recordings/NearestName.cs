namespace DriftWatch.Acquisition.Recordings;

/// <summary>Finds the name a person most likely meant.</summary>
public static class NearestName
{
    /// <summary>
    /// The candidate with the least edit distance (Levenshtein, letter case ignored), or null when even the best would
    /// change more than a third of the written name (but two letters are always forgiven).
    /// </summary>
    public static string? To(string written, IEnumerable<string> candidates)
    {
        string? best = null;
        int bestDistance = Math.Max(2, written.Length / 3) + 1;
        foreach (string candidate in candidates)
        {
            int distance = Distance(written.ToUpperInvariant(), candidate.ToUpperInvariant());
            if (distance < bestDistance)
            {
                best = candidate;
                bestDistance = distance;
            }
        }

        return best;
    }

    /// <summary>"did you mean 'x'? " or nothing, to be put before the list of what exists.</summary>
    public static string Hint(string written, IEnumerable<string> candidates) =>
        To(written, candidates) is { } name ? $"did you mean '{name}'? " : "";

    private static int Distance(string left, string right)
    {
        var row = new int[right.Length + 1];
        for (int j = 0; j <= right.Length; j++)
        {
            row[j] = j;
        }

        for (int i = 1; i <= left.Length; i++)
        {
            int diagonal = row[0];
            row[0] = i;
            for (int j = 1; j <= right.Length; j++)
            {
                int above = row[j];
                int replace = diagonal + (left[i - 1] == right[j - 1] ? 0 : 1);
                row[j] = Math.Min(replace, Math.Min(above, row[j - 1]) + 1);
                diagonal = above;
            }
        }

        return row[right.Length];
    }
}
