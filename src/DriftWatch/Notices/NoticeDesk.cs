using System.Data.Common;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Planning;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Notices;

/// <summary>What a desk needs of the bench it serves.</summary>
internal sealed record NoticeDeskOptions
{
    /// <summary>Engine time: waits and rates never hang on the wall clock.</summary>
    public required Func<EngineTime> Now { get; init; }

    /// <summary>Why the store takes nothing; null while it does.</summary>
    public required Func<string?> StoreTrouble { get; init; }

    /// <summary>For UTC, the local time of quiet hours, and time limits.</summary>
    public TimeProvider TimeProvider { get; init; } = TimeProvider.System;

    public required ILogger Logger { get; init; }

    /// <summary>Makes a route; a test makes its own.</summary>
    public Func<RouteSettings, INoticeRoute>? MakeRoute { get; init; }

    /// <summary>0 to 1, for the jitter of waits.</summary>
    public Func<double> Jitter { get; init; } = Random.Shared.NextDouble;
}

/// <summary>
/// Takes lines from the book of alarms to whoever should know. Each turn reads what is new in the book, lets the plans of
/// the routes make rows of it, stores rows and place in the book in one transaction, and only then sends. Each route has at most one
/// on its way, so its order holds and a slow one holds nobody else up.
/// <para>
/// A crash between sending and marking sends that one again, with the same id. What has failed stays in the outbox.
/// </para>
/// One turn at a time; <see cref="Wake"/> and the reports are safe from any thread.
/// </summary>
internal sealed partial class NoticeDesk : IAsyncDisposable
{
    private const int LinesATurn = 2000;
    private const int LatestRows = 200;

    /// <summary>How long notices that ended are kept. Source: common practice, no source.</summary>
    private static readonly TimeSpan KeptFor = TimeSpan.FromDays(90);
    private static readonly TimeSpan PruneEvery = TimeSpan.FromHours(6);
    private static readonly TimeSpan TurnEvery = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan CheckEvery = TimeSpan.FromDays(1);
    private static readonly TimeSpan LandingTime = TimeSpan.FromMilliseconds(700);

    private readonly BenchStore _store;
    private readonly BenchReader _book;
    private readonly NoticeDeskOptions _options;
    private readonly SemaphoreSlim _wake = new(0, 1);
    private readonly CancellationTokenSource _stopTurning = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly List<NoticeChange> _changes = [];
    private volatile IReadOnlyList<NoticeLane> _lanes = [];
    private (BenchDefinition Bench, NoticeSettings Settings)? _next;
    private NoticeWriter _writer = new("", "");
    private Task _running = Task.CompletedTask;
    private Task _checks = Task.CompletedTask;
    private NoticeSettings? _checked;
    private EngineTime _checkedAt;
    private long _cursor;
    private bool _cursorMoved;
    private bool _isReady;
    private bool _hasFailed;
    private string? _outboxTrouble;
    private EngineTime? _lastGoodTurn;
    private EngineTime _prunedAt = EngineTime.MinValue;

    public NoticeDesk(BenchStore store, NoticeDeskOptions options)
    {
        _store = store;
        _options = options;
        _cursor = store.NoticeCursor(); // before anything is judged, so that the first line of a new bench is told
        _book = store.OpenReader();
    }

    /// <summary>The settings in force, for the page.</summary>
    public NoticeSettings Settings { get; private set; } = NoticeSettings.None;

    public IReadOnlyList<NoticeLane> Lanes => _lanes;

    /// <summary>Puts a bench file's notices in force, with the next turn.</summary>
    public void Use(BenchDefinition bench, NoticeSettings settings)
    {
        lock (_wake)
        {
            _next = (bench, settings);
        }

        Wake();
    }

    public void Start()
    {
        _running = Task.Run(RunAsync);
        Wake();
    }

    /// <summary>There may be something to do; costs nothing.</summary>
    public void Wake()
    {
        try
        {
            if (_wake.CurrentCount == 0)
            {
                _wake.Release();
            }
        }
        catch (Exception exception) when (exception is SemaphoreFullException or ObjectDisposedException)
        {
            // Somebody else woke it, or it has stopped.
        }
    }

