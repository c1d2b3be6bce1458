using DriftWatch.Acquisition.Sampling;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Running;

/// <summary>What the page sees of the bench, and the door for people's acts.</summary>
internal sealed partial class RunningBench : IBenchView
{
    /// <summary>How long before a span lines are read for the states of then; what lasted longer is found all the same. Source: our own choice.</summary>
    private static readonly TimeSpan LongestRemembered = TimeSpan.FromDays(1);

    public BenchDefinition Bench => Volatile.Read(ref _loaded).Definition;

    public MachineState State => (MachineState)Volatile.Read(ref _state);

    public EngineTime Now => _clock.Now;

    public IReadOnlyList<InstrumentNotice> Instruments => _intake.Notices;

    public IReadOnlyList<FindingLine> OpenFindings => _open;

    public DriftTable Drifts => _drifts;

    public QuantityTable Quantities => _quantities;

    public IReadOnlyList<TakenBaseline> Baselines() => _reader.Baselines();

    public IReadOnlyList<ChannelNow> Channels
    {
        get
        {
            BenchDefinition bench = Bench;
            EngineTime now = _clock.Now;
            CalibrationTable calibrations = _calibrations;
            var channels = new ChannelNow[bench.Channels.Count];
            for (int i = 0; i < channels.Length; i++)
            {
                channels[i] = NowOf(bench.Channels[i], calibrations[bench.Channels[i].Key], now);
            }

            return channels;
        }
    }

    public HealthReport Health
    {
        get
        {
            EngineTime now = _clock.Now;
            EngineTime? sampled = null;
            foreach (ChannelDefinition channel in Bench.Channels)
            {
                if (_intake.Newest(channel.Key) is { } newest && (sampled is null || newest.Time > sampled))
                {
                    sampled = newest.Time;
                }
            }

            return new HealthReport(
                Sampling: sampled is { } at ? now - at : null,
                Storing: now - _pipeline.LastCommit,
                Judging: now - _pipeline.LastJudged,
                Noticing: _notices.Behind(now),
                StoreTrouble: _pipeline.StoreTrouble,
                ReadingsHeldInMemory: _intake.Held,
                LateReadings: _pipeline.Late,
                DroppedReadings: _intake.Dropped);
        }
    }

    IReadOnlyList<InstrumentHealth> IBenchView.InstrumentHealth => Running.InstrumentHealth.Of(Bench, _intake, _sampler.Tallies, _clock.Now);

    StoreHealth IBenchView.StoreHealth => new(_store.Facts(), _upkeep.LastCheck, _store.LastNumber);

    public long ToUtcNanoseconds(EngineTime time) => _anchors.ToUtcNanoseconds(time);

    public EngineTime FromUtcNanoseconds(long utcNanoseconds) => _anchors.FromUtcNanoseconds(utcNanoseconds);

    public FindingPage Findings(long afterCursor, int limit) => _findings.After(afterCursor, limit);

    public FindingPage LatestFindings(int limit) => _findings.Latest(limit);

    public IReadOnlyList<AlarmTransition> OpenAlarms => _openAlarms;

    public AlarmPage Alarms(long afterCursor, int limit) => PageOf(_reader.Alarms(afterCursor, limit), afterCursor);

    public AlarmPage LatestAlarms(int limit) => PageOf(_reader.LatestAlarms(limit), 0);

    public IReadOnlyList<AlarmTransition> AlarmsOver(long fromUtc, long toUtc) =>
        [.. _reader.AlarmsOver(fromUtc, toUtc, TimeSpan.FromDays(1)).Select(a => a.Line)];

    public IInputSource ReadAgain(long fromUtc, long toUtc) => new Reports.SpanSource(
        _options.StoreFolder, FromUtcNanoseconds(fromUtc) - WhatIfPass.Lead, FromUtcNanoseconds(toUtc));

    string? IBenchView.StoreFolder => _options.StoreFolder;

