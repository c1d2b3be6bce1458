using DriftWatch.Measurement.Transfers;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Records;

/// <summary>
/// Which commands are entries of the book of transfers, by their id: the entry itself stands in the table of commands.
/// Both are written in one transaction, again at each opening from a journal that is ahead.
/// </summary>
internal static class EntryTable
{
    /// <summary>Since version 5 of the file.</summary>
    public const int SinceVersion = 5;

    public const string Schema = """
        CREATE TABLE entry(
            id TEXT PRIMARY KEY, number INTEGER NOT NULL UNIQUE, kind TEXT NOT NULL, transfer TEXT, pass TEXT, about INTEGER NOT NULL) WITHOUT ROWID;
        CREATE INDEX entry_transfer ON entry(transfer, number);
        """;

    /// <summary>Every entry after the number <c>$a</c>, with its own and the instant at which it was journaled, in the order of the log.</summary>
    public const string Select = "SELECT e.number, c.time, c.json FROM entry e JOIN command c ON c.number = e.number WHERE e.number > $a ORDER BY e.number";

    /// <summary>One that was sent again has its first number, and the second is not in this table.</summary>
    public static void Insert(SqliteConnection connection, SqliteTransaction transaction, long number, EntryCommand entry)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = "INSERT OR IGNORE INTO entry VALUES ($id, $number, $kind, $transfer, $pass, $about)";
        command.Parameters.AddWithValue("$id", entry.Id.ToString("D"));
        command.Parameters.AddWithValue("$number", number);
        command.Parameters.AddWithValue("$kind", entry.Body.Kind);
        command.Parameters.AddWithValue("$transfer", (object?)entry.Transfer?.ToString("D") ?? DBNull.Value);
        command.Parameters.AddWithValue("$pass", (object?)entry.Pass?.ToString("D") ?? DBNull.Value);
        command.Parameters.AddWithValue("$about", entry.AboutUtc);
        command.ExecuteNonQuery();
    }

    /// <summary>False in a file of a program that kept none and that no writer has opened since.</summary>
    public static bool IsIn(SqliteConnection connection) => SqliteFile.Number(connection, "PRAGMA user_version") >= SinceVersion;
}
