using System.Buffers.Binary;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Months;

/// <summary>A segment's row without its blocks. Times in engine nanoseconds. Not raw once retention has dropped the blocks and only rollups remain.</summary>
internal sealed record SegmentRow(
    long First, long Last, long Id, int Level, long Stretch, long T0, long T1, long? Tick0, long? Tick1, bool Raw, bool IsOpaque);

/// <summary>Writes and reads segments in a month file. Block ids say where they belong: segment, kind and channel in one number.</summary>
internal static partial class SegmentStore
{
    private const int SeriesKind = 0;
    private const int FrameKind = 1;
    private const int ChannelBits = 24;
    private const int KindBits = 2;

    private const string RowColumns = "first, last, id, level, stretch, t0, t1, tick0, tick1, raw, opaque IS NOT NULL, crc";

    public static long BlockId(long segment, int kind, int channel) =>
        (segment << (ChannelBits + KindBits)) | ((long)kind << ChannelBits) | (uint)channel;

    public static (long From, long To) IdsOf(long segment) => (BlockId(segment, 0, 0), BlockId(segment + 1, 0, 0));

    public static void WriteExplicit(MonthFile month, SqliteTransaction transaction, SegmentData data, Func<int, int> versionOf)
    {
        var writer = new ByteWriter();
        foreach (EngineInput input in data.Explicit)
        {
            writer.Clear();
            JournalCodec.WriteBody(writer, input);
            byte[] body = writer.Written.ToArray();
            int flags = (input.IsLate ? 1 : 0) | (input.Kind == InputKind.Sample && input.Reading.HasExtremes ? 2 : 0);
            MonthFile.Run(
                month.InsertExplicit, transaction, input.Number, input.Time.Nanoseconds, (int)input.Kind, flags, input.Channel,
                input.Channel >= 0 ? versionOf(input.Channel) : 0, (long)Checksum.Of(input.Number, input.Time.Nanoseconds, input.Channel, body), body);
        }
    }