    public BenchFileResult TryBenchText(string text)
    {
        const string name = "bench.toml";
        string path = Path.Combine(Path.GetDirectoryName(_options.BenchPath) ?? "", name);
        BenchFileResult tried = BenchFile.LoadText(path, text, _options.ProfileFolders);
        IReadOnlyList<FileMistake> mistakes = tried.Bench is { } bench
            ? RecordedChannels.Check(path, bench.Definition, [.. _reader.DifferentBenches().Select(b => b.Bench)])
            : tried.Mistakes;

        // A page need not learn where files lie on this machine.
        return mistakes.Count == 0 ? tried : new BenchFileResult(null, [.. mistakes.Select(m => m.File == path ? m with { File = name } : m)]);
    }

    public IReadOnlyList<UtcStretch> Watched() => Reports.AlarmBook.WatchedIn(_reader);

    public IReadOnlyList<Bucket> History(string channel, EngineTime from, EngineTime to, int buckets)
    {
        ChannelDefinition definition = Bench.Channels.First(c => c.Id == channel);
        CalibrationTable calibrations = _calibrations;
        return EngineeringBuckets.Read(
            _reader, definition.Key, (version, at) => calibrations.Of(definition.Key, version, ToUtcNanoseconds(at)), from, to, buckets);
    }

    IReadOnlyList<IReadOnlyList<Bucket>> IBenchView.Columns(IReadOnlyList<ChannelDefinition> channels, SpanGrid grid)
    {
        CalibrationTable calibrations = _calibrations;
        IReadOnlyList<IReadOnlyList<RawBucket>> raw = _spans.Value.Read([.. channels.Select(c => c.Key)], grid, Now);
        return [.. channels.Select((c, i) => EngineeringBuckets.Of(raw[i], (version, at) => calibrations.Of(c.Key, version, ToUtcNanoseconds(at))))];
    }

    public IReadOnlyList<FindingLine> FindingsBetween(EngineTime from, EngineTime to, int most) =>
        [.. _reader.FindingsBetween(from, to, LongestRemembered, most).Select(f => f.Line)];

    public FrameNow? LatestFrame(string channel)
    {
        ChannelDefinition definition = Bench.Channels.First(c => c.Id == channel);
        if (_intake.NewestFrame(definition.Key) is not { } input)
        {
            return null;
        }

        Calibration calibration = _calibrations[definition.Key];
        Frame frame = input.Frame;
        var values = new double[frame.Count];
        for (int i = 0; i < values.Length; i++)
        {
            values[i] = calibration.Convert(frame.Values[i]);
        }

        return new FrameNow(input.Time, frame.Sequence, frame.TachAngleDegrees, values);
    }

    public Task<long> EnterAsync(Command command, CancellationToken cancel) =>
        _pipeline.EnterAsync(EngineInput.OfCommand(_clock.Now, command)).WaitAsync(cancel);

    public Calibration InForce(ChannelDefinition channel) => _calibrations[channel.Key];

    IReadOnlyList<CalibrationRow> IBenchView.Calibrations() => CalibrationHistory.Of(_reader);

    CalibrationDocument IBenchView.TryCalibration(string channel, CalibrationSheet sheet, CalibrationSigner signer) =>
        CalibrationEntry.Make(Bench, _calibrations, channel, sheet, signer, ToUtcNanoseconds(_clock.Now), out _);

    async Task<(CalibrationDocument Document, long Number)> IBenchView.CalibrateAsync(
        string channel, CalibrationSheet sheet, CalibrationSigner signer, CancellationToken cancel)
    {
        await _reloading.WaitAsync(cancel); // versions are given one after the other
        try
        {
            if (CalibrationEntry.SentAgain(Bench, _calibrations, channel, signer) is { } known)
            {
                return (known, _reader.Calibrations().LastOrDefault(c => c.Calibration.Id == known.Id)?.Number ?? 0);
            }

            EngineTime now = _clock.Now;
            CalibrationDocument document = CalibrationEntry.Make(Bench, _calibrations, channel, sheet, signer, ToUtcNanoseconds(now), out int key);
            long number = await _pipeline.EnterAsync(EngineInput.OfCalibration(now, key, document.ToCalibration()));
            return (document, number);
        }
        finally
        {
            _reloading.Release();
        }
    }