    /// <summary>
    /// How far noticing is behind: since its last turn, or for as long as the oldest notice waits on a route that fails. Null where
    /// the bench has no routes.
    /// </summary>
    public TimeSpan? Behind(EngineTime now)
    {
        IReadOnlyList<NoticeLane> lanes = _lanes;
        if (lanes.Count == 0)
        {
            return null;
        }

        TimeSpan behind = _lastGoodTurn is { } last && now > last ? now - last : TimeSpan.Zero;
        TimeSpan worst = TimeSpan.FromTicks(lanes.Max(l => Interlocked.Read(ref l.BehindTicks)));
        return worst > behind ? worst : behind;
    }

    public async ValueTask DisposeAsync()
    {
        await _stopTurning.CancelAsync();
        await _running;

        // What is on its way gets a moment to land: cut off, it would have to go again, though its far end may have it.
        Task[] flying = [.. _lanes.Select(l => l.Flying).OfType<Task>(), _checks];
        await Task.WhenAny(Task.WhenAll(flying), Task.Delay(LandingTime, TimeProvider.System));
        await _stop.CancelAsync();
        LandLast();
        Task[] ends = [.. _lanes.Select(l => l.Route.DisposeAsync().AsTask())];
        await Task.WhenAny(Task.WhenAll(ends), Task.Delay(LandingTime, TimeProvider.System)); // a broker that hangs keeps nobody from stopping

        _book.Dispose();
        _wake.Dispose();
        _stopTurning.Dispose();
        _stop.Dispose();
    }

    /// <summary>One turn. A test calls it itself; else it runs each second and whenever it is woken.</summary>
    internal void Turn()
    {
        EngineTime now = _options.Now();
        long utc = UtcText.ToNanoseconds(_options.TimeProvider.GetUtcNow());
        TimeOnly local = TimeOnly.FromDateTime(_options.TimeProvider.GetLocalNow().DateTime);
        try
        {
            Ready(now, utc, local);
            if (_isReady)
            {
                Land(now, utc);
            }

            WatchStore(now);
            GatherUnstored(now, local, utc);
            if (_isReady && !IsEarlyFlying)
            {
                ReadBook(now, local);
                foreach (NoticeLane lane in _lanes)
                {
                    lane.Plan?.Turn(now, local, _changes);
                }

                if (!IsChanging)
                {
                    Choose(now, local);
                }

                Commit();
                SendChosen();
                Prune(now, utc);
            }

            _lastGoodTurn = now;
            if (_outboxTrouble is not null)
            {
                _outboxTrouble = null;
                NoticeLog.OutboxRecovered(_options.Logger);
            }
        }
        catch (Exception exception) when (exception is StoreException or DbException)
        {
            if (_outboxTrouble is null)
            {
                NoticeLog.OutboxFailing(_options.Logger, exception.Message);
            }

            _outboxTrouble = exception.Message;
            TakeBackChosen();
        }

        if (!IsChanging)
        {
            SendEarly(now);
        }

        ShowLamps(now, local);
        foreach (NoticeLane lane in _lanes)
        {
            Interlocked.Exchange(ref lane.BehindTicks, lane.Plan?.Behind(now, local).Ticks ?? 0);
        }
    }

    private async Task RunAsync()
    {
        using ITimer turns = _options.TimeProvider.CreateTimer(_ => Wake(), null, TurnEvery, TurnEvery);
        while (!_stopTurning.IsCancellationRequested)
        {
            try
            {
                await _wake.WaitAsync(_stopTurning.Token);
                Turn();
                CheckIfDue();
            }
            catch (OperationCanceledException)
            {
                // Told to stop.
            }
#pragma warning disable CA1031 // the last line of defence: watching goes on, and the plans are made anew from the outbox
            catch (Exception exception)
#pragma warning restore CA1031
            {
                NoticeLog.DeskFailed(_options.Logger, exception, _writer.Bench);
                lock (_wake)
                {
                    _next ??= _bench is null ? null : (_bench, Settings);
                }

                _hasFailed = true;
                _isReady = false;
            }
        }
    }

