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
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage.Queries;
using DriftWatch.Transfers;
using DriftWatch.Watch.Alarms.Health;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Web;

/// <summary>A store that nobody writes to, as the page sees it: what was recorded, at an instant of the test's choice. Nothing of it is made up.</summary>
internal sealed class StoredView : IBenchView, IDisposable
{
    private readonly string _folder;
    private readonly BenchReader _reader;
    private readonly SpanReader _spans;
    private readonly AnchorTable _anchors;
    private readonly CalibrationTable _calibrations;
    private readonly TransferDesk _transfers;

    /// <param name="folder">The store.</param>
    /// <param name="now">The instant at which it is looked at; null: right after the last reading.</param>
    /// <param name="time">What the book of transfers takes for now; null: the wall clock.</param>
    public StoredView(string folder, EngineTime? now = null, TimeProvider? time = null)
    {
        _folder = folder;
        _reader = new BenchReader(folder);
        _spans = new SpanReader(() => new BenchReader(folder));
        _anchors = _reader.ReadAnchors();
        Bench = _reader.DifferentBenches()[^1].Bench;
        _calibrations = CalibrationTable.Of(_reader).WithBench(Bench);
        _transfers = new TransferDesk(_reader, () => Bench, _ => Task.FromException<long>(new IOException("this store is only looked at")), time ?? TimeProvider.System);
        Now = now ?? _reader.StoredSpans()[^1].To;
    }

    public BenchDefinition Bench { get; }

    public MachineState State => MachineState.Unknown;

    public EngineTime Now { get; }

    string? IBenchView.StoreFolder => _folder;

    TransferDesk? IBenchView.Transfers => _transfers;

    public IReadOnlyList<ChannelNow> Channels => [.. Bench.Channels.Select(c => new ChannelNow(c, null, null, null, null, null, null, null))];

    public IReadOnlyList<InstrumentNotice> Instruments => [];

    public IReadOnlyList<FindingLine> OpenFindings => [];

    public IReadOnlyList<AlarmTransition> OpenAlarms => [];

    public DriftTable Drifts => DriftTable.Empty;

    public HealthReport Health => new(null, null, null, null, null, 0, 0, 0);

    public long ToUtcNanoseconds(EngineTime time) => _anchors.ToUtcNanoseconds(time);

    public EngineTime FromUtcNanoseconds(long utcNanoseconds) => _anchors.FromUtcNanoseconds(utcNanoseconds);

    public FindingPage Findings(long afterCursor, int limit) => PageOf(_reader.Findings(afterCursor, limit));

    public FindingPage LatestFindings(int limit) => PageOf(_reader.LatestFindings(limit));

    public IReadOnlyList<FindingLine> FindingsBetween(EngineTime from, EngineTime to, int most) =>
        [.. _reader.FindingsBetween(from, to, TimeSpan.FromDays(1), most).Select(f => f.Line)];

    public AlarmPage Alarms(long afterCursor, int limit) => PageOf(_reader.Alarms(afterCursor, limit));

    public AlarmPage LatestAlarms(int limit) => PageOf(_reader.LatestAlarms(limit));

    public IReadOnlyList<AlarmTransition> AlarmsOver(long fromUtc, long toUtc) =>
        [.. _reader.AlarmsOver(fromUtc, toUtc, TimeSpan.FromDays(1)).Select(a => a.Line)];

    public IReadOnlyList<UtcStretch> Watched() => AlarmBook.WatchedIn(_reader);

    public IInputSource ReadAgain(long fromUtc, long toUtc) =>
        new SpanSource(_folder, FromUtcNanoseconds(fromUtc) - WhatIfPass.Lead, FromUtcNanoseconds(toUtc));

    public BenchFileResult TryBenchText(string text) => throw new NotSupportedException("Nothing is tried on a store that is only looked at.");

    public IReadOnlyList<Bucket> History(string channel, EngineTime from, EngineTime to, int buckets)
    {
        ChannelDefinition definition = Bench.Channels.First(c => c.Id == channel);
        return EngineeringBuckets.Read(_reader, definition.Key, (version, at) => _calibrations.Of(definition.Key, version, ToUtcNanoseconds(at)), from, to, buckets);
    }

    IReadOnlyList<IReadOnlyList<Bucket>> IBenchView.Columns(IReadOnlyList<ChannelDefinition> channels, SpanGrid grid)
    {
        IReadOnlyList<IReadOnlyList<RawBucket>> raw = _spans.Read([.. channels.Select(c => c.Key)], grid, Now);
        return [.. channels.Select((c, i) => EngineeringBuckets.Of(raw[i], (version, at) => _calibrations.Of(c.Key, version, ToUtcNanoseconds(at))))];
    }

    public FrameNow? LatestFrame(string channel) => null;

    public IReadOnlyList<TakenBaseline> Baselines() => _reader.Baselines();

    public Task<long> EnterAsync(Command command, CancellationToken cancel) =>
        Task.FromException<long>(new IOException("this store is only looked at"));

    public Calibration InForce(ChannelDefinition channel) => CalibrationTable.Of(_reader)[channel.Key];

    IReadOnlyList<CalibrationRow> IBenchView.Calibrations() => CalibrationHistory.Of(_reader);

    CalibrationDocument IBenchView.TryCalibration(string channel, CalibrationSheet sheet, CalibrationSigner signer) =>
        CalibrationEntry.Make(Bench, CalibrationTable.Of(_reader), channel, sheet, signer, ToUtcNanoseconds(Now), out _);

    Task<(CalibrationDocument Document, long Number)> IBenchView.CalibrateAsync(string channel, CalibrationSheet sheet, CalibrationSigner signer, CancellationToken cancel) =>
        Task.FromException<(CalibrationDocument, long)>(new IOException("this store is only looked at"));

    public Task<IReadOnlyList<string>> ReloadAsync(CancellationToken cancel) => Task.FromResult<IReadOnlyList<string>>([]);

    public void Dispose()
    {
        _transfers.Dispose();
        _spans.Dispose();
        _reader.Dispose();
    }

    private static FindingPage PageOf(IReadOnlyList<StoredFinding> stored) =>
        new([.. stored.Select(f => new FindingRow(f.Cursor, f.Line))], stored.Count == 0 ? 0 : stored[^1].Cursor);

    private static AlarmPage PageOf(IReadOnlyList<StoredAlarm> stored) =>
        new([.. stored.Select(a => new AlarmRow(a.Cursor, a.Line))], stored.Count == 0 ? 0 : stored[^1].Cursor);
}
