using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Queries;

/// <summary>Finding lines by cursor, and by the span of time that they touch.</summary>
public sealed partial class BenchReader
{
    private const string FindingColumns = "SELECT cursor, json FROM finding ";

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
    /// Every line of the findings of which a line was written in a span, and the newest line before it, which tells the machine's
    /// state at its begin. One that began before the span and is told of only after it is found up to <paramref name="before"/> back.
    /// </summary>
    /// <param name="from">Begin of the span.</param>
    /// <param name="to">Its end, not in it.</param>
    /// <param name="before">How far before the span a finding may have been raised that lasts into it.</param>
    /// <param name="most">Lines read at most, the newest of them.</param>
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
        IEnumerable<string> lasting = lines.GroupBy(l => l.Line.Id).Where(g => g.All(l => l.Line.Phase != FindingPhase.Ended)).Select(g => g.Key);
        return [.. NewestBefore(first), .. lines.Concat(EndsOf([.. lasting])).OrderBy(l => l.Cursor)];
    }

    /// <summary>
    /// The same lines as <see cref="FindingsBetween(EngineTime, EngineTime, TimeSpan, int)"/> without an end to their number: read page by page
    /// as they are asked for, so that however many there are few are held.
    /// </summary>
    /// <param name="from">Begin of the span.</param>
    /// <param name="to">Its end, not in it.</param>
    /// <param name="before">How far before the span a finding may have been raised that lasts into it.</param>
    /// <param name="page">Lines read at once.</param>
    public IEnumerable<StoredFinding> EachFindingBetween(EngineTime from, EngineTime to, TimeSpan before, int page = 1000)
    {
        (long first, long last) = NumbersOf(from - before, to);
        foreach (StoredFinding line in NewestBefore(first))
        {
            yield return line;
        }

        var lasting = new HashSet<string>(StringComparer.Ordinal);
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

    private List<StoredFinding> NewestBefore(long first) =>
        Records(FindingColumns + "WHERE input < $a ORDER BY cursor DESC LIMIT 1", ReadFinding, first);

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
