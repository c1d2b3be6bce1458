using System.Collections.Concurrent;
using System.Reflection;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Watch;

namespace DriftWatch.Running;

/// <summary>
/// The one way of an input through a running bench: intake → merge → engine → journal → records → whoever listens.
/// One thread calls <see cref="Step"/>; it owns merge, engine and the batch that waits for its commit.
/// <para>
/// A commit goes to the journal first and to the records after it, and only then is a finding told to anyone. Live it
/// happens once a second, and at once when there is a finding to tell or a person waits for an answer.
/// </para>
/// When the store can't write, the batch is kept and tried again each second; judging goes on, and what it says is told
/// once it is stored. Who tells people of alarms is given them before, as what they are: not stored. That the store fails,
/// and that it takes again, are inputs like any other, so that the book has that alarm with its true times.
/// </summary>
internal sealed class BenchPipeline
{
    /// <summary>Names this build in snapshots: one of another build is not trusted to judge on.</summary>
    public static readonly string Build =
        typeof(WatchEngine).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()!.InformationalVersion
        + "/" + typeof(WatchEngine).Module.ModuleVersionId.ToString("N");

    private static readonly TimeSpan CommitEvery = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan SnapshotEvery = TimeSpan.FromSeconds(30);

    private readonly BenchStore _store;
    private readonly WatchEngine _engine;
    private readonly ReadingIntake _intake;
    private readonly EngineClock _clock;
    private readonly ILogger _logger;
    private readonly InputMerge _merge;
    private readonly ConcurrentQueue<Entry> _entries = new();
    private readonly List<Entry> _waiting = [];
    private readonly List<EngineInput> _released = [];
    private readonly List<EngineInput> _batch = [];
    private readonly List<FindingLine> _lines = [];
    private readonly List<AlarmTransition> _alarms = [];
    private EngineTime _lastCommit;
    private EngineTime _lastSnapshot;
    private EngineTime _retryAt;
    private string? _trouble;
    private EngineTime _troubleSince;
    private long _droppedBefore;
    private bool _saidFailing;
    private bool _closed;
    private IReadOnlyList<int>? _channels;

    public BenchPipeline(
        BenchStore store, WatchEngine engine, ReadingIntake intake, EngineClock clock, TimeSpan latenessBound, ILogger logger)
    {
        _store = store;
        _engine = engine;
        _intake = intake;
        _clock = clock;
        _logger = logger;
        StartedAt = clock.ReadAnchor();
        _merge = new InputMerge(store.LastNumber, StartedAt.Engine, latenessBound);
        _lastCommit = _lastSnapshot = StartedAt.Engine;
    }

    /// <summary>When this process began to watch; no tick comes before it.</summary>
    public TimeAnchor StartedAt { get; }

    /// <summary>Called on the pipeline's thread for each input that has been judged.</summary>
    public Action<EngineInput>? Judged { get; init; }

    /// <summary>Called on the pipeline's thread with lines that are stored: of findings, and of the alarm book.</summary>
    public Action<IReadOnlyList<FindingLine>, IReadOnlyList<AlarmTransition>>? Told { get; init; }

    /// <summary>Called on the pipeline's thread with all lines of the alarm book that the store has not taken, each time it refuses; <see cref="Told"/> follows once it has them.</summary>
    public Action<IReadOnlyList<AlarmTransition>>? Unstored { get; init; }

    /// <summary>Called on the pipeline's thread after a commit: inputs stored, and how long it took.</summary>
    public Action<int, TimeSpan>? Committed { get; init; }

    /// <summary>Why the store does not take what it is given; null while it does.</summary>
    public string? StoreTrouble => Volatile.Read(ref _trouble);

    public EngineTime LastCommit => _lastCommit;

    public EngineTime LastJudged { get; private set; }

    public long Late => _merge.LateCount;

    /// <summary>The channels whose promises the merge waits for, from the next turn on; any thread may say.</summary>
    public void SetChannels(IEnumerable<int> channels) => Volatile.Write(ref _channels, [.. channels]);

    /// <summary>
    /// Enters the first inputs of a process, its start and its bench, at the instant at which the merge begins: were a
    /// tick to come before them, it would hide for how long nobody watched.
    /// </summary>
    public void Begin(BenchDefinition bench)
    {
        _ = EnterAsync(EngineInput.OfClock(StartedAt.Engine, new ClockEvent(ClockEventKind.Started, StartedAt)));
        _ = EnterAsync(EngineInput.OfBench(StartedAt.Engine, bench));
    }

    /// <summary>Enters an input that is not a reading; the task gives its number once it is journaled.</summary>
    public Task<long> EnterAsync(EngineInput input)
    {
        var entry = new Entry(input, new TaskCompletionSource<long>(TaskCreationOptions.RunContinuationsAsynchronously));
        _entries.Enqueue(entry);
        if (Volatile.Read(ref _closed))
        {
            RefuseQueued();
        }

        return entry.Done.Task;
    }

    /// <summary>No turn follows any more: who still waits, or enters now, is told so instead of waiting for ever.</summary>
    public void Close()
    {
        Volatile.Write(ref _closed, true);
        RefuseQueued();
        foreach (Entry entry in _waiting)
        {
            entry.Done.TrySetException(new WatchingStoppedException());
        }

        _waiting.Clear();
    }

