using DriftWatch.Measurement.Benches;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

public sealed partial class BenchStore
{
    private const string BallastName = "ballast.bin";

    private volatile RetentionDefinition _retention;
    private bool _ballastChecked;

    /// <summary>True while the disk is too full to store; <see cref="Append"/> throws until there is room.</summary>
    public bool IsFull { get; private set; }

    /// <summary>Puts another retention in force; a lower floor of free space counts from the next commit on.</summary>
    public void SetRetention(RetentionDefinition retention) => _retention = retention;

    private string BallastPath => Path.Combine(Folder, BallastName);

    /// <summary>Stops at the floor of free space, before the disk is so full that nothing on it can be put right.</summary>
    private void CheckRoom()
    {
        long free = FreeSpace() ?? throw new StoreException(
            StoreTrouble.Unreachable, $"{Folder} can't be looked at: is the disk still there? Nothing of this batch was stored; it will be once the folder is back.");
        long floor = _retention.FreeSpaceFloorBytes;
        if (free < floor)
        {
            string why = $"{free / 1048576} MiB are free, the floor is {floor / 1048576} MiB. Make room, or lower the floor in the bench file's retention.";
            SayFull(why);
            throw new StoreException(StoreTrouble.DiskFull, $"The disk is full in {Folder}: {why}");
        }
    }

    /// <summary>For a test that made 'disk full' with a limit of pages: room returns on the same connection.</summary>
    internal void AllowPages(int pages)
    {
        lock (_gate)
        {
            SqliteFile.Execute(_month!.Connection, string.Create(System.Globalization.CultureInfo.InvariantCulture, $"PRAGMA max_page_count = {pages}"));
        }
    }

    /// <summary>Null when the disk can't be asked, as when it was pulled out.</summary>
    private long? FreeSpace()
    {
        try
        {
            return _options.FreeSpace(Folder);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    private StoreException Trouble(SqliteException exception, string path)
    {
        StoreException trouble = SqliteFile.Translate(exception, path);
        if (trouble.Trouble == StoreTrouble.DiskFull)
        {
            SayFull(exception.Message);
        }

        return trouble;
    }

    private void SayFull(string why)
    {
        if (!IsFull)
        {
            IsFull = true;
            StoreLog.DiskFull(_options.Logger, Folder, why);
        }
    }

    /// <summary>After a commit, which alone proves that there is room. The reserve comes back only beside room to spare, or it would take back at once what it gave.</summary>
    private void SayRoom()
    {
        if (IsFull)
        {
            IsFull = false;
            StoreLog.RoomAgain(_options.Logger, Folder);
        }

        if (!_ballastChecked
            && FreeSpace() >= _retention.FreeSpaceFloorBytes + (4 * _options.BallastBytes))
        {
            _ballastChecked = true;
            RestoreBallast();
        }
    }

    /// <summary>Gives the reserve up, so that deleting old months has room to work in.</summary>
    private void DropBallast()
    {
        if (File.Exists(BallastPath))
        {
            File.Delete(BallastPath);
            _ballastChecked = false;
        }
    }

    private void RestoreBallast()
    {
        if (_options.BallastBytes <= 0 || (File.Exists(BallastPath) && new FileInfo(BallastPath).Length == _options.BallastBytes))
        {
            return;
        }

        try
        {
            using var file = new FileStream(BallastPath, FileMode.Create, FileAccess.Write);
            byte[] block = new byte[65536]; // written out: a sparse file would reserve nothing
            for (long left = _options.BallastBytes; left > 0; left -= block.Length)
            {
                file.Write(block, 0, (int)Math.Min(block.Length, left));
            }

            file.Flush(flushToDisk: true);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            _ballastChecked = false; // no room for a reserve now; tried again when there is
            Discard(BallastPath);
        }
    }

    private static void Discard(string path)
    {
        try
        {
            File.Delete(path);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            // Half a reserve is none: the next try writes it whole.
        }
    }
}
