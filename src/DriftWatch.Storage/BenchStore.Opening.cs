using System.Globalization;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Months;
using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

public sealed partial class BenchStore
{
    private IEnumerable<string> MonthPaths() =>
        Directory.EnumerateFiles(Folder, "????-??.db").Where(MonthFile.IsMonthFile).Order(StringComparer.Ordinal);

    private RecordsFile OpenRecords()
    {
        string path = Path.Combine(Folder, RecordsFile.Name);
        string copy = Path.Combine(Folder, RecordsFile.CopyName);
        bool missing = !File.Exists(path);
        if (missing && !File.Exists(copy) && !MonthPaths().Any())
        {
            return RecordsFile.Open(path); // a new folder
        }

        string why = "it is missing";
        if (!missing)
        {
            try
            {
                return RecordsFile.Open(path);
            }
            catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
            {
                why = exception.Message;
            }
        }

        return RestoreRecords(path, copy, why);
    }

    private RecordsFile RestoreRecords(string path, string copy, string why)
    {
        if (!File.Exists(copy) || !IsSoundCopy(copy))
        {
            throw StoreException.Damaged(
                $"{path}: {why}. There is no sound copy ({RecordsFile.CopyName}) to restore it from, and it is never replaced by an empty one, "
                + "because it names the channels of every reading. Put a backup of it in its place.");
        }

        string aside = File.Exists(path) ? SetAside(path) : "(none)";
        File.Copy(copy, path + ".new", overwrite: true);
        File.Move(path + ".new", path);
        StoreLog.RecordsRestored(_options.Logger, path, why, new DateTimeOffset(File.GetLastWriteTimeUtc(copy), TimeSpan.Zero), aside);
        RecordsRestored = why;
        return RecordsFile.Open(path);
    }

    /// <summary>Not null when this opening had to restore the records file from its copy: why.</summary>
    public string? RecordsRestored { get; private set; }

    /// <summary>The month files that this opening found damaged and set aside, by their new paths.</summary>
    public IReadOnlyList<string> SetAsideFiles => _setAside;

    private readonly List<string> _setAside = [];

    private static bool IsSoundCopy(string copy)
    {
        try
        {
            using SqliteConnection connection = SqliteFile.OpenReader(copy);
            return SqliteFile.Check(connection, whole: true) is null;
        }
        catch (SqliteException)
        {
            return false;
        }
    }

    /// <summary>Renames a file with its log, so that a person can still look into it.</summary>
    private string SetAside(string path)
    {
        string stamp = _options.TimeProvider.GetUtcNow().ToString("yyyyMMdd'T'HHmmssfff", CultureInfo.InvariantCulture);
        string aside = Path.Combine(Folder, $"{Path.GetFileNameWithoutExtension(path)}.damaged-{stamp}.db");
        File.Move(path, aside);
        foreach (string tail in (string[])["-wal", "-shm"])
        {
            if (File.Exists(path + tail))
            {
                File.Move(path + tail, aside + tail);
            }
        }

        return aside;
    }

    /// <summary>Brings the state up to the end of the log: first from the records, then from what the journal has beyond them.</summary>
    private void OpenMonths()
    {
        (long number, EngineTime time, long entered) = _records.ReadSeen();
        _state.Reach(number, time);
        foreach ((long clockNumber, TimeAnchor anchor, ClockEventKind kind) in _records.ReadClock())
        {
            _state.AddClock(
                clockNumber, anchor, kind is ClockEventKind.Started or ClockEventKind.WallStep or ClockEventKind.Resumed);
        }

        (Measurement.Benches.BenchDefinition? bench, List<(int Channel, int Version)> calibrations) = _records.ReadBench();
        if (bench is not null)
        {
            _state.SetBench(bench);
            calibrations.ForEach(c => _state.SetVersion(c.Channel, c.Version));
        }

        // Normally one file is newer than the records; after a restore from an older copy several may be.
        var beyond = new List<EngineInput>();
        MonthFile? live = null;
        long liveNumber = -1;
        int count = 0;
        foreach (string path in MonthPaths().ToList())
        {
            count++;
            if (OpenMonthOrSetAside(path) is not { } month)
            {
                continue;
            }

            (long lastNumber, EngineTime lastTime) = month.LastSealed();
            List<EngineInput> journal = MonthFile.ReadJournal(month.Connection, path, 0);
            if (journal.Count > 0)
            {
                lastNumber = journal[^1].Number;
            }

            _state.Reach(lastNumber, lastTime);
            beyond.AddRange(ReadExplicitBeyond(month, entered));
            foreach (EngineInput input in journal)
            {
                _state.Reach(input.Number, input.Time);
                if (input.Number > entered && PayloadJson.Carries(input.Kind))
                {
                    beyond.Add(input);
                }
            }

            if (lastNumber > liveNumber)
            {
                live?.Dispose();
                live = month;
                liveNumber = lastNumber;
                _pending.Clear();
                _pending.AddRange(journal);
            }
            else
            {
                month.Dispose();
            }
        }

        _month = live;
        beyond.Sort((left, right) => left.Number.CompareTo(right.Number));
        beyond.ForEach(input => _state.Apply(input));
        if (beyond.Count > 0)
        {
            _records.Enter(beyond.ToArray(), _state.LastNumber, _state.LastTime);
        }

        _cutter.Begin(
            _state.Anchors.Anchors is [.., var last] ? last : null,
            _state.Stretch,
            new Dictionary<int, int>(_state.Versions),
            live is null ? null : Path.GetFileNameWithoutExtension(live.Path));
        _pending.ForEach(input => _cutter.Observe(input));
        StoreLog.Opened(_options.Logger, Folder, _state.LastNumber, count);
    }

    private MonthFile? OpenMonthOrSetAside(string path)
    {
        MonthFile? month = null;
        try
        {
            month = MonthFile.Open(path, _options);
            string? why = SqliteFile.Check(month.Connection, whole: false);
            if (why is null)
            {
                MonthFile.ReadJournal(month.Connection, path, 0);
                return month;
            }

            month.Dispose();
            MoveAway(why);
        }
        catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
        {
            month?.Dispose();
            MoveAway(exception.Message);
        }

        return null;

        void MoveAway(string why)
        {
            string aside = SetAside(path);
            _setAside.Add(aside);
            StoreLog.MonthSetAside(_options.Logger, path, why, aside);
        }
    }

    private static List<EngineInput> ReadExplicitBeyond(MonthFile month, long entered)
    {
        var inputs = new List<EngineInput>();
        using SqliteCommand command = month.Connection.CreateCommand();
        command.CommandText = "SELECT number, time, kind, flags, channel, data FROM explicit WHERE number > $entered ORDER BY number";
        command.Parameters.AddWithValue("$entered", entered);
        using SqliteDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            var kind = (InputKind)reader.GetInt32(2);
            if (PayloadJson.Carries(kind))
            {
                var body = new Codec.ByteReader(reader.GetFieldValue<byte[]>(5));
                inputs.Add(Codec.JournalCodec.ReadBody(
                    ref body, reader.GetInt64(0), new EngineTime(reader.GetInt64(1)), kind, late: false, extremes: false, reader.GetInt32(4)));
            }
        }

        return inputs;
    }
}
