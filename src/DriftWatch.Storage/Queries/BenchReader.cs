using System.Runtime.InteropServices;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;
using DriftWatch.Storage.Months;
using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Queries;

/// <summary>
/// Reads a bench folder on connections of its own: never waits for the writer and never holds it up. What it sees is
/// what was committed when the call began. Calls exclude each other; open one reader for each that must not wait.
/// </summary>
public sealed partial class BenchReader : IDisposable
{
    private readonly Lock _gate = new();
    private readonly LogReader _log;
    private readonly SqliteConnection _records;
    private readonly string _recordsPath;
    private Dictionary<int, int>? _lateVersions;

    /// <summary>Opens a folder for reading, whether or not a service writes to it.</summary>
    /// <exception cref="StoreException">There is no store, it is newer than this program, or can't be read.</exception>
    public BenchReader(string folder)
    {
        _recordsPath = Path.Combine(folder, RecordsFile.Name);
        if (!File.Exists(_recordsPath))
        {
            throw new StoreException(StoreTrouble.Unreachable, $"{folder} is not a bench folder: it holds no {RecordsFile.Name}.");
        }

        try
        {
            _records = SqliteFile.OpenReader(_recordsPath);
            SqliteFile.CheckVersion(_recordsPath, SqliteFile.Number(_records, "PRAGMA user_version"), RecordsFile.SchemaSteps.Count);
        }
        catch (SqliteException exception)
        {
            throw SqliteFile.Translate(exception, _recordsPath);
        }

        _log = new LogReader(folder);
    }

    /// <summary>A channel's readings with <paramref name="from"/> ≤ instant &lt; <paramref name="to"/>.</summary>
    public Series ReadSeries(int channel, EngineTime from, EngineTime to)
    {
        lock (_gate)
        {
            var readings = new List<StoredReading>();
            var damage = new List<string>();
            Walk(
                [channel], from.Nanoseconds, to.Nanoseconds, damage,
                (path, connection, row) =>
                {
                    if (row.Raw && SegmentStore.ReadSeries(connection, path, row.Id, channel) is { } column)
                    {
                        for (int i = 0; i < column.Count; i++)
                        {
                            if (column.Times[i] >= from.Nanoseconds && column.Times[i] < to.Nanoseconds)
                            {
                                readings.Add(new StoredReading(new EngineTime(column.Times[i]), column.ReadingAt(i), column.Version, false));
                            }
                        }
                    }
                },
                (_, reading) => readings.Add(reading),
                ticks: null);
            for (int i = 1; i < readings.Count; i++)
            {
                if (readings[i].At < readings[i - 1].At)
                {
                    readings = [.. readings.OrderBy(reading => reading.At)]; // stable: equal instants keep their order
                    break;
                }
            }

            return new Series(readings, damage);
        }
    }

    /// <summary>A channel's frames with <paramref name="from"/> ≤ instant &lt; <paramref name="to"/>, in order of time.</summary>
    public IReadOnlyList<StoredFrame> ReadFrames(int channel, EngineTime from, EngineTime to)
    {
        lock (_gate)
        {
            var frames = new List<StoredFrame>();
            foreach ((string path, SqliteConnection connection) in _log.Months())
            {
                LogReader.InOneLook(path, connection, () =>
                {
                    foreach (SegmentRow row in SegmentStore.Rows(connection, from.Nanoseconds, to.Nanoseconds).Where(row => row.Raw))
                    {
                        if (SegmentStore.ReadFrames(connection, path, row.Id, channel) is { } column)
                        {
                            frames.AddRange(column.Frames.Select((frame, i) =>
                                new StoredFrame(new EngineTime(column.Times[i]), frame, column.Version, false)));
                        }
                    }

                    frames.AddRange(SegmentStore.ReadLate(connection, path, channel, from.Nanoseconds, to.Nanoseconds)
                        .Concat(MonthFile.ReadJournal(connection, path, 0).Where(input => input.Channel == channel))
                        .Where(input => input.Kind == InputKind.Frame)
                        .Select(input => new StoredFrame(input.Time, input.Frame, VersionOf(channel), input.IsLate)));
                    return 0;
                });
            }

            return [.. frames.Where(frame => frame.At >= from && frame.At < to).OrderBy(frame => frame.At)];
        }
    }

    /// <summary>Lines of the alarm book after a cursor, oldest first.</summary>
    public IReadOnlyList<StoredAlarm> Alarms(long afterCursor, int limit) => KeepsAlarms
        ? Records("SELECT cursor, json FROM alarm WHERE cursor > $a ORDER BY cursor LIMIT $b", ReadAlarm, afterCursor, limit)
        : [];

