using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Queries;

/// <summary>Finding lines by cursor, and by the span of time that they touch.</summary>
public sealed partial class BenchReader
{
    private const string FindingColumns = "SELECT cursor, json FROM finding ";

    // Looked up by two indexes, without a row of what is over: a night of years ago costs what last night does.
    internal const string LastingAt = FindingColumns + "f WHERE " + RecordsFile.FindingLasts
        + " AND input < $a AND NOT EXISTS (SELECT 1 FROM finding e WHERE e.id = f.id AND e.phase = 2 AND e.input < $a) ORDER BY input";

    /// <summary>Finding lines after a cursor (0 begins), oldest first.</summary>
    public IReadOnlyList<StoredFinding> Findings(long afterCursor, int limit) =>
        Records(FindingColumns + "WHERE cursor > $a ORDER BY cursor LIMIT $b", ReadFinding, afterCursor, limit);

    /// <summary>The newest finding lines, oldest of them first.</summary>
    public IReadOnlyList<StoredFinding> LatestFindings(int limit)
    {
        List<StoredFinding> latest = Records(FindingColumns + "ORDER BY cursor DESC LIMIT $a", ReadFinding, limit);
        latest.Reverse();
        return latest;
    }

    /// <summary>
    /// Every line that was written in a span or up to <paramref name="before"/> before it, the line by which each finding ends that had not ended in it,
    /// and the newest line before all, which tells the machine's state at its begin. Of a finding that lasted then, however long before
    /// it was raised: the line by which it was, and the newest.
    /// </summary>
    /// <param name="from">Begin of the span.</param>
    /// <param name="to">Its end, not in it.</param>
    /// <param name="before">How far before the span lines are of use.</param>
    /// <param name="most">Lines read at most, the newest of them; what lasted before all comes on top.</param>
    /// <returns>Oldest line first.</returns>
    public IReadOnlyList<StoredFinding> FindingsBetween(EngineTime from, EngineTime to, TimeSpan before, int most) =>
        FindingsBetween(from, to, before, most, out _);

    /// <summary>The same, and how many lines of the span are older than those that were read.</summary>
    public IReadOnlyList<StoredFinding> FindingsBetween(EngineTime from, EngineTime to, TimeSpan before, int most, out long leftOut)
    {
        (long first, long last) = NumbersOf(from - before, to);
        List<StoredFinding> lines = Records(
            FindingColumns + "WHERE input >= $a AND input <= $b ORDER BY cursor DESC LIMIT $c", ReadFinding, first, last, most);
        leftOut = lines.Count < most
            ? 0
            : Records("SELECT count(*) FROM finding WHERE input >= $a AND input <= $b AND cursor < $c", r => r.GetInt64(0), first, last, lines[^1].Cursor)[0];
        List<StoredFinding> older = Before(first);
        IEnumerable<string> lasting = older.Concat(lines).GroupBy(l => l.Line.Id).Where(g => g.All(l => l.Line.Phase != FindingPhase.Ended)).Select(g => g.Key);
        return [.. older, .. lines.Concat(EndsOf([.. lasting])).OrderBy(l => l.Cursor)];
    }

