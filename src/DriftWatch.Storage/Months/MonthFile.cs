using System.Globalization;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Months;

/// <summary>
/// One month of readings: <c>YYYY-MM.db</c>. The newest seconds are journal rows, one a commit; every minute of event
/// time they become a segment (who came in which order) with a block a channel, and later segments are merged into hours.
/// </summary>
internal sealed class MonthFile : IDisposable
{
    /// <summary>'DWmo' in the file's header.</summary>
    public const int ApplicationId = 0x44576D6F;

    /// <summary>Step i makes version i + 1. Append only; a file of every version stands under tests.</summary>
    public static readonly IReadOnlyList<string> SchemaSteps =
    [
        """
        CREATE TABLE journal(first INTEGER PRIMARY KEY, last INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
        CREATE TABLE segment(
            first INTEGER PRIMARY KEY, last INTEGER NOT NULL, id INTEGER NOT NULL, level INTEGER NOT NULL,
            stretch INTEGER NOT NULL, t0 INTEGER NOT NULL, t1 INTEGER NOT NULL,
            tick0 INTEGER, tick1 INTEGER, raw INTEGER NOT NULL, crc INTEGER NOT NULL, opaque BLOB);
        CREATE TABLE block(
            id INTEGER PRIMARY KEY, version INTEGER NOT NULL, n INTEGER NOT NULL, codec INTEGER NOT NULL,
            times INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
        CREATE TABLE times(id INTEGER PRIMARY KEY, n INTEGER NOT NULL, codec INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
        CREATE TABLE rollup(id INTEGER PRIMARY KEY, version INTEGER NOT NULL, n INTEGER NOT NULL, codec INTEGER NOT NULL,
            crc INTEGER NOT NULL, data BLOB NOT NULL);
        CREATE TABLE explicit(
            number INTEGER PRIMARY KEY, time INTEGER NOT NULL, kind INTEGER NOT NULL, flags INTEGER NOT NULL,
            channel INTEGER NOT NULL, version INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
        CREATE INDEX late ON explicit(channel, time) WHERE flags & 1;
        """,
    ];

    private readonly SqliteCommand _insertJournal;
    private readonly ByteWriter _writer = new();

    private MonthFile(string path, SqliteConnection connection)
    {
        Path = path;
        Connection = connection;
        _insertJournal = Prepare(
            "INSERT INTO journal(first, last, crc, data) VALUES ($a, $b, $c, $d)");
        DeleteJournal = Prepare("DELETE FROM journal");
        InsertSegment = Prepare("INSERT INTO segment VALUES ($a, $b, $c, $d, $e, $f, $g, $h, $i, $j, $k, $l)");
        InsertBlock = Prepare("INSERT INTO block VALUES ($a, $b, $c, $d, $e, $f, $g)");
        InsertTimes = Prepare("INSERT INTO times VALUES ($a, $b, $c, $d, $e)");
        InsertRollup = Prepare("INSERT INTO rollup VALUES ($a, $b, $c, $d, $e, $f)");
        InsertExplicit = Prepare("INSERT OR REPLACE INTO explicit VALUES ($a, $b, $c, $d, $e, $f, $g, $h)");
        NextSegmentId = SqliteFile.Number(connection, "SELECT coalesce(max(id), 0) + 1 FROM segment");
    }

    public SqliteCommand DeleteJournal { get; }

    public SqliteCommand InsertSegment { get; }

    public SqliteCommand InsertBlock { get; }

    public SqliteCommand InsertTimes { get; }

    public SqliteCommand InsertRollup { get; }

    public SqliteCommand InsertExplicit { get; }

    /// <summary>The id for the next segment; never used twice in a file.</summary>
    public long NextSegmentId { get; set; }

    public string Path { get; }

    public SqliteConnection Connection { get; }

    public static bool IsMonthFile(string path)
    {
        string name = System.IO.Path.GetFileName(path);
        return name.Length == 10 && name.EndsWith(".db", StringComparison.Ordinal)
            && DateTime.TryParseExact(
                name[..7], "yyyy-MM", CultureInfo.InvariantCulture, DateTimeStyles.None, out _);
    }

