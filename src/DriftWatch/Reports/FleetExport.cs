using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Cli;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Reports;

/// <summary>
/// Writes Parquet in the same columns whatever channels a bench has, one row a reading and a file a month, so that one question goes over the
/// years of all benches: <c>FOLDER/BENCH/readings-2026-03.parquet</c>, <c>frames-2026-03.parquet</c> and <c>alarms-2026-03.parquet</c>. The
/// columns are told in the README beside this; they only grow. Files appear whole or not at all, and none takes the place of one that holds
/// what it does not: then nothing is written.
/// </summary>
internal sealed class FleetExport : IExportTarget
{
    private static readonly ReadingColumn[] Columns = Enum.GetValues<ReadingColumn>();

    private readonly string _folder;
    private readonly string _bench;
    private readonly string? _site;
    private readonly IReadOnlyList<ChannelDefinition> _channels;
    private readonly SortedDictionary<string, MonthFile> _files = new(StringComparer.Ordinal);

    /// <param name="folder">Of the whole fleet; the bench has one of its own below.</param>
    /// <param name="bench">Its id.</param>
    /// <param name="site">Null leaves the column empty.</param>
    /// <param name="channels">Of the export, in the order of its rows.</param>
    public FleetExport(string folder, string bench, string? site, IReadOnlyList<ChannelDefinition> channels)
    {
        (_bench, _site, _channels) = (bench, site, channels);
        _folder = Path.Combine(folder, bench);
    }

    /// <summary>The columns of readings, in the file's order; their names are in small letters.</summary>
    private enum ReadingColumn
    {
        Time,
        Bench,
        Site,
        Channel,
        Unit,
        Value,
        Min,
        Max,
        Fault,
    }

    public async ValueTask RowAsync(long utcNanoseconds, ReadOnlyMemory<WideCell> cells)
    {
        MonthFile? month = null;
        for (int i = 0; i < cells.Length; i++)
        {
            WideCell cell = cells.Span[i];
            if (cell.Value.Kind is not (CsvCellKind.Value or CsvCellKind.Fault))
            {
                continue;
            }

            month ??= await MonthAsync("readings", utcNanoseconds, () => [.. Columns.Select(Of)]);
            ParquetTable table = month.Table;
            month.Note(utcNanoseconds, _channels[i].Id);
            table.Time((int)ReadingColumn.Time, utcNanoseconds);
            table.Text((int)ReadingColumn.Bench, _bench);
            table.Text((int)ReadingColumn.Site, _site);
            table.Text((int)ReadingColumn.Channel, _channels[i].Id);
            table.Text((int)ReadingColumn.Unit, _channels[i].Unit);
            table.Number((int)ReadingColumn.Value, cell.Value.Kind == CsvCellKind.Value ? cell.Value.Value : null);
            table.Number((int)ReadingColumn.Min, cell.Minimum);
            table.Number((int)ReadingColumn.Max, cell.Maximum);
            table.Text((int)ReadingColumn.Fault, cell.Value.Kind == CsvCellKind.Fault ? cell.Value.Fault.ToSlug() : null);
            await table.EndRowAsync();
        }
    }

    public async ValueTask FrameAsync(long utcNanoseconds, ChannelDefinition channel, Frame frame)
    {
        MonthFile month = await MonthAsync(
            "frames",
            utcNanoseconds,
            () =>
            [
                new TimeColumn("time"), new TextColumn("bench"), new TextColumn("site"), new TextColumn("channel"), new TextColumn("unit"),
                new NumberColumn("sequence"), new NumberColumn("tach"), new NumberColumn("head"), new NumberColumn("angle"), new NumberColumn("value"),
            ]);
        ParquetTable table = month.Table;
        for (int i = 0; i < frame.Count; i++)
        {
            month.Note(utcNanoseconds, channel.Id);
            table.Time(0, utcNanoseconds);
            table.Text(1, _bench);
            table.Text(2, _site);
            table.Text(3, channel.Id);
            table.Text(4, channel.Unit);
            table.Number(5, frame.Sequence);
            table.Number(6, frame.TachAngleDegrees);
            table.Number(7, channel.Axis!.Heads[i]);
            table.Number(8, channel.Axis.AnglesDegrees[i]);
            table.Number(9, frame.Values[i]);
            await table.EndRowAsync();
        }
    }

