namespace DriftWatch.Acquisition.Recordings;

/// <summary>Where the frames of a CSV recording lie: <c>night.csv.gz</c> has <c>night.timing.frames.csv.gz</c> beside it.</summary>
public static class FrameFiles
{
    /// <summary>The side file's name for a recording and a channel, compressed where the recording's name says so.</summary>
    public static string PathFor(string recording, string channel)
    {
        string tail = recording.EndsWith(".gz", StringComparison.OrdinalIgnoreCase) ? ".frames.csv.gz" : ".frames.csv";
        return Stem(recording) + "." + channel + tail;
    }

    /// <summary>The side file of a channel that exists, compressed or not, by id or a former id; null where there is none.</summary>
    public static string? Find(string recording, string channel, IReadOnlyList<string> aliases)
    {
        foreach (string name in (string[])[channel, .. aliases])
        {
            foreach (string tail in (string[])[".frames.csv.gz", ".frames.csv"])
            {
                string path = Stem(recording) + "." + name + tail;
                if (File.Exists(path))
                {
                    return path;
                }
            }
        }

        return null;
    }

    private static string Stem(string recording)
    {
        string stem = recording;
        foreach (string tail in (string[])[".gz", ".csv"])
        {
            if (stem.EndsWith(tail, StringComparison.OrdinalIgnoreCase))
            {
                stem = stem[..^tail.Length];
            }
        }

        return stem;
    }
}
