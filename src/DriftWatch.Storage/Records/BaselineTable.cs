using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Records;

/// <summary>Every baseline that was taken, in the file that never expires: one row for the act, one for each channel.</summary>
internal static class BaselineTable
{
    /// <summary>Since version 2 of the file.</summary>
    public const int SinceVersion = 2;

    public const string Schema = """
        CREATE TABLE baseline(
            number INTEGER PRIMARY KEY, time INTEGER NOT NULL, utc INTEGER NOT NULL, bench TEXT NOT NULL, hash TEXT NOT NULL, state TEXT NOT NULL,
            by TEXT NOT NULL, standing TEXT NOT NULL, transfer TEXT, unwell TEXT NOT NULL);
        CREATE TABLE baseline_value(
            number INTEGER NOT NULL REFERENCES baseline(number), place INTEGER NOT NULL, channel TEXT NOT NULL, unit TEXT NOT NULL, value REAL NOT NULL,
            deviation REAL, correlation REAL, effective REAL, count INTEGER NOT NULL, calibration INTEGER, PRIMARY KEY(number, place)) WITHOUT ROWID;
        CREATE INDEX baseline_channel ON baseline_value(channel, number);
        """;

    /// <summary>Judging again says the same again, so what is there stays.</summary>
    public static void Insert(SqliteConnection connection, SqliteTransaction transaction, TakenBaseline baseline)
    {
        Run(
            connection, transaction, "INSERT OR IGNORE INTO baseline VALUES ($0, $1, $2, $3, $4, $5, $6, $7, $8, $9)",
            baseline.Number, baseline.At.Nanoseconds, baseline.UtcNanoseconds, baseline.Bench, baseline.BenchHash, Slugs.Of(baseline.State),
            baseline.By, Slugs.Of(baseline.Standing), baseline.Transfer, string.Join(' ', baseline.Unwell));
        for (int place = 0; place < baseline.Values.Count; place++)
        {
            BaselineValue value = baseline.Values[place];
            Run(
                connection, transaction, "INSERT OR IGNORE INTO baseline_value VALUES ($0, $1, $2, $3, $4, $5, $6, $7, $8, $9)",
                baseline.Number, place, value.Channel, value.Unit, value.Value, value.Deviation, value.Correlation, value.EffectiveSize,
                value.Count, value.CalibrationVersion);
        }
    }

    /// <summary>All of them, oldest first; empty in a file of a program that kept none.</summary>
    public static List<TakenBaseline> Read(SqliteConnection connection)
    {
        var baselines = new List<TakenBaseline>();
        if (SqliteFile.Number(connection, "PRAGMA user_version") < SinceVersion)
        {
            return baselines;
        }

        Dictionary<long, List<BaselineValue>> values = ReadValues(connection);
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT number, time, utc, bench, hash, state, by, standing, transfer, unwell FROM baseline ORDER BY number";
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            baselines.Add(new TakenBaseline
            {
                Number = reader.GetInt64(0),
                At = new EngineTime(reader.GetInt64(1)),
                UtcNanoseconds = reader.GetInt64(2),
                Bench = reader.GetString(3),
                BenchHash = reader.GetString(4),
                State = Parse<MachineState>(reader.GetString(5)),
                By = reader.GetString(6),
                Standing = Parse<BaselineStanding>(reader.GetString(7)),
                Transfer = reader.IsDBNull(8) ? null : reader.GetString(8),
                Unwell = reader.GetString(9).Split(' ', StringSplitOptions.RemoveEmptyEntries),
                Values = values.GetValueOrDefault(reader.GetInt64(0)) ?? [],
            });
        }

        return baselines;
    }

    private static Dictionary<long, List<BaselineValue>> ReadValues(SqliteConnection connection)
    {
        var values = new Dictionary<long, List<BaselineValue>>();
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT number, channel, unit, value, deviation, correlation, effective, count, calibration FROM baseline_value ORDER BY number, place";
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            long number = reader.GetInt64(0);
            if (!values.TryGetValue(number, out List<BaselineValue>? rows))
            {
                values.Add(number, rows = []);
            }

            rows.Add(new BaselineValue(
                reader.GetString(1), reader.GetString(2), reader.GetDouble(3), Real(reader, 4), Real(reader, 5), Real(reader, 6), reader.GetInt32(7),
                reader.IsDBNull(8) ? null : reader.GetInt32(8)));
        }

        return values;
    }

    private static double? Real(SqliteDataReader reader, int column) => reader.IsDBNull(column) ? null : reader.GetDouble(column);

    private static T Parse<T>(string slug)
        where T : struct, Enum => Slugs.TryParse(slug, out T value)
            ? value
            : throw StoreException.Damaged($"A baseline holds the unknown word '{slug}'.");

    private static void Run(SqliteConnection connection, SqliteTransaction transaction, string sql, params ReadOnlySpan<object?> values)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.Transaction = transaction;
#pragma warning disable CA2100 // The text is ours.
        command.CommandText = sql;
#pragma warning restore CA2100
        for (int i = 0; i < values.Length; i++)
        {
            command.Parameters.AddWithValue("$" + i, values[i] ?? DBNull.Value);
        }

        command.ExecuteNonQuery();
    }
}
