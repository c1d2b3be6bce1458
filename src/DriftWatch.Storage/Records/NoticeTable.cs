using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Records;

/// <summary>
/// The outbox of notices: a row for each route and key, from the day it is planned until some months after it was sent.
/// What has ended never comes back: a key that was sent stays sent, whoever plans it again.
/// </summary>
internal static class NoticeTable
{
    /// <summary>The name of its place in the book of alarms, among the cursors.</summary>
    public const string Cursor = "notices";

    public const string Schema = """
        CREATE TABLE notice(
            number INTEGER PRIMARY KEY AUTOINCREMENT, route TEXT NOT NULL, key TEXT NOT NULL, alarm TEXT NOT NULL, kind TEXT NOT NULL,
            priority TEXT NOT NULL, state INTEGER NOT NULL, made INTEGER NOT NULL, due INTEGER NOT NULL, tries INTEGER NOT NULL,
            ended INTEGER, ended_utc INTEGER, said TEXT, json BLOB NOT NULL, UNIQUE(route, key));
        CREATE INDEX notice_open ON notice(number) WHERE state < 2;
        CREATE INDEX notice_ended ON notice(ended_utc) WHERE state >= 2;
        """;

    private const string Columns = "number, route, key, alarm, kind, priority, state, made, due, tries, ended, ended_utc, said, json";

    public static void Put(SqliteConnection connection, SqliteTransaction transaction, StoredNotice row)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = """
            INSERT INTO notice(route, key, alarm, kind, priority, state, made, due, tries, ended, ended_utc, said, json)
            VALUES ($route, $key, $alarm, $kind, $priority, $state, $made, $due, $tries, $ended, $utc, $said, $json)
            ON CONFLICT(route, key) DO UPDATE SET alarm = $alarm, kind = $kind, priority = $priority, state = $state, due = $due, tries = $tries,
                ended = $ended, ended_utc = $utc, said = $said, json = $json
            WHERE notice.state < 2
            """;
        command.Parameters.AddWithValue("$route", row.Route);
        command.Parameters.AddWithValue("$key", row.Key);
        command.Parameters.AddWithValue("$alarm", row.Alarm);
        command.Parameters.AddWithValue("$kind", row.Kind);
        command.Parameters.AddWithValue("$priority", Slugs.Of(row.Priority));
        command.Parameters.AddWithValue("$state", (int)row.State);
        command.Parameters.AddWithValue("$made", row.Made.Nanoseconds);
        command.Parameters.AddWithValue("$due", row.Due.Nanoseconds);
        command.Parameters.AddWithValue("$tries", row.Tries);
        command.Parameters.AddWithValue("$ended", (object?)row.Ended?.Nanoseconds ?? DBNull.Value);
        command.Parameters.AddWithValue("$utc", (object?)row.EndedUtc ?? DBNull.Value);
        command.Parameters.AddWithValue("$said", (object?)row.Said ?? DBNull.Value);
        command.Parameters.AddWithValue("$json", row.Json);
        command.ExecuteNonQuery();
    }

    /// <summary>Takes away one that nobody was told: its alarm was answered before it was due, or it went into another.</summary>
    public static void Remove(SqliteConnection connection, SqliteTransaction transaction, string route, string key)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = "DELETE FROM notice WHERE route = $route AND key = $key AND state < 2";
        command.Parameters.AddWithValue("$route", route);
        command.Parameters.AddWithValue("$key", key);
        command.ExecuteNonQuery();
    }

    public static int Prune(SqliteConnection connection, long endedBeforeUtc)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "DELETE FROM notice WHERE state >= 2 AND ended_utc < $before";
        command.Parameters.AddWithValue("$before", endedBeforeUtc);
        return command.ExecuteNonQuery();
    }

    /// <summary>Those nobody has been told yet, in the order in which they were planned.</summary>
    public static List<StoredNotice> Open(SqliteConnection connection) =>
        Read(connection, $"SELECT {Columns} FROM notice WHERE state < 2 ORDER BY number", null, 0);

    /// <summary>The newest rows of a route, the newest first.</summary>
    public static List<StoredNotice> Latest(SqliteConnection connection, string route, int limit) =>
        Read(connection, $"SELECT {Columns} FROM notice WHERE route = $route ORDER BY number DESC LIMIT $limit", route, limit);

    /// <summary>Where each alarm stood that nobody had answered for, by the last line of its tag: a new coming takes the place of the one before. The oldest first.</summary>
    public static List<AlarmTransition> Unanswered(SqliteConnection connection, long through)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = """
            SELECT json FROM alarm WHERE cursor IN (SELECT max(cursor) FROM alarm WHERE cursor <= $through GROUP BY tag)
                AND json_extract(CAST(json AS TEXT), '$.to') IN ($a, $b) ORDER BY cursor
            """;
        command.Parameters.AddWithValue("$through", through);
        command.Parameters.AddWithValue("$a", Slugs.Of(AlarmState.Unacknowledged));
        command.Parameters.AddWithValue("$b", Slugs.Of(AlarmState.ReturnedUnacknowledged));
        var lines = new List<AlarmTransition>();
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            lines.Add(AlarmJson.Read(reader.GetFieldValue<byte[]>(0)));
        }

        return lines;
    }

    public static long? ReadCursor(SqliteConnection connection) =>
        Scalar(connection, $"SELECT number FROM cursor WHERE name = '{Cursor}'");

    public static long EndOfBook(SqliteConnection connection) => Scalar(connection, "SELECT max(cursor) FROM alarm") ?? 0;

    public static void PutCursor(SqliteConnection connection, SqliteTransaction transaction, long number)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = $"INSERT OR REPLACE INTO cursor VALUES ('{Cursor}', $number)";
        command.Parameters.AddWithValue("$number", number);
        command.ExecuteNonQuery();
    }

    private static long? Scalar(SqliteConnection connection, string sql)
    {
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours.
        command.CommandText = sql;
#pragma warning restore CA2100
        return command.ExecuteScalar() as long?;
    }

    private static List<StoredNotice> Read(SqliteConnection connection, string sql, string? route, int limit)
    {
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours.
        command.CommandText = sql;
#pragma warning restore CA2100
        if (route is not null)
        {
            command.Parameters.AddWithValue("$route", route);
            command.Parameters.AddWithValue("$limit", limit);
        }

        var rows = new List<StoredNotice>();
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            rows.Add(new StoredNotice
            {
                Number = reader.GetInt64(0),
                Route = reader.GetString(1),
                Key = reader.GetString(2),
                Alarm = reader.GetString(3),
                Kind = reader.GetString(4),
                Priority = Slugs.TryParse(reader.GetString(5), out AlarmPriority priority) ? priority : AlarmPriority.High,
                State = (NoticeState)reader.GetInt32(6),
                Made = new EngineTime(reader.GetInt64(7)),
                Due = new EngineTime(reader.GetInt64(8)),
                Tries = reader.GetInt32(9),
                Ended = reader.IsDBNull(10) ? null : new EngineTime(reader.GetInt64(10)),
                EndedUtc = reader.IsDBNull(11) ? null : reader.GetInt64(11),
                Said = reader.IsDBNull(12) ? null : reader.GetString(12),
                Json = reader.GetFieldValue<byte[]>(13),
            });
        }

        return rows;
    }
}