    /// <summary>
    /// The same lines as <see cref="FindingsBetween(EngineTime, EngineTime, TimeSpan, int)"/> without an end to their number: read page by page
    /// as they are asked for, so that however many there are few are held.
    /// </summary>
    /// <param name="from">Begin of the span.</param>
    /// <param name="to">Its end, not in it.</param>
    /// <param name="before">How far before the span lines are of use.</param>
    /// <param name="page">Lines read at once.</param>
    public IEnumerable<StoredFinding> EachFindingBetween(EngineTime from, EngineTime to, TimeSpan before, int page = 1000)
    {
        (long first, long last) = NumbersOf(from - before, to);
        var lasting = new HashSet<string>(StringComparer.Ordinal);
        foreach (StoredFinding line in Before(first))
        {
            lasting.Add(line.Line.Id);
            yield return line;
        }

        for (long cursor = 0; ;)
        {
            List<StoredFinding> lines = Records(
                FindingColumns + "WHERE cursor > $a AND input >= $b AND input <= $c ORDER BY cursor LIMIT $d", ReadFinding, cursor, first, last, page);
            foreach (StoredFinding line in lines)
            {
                if (line.Line.Phase == FindingPhase.Ended)
                {
                    lasting.Remove(line.Line.Id);
                }
                else
                {
                    lasting.Add(line.Line.Id);
                }

                yield return line;
            }

            if (lines.Count < page)
            {
                break;
            }

            cursor = lines[^1].Cursor;
        }

        foreach (StoredFinding line in EndsOf(lasting).OrderBy(l => l.Cursor))
        {
            yield return line;
        }
    }

    /// <summary>The newest line of each finding that no line has ended, in the order in which they were raised.</summary>
    public IReadOnlyList<StoredFinding> LastingFindings() => [.. Lasting(long.MaxValue).GroupBy(l => l.Line.Id).Select(g => g.Last())];

    /// <summary>Of each finding that lasts at an input its first line before it and its newest.</summary>
    private List<StoredFinding> Lasting(long at) =>
    [
        .. Records(LastingAt, ReadFinding, at).OrderBy(b => b.Cursor).SelectMany(b => (IEnumerable<StoredFinding>)
        [
            b, .. Records(FindingColumns + "WHERE id = $a AND phase = 1 AND input < $b ORDER BY input DESC LIMIT 1", ReadFinding, b.Line.Id, at),
        ]),
    ];

    /// <summary>What stands before an input: what lasts there, and the newest line of all. Oldest first.</summary>
    private List<StoredFinding> Before(long first) =>
    [
        .. Lasting(first)
            .Concat(Records(FindingColumns + "WHERE input < $a ORDER BY cursor DESC LIMIT 1", ReadFinding, first))
            .DistinctBy(l => l.Cursor).OrderBy(l => l.Cursor),
    ];

    private IEnumerable<StoredFinding> EndsOf(IEnumerable<string> ids) =>
        ids.SelectMany(id => Records(FindingColumns + "WHERE id = $a AND phase = $b LIMIT 1", ReadFinding, id, (long)FindingPhase.Ended));

    private static StoredFinding ReadFinding(SqliteDataReader reader) =>
        new(reader.GetInt64(0), FindingJson.Read(reader.GetFieldValue<byte[]>(1)));

    /// <summary>Numbers of the first and last input that can lie in a span: those of the segments that it touches, to the log's end where it is not sealed yet.</summary>
    private (long First, long Last) NumbersOf(EngineTime from, EngineTime to)
    {
        lock (_gate)
        {
            long first = long.MaxValue;
            long last = long.MinValue;
            bool goesOn = true;
            foreach ((string path, SqliteConnection connection) in _log.Months())
            {
                LogReader.InOneLook(path, connection, () =>
                {
                    foreach (Months.SegmentRow row in Months.SegmentStore.Rows(connection, from.Nanoseconds, long.MaxValue))
                    {
                        first = Math.Min(first, row.First);
                        goesOn = row.T0 < to.Nanoseconds;
                        if (!goesOn)
                        {
                            break;
                        }

                        last = Math.Max(last, row.Last);
                    }

                    return 0;
                });
            }

            // Nothing sealed from there on: what is asked for is in the journal, behind all that is sealed.
            return first == long.MaxValue ? (LastSealed() + 1, long.MaxValue) : (first, goesOn ? long.MaxValue : last);
        }
    }

    private long LastSealed()
    {
        long last = 0;
        foreach ((string path, SqliteConnection connection) in _log.Months())
        {
            last = Math.Max(last, LogReader.InOneLook(path, connection, () => Months.SegmentStore.LastNumber(connection)));
        }

        return last;
    }
}
