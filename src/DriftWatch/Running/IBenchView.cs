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
using DriftWatch.Notices;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Drifts;
using DriftWatch.Watch.Quantities;

namespace DriftWatch.Running;

/// <summary>
/// What the page and the API may know of a running bench, and the one door by which a person's acts enter. Safe from
/// any thread; reading never waits for sampling, judging or the store's writer.
/// </summary>
public interface IBenchView
{
    BenchDefinition Bench { get; }

    MachineState State { get; }

    /// <summary>Engine time now, and its UTC by the anchors in force.</summary>
    EngineTime Now { get; }

    long ToUtcNanoseconds(EngineTime time);

    EngineTime FromUtcNanoseconds(long utcNanoseconds);

    /// <summary>The newest of each channel in bench order, not waiting for the merge.</summary>
    IReadOnlyList<ChannelNow> Channels { get; }

    IReadOnlyList<InstrumentNotice> Instruments { get; }

    /// <summary>Findings that last, newest first.</summary>
    IReadOnlyList<FindingLine> OpenFindings { get; }

    /// <summary>The page of finding lines after a cursor (the store's row number; 0 begins), oldest first.</summary>
    FindingPage Findings(long afterCursor, int limit);

    /// <summary>The newest finding lines, oldest of them first.</summary>
    FindingPage LatestFindings(int limit);

    /// <summary>The latest line of each alarm that is not in the state normal, in the order in which they first came.</summary>
    IReadOnlyList<AlarmTransition> OpenAlarms { get; }

    /// <summary>The page of the alarm book after a cursor (the store's row number; 0 begins), oldest first.</summary>
    AlarmPage Alarms(long afterCursor, int limit);

    /// <summary>The newest lines of the alarm book, oldest of them first.</summary>
    AlarmPage LatestAlarms(int limit);

    /// <summary>
    /// Lines of the alarm book that tell of the alarms of a span, nanoseconds since 1970, oldest first: its own, those of a day before it
    /// and all of what stood or waited even then.
    /// </summary>
    IReadOnlyList<AlarmTransition> AlarmsOver(long fromUtc, long toUtc);

    /// <summary>When readings were stored at all; asks the whole store, so only for what a person asks for.</summary>
    IReadOnlyList<UtcStretch> Watched();

    /// <summary>The inputs of a span, and of a while before it, as they were stored: to be judged again by whoever asks, who disposes of it.</summary>
    IInputSource ReadAgain(long fromUtc, long toUtc);

    /// <summary>Where the bench's store lies, for what is read as a whole; null where there is none.</summary>
    internal string? StoreFolder => null;

    /// <summary>Reads the text of a bench file that is only tried, and holds it against what was recorded here.</summary>
    BenchFileResult TryBenchText(string text);

    /// <summary>At most <paramref name="buckets"/> buckets of min, max and mean, in engineering units; empty spans are gaps and are not filled.</summary>
    IReadOnlyList<Bucket> History(string channel, EngineTime from, EngineTime to, int buckets);

    /// <summary>The same of several series channels at once, on columns that lie on the grid of <see cref="SpanGrid"/>, each list in the order of time.</summary>
    internal IReadOnlyList<IReadOnlyList<Bucket>> Columns(IReadOnlyList<ChannelDefinition> channels, SpanGrid grid) =>
        [.. channels.Select(c => History(c.Id, grid.From, grid.To, grid.Count))];

    /// <summary>
    /// Lines that were written within the span or a day before it, of those that go on their end too, of those that lasted then their first and newest,
    /// and the newest line before all that: oldest first, <paramref name="most"/> of the span at most, the newest.
    /// </summary>
    IReadOnlyList<FindingLine> FindingsBetween(EngineTime from, EngineTime to, int most) =>
        [.. Findings(0, int.MaxValue).Rows.Select(r => r.Line).Where(l => l.RaisedAt < to).TakeLast(most)];

    /// <summary>The newest frame of a frame channel in engineering units, or null.</summary>
    FrameNow? LatestFrame(string channel);

    /// <summary>How fast every channel and quantity with a limit uses its tolerance, the fastest first; made anew once a minute.</summary>
    DriftTable Drifts { get; }

    /// <summary>What the derived quantities are; made anew once a second of judged time.</summary>
    QuantityTable Quantities => QuantityTable.Empty;

    /// <summary>Every baseline that was ever taken on this bench, oldest first.</summary>
    IReadOnlyList<TakenBaseline> Baselines();

    HealthReport Health { get; }

    /// <summary>How each instrument of the bench file does, in its order.</summary>
    internal IReadOnlyList<InstrumentHealth> InstrumentHealth => [];

