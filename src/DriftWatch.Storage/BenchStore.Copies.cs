using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>How far a backup has come: the file just copied, and bytes done of all.</summary>
public readonly record struct BackupProgress(string File, long DoneBytes, long TotalBytes);

public sealed partial class BenchStore
{
    private DateTimeOffset _recordsCopied = DateTimeOffset.MinValue;

    /// <summary>Copies the records file once an hour, and proves the copy before it replaces the last one. True when it did.</summary>
    public bool CopyRecordsDue()
    {
        lock (_maintenance)
        {
            DateTimeOffset now = _options.TimeProvider.GetUtcNow();
            if (now - _recordsCopied < _options.RecordsCopyEvery)
            {
                return false;
            }

            try
            {
                CopyDatabase(_records.Path, Path.Combine(Folder, RecordsFile.CopyName));
                _recordsCopied = now;
                return true;
            }
            catch (StoreException exception)
            {
                StoreLog.RecordsCopyFailed(_options.Logger, exception.Message);
                return false;
            }
        }
    }

    /// <summary>
    /// Copies the whole folder as it is at this moment while writing goes on; each file is proven sound before it takes
    /// its name there. Records first: a journal that is ahead of its records is brought up at opening, the reverse is not.
    /// </summary>
    /// <exception cref="StoreException">A file could not be copied or its copy is not sound.</exception>
    public void BackupTo(string folder, IProgress<BackupProgress>? progress = null, CancellationToken cancel = default)
    {
        if (Path.GetFullPath(folder) == Folder)
        {
            throw new ArgumentException("A backup goes into another folder than the bench's own.", nameof(folder));
        }

        Directory.CreateDirectory(folder);
        List<string> files = [_records.Path, .. MonthPaths()];
        long total = files.Sum(file => new FileInfo(file).Length);
        long done = 0;
        foreach (string file in files)
        {
            cancel.ThrowIfCancellationRequested();
            long size = new FileInfo(file).Length;
            CopyDatabase(file, Path.Combine(folder, Path.GetFileName(file)));
            done += size;
            progress?.Report(new BackupProgress(file, done, total));
        }
    }

    private static void CopyDatabase(string from, string to)
    {
        string part = to + ".part";
        try
        {
            File.Delete(part);
            using (SqliteConnection source = SqliteFile.OpenReader(from))
            using (var target = new SqliteConnection($"Data Source={part};Pooling=False"))
            {
                target.Open();
                source.BackupDatabase(target);
                SqliteFile.Execute(target, "PRAGMA journal_mode = DELETE"); // one file, complete in itself
                if (SqliteFile.Check(target, whole: true) is { } why)
                {
                    throw StoreException.Damaged($"The copy of {from} is not sound: {why}");
                }
            }

            using (FileStream file = File.OpenWrite(part))
            {
                file.Flush(flushToDisk: true);
            }

            File.Move(part, to, overwrite: true);
        }
        catch (SqliteException exception)
        {
            File.Delete(part);
            throw SqliteFile.Translate(exception, to);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new StoreException(StoreTrouble.Unreachable, $"{to} can't be written: {exception.Message}", exception);
        }
    }

    /// <summary>A named place in the log, such as how far a mirror was sent; 0 when never set.</summary>
    public long ReadCursor(string name)
    {
        lock (_gate)
        {
            return Guard(_records.Path, () => _records.ReadCursor(name));
        }
    }

    public void PutCursor(string name, long number)
    {
        lock (_gate)
        {
            Guard(_records.Path, () => _records.PutCursor(name, number));
        }
    }
}