    /// <summary>Lines of the alarm book with <paramref name="fromUtc"/> ≤ instant &lt; <paramref name="toUtc"/> (nanoseconds since 1970), oldest first.</summary>
    public IReadOnlyList<StoredAlarm> AlarmsBetween(long fromUtc, long toUtc) => KeepsAlarms
        ? Records("SELECT cursor, json FROM alarm WHERE utc >= $a AND utc < $b ORDER BY cursor", ReadAlarm, fromUtc, toUtc)
        : [];

    /// <summary>
    /// What tells of the alarms of a span without the whole book: its lines and those <paramref name="before"/> it, and every line of
    /// an alarm that stood or waited even then, however long it had. Each tag's newest line tells whether it did.
    /// </summary>
    /// <param name="fromUtc">Begin of the span, nanoseconds since 1970.</param>
    /// <param name="toUtc">Its end, not in it.</param>
    /// <param name="before">How far back what is over is still told.</param>
    /// <returns>Oldest line first.</returns>
    public IReadOnlyList<StoredAlarm> AlarmsOver(long fromUtc, long toUtc, TimeSpan before)
    {
        if (!KeepsAlarms)
        {
            return [];
        }

        long begin = fromUtc - (before.Ticks * TimeSpan.NanosecondsPerTick);
        List<StoredAlarm> newest = Records(
            "SELECT cursor, json FROM alarm WHERE cursor IN (SELECT max(cursor) FROM alarm WHERE utc < $a GROUP BY tag)", ReadAlarm, begin);
        return
        [
            .. newest.Where(a => a.Line.IsActive || a.Line.To != AlarmState.Normal)
                .SelectMany(a => Records("SELECT cursor, json FROM alarm WHERE id = $a AND utc < $b", ReadAlarm, a.Line.Id, begin))
                .Concat(AlarmsBetween(begin, toUtc))
                .OrderBy(a => a.Cursor),
        ];
    }

    /// <summary>The newest line of each tag that is not back to normal by it, oldest first.</summary>
    public IReadOnlyList<StoredAlarm> StandingAlarms() => KeepsAlarms
        ? [.. Records("SELECT cursor, json FROM alarm WHERE cursor IN (SELECT max(cursor) FROM alarm GROUP BY tag) ORDER BY cursor", ReadAlarm).Where(a => a.Line.To != AlarmState.Normal)]
        : [];

    /// <summary>The newest lines of the alarm book, oldest of them first.</summary>
    public IReadOnlyList<StoredAlarm> LatestAlarms(int limit)
    {
        List<StoredAlarm> latest = KeepsAlarms ? Records("SELECT cursor, json FROM alarm ORDER BY cursor DESC LIMIT $a", ReadAlarm, limit) : [];
        latest.Reverse();
        return latest;
    }

    /// <summary>The spans over which readings are stored, oldest first; a process that stopped or a clock that stepped ends one.</summary>
    public IReadOnlyList<StoredSpan> StoredSpans()
    {
        lock (_gate)
        {
            var spans = new List<(StoredSpan Span, long Stretch)>();
            foreach ((string path, SqliteConnection connection) in _log.Months())
            {
                LogReader.InOneLook(path, connection, () =>
                {
                    foreach (SegmentRow row in SegmentStore.Rows(connection, long.MinValue, long.MaxValue))
                    {
                        spans.Add((new StoredSpan(new EngineTime(row.T0), new EngineTime(row.T1), row.First, row.Last, row.Raw), row.Stretch));
                    }

                    List<EngineInput> journal = MonthFile.ReadJournal(connection, path, 0);
                    if (journal.Count > 0)
                    {
                        long stretch = journal.Exists(input => LogState.BeginsStretch(input))
                            ? -1
                            : spans.Count > 0 ? spans[^1].Stretch : -1;
                        spans.Add((new StoredSpan(journal[0].Time, journal[^1].Time, journal[0].Number, journal[^1].Number, true), stretch));
                    }

                    return 0;
                });
            }

            var joined = new List<(StoredSpan Span, long Stretch)>();
            foreach ((StoredSpan span, long stretch) in spans.OrderBy(span => span.Span.FirstNumber))
            {
                if (joined.Count > 0 && joined[^1].Stretch == stretch && joined[^1].Span.IsRaw == span.IsRaw
                    && joined[^1].Span.LastNumber + 1 == span.FirstNumber)
                {
                    joined[^1] = (joined[^1].Span with { To = span.To, LastNumber = span.LastNumber }, stretch);
                }
                else
                {
                    joined.Add((span, stretch));
                }
            }

            return [.. joined.Select(span => span.Span)];
        }
    }

    /// <summary>The bench definition of a hash, or null when none of that hash was ever in force here.</summary>
    public BenchDefinition? BenchByHash(string hash) => Records(
        "SELECT number, time, hash, json FROM bench WHERE hash = $a ORDER BY number LIMIT 1", ReadBench, hash).FirstOrDefault()?.Bench;