    public static SegmentRow? NextAfter(SqliteConnection connection, long number)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = $"SELECT {RowColumns} FROM segment WHERE last > $number ORDER BY first LIMIT 1";
        command.Parameters.AddWithValue("$number", number);
        using SqliteDataReader reader = command.ExecuteReader();
        return reader.Read() ? ReadRow(reader) : null;
    }

    public static long LastExpired(SqliteConnection connection)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT max(last) FROM segment WHERE raw = 0";
        return command.ExecuteScalar() as long? ?? 0;
    }

    /// <summary>Of the last input that is sealed; 0 for none.</summary>
    public static long LastNumber(SqliteConnection connection)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT max(last) FROM segment";
        return command.ExecuteScalar() as long? ?? 0;
    }

    public static List<SegmentRow> Rows(SqliteConnection connection, long fromTime, long toTime)
    {
        var rows = new List<SegmentRow>();
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = $"SELECT {RowColumns} FROM segment WHERE t1 >= $from AND t0 < $to ORDER BY first";
        command.Parameters.AddWithValue("$from", fromTime);
        command.Parameters.AddWithValue("$to", toTime);
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            rows.Add(ReadRow(reader));
        }

        return rows;
    }

    /// <summary>The whole segment with every block.</summary>
    /// <exception cref="StoreException">A block does not match its checksum or can't be read.</exception>
    public static SegmentData Read(SqliteConnection connection, string path, SegmentRow row)
    {
        if (!row.Raw)
        {
            throw new StoreException(StoreTrouble.Damaged, $"{path}: inputs {row.First} to {row.Last} have expired; only their rollups are kept.");
        }

        var series = new List<SeriesColumn>();
        var frames = new List<FrameColumn>();
        var times = new Dictionary<long, long[]>();
        (long from, long to) = IdsOf(row.Id);
        using (SqliteCommand command = connection.CreateCommand())
        {
            command.CommandText = "SELECT id, version, n, codec, times, crc, data FROM block WHERE id >= $from AND id < $to ORDER BY id";
            command.Parameters.AddWithValue("$from", from);
            command.Parameters.AddWithValue("$to", to);
            using SqliteDataReader reader = command.ExecuteReader();
            while (reader.Read())
            {
                BlockRow block = ReadBlockRow(reader, path);
                if (!times.TryGetValue(block.Times, out long[]? own))
                {
                    times.Add(block.Times, own = ReadTimes(connection, path, block.Times));
                }

                if (block.Kind == SeriesKind)
                {
                    series.Add(block.ToSeries(own, path));
                }
                else
                {
                    frames.Add(block.ToFrames(own, path));
                }
            }
        }

        return new SegmentData
        {
            First = row.First,
            Last = row.Last,
            Stretch = row.Stretch,
            T0 = row.T0,
            T1 = row.T1,
            Tick0 = row.Tick0,
            Tick1 = row.Tick1,
            Series = series,
            Frames = frames,
            Explicit = ReadExplicit(connection, path, row.First, row.Last),
            Opaque = row.IsOpaque ? ReadOpaque(connection, path, row) : null,
        };
    }

    public static SeriesColumn? ReadSeries(SqliteConnection connection, string path, long segment, int channel) =>
        ReadBlock(connection, path, BlockId(segment, SeriesKind, channel)) is { } block
            ? block.ToSeries(ReadTimes(connection, path, block.Times), path)
            : null;

    public static FrameColumn? ReadFrames(SqliteConnection connection, string path, long segment, int channel) =>
        ReadBlock(connection, path, BlockId(segment, FrameKind, channel)) is { } block
            ? block.ToFrames(ReadTimes(connection, path, block.Times), path)
            : null;

    public static RollupColumn? ReadRollup(SqliteConnection connection, string path, long segment, int level, int channel)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT id, version, n, codec, crc, data FROM rollup WHERE id = $id";
        command.Parameters.AddWithValue("$id", BlockId(segment, level, channel));
        using SqliteDataReader reader = command.ExecuteReader();
        return reader.Read() ? ReadRollupRow(reader, path, segment, level) : null;
    }

    /// <summary>The rollups of every channel of a segment on one level, in order of channel.</summary>
    public static IEnumerable<RollupColumn> ReadRollups(SqliteConnection connection, string path, long segment, int level)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT id, version, n, codec, crc, data FROM rollup WHERE id >= $from AND id < $to ORDER BY id";
        command.Parameters.AddWithValue("$from", BlockId(segment, level, 0));
        command.Parameters.AddWithValue("$to", BlockId(segment, level + 1, 0));
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            yield return ReadRollupRow(reader, path, segment, level);
        }
    }

    private static RollupColumn ReadRollupRow(SqliteDataReader reader, string path, long segment, int level)
    {
        long id = reader.GetInt64(0);
        int channel = (int)(id & ((1 << ChannelBits) - 1));
        int version = reader.GetInt32(1);
        int count = reader.GetInt32(2);
        byte[] data = reader.GetFieldValue<byte[]>(5);
        return Checksum.Of(id, version, count, data) == (uint)reader.GetInt64(4)
            ? RollupColumn.Read(Envelope.Unwrap(reader.GetInt32(3), data), level, channel, version, count)
            : throw StoreException.Damaged($"{path}: a rollup of segment {segment}, channel key {channel}, does not match its checksum.");
    }

    public static List<EngineInput> ReadExplicit(SqliteConnection connection, string path, long first, long last)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText =
            "SELECT number, time, kind, flags, channel, crc, data FROM explicit WHERE number BETWEEN $first AND $last ORDER BY number";
        command.Parameters.AddWithValue("$first", first);
        command.Parameters.AddWithValue("$last", last);
        return ReadExplicit(command, path);
    }

    /// <summary>Late readings and frames of a channel by the time they were measured.</summary>
    public static List<EngineInput> ReadLate(SqliteConnection connection, string path, int channel, long from, long to) =>
        [.. ReadLateVersions(connection, path, channel, from, to).Select(late => late.Input)];

    /// <summary>The same with the calibration version of each; of every channel where none is named.</summary>
    public static List<(EngineInput Input, int Version)> ReadLateVersions(
        SqliteConnection connection, string path, int? channel, long from, long to)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = channel is null
            ? "SELECT number, time, kind, flags, channel, crc, data, version FROM explicit "
                + "WHERE flags & 1 AND time >= $from AND time < $to ORDER BY time, number"
            : "SELECT number, time, kind, flags, channel, crc, data, version FROM explicit "
                + "WHERE flags & 1 AND channel = $channel AND time >= $from AND time < $to ORDER BY time, number";
        command.Parameters.AddWithValue("$channel", (object?)channel ?? DBNull.Value);
        command.Parameters.AddWithValue("$from", from);
        command.Parameters.AddWithValue("$to", to);
        using SqliteDataReader reader = command.ExecuteReader();
        var inputs = new List<(EngineInput, int)>();
        while (reader.Read())
        {
            inputs.Add((ReadExplicitRow(reader, path), reader.GetInt32(7)));
        }

        return inputs;
    }

    private static List<EngineInput> ReadExplicit(SqliteCommand command, string path)
    {
        var inputs = new List<EngineInput>();
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            inputs.Add(ReadExplicitRow(reader, path));
        }

        return inputs;
    }

    private static EngineInput ReadExplicitRow(SqliteDataReader reader, string path)
    {
        long number = reader.GetInt64(0);
        long time = reader.GetInt64(1);
        int flags = reader.GetInt32(3);
        int channel = reader.GetInt32(4);
        byte[] data = reader.GetFieldValue<byte[]>(6);
        if (Checksum.Of(number, time, channel, data) != (uint)reader.GetInt64(5))
        {
            throw StoreException.Damaged($"{path}: input {number} does not match its checksum.");
        }

        var body = new ByteReader(data);
        return JournalCodec.ReadBody(
            ref body, number, new EngineTime(time), (InputKind)reader.GetInt32(2), (flags & 1) == 1, (flags & 2) == 2, channel);
    }

    private static SegmentRow ReadRow(SqliteDataReader reader) => new(
        reader.GetInt64(0), reader.GetInt64(1), reader.GetInt64(2), reader.GetInt32(3), reader.GetInt64(4), reader.GetInt64(5),
        reader.GetInt64(6), reader.IsDBNull(7) ? null : reader.GetInt64(7), reader.IsDBNull(8) ? null : reader.GetInt64(8),
        reader.GetInt64(9) != 0, reader.GetInt64(10) != 0);

    private static byte[] ReadOpaque(SqliteConnection connection, string path, SegmentRow row)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT opaque, crc FROM segment WHERE first = $first";
        command.Parameters.AddWithValue("$first", row.First);
        using SqliteDataReader reader = command.ExecuteReader();
        reader.Read();
        byte[] opaque = reader.GetFieldValue<byte[]>(0);
        return RowChecksum(row.First, row.Last, row.Id, row.T0, row.T1, row.Tick0, row.Tick1, opaque) == reader.GetInt64(1)
            ? opaque
            : throw StoreException.Damaged($"{path}: inputs {row.First} to {row.Last} do not match their checksum.");
    }

    private static long RowChecksum(long first, long last, long id, long t0, long t1, long? tick0, long? tick1, byte[]? opaque)
    {
        Span<byte> numbers = stackalloc byte[56];
        int at = 0;
        foreach (long number in (ReadOnlySpan<long>)[first, last, id, t0, t1, tick0 ?? -1, tick1 ?? -1])
        {
            BinaryPrimitives.WriteInt64LittleEndian(numbers[at..], number);
            at += sizeof(long);
        }

        return Checksum.Of(Checksum.Of(numbers), 0, 0, opaque);
    }

    private static long[] ReadTimes(SqliteConnection connection, string path, long id)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT n, codec, crc, data FROM times WHERE id = $id";
        command.Parameters.AddWithValue("$id", id);
        using SqliteDataReader reader = command.ExecuteReader();
        if (!reader.Read())
        {
            throw StoreException.Damaged($"{path}: the instants of a block are missing.");
        }

        int count = reader.GetInt32(0);
        byte[] data = reader.GetFieldValue<byte[]>(3);
        if (Checksum.Of(id, count, 0, data) != (uint)reader.GetInt64(2))
        {
            throw StoreException.Damaged($"{path}: the instants of a block do not match their checksum.");
        }

        var times = new long[count];
        var body = new ByteReader(Envelope.Unwrap(reader.GetInt32(1), data));
        TimeColumn.Read(ref body, times);
        return times;
    }

    private static BlockRow? ReadBlock(SqliteConnection connection, string path, long id)
    {
        using SqliteCommand command = connection.CreateCommand();
        command.CommandText = "SELECT id, version, n, codec, times, crc, data FROM block WHERE id = $id";
        command.Parameters.AddWithValue("$id", id);
        using SqliteDataReader reader = command.ExecuteReader();
        return reader.Read() ? ReadBlockRow(reader, path) : null;
    }

    private static BlockRow ReadBlockRow(SqliteDataReader reader, string path)
    {
        var row = new BlockRow(
            reader.GetInt64(0), reader.GetInt32(1), reader.GetInt32(2), reader.GetInt32(3), reader.GetInt64(4), reader.GetFieldValue<byte[]>(6));
        return Checksum.Of(row.Id, row.Version, row.Count, row.Data) == (uint)reader.GetInt64(5)
            ? row
            : throw StoreException.Damaged($"{path}: the block of channel key {row.Channel} in segment {row.Id >> (ChannelBits + KindBits)} does not match its checksum.");
    }

    private sealed record BlockRow(long Id, int Version, int Count, int Codec, long Times, byte[] Data)
    {
        public int Kind => (int)(Id >> ChannelBits) & ((1 << KindBits) - 1);

        public int Channel => (int)(Id & ((1 << ChannelBits) - 1));

        public SeriesColumn ToSeries(long[] times, string path) =>
            Named(path, () => SeriesColumn.Read(Envelope.Unwrap(Codec, Data), Channel, Version, Count, times));

        public FrameColumn ToFrames(long[] times, string path) =>
            Named(path, () => FrameColumn.Read(Envelope.Unwrap(Codec, Data), Channel, Version, Count, times));

        private T Named<T>(string path, Func<T> read)
        {
            try
            {
                return read();
            }
            catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
            {
                throw StoreException.Damaged($"{path}: the block of channel key {Channel}: {exception.Message}", exception);
            }
        }
    }
}
