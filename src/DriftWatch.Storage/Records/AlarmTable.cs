using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Records;

/// <summary>The book of alarms, in the file that never expires: one row for every line.</summary>
internal static class AlarmTable
{
    /// <summary>Since version 3 of the file.</summary>
    public const int SinceVersion = 3;

    public const string Schema = """
        CREATE TABLE alarm(
            cursor INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL, input INTEGER NOT NULL, place INTEGER NOT NULL,
            tag TEXT NOT NULL, utc INTEGER NOT NULL, step TEXT NOT NULL, json BLOB NOT NULL, UNIQUE(id, input, place));
        CREATE INDEX alarm_utc ON alarm(utc);
        """;

    /// <summary>Judging again says the same again, so what is there stays.</summary>
    public static void Insert(SqliteConnection connection, SqliteTransaction transaction, AlarmTransition line)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = "INSERT OR IGNORE INTO alarm(id, input, place, tag, utc, step, json) VALUES ($id, $input, $place, $tag, $utc, $step, $json)";
        command.Parameters.AddWithValue("$id", line.Id);
        command.Parameters.AddWithValue("$input", line.Input);
        command.Parameters.AddWithValue("$place", line.Place);
        command.Parameters.AddWithValue("$tag", line.Tag);
        command.Parameters.AddWithValue("$utc", line.AtUtc);
        command.Parameters.AddWithValue("$step", Slugs.Of(line.Step));
        command.Parameters.AddWithValue("$json", AlarmJson.ToUtf8(line));
        command.ExecuteNonQuery();
    }

    /// <summary>False in a file of a program that kept none and that no writer has opened since.</summary>
    public static bool IsIn(SqliteConnection connection) => SqliteFile.Number(connection, "PRAGMA user_version") >= SinceVersion;
}