    /// <summary>Other settings wait for what is on its way by the old ones; nothing new goes out until they are in force, or a busy bench would never take them.</summary>
    private bool IsChanging
    {
        get
        {
            lock (_wake)
            {
                return _isReady && _next is not null;
            }
        }
    }

    /// <summary>Looks at the routes when settings came into force and daily: a certificate that runs out in its third month is told before.</summary>
    private void CheckIfDue()
    {
        if (_isReady && _checks.IsCompleted && (_checked != Settings || _options.Now() - _checkedAt >= CheckEvery))
        {
            _checked = Settings;
            _checkedAt = _options.Now();
            _checks = CheckAsync(_stop.Token);
        }
    }

    /// <summary>Reads where the outbox stands, the first time and whenever other settings came into force.</summary>
    private void Ready(EngineTime now, long utc, TimeOnly local)
    {
        (BenchDefinition Bench, NoticeSettings Settings)? next;
        lock (_wake)
        {
            next = _next;
        }

        if (_isReady && next is null)
        {
            return;
        }

        if (next is null || _lanes.Any(l => l.Flying is { IsCompleted: false }))
        {
            return; // what is on its way comes back first; until then the old settings hold
        }

        if (_hasFailed)
        {
            _changes.Clear(); // what they say may be half of something; the outbox is whole
            _cursorMoved = false;
            _hasFailed = false;
        }
        else
        {
            Land(now, utc);
            Commit();
        }

        _chosen.Clear();
        if (!_isReady)
        {
            _cursor = _store.NoticeCursor();
            _unanswered.Clear();
            foreach (AlarmTransition line in _store.UnansweredAlarms(_cursor))
            {
                Note(line);
            }
        }

        UseNow(next.Value.Bench, next.Value.Settings, now, utc, local);
        lock (_wake)
        {
            _next = _next == next ? null : _next;
        }

        _isReady = true;
    }

    private void ReadBook(EngineTime now, TimeOnly local)
    {
        while (true)
        {
            IReadOnlyList<StoredAlarm> lines = _book.Alarms(_cursor, LinesATurn);
            foreach (StoredAlarm stored in lines)
            {
                Note(stored.Line);
                foreach (NoticeLane lane in _lanes)
                {
                    Give(lane, stored.Line, now, local);
                }

                _cursor = stored.Cursor;
                _cursorMoved = true;
            }

            if (lines.Count < LinesATurn)
            {
                return;
            }

            foreach (NoticeLane lane in _lanes)
            {
                lane.Plan?.Turn(now, local, _changes);
            }

            Commit(); // so that what waits in memory stays small
        }
    }

    private void Commit()
    {
        if (_changes.Count == 0 && !_cursorMoved)
        {
            return;
        }

        _store.CommitNotices(_cursorMoved ? _cursor : null, Coalesce(_changes));
        _changes.Clear();
        _cursorMoved = false;
    }

    /// <summary>Of several puts of one row in a batch only the last matters; a removal stays where it is.</summary>
    internal static List<NoticeChange> Coalesce(List<NoticeChange> changes)
    {
        var places = new Dictionary<(string, string), int>();
        var kept = new List<NoticeChange>(changes.Count);
        foreach (NoticeChange change in changes)
        {
            (string, string) row = (change.Row.Route, change.Row.Key);
            if (!change.IsRemoval && places.TryGetValue(row, out int at) && !kept[at].IsRemoval)
            {
                kept[at] = change;
                continue;
            }

            places[row] = kept.Count;
            kept.Add(change);
        }

        return kept;
    }

    private void Prune(EngineTime now, long utc)
    {
        if (_prunedAt == EngineTime.MinValue || now - _prunedAt >= PruneEvery)
        {
            _store.PruneNotices(utc - (KeptFor.Ticks * TimeSpan.NanosecondsPerTick));
            _prunedAt = now;
        }
    }
}
