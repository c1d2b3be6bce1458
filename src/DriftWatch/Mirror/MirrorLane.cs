using System.Data.Common;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage;

namespace DriftWatch.Mirror;

/// <summary>
/// Keeps one server level with one bench's store, for ever, behind it: what is new goes first and once a second, what is older as fast as the
/// server takes it. Nothing waits for it: it reads on connections of its own and writes nothing but how far the server has come.
/// </summary>
internal sealed partial class MirrorLane : IAsyncDisposable
{
    /// <summary>Lines at once. Measured: servers take no more a second in larger batches.</summary>
    public const int MostLines = 10_000;

    private const int FewestLines = 100;

    /// <summary>What is new and older than this becomes older: what happens now is shown first.</summary>
    private static readonly TimeSpan LeapBehind = TimeSpan.FromMinutes(5);
    private static readonly TimeSpan NewestEvery = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan SaveEvery = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan LongestWait = TimeSpan.FromSeconds(60);

    private readonly BenchStore _store;
    private readonly MirrorSettings _settings;
    private readonly MirrorLaneOptions _options;
    private readonly TimeProvider _time;
    private readonly MirrorBook _book;
    private readonly EventTrail[] _events;
    private readonly (string Name, string? Value)[] _tags;
    private readonly LogCursor _newest;
    private readonly LogCursor _older;
    private readonly CountBook _counts = new(TimeSpan.FromMinutes(5));
    private readonly CountBook _olderCounts = new(TimeSpan.FromMinutes(15));
    private Outbox? _loaded;
    private readonly CancellationTokenSource _stop = new();
    private readonly long _startStamp;
    private MirrorConnection? _way;
    private Task _work = Task.CompletedTask;
    private Task<Batch?>? _prepared;
    private int _mostLines = MostLines;
    private int _failures;
    private TimeSpan _newestDue;
    private TimeSpan _saveDue;
    private TimeSpan _waitUntil;
    private long _olderStretch = -1;
    private bool _olderIsOpen; // the last means of older readings are complete with what is still to come
    private volatile MirrorReport _report;

    public MirrorLane(BenchStore store, string bench, MirrorSettings settings, MirrorLaneOptions options)
    {
        _store = store;
        _settings = settings;
        _options = options;
        _time = options.TimeProvider;
        _startStamp = _time.GetTimestamp();
        Bench = bench;
        string log = settings.Detail == MirrorDetail.Reading ? settings.Id : $"{settings.Id}/{Slugs.Of(settings.Detail)}"; // another detail is sent from the beginning
        _book = new MirrorBook(store, log, () => store.LastNumber);
        _events = [.. Enum.GetValues<EventKind>().Select(kind => new EventTrail(store, bench, settings.Id, kind))];
        _tags = [("site", settings.Site)];
        _newest = new LogCursor(store.Folder, Lines);
        _older = new LogCursor(store.Folder, Lines);
        _report = new MirrorReport { Settings = settings, State = MirrorState.CatchingUp };
    }

    public string Bench { get; }

    public MirrorReport Report => _report;

    public void Start() => _work = Task.Run(RunAsync);

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _work;
        if (_prepared is not null)
        {
            await Task.WhenAny(_prepared); // it uses the cursor that goes next
        }

        if (_count is { } asked)
        {
            await Task.WhenAny(asked.Found); // it uses the connection that goes next
        }

        foreach (EventTrail trail in _events)
        {
            trail.Dispose();
        }