    /// <summary>The bench definition in force at an instant; null before the first.</summary>
    public StoredBench? BenchAt(EngineTime at) => Records(
        "SELECT number, time, hash, json FROM bench WHERE time <= $a ORDER BY number DESC LIMIT 1", ReadBench, at.Nanoseconds).FirstOrDefault();

    /// <summary>Every bench definition that was put in force, oldest first.</summary>
    public IReadOnlyList<StoredBench> BenchVersions() => Records("SELECT number, time, hash, json FROM bench ORDER BY number", ReadBench);

    /// <summary>Each different bench definition once, in the order in which they last came into force: a bench enters its own at every start.</summary>
    public IReadOnlyList<StoredBench> DifferentBenches() =>
        Records("SELECT max(number) AS last, time, hash, json FROM bench GROUP BY json ORDER BY last", ReadBench);

    /// <summary>The calibrations entered after the bench files' own, oldest first.</summary>
    public IReadOnlyList<StoredCalibration> Calibrations() => Records(
        "SELECT number, time, channel, json FROM calibration ORDER BY number",
        reader => new StoredCalibration(
            reader.GetInt64(0), new EngineTime(reader.GetInt64(1)), reader.GetInt32(2),
            (Calibration)PayloadJson.FromUtf8(InputKind.Calibration, reader.GetFieldValue<byte[]>(3))));

    /// <summary>Every baseline that was ever taken, oldest first.</summary>
    public IReadOnlyList<TakenBaseline> Baselines()
    {
        lock (_gate)
        {
            return BaselineTable.Read(_records);
        }
    }

    /// <summary>What people entered after an input number, oldest first.</summary>
    public IReadOnlyList<StoredCommand> Commands(long afterNumber, int limit) => Records(
        "SELECT number, time, json FROM command WHERE number > $a ORDER BY number LIMIT $b",
        reader => new StoredCommand(
            reader.GetInt64(0), new EngineTime(reader.GetInt64(1)),
            (Command)PayloadJson.FromUtf8(InputKind.Command, reader.GetFieldValue<byte[]>(2))),
        afterNumber, limit);

    /// <summary>The key of every channel the folder has ever seen.</summary>
    public IReadOnlyDictionary<string, int> ChannelKeys() =>
        Records("SELECT id, key FROM channel", reader => (reader.GetString(0), reader.GetInt32(1)))
            .ToDictionary(pair => pair.Item1, pair => pair.Item2, StringComparer.Ordinal);

    /// <summary>Engine time to UTC by every clock input entered.</summary>
    public AnchorTable ReadAnchors()
    {
        var anchors = new AnchorTable();
        Records("SELECT anchor, utc FROM clock ORDER BY number", reader => new TimeAnchor(new EngineTime(reader.GetInt64(0)), reader.GetInt64(1)))
            .ForEach(anchors.Add);
        return anchors;
    }

    /// <summary>The inputs after a number, see <see cref="BenchStore.ReadInputs"/>.</summary>
    public IEnumerable<EngineInput> ReadInputs(long afterNumber) => _log.Inputs(afterNumber);

    /// <summary>The number after which <see cref="ReadInputs"/> finds readings: all up to it have expired; 0 when none have.</summary>
    public long ExpiredThrough()
    {
        lock (_gate)
        {
            return _log.ExpiredThrough();
        }
    }

    public void Dispose()
    {
        _log.Dispose();
        _records.Dispose();
    }

    private static StoredAlarm ReadAlarm(SqliteDataReader reader) =>
        new(reader.GetInt64(0), AlarmJson.Read(reader.GetFieldValue<byte[]>(1)));

    private static StoredBench ReadBench(SqliteDataReader reader) => new(
        reader.GetInt64(0), new EngineTime(reader.GetInt64(1)), reader.GetString(2),
        (BenchDefinition)PayloadJson.FromUtf8(InputKind.Bench, reader.GetFieldValue<byte[]>(3)));

    private bool KeepsAlarms
    {
        get
        {
            lock (_gate)
            {
                return AlarmTable.IsIn(_records);
            }
        }
    }

    private List<T> Records<T>(string sql, Func<SqliteDataReader, T> read, params ReadOnlySpan<object> values)
    {
        lock (_gate)
        {
            try
            {
                using SqliteCommand command = _records.CreateCommand();
#pragma warning disable CA2100 // The text is ours; values are parameters.
                command.CommandText = sql;
#pragma warning restore CA2100
                for (int i = 0; i < values.Length; i++)
                {
                    command.Parameters.AddWithValue("$" + (char)('a' + i), values[i]);
                }

                var rows = new List<T>();
                using SqliteDataReader reader = command.ExecuteReader();
                while (reader.Read())
                {
                    rows.Add(read(reader));
                }

                return rows;
            }
            catch (SqliteException exception)
            {
                throw SqliteFile.Translate(exception, _recordsPath);
            }
        }
    }
}
