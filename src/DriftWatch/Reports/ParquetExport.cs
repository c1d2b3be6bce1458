using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Parquet;
using Parquet.Schema;

namespace DriftWatch.Reports;

/// <summary>
/// Writes Parquet: <c>time</c> (timestamp in UTC, microseconds), for each series a nullable double <c>id</c> and a
/// nullable string <c>id.fault</c>, and on request <c>id.min</c> and <c>id.max</c>. The frames of a channel go to
/// <c>NAME.id.frames.parquet</c>, one row a point. Units, labels and the format's version are in the file's metadata.
/// Files appear whole or not at all.
/// </summary>
internal sealed class ParquetExport : IExportTarget
{
    private readonly string _path;
    private readonly IReadOnlyList<ChannelDefinition> _channels;
    private readonly bool _withExtremes;
    private readonly ParquetTable _table;
    private readonly Dictionary<string, ParquetTable> _frames = new(StringComparer.Ordinal);

    private ParquetExport(string path, IReadOnlyList<ChannelDefinition> channels, bool withExtremes, ParquetTable table)
    {
        (_path, _channels, _withExtremes, _table) = (path, channels, withExtremes, table);
    }

    public IReadOnlyList<string> Files => [_path, .. _frames.Keys.Select(FramePath)];

    public static async Task<ParquetExport> CreateAsync(string path, IReadOnlyList<ChannelDefinition> channels, bool withExtremes)
    {
        var columns = new List<ParquetColumn> { new TimeColumn("time") };
        var about = new Dictionary<string, string>(StringComparer.Ordinal) { ["driftwatch.format"] = "recording/1" };
        foreach (ChannelDefinition channel in channels)
        {
            if (channel.Kind == ChannelKind.Series)
            {
                columns.Add(new NumberColumn(channel.Id));
                if (withExtremes)
                {
                    columns.Add(new NumberColumn(channel.Id + ".min"));
                    columns.Add(new NumberColumn(channel.Id + ".max"));
                }
            }

            columns.Add(new TextColumn(channel.Id + ".fault"));
            about[$"driftwatch.channel.{channel.Id}.unit"] = channel.Unit;
            about[$"driftwatch.channel.{channel.Id}.label"] = channel.Label;
        }

        return new ParquetExport(path, channels, withExtremes, await ParquetTable.CreateAsync(path, columns, about));
    }

    public async ValueTask RowAsync(long utcNanoseconds, ReadOnlyMemory<WideCell> cells)
    {
        int column = 0;
        _table.Time(column++, utcNanoseconds);
        for (int i = 0; i < cells.Length; i++)
        {
            WideCell cell = cells.Span[i];
            if (_channels[i].Kind == ChannelKind.Series)
            {
                _table.Number(column++, cell.Value.Kind == CsvCellKind.Value ? cell.Value.Value : null);
                if (_withExtremes)
                {
                    _table.Number(column++, cell.Minimum);
                    _table.Number(column++, cell.Maximum);
                }
            }

            _table.Text(column++, cell.Value.Kind == CsvCellKind.Fault ? cell.Value.Fault.ToSlug() : null);
        }

        await _table.EndRowAsync();
    }

    public async ValueTask FrameAsync(long utcNanoseconds, ChannelDefinition channel, Frame frame)
    {
        if (!_frames.TryGetValue(channel.Id, out ParquetTable? table))
        {
            table = await ParquetTable.CreateAsync(
                FramePath(channel.Id),
                [
                    new TimeColumn("time"), new NumberColumn("sequence"), new NumberColumn("tach"),
                    new NumberColumn("head"), new NumberColumn("angle"), new NumberColumn("value"),
                ],
                new Dictionary<string, string>(StringComparer.Ordinal)
                {
                    ["driftwatch.format"] = "frames/1",
                    ["driftwatch.channel"] = channel.Id,
                    ["driftwatch.unit"] = channel.Unit,
                });
            _frames.Add(channel.Id, table);
        }

        for (int i = 0; i < frame.Count; i++)
        {
            table.Time(0, utcNanoseconds);
            table.Number(1, frame.Sequence);
            table.Number(2, frame.TachAngleDegrees);
            table.Number(3, channel.Axis!.Heads[i]);
            table.Number(4, channel.Axis.AnglesDegrees[i]);
            table.Number(5, frame.Values[i]);
            await table.EndRowAsync();
        }
    }

    public async ValueTask CompleteAsync()
    {
        foreach (ParquetTable table in _frames.Values)
        {
            await table.CompleteAsync();
        }

        await _table.CompleteAsync();
    }