        _newest.Dispose();
        _older.Dispose();
        _way?.Dispose();
        _stop.Dispose();
    }

    /// <summary>Loaded by the first turn.</summary>
    private Outbox Outbox => _loaded!;

    private TimeSpan Elapsed => _time.GetElapsedTime(_startStamp);

    private long NowUtc => (_time.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * TimeSpan.NanosecondsPerTick;

    private async Task RunAsync()
    {
        while (!_stop.IsCancellationRequested)
        {
            TimeSpan wait;
            try
            {
                wait = await TurnAsync();
            }
            catch (OperationCanceledException) when (_stop.IsCancellationRequested)
            {
                break;
            }
            catch (SecretException exception)
            {
                wait = Hold(exception.Message, exception.Remedy);
            }
            catch (Exception exception) when (exception is StoreException or DbException or IOException)
            {
                wait = Hold($"the store can't be used: {exception.Message}", "look at the store first; the mirror goes on when it can be read and written");
            }
#pragma warning disable CA1031 // the last line of defence: whatever it is, it is logged and told, and the mirror goes on
            catch (Exception exception)
#pragma warning restore CA1031
            {
                MirrorLog.Failed(_options.Logger, exception, _settings.Id);
                wait = Hold($"the mirror failed: {exception.Message}", "look at the service's log; it is tried again, and nothing is lost");
            }

            wait = wait > TimeSpan.Zero ? wait : TimeSpan.Zero; // time went on while it was worked out; a millisecond less than nothing is for ever
            await Task.Delay(wait, _time, _stop.Token).ContinueWith(_ => { }, TaskScheduler.Default);
        }

        try
        {
            Save();
        }
        catch (StoreException exception)
        {
            MirrorLog.NotSaved(_options.Logger, _settings.Id, exception.Message); // sent again at the next start
        }
    }

    /// <summary>One batch at most of each kind.</summary>
    /// <returns>How long to wait for the next turn.</returns>
    private async Task<TimeSpan> TurnAsync()
    {
        if (_loaded is null)
        {
            _loaded = new Outbox(_book.Load(_settings.SendsPast));
            MirrorLog.Begins(_options.Logger, _settings.Id, _loaded.OlderInputs);
        }

        SaveIfDue();
        if (Elapsed < _waitUntil)
        {
            return Least(_waitUntil - Elapsed, NewestEvery);
        }

        if (_way is null && !TryOpen())
        {
            return NewestEvery;
        }

        bool sent = false;
        if (Elapsed >= _newestDue)
        {
            _newestDue = Elapsed + NewestEvery;
            sent = await SendNewestAsync();
            sent |= Elapsed >= _waitUntil && await SendEventsAsync();
        }

        if (Elapsed >= _waitUntil && Outbox.Next is { } stretch)
        {
            sent |= await SendOlderAsync(stretch);
        }

        if (Elapsed >= _waitUntil)
        {
            await CompareAsync();
        }

        Tell();
        return sent ? TimeSpan.Zero : Least(_newestDue > Elapsed ? _newestDue - Elapsed : TimeSpan.Zero, NewestEvery);
    }

    private async Task<bool> SendNewestAsync()
    {
        if (_newest.Read(Outbox.Newest, long.MaxValue, _mostLines, (number, utc) => _counts.Note(number, utc, Elapsed), what => Follow(_counts, what)) is not { } batch)
        {
            _behind = TimeSpan.Zero;
            return false;
        }

        TimeSpan behind = batch.Lines > 0 ? TimeSpan.FromMilliseconds((NowUtc / EngineTime.NanosecondsPerMillisecond) - batch.FirstUtcMilliseconds) : TimeSpan.Zero;
        if (behind > LeapBehind)
        {
            Outbox.Leap(_store.LastNumber, Elapsed);
            _behind = TimeSpan.Zero; // what is new begins now
            _counts.Turn(isWhole: false);
            return true;
        }

        _behind = behind;
        if (batch.Lines == 0 || await SendAsync(batch))
        {
            Outbox.Took(batch.Through, Elapsed);
            _behind = batch.Lines >= _mostLines ? behind : TimeSpan.Zero;
            return batch.Lines >= _mostLines;
        }

        return false;
    }

    private async Task<bool> SendOlderAsync(Stretch stretch)
    {
        if (stretch.Through != _olderStretch)
        {
            if (Interlocked.Exchange(ref _prepared, null) is { } before)
            {
                await before; // of the stretch before
            }

            _olderCounts.Turn(isWhole: false);
            _olderStretch = stretch.Through;
        }

        Batch? batch = Interlocked.Exchange(ref _prepared, null) is { } prepared ? await prepared : null;
        if (batch is null || batch.After != stretch.After || batch.Through > stretch.Through)
        {
            batch = ReadOlder(stretch);
        }

        _olderIsOpen = batch is null && _older.IsWaiting;
        if (_olderIsOpen)
        {
            return false; // its last means are complete with what is still to come
        }

        if (batch is null)
        {
            Outbox.TookOlder(stretch.Through, Elapsed); // the log has nothing there any more
            _olderCounts.End(Elapsed);
            return true;
        }

        // The next is made while this one is on its way.
        var rest = new Stretch(batch.Through, stretch.Through);
        _prepared = rest.IsDone ? null : Task.Run(() => ReadOlder(rest));
        if (batch.Lines == 0 || await SendAsync(batch))
        {
            Outbox.TookOlder(batch.Through, Elapsed);
            if (rest.IsDone)
            {
                _olderCounts.End(Elapsed);
            }

            return true;
        }

        return false;
    }

    private ILogLines Lines(bool isWhole) => _settings.Detail switch
    {
        MirrorDetail.Second => new MeanLines("driftwatch_second", TimeSpan.FromSeconds(1), isWhole, _tags),
        MirrorDetail.Minute => new MeanLines("driftwatch_minute", TimeSpan.FromMinutes(1), isWhole, _tags),
        _ => new ReadingLines(_tags),
    };

    private Batch? ReadOlder(Stretch stretch) =>
        _older.Read(stretch.After, stretch.Through, _mostLines, (number, utc) => _olderCounts.Note(number, utc, Elapsed), what => Follow(_olderCounts, what));

    private static void Follow(CountBook counts, ClockEventKind what)
    {
        if (what is ClockEventKind.WallStep or ClockEventKind.Started)
        {
            counts.Turn(isWhole: what == ClockEventKind.Started); // instants may come twice
        }
    }

    private void SaveIfDue()
    {
        if (Elapsed >= _saveDue)
        {
            _saveDue = Elapsed + SaveEvery;
            Save();
        }
    }

    private void Save()
    {
        if (_loaded is not null)
        {
            _loaded.Settle(Elapsed);
            _book.Save(_loaded.Safe);
            foreach (EventTrail trail in _events)
            {
                trail.Save(Elapsed);
            }
        }
    }

    private static TimeSpan Least(TimeSpan one, TimeSpan other) => one < other ? one : other;
}

/// <summary>What a lane is given by whoever runs it.</summary>
internal sealed record MirrorLaneOptions
{
    public required TimeProvider TimeProvider { get; init; }

    public required ILogger Logger { get; init; }

    /// <summary>How the bench stands now; null says nothing.</summary>
    public Func<BenchStanding?> Standing { get; init; } = () => null;

    /// <summary>Enters what is to be said of the mirror among the bench's inputs.</summary>
    public Action<Command> Say { get; init; } = _ => { };

    /// <summary>By what the mirror of an id is said, and judged, to fail; null where it is not.</summary>
    public Func<string, string?> SaidTrouble { get; init; } = _ => null;

    /// <summary>Opens the connection to the server; the place of a test's own.</summary>
    public Func<MirrorSettings, HttpMessageHandler>? Handler { get; init; }
}
