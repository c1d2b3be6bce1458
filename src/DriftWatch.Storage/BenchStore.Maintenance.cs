using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Months;
using DriftWatch.Storage.Queries;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>A file that a check found damaged, with what is wrong in words.</summary>
public sealed record FileProblem(string Path, string Why);

public sealed partial class BenchStore
{
    private const long Hour = 3600 * EngineTime.NanosecondsPerSecond;
    private const int MinuteLevel = 0;
    private const int HourLevel = 1;

    private readonly Lock _maintenance = new();

    /// <summary>
    /// Merges the minutes of hours that are over into hour blocks with their rollups. Reads and encodes beside the
    /// writer and holds it up only for the commit. Returns how many hour blocks were made; call it every minute or so.
    /// </summary>
    public int MergeDue(CancellationToken cancel = default)
    {
        lock (_maintenance)
        {
            int made = 0;
            using var reader = new LogReader(Folder);
            foreach ((string path, SqliteConnection connection) in reader.Months())
            {
                try
                {
                    made += MergeMonth(path, connection, cancel);
                }
                catch (SqliteException exception) when (SqliteFile.IsDamage(exception))
                {
                    StoreLog.CheckFailed(_options.Logger, path, exception.Message); // the other months are merged all the same
                }
            }

            return made;
        }
    }

    private int MergeMonth(string path, SqliteConnection connection, CancellationToken cancel)
    {
        int made = 0;
        bool closed = path != LivePath;
        long end = closed ? long.MaxValue : LastTime.Nanoseconds;
        foreach (List<SegmentRow> hour in MinutesByHour(connection, end))
        {
            cancel.ThrowIfCancellationRequested();
            try
            {
                foreach (List<SegmentData> run in Runs(hour.Select(row => SegmentStore.Read(connection, path, row))))
                {
                    Merge(path, run);
                    made++;
                }
            }
            catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
            {
                // One bad minute stays a minute and must not keep the other hours from being merged.
                StoreLog.CheckFailed(_options.Logger, path, exception.Message);
            }
        }

        return made;
    }

    private string? LivePath
    {
        get
        {
            lock (_gate)
            {
                return _month?.Path;
            }
        }
    }

    private static List<List<SegmentRow>> MinutesByHour(SqliteConnection connection, long end) =>
        SegmentStore.Rows(connection, long.MinValue, long.MaxValue)
            .Where(row => row is { Level: MinuteLevel, Raw: true } && (RollupColumn.FloorDivide(row.T0, Hour) + 1) * Hour <= end)
            .GroupBy(row => RollupColumn.FloorDivide(row.T0, Hour))
            .Select(group => group.OrderBy(row => row.First).ToList())
            .ToList();

    /// <summary>The longest pieces that may become one segment each.</summary>
    private static IEnumerable<List<SegmentData>> Runs(IEnumerable<SegmentData> parts)
    {
        var run = new List<SegmentData>();
        foreach (SegmentData part in parts)
        {
            if (run.Count > 0 && !(run[^1].CanTake(part) && run.TrueForAll(earlier => SameVersions(earlier, part))))
            {
                yield return run;
                run = [];
            }

            run.Add(part);
        }

        if (run.Count > 0)
        {
            yield return run;
        }
    }

    private static bool SameVersions(SegmentData left, SegmentData right) =>
        left.Series.All(a => right.Series.All(b => a.Channel != b.Channel || a.Version == b.Version))
        && left.Frames.All(a => right.Frames.All(b => a.Channel != b.Channel || a.Version == b.Version));

    private void Merge(string path, List<SegmentData> run)
    {
        SegmentData merged = run.Count == 1 ? run[0] : SegmentData.Join(run);
        List<RollupColumn> rollups = [.. RollupColumn.Build(merged)];
        EncodedSegment encoded = SegmentStore.Encode(merged, rollups);
        if (!encoded.Proven && merged.Opaque is null)
        {
            throw StoreException.Damaged($"{path}: inputs {merged.First} to {merged.Last} do not read back after merging; their minutes are kept.");
        }

        InMonth(path, month =>
        {
            using SqliteTransaction transaction = month.Connection.BeginTransaction(deferred: false);
            SegmentStore.DeleteSegments(month, transaction, merged.First, merged.Last);
            SegmentStore.Write(month, transaction, merged, encoded, month.NextSegmentId++, HourLevel, merged.Opaque);
            transaction.Commit();
        });
        StoreLog.Merged(_options.Logger, run.Count, merged.First, merged.Last, path);
    }