    public async ValueTask DisposeAsync()
    {
        await _table.DisposeAsync();
        foreach (ParquetTable table in _frames.Values)
        {
            await table.DisposeAsync();
        }
    }

    private string FramePath(string channel) =>
        Path.ChangeExtension(_path, null) + "." + channel + ".frames.parquet";
}

/// <summary>A column's field and the values of the row group being filled.</summary>
internal abstract class ParquetColumn(DataField field)
{
    public DataField Field { get; } = field;

    public abstract Task WriteAsync(ParquetRowGroupWriter writer);
}

internal sealed class TimeColumn(string name)
    : ParquetColumn(new DateTimeDataField(name, DateTimeFormat.Timestamp, isAdjustedToUTC: true, unit: DateTimeTimeUnit.Micros, isNullable: false))
{
    public List<DateTime> Values { get; } = [];

    public override async Task WriteAsync(ParquetRowGroupWriter writer)
    {
        await writer.WriteAsync<DateTime>(Field, Values.ToArray());
        Values.Clear();
    }
}

internal sealed class NumberColumn(string name) : ParquetColumn(new DataField<double>(name, nullable: true))
{
    public List<double?> Values { get; } = [];

    public override async Task WriteAsync(ParquetRowGroupWriter writer)
    {
        await writer.WriteAsync<double>(Field, Values.ToArray());
        Values.Clear();
    }
}

internal sealed class TextColumn(string name) : ParquetColumn(new DataField<string>(name, nullable: true))
{
    public List<string?> Values { get; } = [];

    public override async Task WriteAsync(ParquetRowGroupWriter writer)
    {
        await writer.WriteAsync(Field, Values!);
        Values.Clear();
    }
}

/// <summary>A Parquet file that is filled row by row and appears whole or not at all.</summary>
internal sealed class ParquetTable : IAsyncDisposable
{
    private const int RowsPerGroup = 65_536;

    private readonly string _path;
    private readonly IReadOnlyList<ParquetColumn> _columns;
    private readonly FileStream _file;
    private readonly ParquetWriter _writer;
    private int _rows;
    private bool _isOpen = true;

    private ParquetTable(string path, IReadOnlyList<ParquetColumn> columns, FileStream file, ParquetWriter writer) =>
        (_path, _columns, _file, _writer) = (path, columns, file, writer);

    public static async Task<ParquetTable> CreateAsync(string path, IReadOnlyList<ParquetColumn> columns, Dictionary<string, string> about)
    {
        var file = new FileStream(path + ".part", FileMode.Create, FileAccess.ReadWrite, FileShare.None);
        ParquetWriter writer = await ParquetWriter.CreateAsync(new ParquetSchema(columns.Select(c => c.Field)), file);
        writer.CustomMetadata = about;
        return new ParquetTable(path, columns, file, writer);
    }

    public void Time(int column, long utcNanoseconds) =>
        ((TimeColumn)_columns[column]).Values.Add(UtcText.ToDateTimeOffset(utcNanoseconds).UtcDateTime);

    public void Number(int column, double? value) => ((NumberColumn)_columns[column]).Values.Add(value);

    public void Text(int column, string? value) => ((TextColumn)_columns[column]).Values.Add(value);

    public async ValueTask EndRowAsync()
    {
        if (++_rows == RowsPerGroup)
        {
            await WriteGroupAsync();
        }
    }

    /// <param name="about">What is known only now of the file, to stand in its metadata beside the rest.</param>
    public async Task CompleteAsync(IReadOnlyDictionary<string, string>? about = null)
    {
        if (about is not null)
        {
            _writer.CustomMetadata = new Dictionary<string, string>(_writer.CustomMetadata.Concat(about), StringComparer.Ordinal);
        }

        if (_rows > 0)
        {
            await WriteGroupAsync();
        }

        await _writer.DisposeAsync(); // writes the footer
        _file.Flush(flushToDisk: true);
        await _file.DisposeAsync();
        _isOpen = false;
        File.Move(_path + ".part", _path, overwrite: true);
    }

    public async ValueTask DisposeAsync()
    {
        if (!_isOpen)
        {
            return;
        }

        _isOpen = false;
        await _writer.DisposeAsync();
        await _file.DisposeAsync();
        File.Delete(_path + ".part");
    }

    private async Task WriteGroupAsync()
    {
        using ParquetRowGroupWriter group = _writer.CreateRowGroup();
        foreach (ParquetColumn column in _columns)
        {
            await column.WriteAsync(group);
        }

        group.CompleteValidate();
        _rows = 0;
    }
}
