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

    /// <summary>The month files found damaged and set aside since this opening, by their new paths.</summary>
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
        _state.LoadClock(_records.ReadClock().Select(clock => (
            clock.Number, clock.Anchor, clock.Kind is ClockEventKind.Started or ClockEventKind.WallStep or ClockEventKind.Resumed)));
        (Measurement.Benches.BenchDefinition? bench, List<(int Channel, int Version)> calibrations) = _records.ReadBench();
        if (bench is not null)
        {
            _state.SetBench(bench);
            calibrations.ForEach(c => _state.SetVersion(c.Channel, c.Version));
        }

        // Normally one file is newer than the records; after a restore from an older copy several may be.
        var beyond = new List<EngineInput>();
        string? livePath = null;
        long liveNumber = -1;
        int count = 0;
        foreach (string path in MonthPaths().ToList())
        {
            count++;
            if (OrSetAside(path, () => LookAt(path, entered, beyond)) is { } end)
            {
                _state.Reach(end.Number, end.Time);
                if (end.Number > liveNumber)
                {
                    livePath = path;
                    liveNumber = end.Number;
                }
            }
        }

        MonthFile? live = livePath is null ? null : OrSetAside(livePath, () => OpenLive(livePath));
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

    /// <summary>Where a month's log ends, without opening it for writing; collects what the records have not entered yet.</summary>
    private LogEnd LookAt(string path, long entered, List<EngineInput> beyond)
    {
        using (SqliteConnection connection = SqliteFile.OpenReader(path))
        {
            if (SqliteFile.Number(connection, "PRAGMA user_version") < MonthFile.SchemaSteps.Count)
            {
                MonthFile.Open(path, _options).Dispose(); // brings it forward
            }
        }

        using SqliteConnection reader = SqliteFile.OpenReader(path);
        SqliteFile.CheckVersion(path, SqliteFile.Number(reader, "PRAGMA user_version"), MonthFile.SchemaSteps.Count);
        (long number, EngineTime time) = MonthFile.LastSealed(reader);
        beyond.AddRange(ReadExplicitBeyond(reader, path, entered));
        foreach (EngineInput input in MonthFile.ReadJournal(reader, path, 0))
        {
            number = input.Number;
            time = input.Time > time ? input.Time : time;
            if (number > entered && PayloadJson.Carries(input.Kind))
            {
                beyond.Add(input);
            }
        }

        return new LogEnd(number, time);
    }

    private MonthFile OpenLive(string path)
    {
        MonthFile month = MonthFile.Open(path, _options);
        try
        {
            if (MonthFile.QuickCheck(month) is { } why)
            {
                throw StoreException.Damaged(why);
            }

            _pending.AddRange(MonthFile.ReadJournal(month.Connection, path, 0));
            return month;
        }
        catch
        {
            month.Dispose();
            throw;
        }
    }

    /// <summary>Null when the file was found damaged and set aside.</summary>
    private T? OrSetAside<T>(string path, Func<T> open)
        where T : class
    {
        try
        {
            return open();
        }
        catch (StoreException exception) when (exception.Trouble == StoreTrouble.Damaged)
        {
            SetMonthAside(path, exception.Message);
        }
        catch (SqliteException exception) when (SqliteFile.IsDamage(exception))
        {
            SetMonthAside(path, exception.Message);
        }
        catch (SqliteException exception)
        {
            throw SqliteFile.Translate(exception, path);
        }

        return null;
    }

    private void SetMonthAside(string path, string why)
    {
        string aside = SetAside(path);
        _setAside.Add(aside);
        StoreLog.MonthSetAside(_options.Logger, path, why, aside);
    }

    private sealed record LogEnd(long Number, EngineTime Time);

    private static List<EngineInput> ReadExplicitBeyond(SqliteConnection connection, string path, long entered) =>
        [.. SegmentStore.ReadExplicit(connection, path, entered + 1, long.MaxValue).Where(input => PayloadJson.Carries(input.Kind))];
}