    /// <summary>How the store does; asks its disk, so only for what a person looks at.</summary>
    internal StoreHealth StoreHealth => new(null, null, 0);

    /// <summary>What the bench file says of notices.</summary>
    internal NoticeSettings NoticeSettings => NoticeSettings.None;

    /// <summary>How each route stands, in the order of the bench file.</summary>
    internal IReadOnlyList<RouteReport> NoticeRoutes => [];

    /// <summary>How each server that the readings are mirrored to stands, in the order of the bench file.</summary>
    internal IReadOnlyList<Mirror.MirrorReport> Mirrors => [];

    /// <summary>Sends a test by one route, or by all; null where there is no such route.</summary>
    internal Task<IReadOnlyList<RouteTest>?> TestNoticesAsync(string? route, string by, CancellationToken cancel) =>
        Task.FromResult<IReadOnlyList<RouteTest>?>(route is null ? [] : null);

    /// <summary>The book of transfers; null on a bench that keeps none.</summary>
    internal Transfers.TransferDesk? Transfers => null;

    /// <summary>Enters a person's act as an input; returns when it is journaled, with its number.</summary>
    Task<long> EnterAsync(Command command, CancellationToken cancel);

    /// <summary>The calibration by which a channel's readings are turned now: the bench file's, or one that was entered since.</summary>
    Calibration InForce(ChannelDefinition channel);

    /// <summary>Every calibration of this bench, by channel and version; asks the store.</summary>
    internal IReadOnlyList<CalibrationRow> Calibrations();

    /// <summary>What a sheet would come to; nothing is entered.</summary>
    /// <exception cref="SheetException">The sheet can't be used.</exception>
    internal CalibrationDocument TryCalibration(string channel, CalibrationSheet sheet, CalibrationSigner signer);

    /// <summary>
    /// Works a sheet out and enters what it comes to; returns when it is journaled, with its number. What was entered under the signer's id
    /// already is answered as it was, with its number or 0 while the store can't write.
    /// </summary>
    /// <exception cref="SheetException">The sheet can't be used; nothing was entered.</exception>
    internal Task<(CalibrationDocument Document, long Number)> CalibrateAsync(string channel, CalibrationSheet sheet, CalibrationSigner signer, CancellationToken cancel);

    /// <summary>Reads the bench file again; a wrong one is refused, stays out of force, and the mistakes come back.</summary>
    Task<IReadOnlyList<string>> ReloadAsync(CancellationToken cancel);
}

/// <summary>The newest of one channel. Value and extremes are null for a fault; all are null before the first reading.</summary>
public sealed record ChannelNow(
    ChannelDefinition Channel,
    double? Value,
    double? Minimum,
    double? Maximum,
    double? Raw,
    FaultCode? Fault,
    EngineTime? At,
    TimeSpan? Age);

/// <summary>One bucket of a plot. Times are engine times; <see cref="Count"/> counts values, <see cref="Faults"/> faults.</summary>
public readonly record struct Bucket(EngineTime From, EngineTime To, int Count, double Minimum, double Maximum, double Mean, int Faults);

public sealed record FrameNow(EngineTime At, uint Sequence, double TachAngleDegrees, IReadOnlyList<double> Values);

public sealed record FindingPage(IReadOnlyList<FindingRow> Rows, long NextCursor);

/// <param name="At">When it was made; null before the first time.</param>
/// <param name="Items">The fastest first.</param>
public sealed record DriftTable(EngineTime? At, IReadOnlyList<ChannelDrift> Items)
{
    public static DriftTable Empty { get; } = new(null, []);
}

/// <param name="At">The instant that was judged; null before the first.</param>
/// <param name="Items">In the bench's order.</param>
public sealed record QuantityTable(EngineTime? At, IReadOnlyList<QuantityNow> Items)
{
    public static QuantityTable Empty { get; } = new(null, []);
}

public readonly record struct FindingRow(long Cursor, FindingLine Line);

public sealed record AlarmPage(IReadOnlyList<AlarmRow> Rows, long NextCursor);

public readonly record struct AlarmRow(long Cursor, AlarmTransition Line);

/// <summary>The ages of the four things that must go on, each null before its first time, and the store's trouble if any.</summary>
public sealed record HealthReport(
    TimeSpan? Sampling,
    TimeSpan? Storing,
    TimeSpan? Judging,
    TimeSpan? Noticing,
    string? StoreTrouble,
    long ReadingsHeldInMemory,
    long LateReadings,
    long DroppedReadings);
