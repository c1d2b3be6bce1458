using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>How far a backup has come: the file just copied, and bytes done of all.</summary>
public readonly record struct BackupProgress(string File, long DoneBytes, long TotalBytes);

/// <summary>Copies a bench folder, whether a service writes to it or not: it takes no writer's lock.</summary>
public static class StoreBackup
{
    /// <summary>
    /// Copies the whole folder as it is at this moment while writing goes on; each file is proven sound before it takes
    /// its name there. Records first: a journal that is ahead of its records is brought up at opening, the reverse is not.
    /// The copy opens like the original.
    /// </summary>
    /// <exception cref="ArgumentException">The target is the bench's own folder.</exception>
    /// <exception cref="StoreException">There is no store, a file could not be copied, or its copy is not sound.</exception>
    public static void Run(string folder, string target, IProgress<BackupProgress>? progress = null, CancellationToken cancel = default)
    {
        if (Path.GetFullPath(target) == Path.GetFullPath(folder))
        {
            throw new ArgumentException("A backup goes into another folder than the bench's own.", nameof(target));
        }

        string records = Path.Combine(folder, RecordsFile.Name);
        if (!File.Exists(records))
        {
            throw new StoreException(StoreTrouble.Unreachable, $"{folder} holds no store; name a bench's own folder.");
        }

        try
        {
            Directory.CreateDirectory(target);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new StoreException(StoreTrouble.Unreachable, $"{target} can't be made: {exception.Message}", exception);
        }

        List<string> files = [records, .. Directory.EnumerateFiles(folder, "????-??.db").Where(Months.MonthFile.IsMonthFile).Order(StringComparer.Ordinal)];
        long total = files.Sum(file => new FileInfo(file).Length);
        long done = 0;
        foreach (string file in files)
        {
            cancel.ThrowIfCancellationRequested();
            long size = new FileInfo(file).Length;
            CopyDatabase(file, Path.Combine(target, Path.GetFileName(file)));
            done += size;
            progress?.Report(new BackupProgress(file, done, total));
        }
    }

    /// <summary>Copies one database, proves the copy and gives it its name; a copy under way never bears it.</summary>
    internal static void CopyDatabase(string from, string to)
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
}
