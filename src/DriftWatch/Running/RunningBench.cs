using DriftWatch.Acquisition.Sampling;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Alive;
using DriftWatch.Storage;
using DriftWatch.Watch;

namespace DriftWatch.Running;

/// <summary>How one bench is to be run.</summary>
internal sealed record RunningBenchOptions
{
    public required string BenchPath { get; init; }

    public required string StoreFolder { get; init; }

    public required IReadOnlyList<string> ProfileFolders { get; init; }

    /// <summary>
    /// Most readings held in memory while the store can't write, about 75 bytes each. Default 600,000: an hour of 16
    /// channels at 10 Hz in 45 MB.
    /// </summary>
    public int HeldReadingsBound { get; init; } = 600_000;

    public TimeProvider TimeProvider { get; init; } = TimeProvider.System;
}

/// <summary>
/// One bench under watch: its store, its lines, its clock watcher and the thread of its pipeline. Nothing here is shared
/// with another bench of the same process.
/// </summary>
internal sealed partial class RunningBench : IAsyncDisposable
{
    private static readonly TimeSpan Turn = TimeSpan.FromMilliseconds(40);
    private static readonly TimeSpan SamplerStopLimit = TimeSpan.FromMilliseconds(1200);
    private static readonly TimeSpan DriftsEvery = TimeSpan.FromMinutes(1); // as often as the judge looks
    private static readonly TimeSpan QuantitiesEvery = TimeSpan.FromSeconds(1); // as fast as a person reads them
    private static readonly TimeSpan ReloadLimit = TimeSpan.FromSeconds(3);

    private readonly RunningBenchOptions _options;
    private readonly ILoggerFactory _loggers;
    private readonly ILogger _logger;
    private readonly BenchStore _store;
    private readonly Storage.Queries.BenchReader _reader;
    private readonly Lazy<SpanReader> _spans;
    private readonly ReadingIntake _intake;
    private readonly EngineClock _clock;
    private readonly WatchEngine _engine;
    private readonly BenchPipeline _pipeline;
    private readonly FindingTail _findings;
    private readonly BenchMetrics _metrics;
    private readonly ManualResetEventSlim _stop = new();
    private readonly SemaphoreSlim _reloading = new(1, 1);
    private readonly Thread _thread;
    private readonly StoreUpkeep _upkeep;
    private readonly NoticeDesk _notices;
    private Heartbeat? _heartbeat;
    private ClockWatcher? _clockWatcher;
    private BenchSampler _sampler;
    private LoadedBench _loaded;
    private volatile AnchorTable _anchors;
    private volatile CalibrationTable _calibrations;
    private volatile IReadOnlyList<FindingLine> _open = [];
    private volatile IReadOnlyList<AlarmTransition> _openAlarms = [];
    private volatile DriftTable _drifts = DriftTable.Empty;
    private volatile QuantityTable _quantities = QuantityTable.Empty;
    private volatile bool _stopped;
    private long _startedInput;
    private int _state;

    private RunningBench(RunningBenchOptions options, BenchStore store, LoadedBench loaded, ILoggerFactory loggers)
    {
        _options = options;
        _loggers = loggers;
        _logger = loggers.CreateLogger("DriftWatch.Bench");
        _store = store;
        _engine = EngineStart.CatchUp(store, _logger);
        _reader = store.OpenReader();
        _spans = new Lazy<SpanReader>(() => new SpanReader(store.OpenReader));
        CalibrationTable known = CalibrationTable.Of(_reader);
        loaded = loaded with { Definition = known.Number(loaded.Definition) };
        _loaded = loaded;
        _findings = new FindingTail(_reader);
        _transfers = NewTransferDesk();
        _intake = new ReadingIntake(options.HeldReadingsBound, () => _clock!.Now);
        _intake.SetBench(loaded.Definition);
        _anchors = CopyOf(store.Anchors);
        _calibrations = known.WithBench(loaded.Definition);
        _clock = new EngineClock(options.TimeProvider, EngineStart.TimeOf(store, options.TimeProvider));
        _pipeline = new BenchPipeline(store, _engine, _intake, _clock, loaded.Definition.LatenessBound, _logger)
        {
            Judged = OnJudged,
            Told = OnTold,
            Unstored = OnUnstored,
            Committed = (inputs, took) => _metrics!.Committed(inputs, took),
        };
        _pipeline.SetChannels(loaded.Definition.Channels.Select(c => c.Key));
        _metrics = new BenchMetrics(loaded.Definition.Id, this);
        _sampler = NewSampler(loaded);
        _open = NewestFirst(_engine);
        _openAlarms = [.. _engine.OpenAlarms];
        _state = (int)_engine.State;
        _thread = new Thread(RunPipeline) { Name = "pipeline " + loaded.Definition.Id, IsBackground = true };
        _upkeep = new StoreUpkeep(store, options.TimeProvider, _logger);
        _mirrors = NewMirrorDesk();
        _notices = new NoticeDesk(store, new NoticeDeskOptions
        {
            Now = () => _clock.Now,
            StoreTrouble = () => _pipeline.StoreTrouble,
            TimeProvider = options.TimeProvider,
            Logger = loggers.CreateLogger("DriftWatch.Notices"),
        });
        _notices.Use(loaded.Definition, loaded.Notices);
    }

