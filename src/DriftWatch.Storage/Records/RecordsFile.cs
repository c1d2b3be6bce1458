using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage.Months;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Records;

/// <summary>
/// What must never expire, in <c>records.db</c>: channel keys, finding lines, the engine's snapshot with the number it
/// has judged, bench versions by hash, calibrations, clock events, what people did, entries of transfers, baselines, the book of alarms, the outbox of notices, and cursors.
/// </summary>
internal sealed class RecordsFile : IDisposable
{
    /// <summary>'DWre' in the file's header.</summary>
    public const int ApplicationId = 0x44577265;

    public const string Name = "records.db";
    public const string CopyName = "records.copy.db";

    /// <summary>A line by which something began that was not over at once: its JSON has no <c>"end":"</c>, which is what the octets say.</summary>
    public const string FindingLasts = "phase = 0 AND instr(json, x'22656e64223a22') = 0";

    /// <summary>Step i makes version i + 1. Append only; a file of every version stands under tests.</summary>
    public static readonly IReadOnlyList<string> SchemaSteps =
    [
        """
        CREATE TABLE channel(key INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE);
        CREATE TABLE finding(
            cursor INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL, phase INTEGER NOT NULL, input INTEGER NOT NULL,
            json BLOB NOT NULL, UNIQUE(id, phase, input));
        CREATE TABLE judged(one INTEGER PRIMARY KEY CHECK(one = 1), number INTEGER NOT NULL, build TEXT NOT NULL, snapshot BLOB NOT NULL);
        CREATE TABLE seen(one INTEGER PRIMARY KEY CHECK(one = 1), number INTEGER NOT NULL, time INTEGER NOT NULL, entered INTEGER NOT NULL);
        CREATE TABLE bench(number INTEGER PRIMARY KEY, time INTEGER NOT NULL, hash TEXT NOT NULL, json BLOB NOT NULL);
        CREATE INDEX bench_hash ON bench(hash);
        CREATE TABLE calibration(number INTEGER PRIMARY KEY, time INTEGER NOT NULL, channel INTEGER NOT NULL, version INTEGER NOT NULL, json BLOB NOT NULL);
        CREATE TABLE clock(number INTEGER PRIMARY KEY, time INTEGER NOT NULL, kind INTEGER NOT NULL, anchor INTEGER NOT NULL, utc INTEGER NOT NULL, json BLOB NOT NULL);
        CREATE TABLE command(number INTEGER PRIMARY KEY, time INTEGER NOT NULL, json BLOB NOT NULL);
        CREATE TABLE cursor(name TEXT PRIMARY KEY, number INTEGER NOT NULL);
        """,
        BaselineTable.Schema,
        AlarmTable.Schema,
        NoticeTable.Schema,
        EntryTable.Schema,
        "-- Entries may hand over a shift: a program that does not know them refuses the file instead of failing on one.",
        // What lasts, among years of findings, without reading each: raised, and not over at the same instant, which is how a note is written.
        $"CREATE INDEX finding_lasting ON finding(input, id) WHERE {FindingLasts}",
    ];

    private readonly SqliteCommand _insertFinding;
    private readonly SqliteCommand _putJudged;

    private RecordsFile(string path, SqliteConnection connection)
    {
        Path = path;
        Connection = connection;
        _insertFinding = Prepare("INSERT OR IGNORE INTO finding(id, phase, input, json) VALUES ($a, $b, $c, $d)");
        _putJudged = Prepare("INSERT OR REPLACE INTO judged(one, number, build, snapshot) VALUES (1, $a, $b, $c)");
    }

    public string Path { get; }

    public SqliteConnection Connection { get; }

    /// <summary>Opens a sound file, or makes a new one where none is. Throws for a damaged one: the caller restores it.</summary>
    public static RecordsFile Open(string path)
    {
        SqliteConnection? connection = null;
        try
        {
            connection = SqliteFile.OpenWriter(path, checkpointPages: 1000);
            if (SqliteFile.Check(connection, whole: false) is { } why)
            {
                connection.Dispose();
                throw StoreException.Damaged($"{path} is damaged: {why}");
            }

            SqliteFile.BringForward(connection, path, ApplicationId, SchemaSteps);
            return new RecordsFile(path, connection);
        }
        catch (SqliteException exception)
        {
            connection?.Dispose();
            throw SqliteFile.Translate(exception, path);
        }
        catch (StoreException)
        {
            connection?.Dispose();
            throw;
        }
    }

