namespace DriftWatch.Measurement.Names;

/// <summary>
/// Finds the name that was probably meant: the least number of inserted, dropped, changed or swapped letters (optimal
/// string alignment distance), and no suggestion where more than a third of the word would have to change.
/// </summary>
public static class NearestName
{
    /// <summary>The name that was probably meant, or null; letter case and the choice between dash and underscore count nothing.</summary>
    public static string? Of(string written, IEnumerable<string> names)
    {
        string? best = null;
        int bestDistance = int.MaxValue;
        foreach (string name in names)
        {
            int distance = Distance(Fold(written), Fold(name));
            if (distance < bestDistance)
            {
                bestDistance = distance;
                best = name;
            }
        }

        return best is not null && bestDistance <= Math.Max(1, Math.Max(written.Length, best.Length) / 3) ? best : null;
    }

    /// <summary>"did you mean 'x'? " or nothing, to be put before the list of what exists.</summary>
    public static string Hint(string written, IEnumerable<string> names) =>
        Of(written, names) is { } name ? $"did you mean '{name}'? " : "";

    private static string Fold(string text) =>
        text.Replace('_', '-').ToLowerInvariant();

    private static int Distance(string left, string right)
    {
        var d = new int[left.Length + 1, right.Length + 1];
        for (int i = 0; i <= left.Length; i++)
        {
            d[i, 0] = i;
        }

        for (int j = 0; j <= right.Length; j++)
        {
            d[0, j] = j;
        }

        for (int i = 1; i <= left.Length; i++)
        {
            for (int j = 1; j <= right.Length; j++)
            {
                int change = left[i - 1] == right[j - 1] ? 0 : 1;
                d[i, j] = Math.Min(Math.Min(d[i - 1, j] + 1, d[i, j - 1] + 1), d[i - 1, j - 1] + change);
                if (i > 1 && j > 1 && left[i - 1] == right[j - 2] && left[i - 2] == right[j - 1])
                {
                    d[i, j] = Math.Min(d[i, j], d[i - 2, j - 2] + 1);
                }
            }
        }

        return d[left.Length, right.Length];
    }
}
