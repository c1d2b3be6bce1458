namespace DriftWatch.Configuration;

/// <summary>
/// Finds the name that was probably meant: the least number of inserted, dropped, changed or swapped letters (optimal
/// string alignment distance), and no suggestion where more than a third of the word would have to change.
/// </summary>
internal static class NearestName
{
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

    /// <summary>Case and the choice between dash, underscore and nothing are no difference worth counting.</summary>
    private static string Fold(string text) =>
        text.Replace('_', '-').ToLowerInvariant();

    public static int Distance(string left, string right)
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