    /// <summary>Works on a month's writing connection: the live one under the gate, a closed one on its own.</summary>
    private void InMonth(string path, Action<MonthFile> act)
    {
        try
        {
            lock (_gate)
            {
                ObjectDisposedException.ThrowIf(_disposed, this);
                if (_month?.Path == path)
                {
                    act(_month);
                    return;
                }
            }

            using MonthFile closed = MonthFile.Open(path, _options with { MaximumPages = 0 });
            act(closed);
        }
        catch (SqliteException exception)
        {
            throw Trouble(exception, path);
        }
    }

    /// <summary>
    /// Drops what the retention no longer asks for: raw blocks of old months, whose rollups stay, and whole old months.
    /// On a full disk the ballast is given up first, because deleting takes room too. Returns the files touched.
    /// </summary>
    public IReadOnlyList<string> RetainDue()
    {
        lock (_maintenance)
        {
            var touched = new List<string>();
            DateTimeOffset now = _options.TimeProvider.GetUtcNow();
            int thisMonth = (now.Year * 12) + now.Month;
            if (IsFull)
            {
                DropBallast();
            }

            foreach (string path in MonthPaths().Where(path => path != LivePath).ToList())
            {
                string name = Path.GetFileNameWithoutExtension(path);
                int age = thisMonth - ((int.Parse(name[..4], provider: null) * 12) + int.Parse(name[5..], provider: null));
                if (age > _retention.RollupMonths && age > (_retention.RawMonths ?? int.MaxValue))
                {
                    DeleteMonth(path);
                    touched.Add(path);
                }
                else if (age > _retention.RawMonths && DropRaw(path))
                {
                    touched.Add(path);
                }
            }

            return touched;
        }
    }

    private void DeleteMonth(string path)
    {
        foreach (string file in (string[])[path, path + "-wal", path + "-shm"])
        {
            File.Delete(file);
        }

        StoreLog.Retained(_options.Logger, "deleted", path);
    }

    private bool DropRaw(string path)
    {
        bool any = false;
        InMonth(path, month =>
        {
            if (SqliteFile.Number(month.Connection, "SELECT count(*) FROM segment WHERE raw = 1") == 0)
            {
                return;
            }

            if (SqliteFile.Number(month.Connection, "SELECT count(*) FROM segment WHERE level = 0") > 0)
            {
                return; // the next merge makes the rollups; raw goes after that
            }

            using (SqliteTransaction transaction = month.Connection.BeginTransaction(deferred: false))
            {
                SqliteFile.Execute(
                    month.Connection, "DELETE FROM block; DELETE FROM times; UPDATE segment SET raw = 0, opaque = NULL", transaction);
                transaction.Commit();
            }

            SqliteFile.Execute(month.Connection, "VACUUM");
            SqliteFile.Execute(month.Connection, "PRAGMA wal_checkpoint(TRUNCATE)");
            StoreLog.Retained(_options.Logger, "raw readings dropped from", path);
            any = true;
        });
        return any;
    }

    /// <summary>
    /// Checks every closed month and the records: the file's structure, and every block against its checksum and by
    /// reading it. Returns what is damaged. Meant for the night; safe while writing.
    /// </summary>
    public IReadOnlyList<FileProblem> VerifyClosed(CancellationToken cancel = default)
    {
        var problems = new List<FileProblem>();
        using var reader = new LogReader(Folder);
        foreach ((string path, SqliteConnection connection) in reader.Months())
        {
            cancel.ThrowIfCancellationRequested();
            if (path == LivePath)
            {
                continue;
            }

            try
            {
                VerifyMonth(path, connection, problems, cancel);
            }
            catch (SqliteException exception) when (SqliteFile.IsDamage(exception))
            {
                problems.Add(new FileProblem(path, exception.Message));
            }
        }

        foreach (FileProblem problem in problems)
        {
            StoreLog.CheckFailed(_options.Logger, problem.Path, problem.Why);
        }

        return problems;
    }

    private static void VerifyMonth(string path, SqliteConnection connection, List<FileProblem> problems, CancellationToken cancel)
    {
        if (SqliteFile.Check(connection, whole: true) is { } why)
        {
            problems.Add(new FileProblem(path, why));
            return;
        }

        foreach (SegmentRow row in SegmentStore.Rows(connection, long.MinValue, long.MaxValue).Where(row => row.Raw))
        {
            cancel.ThrowIfCancellationRequested();
            try
            {
                SegmentStore.Read(connection, path, row);
            }
            catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
            {
                problems.Add(new FileProblem(path, exception.Message));
            }
        }
    }

    /// <summary>Opens a reader with connections of its own.</summary>
    public BenchReader OpenReader() => new(Folder);
}