    public async Task<IReadOnlyList<string>> ReloadAsync(CancellationToken cancel)
    {
        await _reloading.WaitAsync(cancel);
        try
        {
            if (_stopped)
            {
                throw new WatchingStoppedException();
            }

            LoadedBench loaded;
            try
            {
                loaded = Load(_options, keys: null);
                if (loaded.Definition.Id != Bench.Id)
                {
                    return [$"{_options.BenchPath}: the bench is now called '{loaded.Definition.Id}', this service watches '{Bench.Id}'; restart the service, or keep the id and rename the label."];
                }

                loaded = LoadWithKeys(_options, _store, loaded);
                loaded = loaded with { Definition = _calibrations.Number(loaded.Definition) };
            }
            catch (BenchRefusedException refused)
            {
                RunningLog.ReloadRefused(_logger, refused.Message);
                return [.. refused.Mistakes.Select(m => m.ToString()!)];
            }

            try
            {
                await PutInForceAsync(loaded); // whoever asked may have gone: it is not left half done for that
            }
            finally
            {
                await PutNoticesInForceAsync(loaded);
                await PutMirrorsInForceAsync(loaded);
            }

            RunningLog.Reloaded(_logger, loaded.Definition.SourceHash);
            return [];
        }
        finally
        {
            _reloading.Release();
        }
    }

    private async Task PutInForceAsync(LoadedBench loaded)
    {
        bool linesChange = !SameLines(Bench, loaded.Definition);
        if (linesChange)
        {
            await _sampler.StopAsync(SamplerStopLimit);
            _sampler.Dispose();
        }

        _intake.SetBench(loaded.Definition);
        Task<long> entered = _pipeline.EnterAsync(EngineInput.OfBench(_clock.Now, loaded.Definition));
        Volatile.Write(ref _loaded, loaded);
        _store.SetRetention(loaded.Definition.Retention);
        try
        {
            await entered;
        }
        finally
        {
            // A store that can't write says so here; the bench is in force all the same, in memory with the readings.
            _pipeline.SetChannels(loaded.Definition.Channels.Select(c => c.Key));
            if (linesChange)
            {
                _sampler = NewSampler(loaded);
                _sampler.Start();
            }
        }
    }

    /// <summary>Only what reaches an instrument restarts the lines: a new limit or label does not interrupt sampling.</summary>
    private static bool SameLines(BenchDefinition left, BenchDefinition right) =>
        left.Instruments.SequenceEqual(right.Instruments)
        && left.Channels.Select(LineOf).SequenceEqual(right.Channels.Select(LineOf));

    private static (string, int, string?, string?, RatioDefinition?, TimeSpan, FaultRules) LineOf(ChannelDefinition channel) =>
        (channel.Id, channel.Key, channel.Instrument, channel.Input, channel.Ratio, channel.Period, channel.Faults);

    private ChannelNow NowOf(ChannelDefinition channel, Calibration calibration, EngineTime now)
    {
        if (_intake.Newest(channel.Key) is not { } newest)
        {
            return new ChannelNow(channel, null, null, null, null, null, null, null);
        }

        TimeSpan age = now > newest.Time ? now - newest.Time : TimeSpan.Zero;
        if (newest.Kind == InputKind.Frame)
        {
            double least = double.MaxValue;
            double greatest = double.MinValue;
            foreach (double raw in newest.Frame.Values)
            {
                double value = calibration.Convert(raw);
                least = Math.Min(least, value);
                greatest = Math.Max(greatest, value);
            }

            double worst = Math.Max(Math.Abs(least), Math.Abs(greatest));
            return new ChannelNow(channel, worst, least, greatest, null, null, newest.Time, age);
        }

        Reading reading = newest.Reading;
        if (reading.IsFault)
        {
            return new ChannelNow(channel, null, null, null, null, reading.Fault, newest.Time, age);
        }

        double low = calibration.Convert(reading.Minimum);
        double high = calibration.Convert(reading.Maximum);
        return new ChannelNow(
            channel, calibration.Convert(reading.Raw), Math.Min(low, high), Math.Max(low, high), reading.Raw, null, newest.Time, age);
    }

    private static AlarmPage PageOf(IReadOnlyList<StoredAlarm> stored, long cursor) =>
        new([.. stored.Select(a => new AlarmRow(a.Cursor, a.Line))], stored.Count == 0 ? cursor : stored[^1].Cursor);
}