    public Dictionary<string, int> ReadChannelKeys()
    {
        var keys = new Dictionary<string, int>(StringComparer.Ordinal);
        using SqliteDataReader reader = Query("SELECT id, key FROM channel ORDER BY key");
        while (reader.Read())
        {
            keys.Add(reader.GetString(0), reader.GetInt32(1));
        }

        return keys;
    }

    /// <summary>Gives a new channel its key: one more than the greatest ever given.</summary>
    public int AddChannel(string id)
    {
        using SqliteCommand command = Connection.CreateCommand();
        command.CommandText = "INSERT INTO channel(key, id) VALUES ((SELECT coalesce(max(key) + 1, 0) FROM channel), $id) RETURNING key";
        command.Parameters.AddWithValue("$id", id);
        return Convert.ToInt32(command.ExecuteScalar(), CultureInfo.InvariantCulture);
    }

    public void CommitJudged(
        long number, ReadOnlySpan<byte> snapshot, string build, IReadOnlyList<FindingLine> lines, IReadOnlyList<AlarmTransition> alarms, EngineTime time)
    {
        using SqliteTransaction transaction = Connection.BeginTransaction(deferred: false);
        foreach (FindingLine line in lines)
        {
            MonthFile.Run(_insertFinding, transaction, line.Id, (int)line.Phase, line.Input, FindingJson.ToUtf8(line));
            if (line.Baseline is { } baseline)
            {
                BaselineTable.Insert(Connection, transaction, baseline);
            }
        }

        foreach (AlarmTransition alarm in alarms)
        {
            AlarmTable.Insert(Connection, transaction, alarm);
        }

        MonthFile.Run(_putJudged, transaction, number, build, snapshot.ToArray());
        PutSeen(transaction, number, time, null);
        transaction.Commit();
    }

    public JudgedState? ReadJudged()
    {
        using SqliteDataReader reader = Query("SELECT number, snapshot, build FROM judged");
        return reader.Read()
            ? new JudgedState(reader.GetInt64(0), reader.GetFieldValue<byte[]>(1), reader.GetString(2))
            : null;
    }

    public long ReadCursor(string name)
    {
        using SqliteCommand command = Connection.CreateCommand();
        command.CommandText = "SELECT number FROM cursor WHERE name = $name";
        command.Parameters.AddWithValue("$name", name);
        return command.ExecuteScalar() is long number ? number : 0;
    }

    public int PutCursor(string name, long number)
    {
        using SqliteCommand command = Connection.CreateCommand();
        command.CommandText = "INSERT OR REPLACE INTO cursor VALUES ($name, $number)";
        command.Parameters.AddWithValue("$name", name);
        command.Parameters.AddWithValue("$number", number);
        return command.ExecuteNonQuery();
    }

    /// <summary>The greatest number and time this file knows of, and up to where the explicit inputs were entered here.</summary>
    public (long Number, EngineTime Time, long Entered) ReadSeen()
    {
        using SqliteDataReader reader = Query("SELECT number, time, entered FROM seen");
        return reader.Read() ? (reader.GetInt64(0), new EngineTime(reader.GetInt64(1)), reader.GetInt64(2)) : default;
    }

    /// <summary>
    /// Keeps what must outlive the month files. Idempotent: the journal is the truth and this file may lag behind it,
    /// so at each opening the last inputs are entered again.
    /// </summary>
    public void Enter(ReadOnlySpan<EngineInput> inputs, long upTo, EngineTime time)
    {
        using SqliteTransaction transaction = Connection.BeginTransaction(deferred: false);
        foreach (ref readonly EngineInput input in inputs)
        {
            if (!PayloadJson.Carries(input.Kind))
            {
                continue;
            }

            using SqliteCommand command = Connection.CreateCommand();
            command.Transaction = transaction;
            command.Parameters.AddWithValue("$number", input.Number);
            command.Parameters.AddWithValue("$time", input.Time.Nanoseconds);
            command.Parameters.AddWithValue("$json", PayloadJson.ToUtf8(input));
            switch (input.Kind)
            {
                case InputKind.Clock:
                    command.CommandText = "INSERT OR IGNORE INTO clock VALUES ($number, $time, $kind, $anchor, $utc, $json)";
                    command.Parameters.AddWithValue("$kind", (int)input.ClockEvent.Kind);
                    command.Parameters.AddWithValue("$anchor", input.ClockEvent.Anchor.Engine.Nanoseconds);
                    command.Parameters.AddWithValue("$utc", input.ClockEvent.Anchor.UtcNanoseconds);
                    break;
                case InputKind.Bench:
                    command.CommandText = "INSERT OR IGNORE INTO bench VALUES ($number, $time, $hash, $json)";
                    command.Parameters.AddWithValue("$hash", input.Bench.SourceHash);
                    break;
                case InputKind.Calibration:
                    command.CommandText = "INSERT OR IGNORE INTO calibration VALUES ($number, $time, $channel, $version, $json)";
                    command.Parameters.AddWithValue("$channel", input.Channel);
                    command.Parameters.AddWithValue("$version", input.Calibration.Version);
                    break;
                default:
                    command.CommandText = "INSERT OR IGNORE INTO command VALUES ($number, $time, $json)";
                    break;
            }

            command.ExecuteNonQuery();
            if (input.Kind == InputKind.Bench)
            {
                EnterKeys(input.Bench, transaction);
            }
            else if (input is { Kind: InputKind.Command, Command: EntryCommand entry })
            {
                EntryTable.Insert(Connection, transaction, input.Number, entry);
            }
        }

        PutSeen(transaction, upTo, time, upTo);
        transaction.Commit();
    }