    /// <summary>Called once, from the pipeline's thread, when it can't go on.</summary>
    public Action? Failed { get; set; }

    public BenchStore Store => _store;

    /// <summary>Loads the bench file, opens the store, catches judgement up and begins to sample.</summary>
    /// <exception cref="BenchRefusedException">The bench file has mistakes; all are in the message.</exception>
    /// <exception cref="StoreException">The store can't be opened.</exception>
    public static RunningBench Start(RunningBenchOptions options, ILoggerFactory loggers)
    {
        LoadedBench first = Load(options, keys: null);
        BenchStore store = BenchStore.Open(options.StoreFolder, new BenchStoreOptions
        {
            TimeProvider = options.TimeProvider,
            Logger = loggers.CreateLogger("DriftWatch.Store"),
            Retention = first.Definition.Retention,
        });
        try
        {
            var bench = new RunningBench(options, store, LoadWithKeys(options, store, first), loggers);
            bench.Begin();
            return bench;
        }
        catch
        {
            store.Dispose();
            throw;
        }
    }

    /// <summary>Stops the lines, stores everything that was read, says that it was stopped on purpose, and closes.</summary>
    public async Task StopAsync()
    {
        if (_stopped)
        {
            return;
        }

        _stopped = true;
        _clockWatcher?.Dispose();
        bool alone = await _reloading.WaitAsync(ReloadLimit); // a reload under way first gives the lines back
        await _sampler.StopAsync(SamplerStopLimit);
        if (alone)
        {
            _reloading.Release(); // those who waited are told that watching has stopped
        }

        TimeAnchor anchor = _clock.ReadAnchor();
        _ = _pipeline.EnterAsync(EngineInput.OfClock(anchor.Engine, new ClockEvent(ClockEventKind.Stopped, anchor)));
        _stop.Set();
        await Task.Run(() => _thread.Join());
        await Task.Run(_upkeep.Dispose);
        await _mirrors.DisposeAsync(); // while the store still takes how far they came
        await _notices.DisposeAsync();
        if (_heartbeat is not null)
        {
            await _heartbeat.DisposeAsync();
        }

        RunningLog.Stopped(_logger, Bench.Id, _store.LastNumber);
    }

    public async ValueTask DisposeAsync()
    {
        await StopAsync();
        _sampler.Dispose();
        _metrics.Dispose();
        _transfers.Dispose();
        _reader.Dispose();
        if (_spans.IsValueCreated)
        {
            _spans.Value.Dispose();
        }

        _store.Dispose();
        _stop.Dispose();
        _reloading.Dispose();
    }

    private static LoadedBench Load(RunningBenchOptions options, IReadOnlyDictionary<string, int>? keys)
    {
        BenchFileResult result = BenchFile.Load(options.BenchPath, options.ProfileFolders, keys);
        return result.Bench ?? throw new BenchRefusedException(result.Mistakes);
    }

    /// <summary>
    /// Gives every channel its key in this folder, then loads with those keys: the one it has, under this id or a former
    /// one, so that a renamed channel keeps its past; else a new one.
    /// </summary>
    private static LoadedBench LoadWithKeys(RunningBenchOptions options, BenchStore store, LoadedBench loaded)
    {
        var known = new Dictionary<string, int>(store.ChannelKeys, StringComparer.Ordinal);
        foreach (Measurement.Channels.ChannelDefinition channel in store.CurrentBench?.Channels ?? [])
        {
            known.TryAdd(channel.Id, channel.Key); // the folder knows a renamed channel by its first id
        }

        foreach (Measurement.Channels.ChannelDefinition channel in loaded.Definition.Channels)
        {
            if (!known.ContainsKey(channel.Id) && !channel.Aliases.Any(known.ContainsKey))
            {
                known.Add(channel.Id, store.KeyFor(channel.Id));
            }
        }

        return Load(options, known);
    }

