using DriftWatch.Storage.Codec;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Months;

/// <summary>A block ready to be written; <c>Times</c> is the place of its instants among the segment's time columns.</summary>
internal sealed record EncodedBlock(int Kind, int Channel, int Version, int Count, int Codec, byte[] Data, int Times);

/// <summary>A segment ready to be written, and whether all of it was proven to read back to the bit.</summary>
internal sealed class EncodedSegment
{
    public bool Proven { get; set; } = true;

    public List<EncodedBlock> Times { get; } = [];

    public List<EncodedBlock> Blocks { get; } = [];

    public List<EncodedBlock> Rollups { get; } = [];
}

internal static partial class SegmentStore
{
    /// <summary>Encodes every column and proves that it reads back to the bit. Touches no file, so it may run beside the writer.</summary>
    public static EncodedSegment Encode(SegmentData data, IReadOnlyList<RollupColumn> rollups)
    {
        var writer = new ByteWriter();
        var times = new List<(long[] Times, int Count)>();
        var encoded = new EncodedSegment();
        foreach (SeriesColumn column in data.Series)
        {
            writer.Clear();
            column.Write(writer);
            (int codec, byte[] block) = Envelope.Wrap(writer.Written);
            encoded.Proven &= Same(column, SeriesColumn.Read(Envelope.Unwrap(codec, block), column.Channel, column.Version, column.Count, column.Times));
            encoded.Blocks.Add(new EncodedBlock(
                SeriesKind, column.Channel, column.Version, column.Count, codec, block, EncodeTimes(column.Times, column.Count)));
        }

        foreach (FrameColumn column in data.Frames)
        {
            writer.Clear();
            column.Write(writer);
            (int codec, byte[] block) = Envelope.Wrap(writer.Written);
            long[] own = [.. column.Times];
            FrameColumn again = FrameColumn.Read(Envelope.Unwrap(codec, block), column.Channel, column.Version, own.Length, own);
            encoded.Proven &= again.Frames.SequenceEqual(column.Frames);
            encoded.Blocks.Add(new EncodedBlock(
                FrameKind, column.Channel, column.Version, own.Length, codec, block, EncodeTimes(own, own.Length)));
        }

        foreach (RollupColumn rollup in rollups)
        {
            writer.Clear();
            rollup.Write(writer);
            (int codec, byte[] block) = Envelope.Wrap(writer.Written);
            encoded.Rollups.Add(new EncodedBlock(rollup.Level, rollup.Channel, rollup.Version, rollup.Count, codec, block, 0));
        }

        return encoded;

        int EncodeTimes(long[] own, int count)
        {
            // Channels read in one scan share their instants: one column serves them all.
            int known = times.FindIndex(column => column.Count == count && column.Times.AsSpan(0, count).SequenceEqual(own.AsSpan(0, count)));
            if (known >= 0)
            {
                return known;
            }

            writer.Clear();
            TimeColumn.Write(writer, own.AsSpan(0, count));
            (int codec, byte[] block) = Envelope.Wrap(writer.Written);
            var again = new long[count];
            var body = new ByteReader(Envelope.Unwrap(codec, block));
            TimeColumn.Read(ref body, again);
            encoded.Proven &= again.AsSpan().SequenceEqual(own.AsSpan(0, count));
            encoded.Times.Add(new EncodedBlock(0, times.Count, 0, count, codec, block, 0));
            times.Add((own, count));
            return times.Count - 1;
        }
    }

    /// <summary>Writes all rows of a segment; where its order or its columns can't give the inputs back, with them as they were given.</summary>
    public static void Write(
        MonthFile month, SqliteTransaction transaction, SegmentData data, EncodedSegment encoded, long id, int level, byte[]? opaque)
    {
        foreach (EncodedBlock times in encoded.Times)
        {
            long timesId = BlockId(id, 0, times.Channel);
            MonthFile.Run(
                month.InsertTimes, transaction, timesId, times.Count, times.Codec, (long)Checksum.Of(timesId, times.Count, 0, times.Data), times.Data);
        }

        foreach (EncodedBlock block in encoded.Blocks)
        {
            long blockId = BlockId(id, block.Kind, block.Channel);
            MonthFile.Run(
                month.InsertBlock, transaction, blockId, block.Version, block.Count, block.Codec, BlockId(id, 0, block.Times),
                (long)Checksum.Of(blockId, block.Version, block.Count, block.Data), block.Data);
        }

        foreach (EncodedBlock rollup in encoded.Rollups)
        {
            long rollupId = BlockId(id, rollup.Kind, rollup.Channel);
            MonthFile.Run(
                month.InsertRollup, transaction, rollupId, rollup.Version, rollup.Count, rollup.Codec,
                (long)Checksum.Of(rollupId, rollup.Version, rollup.Count, rollup.Data), rollup.Data);
        }

        MonthFile.Run(
            month.InsertSegment, transaction, data.First, data.Last, id, level, data.Stretch, data.T0, data.T1, data.Tick0, data.Tick1, 1L,
            RowChecksum(data.First, data.Last, id, data.T0, data.T1, data.Tick0, data.Tick1, opaque), opaque);
    }

    /// <summary>Takes the segments within a range of numbers away with all their blocks; explicit inputs stay.</summary>
    public static void DeleteSegments(MonthFile month, SqliteTransaction transaction, long first, long last)
    {
        var ids = new List<long>();
        using (SqliteCommand query = month.Connection.CreateCommand())
        {
            query.Transaction = transaction;
            query.CommandText = "SELECT id FROM segment WHERE first >= $first AND last <= $last";
            query.Parameters.AddWithValue("$first", first);
            query.Parameters.AddWithValue("$last", last);
            using SqliteDataReader reader = query.ExecuteReader();
            while (reader.Read())
            {
                ids.Add(reader.GetInt64(0));
            }
        }

        using SqliteCommand command = month.Connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText =
            """
            DELETE FROM block WHERE id >= $from AND id < $to;
            DELETE FROM times WHERE id >= $from AND id < $to;
            DELETE FROM rollup WHERE id >= $from AND id < $to;
            DELETE FROM segment WHERE id = $id;
            """;
        foreach (long id in ids)
        {
            (long from, long to) = IdsOf(id);
            command.Parameters.Clear();
            command.Parameters.AddWithValue("$from", from);
            command.Parameters.AddWithValue("$to", to);
            command.Parameters.AddWithValue("$id", id);
            command.ExecuteNonQuery();
        }
    }

    private static bool Same(SeriesColumn left, SeriesColumn right)
    {
        int n = left.Count;
        if (!left.Marks.AsSpan(0, n).SequenceEqual(right.Marks.AsSpan(0, n)))
        {
            return false;
        }

        for (int i = 0; i < n; i++)
        {
            if (left.Marks[i] < SeriesColumn.Fault && Bits(left.Raw[i]) != Bits(right.Raw[i]))
            {
                return false;
            }

            if (left.Marks[i] == SeriesColumn.WithExtremes
                && (Bits(left.Minimum[i]) != Bits(right.Minimum[i]) || Bits(left.Maximum[i]) != Bits(right.Maximum[i])))
            {
                return false;
            }
        }

        return true;
    }

    private static long Bits(double value) => BitConverter.DoubleToInt64Bits(value);
}