    public IEnumerable<(long Number, TimeAnchor Anchor, ClockEventKind Kind)> ReadClock()
    {
        using SqliteDataReader reader = Query("SELECT number, anchor, utc, kind FROM clock ORDER BY number");
        while (reader.Read())
        {
            yield return (
                reader.GetInt64(0),
                new TimeAnchor(new EngineTime(reader.GetInt64(1)), reader.GetInt64(2)),
                (ClockEventKind)reader.GetInt32(3));
        }
    }

    /// <summary>The last bench and the calibrations that were entered, in number order.</summary>
    public (BenchDefinition? Bench, List<(int Channel, int Version)> Calibrations) ReadBench()
    {
        BenchDefinition? bench = null;
        using (SqliteDataReader reader = Query("SELECT json FROM bench ORDER BY number DESC LIMIT 1"))
        {
            if (reader.Read())
            {
                bench = (BenchDefinition)PayloadJson.FromUtf8(InputKind.Bench, reader.GetFieldValue<byte[]>(0));
            }
        }

        var calibrations = new List<(int, int)>();
        using SqliteDataReader rows = Query("SELECT channel, version FROM calibration ORDER BY number");
        while (rows.Read())
        {
            calibrations.Add((rows.GetInt32(0), rows.GetInt32(1)));
        }

        return (bench, calibrations);
    }

    public void Dispose()
    {
        _insertFinding.Dispose();
        _putJudged.Dispose();
        Connection.Dispose();
    }

    private SqliteCommand Prepare(string sql)
    {
        SqliteCommand command = Connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours.
        command.CommandText = sql;
#pragma warning restore CA2100
        foreach (string name in (string[])["$a", "$b", "$c", "$d"])
        {
            if (sql.Contains(name, StringComparison.Ordinal))
            {
                command.Parameters.Add(new SqliteParameter(name, null));
            }
        }

        return command;
    }

    private SqliteDataReader Query(string sql)
    {
        SqliteCommand command = Connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours.
        command.CommandText = sql;
#pragma warning restore CA2100
        return command.ExecuteReader();
    }

    private void PutSeen(SqliteTransaction transaction, long number, EngineTime time, long? entered)
    {
        using SqliteCommand command = Connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText =
            "INSERT INTO seen VALUES (1, $number, $time, coalesce($entered, 0)) ON CONFLICT(one) DO UPDATE SET "
            + "number = max(number, $number), time = max(time, $time), entered = max(entered, coalesce($entered, 0))";
        command.Parameters.AddWithValue("$number", number);
        command.Parameters.AddWithValue("$time", time.Nanoseconds);
        command.Parameters.AddWithValue("$entered", (object?)entered ?? DBNull.Value);
        command.ExecuteNonQuery();
    }

    private void EnterKeys(BenchDefinition bench, SqliteTransaction transaction)
    {
        // After a restore from an older copy the journal still knows which key belongs to which channel.
        foreach (Measurement.Channels.ChannelDefinition channel in bench.Channels)
        {
            using SqliteCommand command = Connection.CreateCommand();
            command.Transaction = transaction;
            command.CommandText = "INSERT OR IGNORE INTO channel(key, id) VALUES ($key, $id)";
            command.Parameters.AddWithValue("$key", channel.Key);
            command.Parameters.AddWithValue("$id", channel.Id);
            command.ExecuteNonQuery();
        }
    }
}