    private static AnchorTable CopyOf(AnchorTable table)
    {
        var copy = new AnchorTable();
        foreach (TimeAnchor anchor in table.Anchors)
        {
            copy.Add(anchor);
        }

        return copy;
    }

    private void Begin()
    {
        TimeAnchor anchor = _pipeline.StartedAt;
        var anchors = CopyOf(_anchors);
        anchors.Add(anchor);
        _anchors = anchors;
        _pipeline.Begin(_loaded.Definition);
        _startedInput = _store.LastNumber + 1;
        _thread.Start();
        _upkeep.Start();
        _sampler.Start();
        _notices.Start();
        BeginHeartbeat(_loaded);
        _ = PutMirrorsInForceAsync(_loaded);
        _clockWatcher = new ClockWatcher(_clock, anchor, EnterClockEvent, SuspendTime.Source);
        _clockWatcher.Start();
        RunningLog.Watching(
            _logger, Bench.Id, Bench.Channels.Count, Bench.Instruments.Count, Path.GetFullPath(_options.StoreFolder));
    }

    private static IReadOnlyList<FindingLine> NewestFirst(WatchEngine engine) =>
        [.. engine.OpenFindings.OrderByDescending(l => l.RaisedAt).ThenBy(l => l.Id, StringComparer.Ordinal)];

    private BenchSampler NewSampler(LoadedBench loaded) =>
        new(loaded.Definition, loaded.Profiles, _clock, _intake, _loggers);

    private void EnterClockEvent(ClockEvent clockEvent) =>
        _ = _pipeline.EnterAsync(EngineInput.OfClock(clockEvent.Anchor.Engine, clockEvent));

    private void RunPipeline()
    {
        try
        {
            while (!_stop.Wait(Turn))
            {
                _pipeline.Step();
            }

            _pipeline.Step(final: true);
        }
#pragma warning disable CA1031 // the last line of defence: whatever it is, it is logged and the process stops
        catch (Exception exception)
#pragma warning restore CA1031
        {
            RunningLog.PipelineFailed(_logger, exception, Bench.Id);
            Failed?.Invoke();
        }
        finally
        {
            _pipeline.Close();
        }
    }

    private void OnJudged(EngineInput input)
    {
        switch (input.Kind)
        {
            case InputKind.Clock when input.Number > _startedInput:
                AnchorTable anchors = CopyOf(_anchors);
                anchors.Add(input.ClockEvent.Anchor);
                _anchors = anchors;
                break;
            case InputKind.Bench or InputKind.Calibration:
                _calibrations = _calibrations.After(input);
                break;
            case InputKind.Tick:
                OnJudgedTick(input.Time);
                break;
        }

        Volatile.Write(ref _state, (int)_engine.State);
    }

    private void OnJudgedTick(EngineTime time)
    {
        if (_drifts.At is not { } drifts || time - drifts >= DriftsEvery)
        {
            _drifts = new DriftTable(time, _engine.Drifts);
        }

        if (_quantities.At is not { } quantities || time - quantities >= QuantitiesEvery)
        {
            _quantities = new QuantityTable(time, _engine.Quantities);
        }

        WatchForRuns(time);
    }

    /// <summary>What judging says while the store takes nothing is shown and told from memory; the book has it once it is stored.</summary>
    private void OnUnstored(IReadOnlyList<AlarmTransition> alarms)
    {
        _open = NewestFirst(_engine);
        _openAlarms = [.. _engine.OpenAlarms];
        _notices.Hold(alarms);
    }

    private void OnTold(IReadOnlyList<FindingLine> lines, IReadOnlyList<AlarmTransition> alarms)
    {
        _open = NewestFirst(_engine);
        _openAlarms = [.. _engine.OpenAlarms];
        _findings.Refresh();
        _metrics.Told(lines);
        _notices.Hold([]);
        foreach (FindingLine line in lines.Where(l => l.Phase == FindingPhase.Raised && l.Severity != Measurement.Channels.Severity.Note))
        {
            RunningLog.Found(_logger, Measurement.Channels.Slugs.Of(line.Severity), line.Text);
        }
    }
}

/// <summary>The bench file is wrong; the message lists every mistake, one a line.</summary>
public sealed class BenchRefusedException : Exception
{
    public BenchRefusedException(IReadOnlyList<FileMistake> mistakes)
        : base(string.Join(Environment.NewLine, mistakes)) => Mistakes = mistakes;

    public BenchRefusedException() => Mistakes = [];

    public BenchRefusedException(string message)
        : base(message) => Mistakes = [];

    public BenchRefusedException(string message, Exception innerException)
        : base(message, innerException) => Mistakes = [];

    public IReadOnlyList<FileMistake> Mistakes { get; }
}
