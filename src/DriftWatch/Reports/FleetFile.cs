using DriftWatch.Cli;
using DriftWatch.Measurement.Time;
using Parquet;
using Parquet.Schema;

namespace DriftWatch.Reports;

/// <summary>What a file of a fleet's export holds, so far as it tells: by that it is known whether another may take its place.</summary>
/// <param name="FirstUtc">Of its rows, nanoseconds since 1970 floored to the millisecond; null where it has none.</param>
/// <param name="LastUtc">Of its rows, as well; null where it has none, or it is not known yet.</param>
/// <param name="Rows">How many.</param>
/// <param name="Channels">Ids of those it has rows of; null where it does not tell, as files of before this was written down.</param>
/// <param name="Site">Empty for none; null where it does not tell.</param>
internal sealed record FleetFile(long? FirstUtc, long? LastUtc, long Rows, IReadOnlySet<string>? Channels, string? Site)
{
    public const string FromKey = "driftwatch.from";
    public const string ThroughKey = "driftwatch.through";
    public const string ChannelsKey = "driftwatch.channels";
    public const string SiteKey = "driftwatch.site";

    /// <summary>Of a file that lies there.</summary>
    /// <exception cref="CommandException">It can't be read as Parquet.</exception>
    public static async Task<FleetFile> ReadAsync(string path)
    {
        try
        {
            await using ParquetReader reader = await ParquetReader.CreateAsync(path);
            Dictionary<string, string> about = reader.CustomMetadata;
            long rows = 0;
            for (int i = 0; i < reader.RowGroupCount; i++)
            {
                using ParquetRowGroupReader group = reader.OpenRowGroupReader(i);
                rows += group.RowCount;
            }

            return new FleetFile(
                about.TryGetValue(FromKey, out string? from) && UtcText.TryParse(from, out long first) ? first : (await TimesAsync(reader, 0)).Min,
                about.TryGetValue(ThroughKey, out string? through) && UtcText.TryParse(through, out long last) ? last : (await TimesAsync(reader, reader.RowGroupCount - 1)).Max,
                rows,
                about.TryGetValue(ChannelsKey, out string? channels) ? channels.Split(',', StringSplitOptions.RemoveEmptyEntries).ToHashSet(StringComparer.Ordinal) : null,
                about.GetValueOrDefault(SiteKey));
        }
        catch (Exception exception) when (exception is ParquetException or IOException or InvalidDataException)
        {
            throw new CommandException(ExitCode.BadInput, $"{path}: it is there and can't be read as Parquet, so it is left as it is ({exception.Message}); write to another folder with --out, or remove it", exception);
        }
    }

    /// <summary>Whether whoever has this in the place of another lacks nothing that the other holds.</summary>
    /// <returns>What would be lost, in words; null where nothing would.</returns>
    public string? Lacks(FleetFile other)
    {
        if (Site is not null && other.Site is not null && Site != other.Site)
        {
            return $"it holds the readings of {(other.Site.Length > 0 ? $"site {other.Site}" : "no site")}, these are of {(Site.Length > 0 ? $"site {Site}" : "no site")}";
        }

        string[] gone = [.. (other.Channels ?? Channels ?? new HashSet<string>()).Where(c => Channels?.Contains(c) == false).Order(StringComparer.Ordinal)];
        return FirstUtc > other.FirstUtc || LastUtc < other.LastUtc ? $"it holds what was recorded from {Text(other.FirstUtc)} to {Text(other.LastUtc)}, and this export only from {Text(FirstUtc)} {(LastUtc is null ? "on" : "to " + Text(LastUtc))}"
            : gone.Length > 0 ? $"it holds channels that this export leaves out: {string.Join(", ", gone)}"
            : Rows < other.Rows ? $"it holds {other.Rows:N0} rows, and this export only {Rows:N0}"
            : null;
    }

    /// <summary>The least and the greatest time of a row group, whole milliseconds: of a file of before these stood in its metadata. Rows are in the order of time.</summary>
    private static async Task<(long? Min, long? Max)> TimesAsync(ParquetReader reader, int at)
    {
        if (at < 0 || at >= reader.RowGroupCount)
        {
            return (null, null);
        }

        using ParquetRowGroupReader group = reader.OpenRowGroupReader(at);
        var times = new DateTime[group.RowCount];
        await group.ReadAsync<DateTime>(reader.Schema.DataFields[0], times);
        return times.Length == 0 ? (null, null) : (Milliseconds(times.Min()), Milliseconds(times.Max()));

        static long Milliseconds(DateTime utc) => new DateTimeOffset(DateTime.SpecifyKind(utc, DateTimeKind.Utc)).ToUnixTimeMilliseconds() * 1_000_000;
    }

    private static string Text(long? utc) => utc is { } known ? UtcText.FromNanoseconds(known) : "an unknown time";
}
