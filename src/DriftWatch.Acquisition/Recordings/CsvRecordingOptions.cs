using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>How a CSV recording is held against a bench.</summary>
public sealed record CsvRecordingOptions
{
    /// <summary>The bench's channels; null reads every column as it stands.</summary>
    public IReadOnlyList<ChannelDefinition>? Channels { get; init; }

    /// <summary>True reads over columns the bench does not know and says so in a notice; false refuses them.</summary>
    public bool IgnoreUnknownColumns { get; init; }
}

/// <summary>Makes columns of the heading line.</summary>
internal static class CsvHeading
{
    public const string Time = "time";

    /// <returns>One entry a column of the file; null stands for the time column.</returns>
    public static CsvColumn?[] Read(
        string file, long line, IReadOnlyList<(string Name, int Column)> headings, CsvRecordingOptions options, RecordingNotices notices)
    {
        int time = FindTime(file, line, headings);
        var columns = new CsvColumn?[headings.Count];
        var seen = new Dictionary<(string, CsvPart), string>();
        Dictionary<string, int>? byName = options.Channels is null ? null : ChannelsByName(options.Channels);
        for (int i = 0; i < columns.Length; i++)
        {
            if (i == time)
            {
                continue;
            }

            (string name, int at) = headings[i];
            if (name.Length == 0)
            {
                throw new RecordingException(file, line, at, $"column {i + 1} has no name", "name it by its channel's id, or remove it");
            }

            CsvColumn column = Understand(file, line, name, at, byName, options, notices);
            (string, CsvPart) identity = column.Channel >= 0 ? (options.Channels![column.Channel].Id, column.Part) : (name, CsvPart.Value);
            if (!seen.TryAdd(identity, name))
            {
                throw new RecordingException(
                    file, line, at,
                    seen[identity] == name ? $"column '{name}' stands twice" : $"columns '{seen[identity]}' and '{name}' are the same channel",
                    "remove or rename one of the two");
            }

            columns[i] = column;
        }

        foreach (((string channel, CsvPart part), string name) in seen)
        {
            if (part != CsvPart.Value && !seen.ContainsKey((channel, CsvPart.Value)))
            {
                int at = headings.First(h => h.Name == name).Column;
                throw new RecordingException(file, line, at, $"column '{name}' has no column '{channel}' beside it", $"add the column '{channel}'");
            }
        }

        return columns;
    }

    private static int FindTime(string file, long line, IReadOnlyList<(string Name, int Column)> headings)
    {
        int time = -1;
        for (int i = 0; i < headings.Count; i++)
        {
            if (headings[i].Name != Time)
            {
                continue;
            }

            if (time >= 0)
            {
                throw new RecordingException(file, line, headings[i].Column, "column 'time' stands twice", "remove or rename one of the two");
            }

            time = i;
        }

        if (time >= 0)
        {
            return time;
        }

        string remedy = headings.Count == 1 && headings[0].Name.AsSpan().ContainsAny(";\t|")
            ? "separate columns by commas, with a point in decimal numbers"
            : "write a heading line such as 'time,regulated-air' with the times in UTC as 2026-03-01T21:00:00.000Z";
        string found = string.Join(", ", headings.Take(5).Select(h => $"'{Shorten(h.Name)}'"));
        throw new RecordingException(file, line, 1, $"no column is headed 'time' (found {found})", remedy);
    }

    private static CsvColumn Understand(
        string file,
        long line,
        string name,
        int at,
        Dictionary<string, int>? byName,
        CsvRecordingOptions options,
        RecordingNotices notices)
    {
        if (byName is null)
        {
            return new CsvColumn(name, -1, PartOf(name, out _));
        }

        if (!byName.TryGetValue(name, out int channel))
        {
            CsvPart part = PartOf(name, out string id);
            if (part != CsvPart.Value && byName.TryGetValue(id, out channel) && options.Channels![channel].Kind == ChannelKind.Series)
            {
                return new CsvColumn(name, channel, part);
            }

            if (!options.IgnoreUnknownColumns)
            {
                throw new RecordingException(
                    file, line, at,
                    $"the bench knows no channel '{Shorten(name)}'",
                    NearestName.Hint(name, byName.Keys)
                    + $"rename the column, add '{Shorten(name)}' to a channel's aliases in the bench file, or pass --ignore-unknown-columns");
            }

            notices.Add(file, line, $"column '{Shorten(name)}' is ignored: the bench knows no such channel");
            return new CsvColumn(name, -1, CsvPart.Value) { IsIgnored = true };
        }

        return new CsvColumn(name, channel, CsvPart.Value) { HoldsFaultsOnly = options.Channels![channel].Kind == ChannelKind.Frame };
    }

    private static CsvPart PartOf(string name, out string id)
    {
        (CsvPart part, id) = name.EndsWith(".min", StringComparison.Ordinal) ? (CsvPart.Minimum, name[..^4])
            : name.EndsWith(".max", StringComparison.Ordinal) ? (CsvPart.Maximum, name[..^4])
            : (CsvPart.Value, name);
        return part;
    }

    private static Dictionary<string, int> ChannelsByName(IReadOnlyList<ChannelDefinition> channels)
    {
        var byName = new Dictionary<string, int>(StringComparer.Ordinal);
        for (int i = 0; i < channels.Count; i++)
        {
            byName[channels[i].Id] = i;
        }

        // An id always beats another channel's former one.
        for (int i = 0; i < channels.Count; i++)
        {
            foreach (string alias in channels[i].Aliases)
            {
                byName.TryAdd(alias, i);
            }
        }

        return byName;
    }

    private static string Shorten(string name) => name.Length <= 40 ? name : name[..40] + "…";
}