    /// <summary>Opens for writing, makes it when missing.</summary>
    /// <exception cref="StoreException">Damaged, newer, or unreachable.</exception>
    public static MonthFile Open(string path, BenchStoreOptions options)
    {
        SqliteConnection? connection = null;
        try
        {
            connection = SqliteFile.OpenWriter(path, options.CheckpointPages);
            SqliteFile.BringForward(connection, path, ApplicationId, SchemaSteps);
            if (options.MaximumPages > 0)
            {
                SqliteFile.Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA max_page_count = {options.MaximumPages}"));
            }

            return new MonthFile(path, connection);
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

    public SqliteCommand Prepare(string sql)
    {
        SqliteCommand command = Connection.CreateCommand();
#pragma warning disable CA2100 // The text is ours; values from outside are always parameters.
        command.CommandText = sql;
#pragma warning restore CA2100
        for (int at = sql.IndexOf('$', StringComparison.Ordinal); at >= 0; at = sql.IndexOf('$', at + 1))
        {
            command.Parameters.Add(new SqliteParameter(sql.Substring(at, 2), null));
        }

        return command;
    }

    public static void Run(SqliteCommand command, SqliteTransaction transaction, params ReadOnlySpan<object?> values)
    {
        command.Transaction = transaction;
        for (int i = 0; i < values.Length; i++)
        {
            command.Parameters[i].Value = values[i] ?? DBNull.Value;
        }

        command.ExecuteNonQuery();
    }

    public void InsertJournal(SqliteTransaction transaction, ReadOnlySpan<EngineInput> inputs)
    {
        _writer.Clear();
        JournalCodec.Write(_writer, inputs);
        byte[] data = _writer.Written.ToArray();
        Run(_insertJournal, transaction, inputs[0].Number, inputs[^1].Number, (long)Checksum.Of(data), data);
    }

    /// <summary>The journal's inputs in number order.</summary>
    public static List<EngineInput> ReadJournal(SqliteConnection connection, string path, long afterNumber)
    {
        var inputs = new List<EngineInput>();
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT first, crc, data FROM journal WHERE last > $after ORDER BY first";
        command.Parameters.AddWithValue("$after", afterNumber);
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            byte[] data = reader.GetFieldValue<byte[]>(2);
            if (Checksum.Of(data) != (uint)reader.GetInt64(1))
            {
                throw StoreException.Damaged($"{path}: the journal row of input {reader.GetInt64(0)} does not match its checksum.");
            }

            JournalCodec.Read(data, inputs);
        }

        inputs.RemoveAll(input => input.Number <= afterNumber);
        return inputs;
    }

    /// <summary>The last number and the greatest time of what is sealed; zero when nothing is.</summary>
    public static (long Number, EngineTime Time) LastSealed(SqliteConnection connection)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT max(last), max(t1) FROM segment";
        using SqliteDataReader reader = command.ExecuteReader();
        return reader.Read() && !reader.IsDBNull(0) ? (reader.GetInt64(0), new EngineTime(reader.GetInt64(1))) : (0, default);
    }

    /// <summary>
    /// What SQLite finds wrong, or null. A large file is checked only where the log's order and end are kept, so that a
    /// service opens within a second: its blocks have checksums of their own and are checked at night.
    /// </summary>
    public static string? QuickCheck(MonthFile month)
    {
        const long Small = 32 << 20;
        if (new FileInfo(month.Path).Length <= Small)
        {
            return SqliteFile.Check(month.Connection, whole: false);
        }

        return SqliteFile.Check(month.Connection, whole: false, "journal")
            ?? SqliteFile.Check(month.Connection, whole: false, "segment")
            ?? SqliteFile.Check(month.Connection, whole: false, "explicit");
    }

    public void Dispose()
    {
        foreach (SqliteCommand command in (SqliteCommand[])
            [_insertJournal, DeleteJournal, InsertSegment, InsertBlock, InsertTimes, InsertRollup, InsertExplicit])
        {
            command.Dispose();
        }

        Connection.Dispose();
    }
}