    /// <summary>
    /// One turn. With <paramref name="final"/> everything still waiting is released and committed; nothing may be
    /// posted afterwards.
    /// </summary>
    public void Step(bool final = false)
    {
        if (Interlocked.Exchange(ref _channels, null) is { } channels)
        {
            _merge.SetChannels(channels);
        }

        while (_entries.TryDequeue(out Entry? entry))
        {
            _merge.Offer(entry.Input);
            _waiting.Add(entry);
        }

        _intake.DrainInto(_merge);
        EngineTime now = _clock.Now;
        if (final)
        {
            _merge.ReleaseAll(now, _released);
        }
        else
        {
            _merge.Release(now, _released);
        }

        Judge();
        bool someoneWaits = HasLines || _waiting.Exists(e => e.Number > 0);
        if (final || (now >= _retryAt && (someoneWaits || now - _lastCommit >= CommitEvery)))
        {
            Commit(now, final);
        }
    }

    private bool HasLines => _lines.Count > 0 || _alarms.Count > 0;

    private void RefuseQueued()
    {
        while (_entries.TryDequeue(out Entry? entry))
        {
            entry.Done.TrySetException(new WatchingStoppedException());
        }
    }

    private void Judge()
    {
        foreach (ref readonly EngineInput input in System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_released))
        {
            _engine.Apply(input, _lines, _alarms);
            _batch.Add(input);
            if (input.Payload is not null)
            {
                Number(input);
            }

            Judged?.Invoke(input);
        }

        if (_released.Count > 0)
        {
            LastJudged = _clock.Now;
            _intake.HeldByPipeline = _batch.Count;
            _released.Clear();
        }
    }

    private void Number(in EngineInput input)
    {
        foreach (Entry entry in _waiting)
        {
            if (ReferenceEquals(entry.Input.Payload, input.Payload))
            {
                entry.Number = input.Number;
            }
        }
    }

    private void Commit(EngineTime now, bool final)
    {
        int inputs = _batch.Count;
        try
        {
            if (inputs > 0)
            {
                _store.Append(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_batch));
                _batch.Clear();
                _intake.HeldByPipeline = 0;
            }

            if (final || HasLines || now - _lastSnapshot >= SnapshotEvery)
            {
                _store.CommitJudged(_engine.LastNumber, _engine.Snapshot(), Build, _lines, _alarms);
                _lastSnapshot = now;
            }
        }
        catch (StoreException exception)
        {
            NoteTrouble(now, exception);
            _retryAt = now + CommitEvery;
            Unstored?.Invoke([.. _alarms]);

            if (_batch.Count == 0)
            {
                TellWaiting(entry => entry.Done.SetResult(entry.Number)); // journaled: only what judging made of it waits
                return;
            }

            TellWaiting(entry => entry.Done.SetException(new IOException(
                $"Not stored yet: {exception.Message} The act is held in memory with the readings and is stored with them once there is room.")));
            if (final)
            {
                RunningLog.StoppedUnstored(_logger, _batch.Count, exception.Message);
            }

            return;
        }

        NoteNoTrouble(now, inputs);

        _lastCommit = now;
        Committed?.Invoke(inputs, _clock.Now - now);
        Tell();
    }

    private void NoteTrouble(EngineTime now, StoreException exception)
    {
        if (_trouble is null)
        {
            RunningLog.StoreTrouble(_logger, exception.Message);
            _troubleSince = now;
            _droppedBefore = _intake.Dropped;
        }

        Volatile.Write(ref _trouble, exception.Message);
        if (!_saidFailing && now - _troubleSince >= StoreFailsCommand.WorthSaying)
        {
            _saidFailing = true;
            Say(now, new StoreFailsCommand
            {
                Id = Guid.CreateVersion7(_clock.TimeProvider.GetUtcNow()),
                By = Command.TheService,
                Identity = Command.IdentityOfTheService,
                For = now - _troubleSince,
                Trouble = Slugs.Of(exception.Trouble),
                Text = exception.Message,
            });
        }
    }

    private void NoteNoTrouble(EngineTime now, int held)
    {
        if (_trouble is null)
        {
            return;
        }

        RunningLog.StoreRecovered(_logger);
        Volatile.Write(ref _trouble, null);
        if (_saidFailing)
        {
            _saidFailing = false;
            Say(now, new StoreTakesCommand
            {
                Id = Guid.CreateVersion7(_clock.TimeProvider.GetUtcNow()),
                By = Command.TheService,
                Identity = Command.IdentityOfTheService,
                Held = held,
                Lost = _intake.Dropped - _droppedBefore,
            });
        }
    }

    /// <summary>What the service itself has to say goes the way of all inputs; nobody waits for its answer.</summary>
    private void Say(EngineTime now, Command command) => _merge.Offer(EngineInput.OfCommand(now, command));

    private void Tell()
    {
        if (HasLines)
        {
            Told?.Invoke([.. _lines], [.. _alarms]);
            _lines.Clear();
            _alarms.Clear();
        }

        TellWaiting(entry => entry.Done.SetResult(entry.Number));
    }

    /// <summary>Those whose inputs have been numbered learn what became of them.</summary>
    private void TellWaiting(Action<Entry> tell)
    {
        foreach (Entry entry in _waiting.Where(e => e.Number > 0))
        {
            tell(entry);
        }

        _waiting.RemoveAll(e => e.Number > 0);
    }

    private sealed class Entry(EngineInput input, TaskCompletionSource<long> done)
    {
        public EngineInput Input { get; } = input;

        public TaskCompletionSource<long> Done { get; } = done;

        /// <summary>0 until the merge has given one.</summary>
        public long Number { get; set; }
    }
}

/// <summary>An act came when watching had stopped: it was not taken.</summary>
internal sealed class WatchingStoppedException : Exception
{
    private const string What = "Watching this bench has stopped: the act was not taken.";

    public WatchingStoppedException()
        : base(What)
    {
    }

    public WatchingStoppedException(string message)
        : base(message)
    {
    }

    public WatchingStoppedException(string message, Exception innerException)
        : base(message, innerException)
    {
    }
}
