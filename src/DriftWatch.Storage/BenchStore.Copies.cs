using DriftWatch.Storage.Records;

namespace DriftWatch.Storage;

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
                StoreBackup.CopyDatabase(_records.Path, Path.Combine(Folder, RecordsFile.CopyName));
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

    /// <inheritdoc cref="StoreBackup.Run"/>
    public void BackupTo(string folder, IProgress<BackupProgress>? progress = null, CancellationToken cancel = default) =>
        StoreBackup.Run(Folder, folder, progress, cancel);

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
