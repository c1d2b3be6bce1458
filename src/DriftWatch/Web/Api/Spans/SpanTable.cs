using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// A span as it is drawn, as a table: a row a column, at its begin; means of channels and derived quantities, with the least and the greatest
/// beside them, and those of the span that it is held against as <c>name.then</c>. What had no value stays empty.
/// </summary>
internal sealed class SpanTable
{
    private readonly SpanRequest _request;
    private readonly List<ChannelDefinition> _heads = [];
    private readonly SortedDictionary<long, WideCell[]> _rows = [];

    private SpanTable(SpanRequest request) => _request = request;

    public static async Task<SpanTable> ReadAsync(SpanRequest request, QuantityDesk desk, int columns, CancellationToken cancel)
    {
        var table = new SpanTable(request);
        SpanGrid grid = request.Grid(columns);
        int own = request.Channels.Count + request.Quantities.Count;
        int width = request.Compared is null ? own : 2 * own;
        table.Take(await ReadAsync(request, desk, grid, cancel), 0, width, at => at);
        table.Head("");
        if (request.Compared is { } then)
        {
            // To the column in which its middle lies once it is moved: both have the same width.
            long shift = request.FromUtc - then.FromUtc;
            table.Take(
                await ReadAsync(then, desk, then.Grid(columns), cancel), own, width,
                at =>
                {
                    long moved = request.View.FromUtcNanoseconds(request.View.ToUtcNanoseconds(new EngineTime(at + (grid.Width / 2))) + shift).Nanoseconds;
                    return moved - (((moved % grid.Width) + grid.Width) % grid.Width);
                });
            table.Head(".then");
        }

        return table;
    }

    /// <summary>The number of rows.</summary>
    public async Task<long> WriteAsync(string path)
    {
        await using var target = new CsvExport(path, _heads, decimals: null, withExtremes: true);
        foreach ((long at, WideCell[] row) in _rows)
        {
            await target.RowAsync(_request.View.ToUtcNanoseconds(new EngineTime(at)), row);
        }

        await target.CompleteAsync();
        return _rows.Count;
    }

    private static async Task<IReadOnlyList<IReadOnlyList<Bucket>>> ReadAsync(SpanRequest request, QuantityDesk desk, SpanGrid grid, CancellationToken cancel) =>
    [
        .. request.View.Columns(request.Channels, grid),
        .. await desk.ColumnsAsync(request.View, request.Quantities, grid, cancel),
    ];

    private void Head(string suffix)
    {
        _heads.AddRange(_request.Channels.Select(c => c with { Id = c.Id + suffix }));
        _heads.AddRange(_request.Quantities.Select(q => q.AsChannel(SpanQuantitiesAnswer.Tick) with { Id = q.Id + suffix }));
    }

    private void Take(IReadOnlyList<IReadOnlyList<Bucket>> columns, int first, int width, Func<long, long> place)
    {
        for (int i = 0; i < columns.Count; i++)
        {
            foreach (Bucket column in columns[i].Where(c => c.Count > 0 && double.IsFinite(c.Mean)))
            {
                long at = place(column.From.Nanoseconds);
                if (!_rows.TryGetValue(at, out WideCell[]? row))
                {
                    _rows.Add(at, row = new WideCell[width]);
                }

                row[first + i] = new WideCell(CsvCell.Of(column.Mean), column.Minimum, column.Maximum);
            }
        }
    }
}
