using System.Globalization;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>What the two kinds of file have in common: opening, schema version, and errors in words.</summary>
internal static class SqliteFile
{
    private const int CodePermission = 3;
    private const int CodeBusy = 5;
    private const int CodeReadOnly = 8;
    private const int CodeInputOutput = 10;
    private const int CodeCorrupt = 11;
    private const int CodeFull = 13;
    private const int CodeCannotOpen = 14;
    private const int CodeNotADatabase = 26;

    /// <summary>Opens for writing with a write-ahead log and a sync at every commit: an acknowledged second survives a power cut.</summary>
    public static SqliteConnection OpenWriter(string path, int checkpointPages)
    {
        SqliteConnection connection = Connect(path, SqliteOpenMode.ReadWriteCreate);
        try
        {
            // Small pages: a block's rest shares its last page with others, so less of it stays empty.
            Execute(connection, "PRAGMA page_size = 2048");
            Execute(connection, "PRAGMA journal_mode = WAL");
            Execute(connection, "PRAGMA synchronous = FULL");
            Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA wal_autocheckpoint = {checkpointPages}"));
            Execute(connection, "PRAGMA journal_size_limit = 16777216");
            Execute(connection, "PRAGMA busy_timeout = 5000");
            return connection;
        }
        catch (SqliteException)
        {
            connection.Dispose();
            throw;
        }
    }

    public static SqliteConnection OpenReader(string path)
    {
        SqliteConnection connection = Connect(path, SqliteOpenMode.ReadOnly);
        Execute(connection, "PRAGMA busy_timeout = 5000");
        return connection;
    }

    /// <summary>Makes the tables of a new file, or refuses a file of a newer version. Older versions are brought forward: step <c>i</c> makes version <c>i + 1</c>.</summary>
    public static void BringForward(SqliteConnection connection, string path, int applicationId, IReadOnlyList<string> steps)
    {
        long version = Number(connection, "PRAGMA user_version");
        if (version > 0 && Number(connection, "PRAGMA application_id") != applicationId)
        {
            throw StoreException.Damaged($"{path} is not a file of this store.");
        }

        CheckVersion(path, version, steps.Count);
        if (version == steps.Count)
        {
            return;
        }

        using SqliteTransaction transaction = connection.BeginTransaction(deferred: false);
        for (long step = version; step < steps.Count; step++)
        {
            Execute(connection, steps[(int)step], transaction);
        }

        Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA application_id = {applicationId}"), transaction);
        Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA user_version = {steps.Count}"), transaction);
        transaction.Commit();
    }

    public static void CheckVersion(string path, long version, int known)
    {
        if (version > known)
        {
            throw new StoreException(
                StoreTrouble.NewerSchema,
                $"{path} was written by a newer version of this program (file version {version}, this program knows {known}). "
                + "Run the newer program, or choose another folder.");
        }
    }

    public static void Execute(SqliteConnection connection, string sql, SqliteTransaction? transaction = null)
    {
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours; values from outside are always parameters.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.Transaction = transaction;
        command.ExecuteNonQuery();
    }

    public static long Number(SqliteConnection connection, string sql)
    {
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100
        command.CommandText = sql;
#pragma warning restore CA2100
        return command.ExecuteScalar() is long number ? number : 0;
    }

    /// <summary>Null when sound, else what SQLite says; of one table where it is named.</summary>
    public static string? Check(SqliteConnection connection, bool whole, string table = "1")
    {
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The names are ours.
        command.CommandText = (whole ? "PRAGMA integrity_check(" : "PRAGMA quick_check(") + table + ")";
#pragma warning restore CA2100
        try
        {
            string? answer = command.ExecuteScalar() as string;
            return answer is "ok" ? null : answer ?? "no answer";
        }
        catch (SqliteException exception) when (IsDamage(exception))
        {
            return exception.Message;
        }
    }

    public static bool IsDamage(SqliteException exception) =>
        exception.SqliteErrorCode is CodeCorrupt or CodeNotADatabase;

    public static bool IsFull(SqliteException exception) => exception.SqliteErrorCode == CodeFull;

    public static StoreException Translate(SqliteException exception, string path) => exception.SqliteErrorCode switch
    {
        CodeFull => new StoreException(
            StoreTrouble.DiskFull,
            $"The disk is full: {path} can't grow. Nothing of this batch was stored; make room and it will be stored then.",
            exception),
        CodeCorrupt or CodeNotADatabase => StoreException.Damaged($"{path} is damaged: {exception.Message}", exception),
        CodeBusy => new StoreException(StoreTrouble.InUse, $"{path} is held by another program: {exception.Message}", exception),
        CodePermission or CodeReadOnly or CodeInputOutput or CodeCannotOpen => new StoreException(
            StoreTrouble.Unreachable, $"{path} can't be opened or written: {exception.Message} Check its owner, its rights and the disk.", exception),
        _ => new StoreException(StoreTrouble.Unreachable, $"{path}: {exception.Message}", exception),
    };

    private static SqliteConnection Connect(string path, SqliteOpenMode mode)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder
        {
            DataSource = path,
            Mode = mode,
            DefaultTimeout = 5, // the provider's own waiting for a lock, 30 s, would outlast busy_timeout
            Pooling = false, // a pooled handle would keep a file that retention deletes
        }.ToString());
        try
        {
            connection.Open();
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }
}