    /// <summary>A line of the book of alarms.</summary>
    public async ValueTask AlarmAsync(AlarmTransition line)
    {
        MonthFile month = await MonthAsync(
            "alarms",
            line.AtUtc, // a month's export leaves those of the others
            () =>
            [
                new TimeColumn("time"), new TextColumn("bench"), new TextColumn("site"), new TextColumn("id"), new TextColumn("alarm"), new TextColumn("channel"), new TextColumn("unit"),
                new TextColumn("step"), new TextColumn("state"), new TextColumn("priority"), new TextColumn("cause"), new TextColumn("by"), new TextColumn("text"),
                new NumberColumn("value"), new NumberColumn("limit"),
            ]);
        ParquetTable table = month.Table;
        month.Note(line.AtUtc, channel: null);
        table.Time(0, line.AtUtc);
        string?[] words =
        [
            _bench, _site, line.Id, line.Tag, line.Channel, line.Unit, Slugs.Of(line.Step), Slugs.Of(line.To), Slugs.Of(line.Priority), line.Cause, line.By, line.Text,
        ];
        for (int i = 0; i < words.Length; i++)
        {
            table.Text(i + 1, words[i]);
        }

        table.Number(words.Length + 1, line.Value);
        table.Number(words.Length + 2, line.Limit);
        await table.EndRowAsync();
    }

    /// <exception cref="CommandException">A file that lies there holds what the new one does not; none is replaced.</exception>
    public async ValueTask CompleteAsync()
    {
        foreach (MonthFile month in _files.Values)
        {
            Refuse(month.Lies, month.Holds(_site), month.Path);
        }

        foreach (MonthFile month in _files.Values)
        {
            await month.Table.CompleteAsync(month.About(_site));
        }
    }

    public async ValueTask DisposeAsync()
    {
        foreach (MonthFile month in _files.Values)
        {
            await month.Table.DisposeAsync();
        }
    }

    private static void Refuse(FleetFile? lies, FleetFile comes, string path)
    {
        if (lies is not null && comes.Lacks(lies) is { } lost)
        {
            string month = Path.GetFileNameWithoutExtension(path)[^7..];
            DateTimeOffset begin = DateTimeOffset.ParseExact(month + "-01", "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal);
            throw new CommandException(
                ExitCode.BadInput,
                $"{path} would lose something: {lost}. Nothing was written. Export the whole month (--from {Text(begin)} --to {Text(begin.AddMonths(1))}, all channels); where the store no longer has all of it, keep that file and write to another folder with --out, or remove it to have it replaced");
        }

        static string Text(DateTimeOffset at) => at.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
    }

    private static ParquetColumn Of(ReadingColumn column)
    {
        string name = Slugs.Of(column);
        return column switch
        {
            ReadingColumn.Time => new TimeColumn(name),
            ReadingColumn.Value or ReadingColumn.Min or ReadingColumn.Max => new NumberColumn(name),
            _ => new TextColumn(name),
        };
    }

    private async ValueTask<MonthFile> MonthAsync(string what, long utcNanoseconds, Func<IReadOnlyList<ParquetColumn>> columns)
    {
        string name = $"{what}-{UtcText.ToDateTimeOffset(utcNanoseconds).ToString("yyyy-MM", CultureInfo.InvariantCulture)}.parquet";
        if (_files.TryGetValue(name, out MonthFile? month))
        {
            return month;
        }

        Directory.CreateDirectory(_folder); // of an export without a reading nothing is left behind
        string path = Path.Combine(_folder, name);
        FleetFile? lies = File.Exists(path) ? await FleetFile.ReadAsync(path) : null;
        Refuse(lies, new FleetFile(utcNanoseconds / 1_000_000 * 1_000_000, LastUtc: null, long.MaxValue, Channels: null, _site ?? ""), path); // at once where it begins too late: a year's export takes minutes
        month = new MonthFile(what, path, lies, await ParquetTable.CreateAsync(path, columns(), new Dictionary<string, string>(StringComparer.Ordinal) { ["driftwatch.format"] = $"fleet-{what}/1", ["driftwatch.bench"] = _bench }));
        _files.Add(name, month);
        return month;
    }

    /// <summary>A file being written, what it holds so far, and what lies in its place.</summary>
    private sealed class MonthFile(string what, string path, FleetFile? lies, ParquetTable table)
    {
        private readonly SortedSet<string> _channels = new(StringComparer.Ordinal);
        private long _first = long.MaxValue;
        private long _last = long.MinValue;
        private long _rows;

        public string Path { get; } = path;

        public FleetFile? Lies { get; } = lies;

        public ParquetTable Table { get; } = table;

        public void Note(long utcNanoseconds, string? channel)
        {
            (_first, _last, _rows) = (Math.Min(_first, utcNanoseconds), Math.Max(_last, utcNanoseconds), _rows + 1);
            if (channel is not null)
            {
                _channels.Add(channel);
            }
        }

        public FleetFile Holds(string? site) => new(_first / 1_000_000 * 1_000_000, _last / 1_000_000 * 1_000_000, _rows, what == "alarms" ? null : _channels, site ?? "");

        /// <summary>What stands in its metadata beside its format.</summary>
        public Dictionary<string, string> About(string? site) =>
            new Dictionary<string, string>(StringComparer.Ordinal)
            {
                [FleetFile.FromKey] = UtcText.FromNanoseconds(_first), [FleetFile.ThroughKey] = UtcText.FromNanoseconds(_last),
                [FleetFile.SiteKey] = site ?? "", [FleetFile.ChannelsKey] = string.Join(',', _channels),
            };
    }
}
