using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// The newest finding lines in memory, so that pages that ask ten times a second never touch the disk. Older ones come
/// from the store.
/// </summary>
internal sealed class FindingTail
{
    private const int Kept = 500;

    private readonly BenchReader _reader;
    private readonly Lock _gate = new();
    private List<FindingRow> _rows = [];

    public FindingTail(BenchReader reader)
    {
        _reader = reader;
        lock (_gate)
        {
            _rows = [.. _reader.LatestFindings(Kept).Select(r => new FindingRow(r.Cursor, r.Line))];
        }
    }

    /// <summary>Takes in what was stored since.</summary>
    public void Refresh()
    {
        lock (_gate)
        {
            long after = _rows.Count == 0 ? 0 : _rows[^1].Cursor;
            var rows = new List<FindingRow>(_rows);
            rows.AddRange(_reader.Findings(after, 10_000).Select(r => new FindingRow(r.Cursor, r.Line)));
            _rows = rows.Count > Kept ? rows[^Kept..] : rows;
        }
    }

    public FindingPage After(long cursor, int limit)
    {
        List<FindingRow> rows;
        lock (_gate)
        {
            rows = _rows;
        }

        bool fromStore = rows.Count == Kept && cursor < rows[0].Cursor - 1;
        List<FindingRow> page = fromStore
            ? [.. _reader.Findings(cursor, limit).Select(r => new FindingRow(r.Cursor, r.Line))]
            : [.. rows.Where(r => r.Cursor > cursor).Take(limit)];
        return new FindingPage(page, page.Count == 0 ? cursor : page[^1].Cursor);
    }

    public FindingPage Latest(int limit)
    {
        List<FindingRow> rows;
        lock (_gate)
        {
            rows = _rows;
        }

        List<FindingRow> page = limit > Kept
            ? [.. _reader.LatestFindings(limit).Select(r => new FindingRow(r.Cursor, r.Line))]
            : rows.Count > limit ? rows[^limit..] : rows;
        return new FindingPage(page, page.Count == 0 ? 0 : page[^1].Cursor);
    }
}
