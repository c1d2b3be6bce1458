using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Reports;

/// <summary>
/// Writes Parquet in the same columns whatever channels a bench has, one row a reading and a file a month, so that one question goes over the
/// years of all benches: <c>FOLDER/BENCH/readings-2026-03.parquet</c>, <c>frames-2026-03.parquet</c> and <c>alarms.parquet</c>. The
/// columns are told in the README beside this; they only grow. Files appear whole or not at all.
/// </summary>
internal sealed class FleetExport : IExportTarget
{
    private static readonly ReadingColumn[] Columns = Enum.GetValues<ReadingColumn>();

    private readonly string _folder;
    private readonly string _bench;
    private readonly string? _site;
    private readonly IReadOnlyList<ChannelDefinition> _channels;
    private readonly SortedDictionary<string, ParquetTable> _tables = new(StringComparer.Ordinal);

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
        ParquetTable? table = null;
        for (int i = 0; i < cells.Length; i++)
        {
            WideCell cell = cells.Span[i];
            if (cell.Value.Kind is not (CsvCellKind.Value or CsvCellKind.Fault))
            {
                continue;
            }

            table ??= await TableAsync("readings", utcNanoseconds, () => [.. Columns.Select(Of)]);
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
        ParquetTable table = await TableAsync(
            "frames",
            utcNanoseconds,
            () =>
            [
                new TimeColumn("time"), new TextColumn("bench"), new TextColumn("site"), new TextColumn("channel"), new TextColumn("unit"),
                new NumberColumn("sequence"), new NumberColumn("tach"), new NumberColumn("head"), new NumberColumn("angle"), new NumberColumn("value"),
            ]);
        for (int i = 0; i < frame.Count; i++)
        {
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
        ParquetTable table = await TableAsync(
            "alarms",
            line.AtUtc, // a month's export leaves those of the others
            () =>
            [
                new TimeColumn("time"), new TextColumn("bench"), new TextColumn("site"), new TextColumn("id"), new TextColumn("alarm"), new TextColumn("channel"), new TextColumn("unit"),
                new TextColumn("step"), new TextColumn("state"), new TextColumn("priority"), new TextColumn("cause"), new TextColumn("by"), new TextColumn("text"),
                new NumberColumn("value"), new NumberColumn("limit"),
            ]);
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

    public async ValueTask CompleteAsync()
    {
        foreach (ParquetTable table in _tables.Values)
        {
            await table.CompleteAsync();
        }
    }

    public async ValueTask DisposeAsync()
    {
        foreach (ParquetTable table in _tables.Values)
        {
            await table.DisposeAsync();
        }
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

    private ValueTask<ParquetTable> TableAsync(string what, long utcNanoseconds, Func<IReadOnlyList<ParquetColumn>> columns) =>
        TableAsync(what, UtcText.ToDateTimeOffset(utcNanoseconds).ToString("yyyy-MM", CultureInfo.InvariantCulture), columns);

    private async ValueTask<ParquetTable> TableAsync(string what, string? month, Func<IReadOnlyList<ParquetColumn>> columns)
    {
        string name = month is null ? $"{what}.parquet" : $"{what}-{month}.parquet";
        if (!_tables.TryGetValue(name, out ParquetTable? table))
        {
            Directory.CreateDirectory(_folder); // of an export without a reading nothing is left behind
            var about = new Dictionary<string, string>(StringComparer.Ordinal) { ["driftwatch.format"] = $"fleet-{what}/1", ["driftwatch.bench"] = _bench };
            table = await ParquetTable.CreateAsync(Path.Combine(_folder, name), columns(), about);
            _tables.Add(name, table);
        }

        return table;
    }
}
