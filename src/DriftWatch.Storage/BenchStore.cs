using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Months;
using DriftWatch.Storage.Records;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

/// <summary>
/// The store of one bench: a folder with a file a month for what was measured and one <c>records.db</c> for what must
/// never expire. One process writes; readers have connections of their own and never hold the writer up. What
/// <see cref="Append"/> has returned from is on the disk, power cut or not.
/// </summary>
/// <remarks>
/// Safe from any thread: writing calls exclude each other. The journal's number is the truth; <c>records.db</c> may lag
/// behind it and is brought up to it at opening.
/// </remarks>
public sealed partial class BenchStore : IDisposable
{
    private readonly Lock _gate = new();
    private readonly BenchStoreOptions _options;
    private readonly WriterLock _lock;
    private readonly RecordsFile _records;
    private readonly Dictionary<string, int> _keys;
    private readonly LogState _state;
    private readonly List<EngineInput> _pending = [];
    private MonthFile? _month;
    private bool _disposed;

    private BenchStore(string folder, BenchStoreOptions options)
    {
        Folder = folder;
        _options = options;
        _retention = options.Retention;
        _lock = WriterLock.Take(folder);
        try
        {
            _records = OpenRecords();
            _state = new LogState();
            OpenMonths();
            _keys = _records.ReadChannelKeys();
            if (!File.Exists(Path.Combine(folder, RecordsFile.CopyName)))
            {
                CopyRecordsDue(); // from the first day there is something to restore from
            }
        }
        catch
        {
            _month?.Dispose();
            _records?.Dispose();
            _lock.Dispose();
            throw;
        }
    }

    public string Folder { get; }

    /// <summary>The key of every channel this folder has ever seen.</summary>
    public IReadOnlyDictionary<string, int> ChannelKeys
    {
        get
        {
            lock (_gate)
            {
                return new Dictionary<string, int>(_keys, StringComparer.Ordinal);
            }
        }
    }

    /// <summary>The number of the last input stored; 0 when there is none.</summary>
    public long LastNumber => _state.LastNumber;

    /// <summary>The greatest engine time stored; a new process begins its clock here.</summary>
    public EngineTime LastTime => _state.LastTime;

    /// <summary>Engine time to UTC by every clock input stored. A later clock input replaces the table by a longer one, so a table once read never changes under its reader.</summary>
    public AnchorTable Anchors => _state.Anchors;

    /// <summary>The last bench stored.</summary>
    public BenchDefinition? CurrentBench => _state.Bench;

    /// <summary>Opens the folder for writing and makes it when missing.</summary>
    /// <exception cref="StoreException">In use, damaged beyond what the copies can mend, newer, or unreachable.</exception>
    public static BenchStore Open(string folder, BenchStoreOptions options)
    {
        try
        {
            folder = Path.GetFullPath(folder);
            Directory.CreateDirectory(folder);
            return new BenchStore(folder, options);
        }
        catch (SqliteException exception)
        {
            throw SqliteFile.Translate(exception, folder);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new StoreException(
                StoreTrouble.Unreachable, $"{folder} can't be opened: {exception.Message} Check its owner, its rights and the disk.", exception);
        }
    }

    /// <summary>The channel's key; gives it one, for ever, when it is new.</summary>
    public int KeyFor(string channelId)
    {
        lock (_gate)
        {
            if (!_keys.TryGetValue(channelId, out int key))
            {
                key = Guard(_records.Path, () => _records.AddChannel(channelId));
                _keys.Add(channelId, key);
            }

            return key;
        }
    }

    /// <summary>
    /// Stores what judging has done, in one transaction: its lines, those of the alarm book, the engine's snapshot and
    /// the number it stands at. A line already stored is left as it is, so re-judging after a crash adds nothing twice.
    /// </summary>
    public void CommitJudged(
        long judgedNumber, ReadOnlySpan<byte> snapshot, string engineBuild, IReadOnlyList<FindingLine> lines, IReadOnlyList<AlarmTransition>? alarms = null)
    {
        lock (_gate)
        {
            try
            {
                _records.CommitJudged(judgedNumber, snapshot, engineBuild, lines, alarms ?? [], _state.LastTime);
            }
            catch (SqliteException exception)
            {
                throw SqliteFile.Translate(exception, _records.Path);
            }
        }
    }

    /// <summary>Where judging stood; null when nothing was judged yet.</summary>
    public JudgedState? LoadJudged()
    {
        lock (_gate)
        {
            return Guard(_records.Path, _records.ReadJudged);
        }
    }

    /// <summary>Closes the files. What was appended stays in the journal and is sealed at the next opening.</summary>
    public void Dispose()
    {
        lock (_maintenance) // before the gate, as maintenance takes them
        {
            lock (_gate)
            {
                if (_disposed)
                {
                    return;
                }

                _recordsCopied = DateTimeOffset.MinValue;
                CopyRecordsDue();
                _disposed = true;
                _month?.Dispose();
                _records.Dispose();
                _lock.Dispose();
            }
        }
    }

    private static T Guard<T>(string path, Func<T> act)
    {
        try
        {
            return act();
        }
        catch (SqliteException exception)
        {
            throw SqliteFile.Translate(exception, path);
        }
    }
}
