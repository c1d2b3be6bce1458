using DriftWatch.Measurement.Inputs;
using DriftWatch.Storage.Months;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Queries;

/// <summary>
/// The month files of a folder, read on connections of their own. A file that merging or sealing rewrites meanwhile is
/// seen before or after, never between: each step reads in one transaction.
/// </summary>
internal sealed class LogReader(string folder) : IDisposable
{
    private readonly Dictionary<string, SqliteConnection> _open = new(StringComparer.Ordinal);

    /// <summary>The month files now in the folder, oldest first, with an open connection each.</summary>
    public IEnumerable<(string Path, SqliteConnection Connection)> Months()
    {
        List<string> paths = [.. Directory.EnumerateFiles(folder, "????-??.db").Where(MonthFile.IsMonthFile).Order(StringComparer.Ordinal)];
        foreach (string gone in _open.Keys.Except(paths, StringComparer.Ordinal).ToList())
        {
            _open[gone].Dispose();
            _open.Remove(gone);
        }

        foreach (string path in paths)
        {
            SqliteConnection? connection;
            try
            {
                if (!_open.TryGetValue(path, out connection))
                {
                    connection = SqliteFile.OpenReader(path);
                    long version = SqliteFile.Number(connection, "PRAGMA user_version");
                    if (version == 0)
                    {
                        connection.Dispose(); // being made just now
                        continue;
                    }

                    SqliteFile.CheckVersion(path, version, MonthFile.SchemaSteps.Count);
                    _open.Add(path, connection);
                }
            }
            catch (SqliteException exception)
            {
                throw SqliteFile.Translate(exception, path);
            }

            yield return (path, connection);
        }
    }

    /// <summary>The inputs after a number, in number order; ends at the last one stored when it gets there.</summary>
    /// <exception cref="StoreException">A block on the way is damaged or has expired.</exception>
    public IEnumerable<EngineInput> Inputs(long afterNumber)
    {
        long at = afterNumber;
        while (NextStep(at) is { } step)
        {
            foreach (EngineInput input in step)
            {
                if (input.Number > at)
                {
                    yield return input;
                    at = input.Number;
                }
            }
        }
    }

    /// <summary>The last input whose readings retention has dropped while their rollups are kept; 0 for none.</summary>
    public long ExpiredThrough()
    {
        long last = 0;
        foreach ((string path, SqliteConnection connection) in Months())
        {
            last = Math.Max(last, InOneLook(path, connection, () => SegmentStore.LastExpired(connection)));
        }

        return last;
    }

    public void Dispose()
    {
        foreach (SqliteConnection connection in _open.Values)
        {
            connection.Dispose();
        }

        _open.Clear();
    }

    public static T InOneLook<T>(string path, SqliteConnection connection, Func<T> read)
    {
        try
        {
            using SqliteTransaction look = connection.BeginTransaction(deferred: true);
            return read();
        }
        catch (SqliteException exception)
        {
            throw SqliteFile.Translate(exception, path);
        }
    }

    /// <summary>The next segment's inputs, or the journal's, whichever holds the number that follows; null at the end.</summary>
    private IEnumerable<EngineInput>? NextStep(long at)
    {
        (long first, IEnumerable<EngineInput>? step) = Look(at);
        while (step is not null && first > at + 1)
        {
            // A gap is real after a damaged file; but a month may also have turned between two looks. Look again.
            long before = first;
            (first, step) = Look(at);
            if (first == before)
            {
                break;
            }
        }

        return step;
    }

    private (long First, IEnumerable<EngineInput>? Step) Look(long at)
    {
        long first = long.MaxValue;
        IEnumerable<EngineInput>? step = null;
        foreach ((string path, SqliteConnection connection) in Months())
        {
            InOneLook(path, connection, () =>
            {
                if (SegmentStore.NextAfter(connection, at) is { } row)
                {
                    if (row.First < first)
                    {
                        step = SegmentStore.Read(connection, path, row).Inputs();
                        first = row.First;
                    }
                }
                else if (JournalStart(connection, at) is { } start && start < first)
                {
                    step = MonthFile.ReadJournal(connection, path, at);
                    first = start;
                }

                return 0;
            });
        }

        return (first, step);
    }

    private static long? JournalStart(SqliteConnection connection, long at)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT min(first) FROM journal WHERE last > $at";
        command.Parameters.AddWithValue("$at", at);
        return command.ExecuteScalar() as long?;
    }
}
