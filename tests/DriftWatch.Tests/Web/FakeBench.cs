using System.Collections.Concurrent;
using DriftWatch.Acquisition.Sampling;
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
using DriftWatch.Running;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Quantities;

namespace DriftWatch.Tests.Web;

/// <summary>
/// A bench for the page: values are plain functions of time, so history and present agree and a test can say what must
/// be seen. Silence, faults, findings and trouble are set by the test.
/// </summary>
public sealed partial class FakeBench : IBenchView
{
    private readonly EngineClock _clock;
    private readonly AnchorTable _anchors = new();
    private readonly ConcurrentDictionary<string, EngineTime> _silentSince = new(StringComparer.Ordinal);
    private readonly ConcurrentDictionary<string, (FaultCode Fault, EngineTime Since)> _faults = new(StringComparer.Ordinal);
    private readonly ConcurrentDictionary<string, double> _held = new(StringComparer.Ordinal);
    private readonly ConcurrentDictionary<string, double?> _told = new(StringComparer.Ordinal);
    private QuantityTable _quantities = QuantityTable.Empty;
    private readonly List<FindingRow> _rows = [];
    private readonly List<AlarmTransition> _unstored = [];
    private readonly List<AlarmRow> _alarms = [];
    private readonly List<(string Id, bool Works)> _routes = [];
    private readonly Dictionary<string, FindingLine> _open = new(StringComparer.Ordinal);
    private readonly Lock _gate = new();

    public FakeBench(TimeProvider time, string id = "practice", IReadOnlyList<ChannelDefinition>? channels = null)
    {
        // An hour already watched, so that the last ten minutes are there from the start.
        _clock = new EngineClock(time, EngineTime.FromSeconds(3600));
        _anchors.Add(_clock.ReadAnchor());
        Bench = FakeBenchDefinition.Make(id, channels);
    }

    public BenchDefinition Bench { get; set; }

    public MachineState State { get; set; } = MachineState.Locked;

    public EngineTime Now => _clock.Now;

    public List<Command> Entered { get; } = [];

    /// <summary>Thrown by the next act, as a store that refuses would.</summary>
    public Exception? Refusal { get; set; }

    public IReadOnlyList<string> ReloadMistakes { get; set; } = [];

    public IReadOnlyList<InstrumentNotice> Instruments { get; set; } =
        [new("rig", LinkState.Talking, "lines arrive")];

    public DriftTable Drifts { get; set; } = DriftTable.Empty;

    /// <summary>Made anew once a second, as the running bench does; the test holds a quantity on a value, or on null for one that can't be told.</summary>
    public QuantityTable Quantities
    {
        get
        {
            EngineTime second = EngineTime.FromSeconds(Math.Floor(Now.Seconds));
            QuantityTable table = _quantities;
            if (table.At != second)
            {
                _quantities = table = new QuantityTable(second, [.. Bench.Quantities.Select(q => new QuantityNow(q.Id, _told.GetValueOrDefault(q.Id)))]);
            }

            return table;
        }
    }

    public void Tell(string quantity, double? value) => _told[quantity] = value;

    public List<TakenBaseline> Taken { get; } = [];

    public IReadOnlyList<TakenBaseline> Baselines() => Taken;

    public HealthReport Health { get; set; } = Healthy;

    public static HealthReport Healthy { get; } = new(
        TimeSpan.FromMilliseconds(80), TimeSpan.FromMilliseconds(600), TimeSpan.FromMilliseconds(300), null, null, 0, 0, 0);

    public IReadOnlyList<ChannelNow> Channels => [.. Bench.Channels.Select(NowOf)];

    public IReadOnlyList<FindingLine> OpenFindings
    {
        get
        {
            lock (_gate)
            {
                return [.. _open.Values.OrderByDescending(line => line.Input)];
            }
        }
    }

    public long ToUtcNanoseconds(EngineTime time) => _anchors.ToUtcNanoseconds(time);

    public EngineTime FromUtcNanoseconds(long utcNanoseconds) => _anchors.FromUtcNanoseconds(utcNanoseconds);

    /// <summary>From now on nothing comes from the channel.</summary>
    public void Silence(string channel, TimeSpan already = default) => _silentSince[channel] = Now - already;

    public void Speak(string channel) => _silentSince.TryRemove(channel, out _);

    public void Fail(string channel, FaultCode fault) => _faults[channel] = (fault, Now);

    public void Heal(string channel) => _faults.TryRemove(channel, out _);

    /// <summary>Puts the channel on a value instead of its own motion.</summary>
    public void Hold(string channel, double value) => _held[channel] = value;

    public FindingLine Say(FindingLine line)
    {
        lock (_gate)
        {
            _rows.Add(new FindingRow(_rows.Count + 1, line));
            if (line.Phase == FindingPhase.Ended || line.Severity == Severity.Note)
            {
                _open.Remove(line.Id);
            }
            else
            {
                _open[line.Id] = line;
            }

            return line;
        }
    }

    public FindingLine MakeFinding(
        string id, string kind, string? channel, string text, Severity severity = Severity.Alarm, double? value = null, double? limit = null)
    {
        EngineTime now = Now;
        return new FindingLine
        {
            Id = id,
            Phase = FindingPhase.Raised,
            Input = now.Nanoseconds / EngineTime.NanosecondsPerMillisecond,
            Bench = Bench.Id,
            BenchHash = Bench.SourceHash,
            Kind = kind,
            Channel = channel,
            Severity = severity,
            Start = now - TimeSpan.FromSeconds(1),
            RaisedAt = now,
            StartUtc = ToUtcNanoseconds(now - TimeSpan.FromSeconds(1)),
            RaisedUtc = ToUtcNanoseconds(now),
            Value = value,
            Limit = limit,
            Unit = Bench.Channels.FirstOrDefault(c => c.Id == channel)?.Unit,
            LimitSource = "common practice, no source",
            Cause = "the supply fell first: a compressor that does not keep up",
            State = State,
            Text = text,
        };
    }

    public FindingLine End(FindingLine line) => Say(line with
    {
        Phase = FindingPhase.Ended,
        Input = line.Input + 1,
        End = Now,
        EndUtc = ToUtcNanoseconds(Now),
    });

    public FindingPage Findings(long afterCursor, int limit)
    {
        lock (_gate)
        {
            FindingRow[] rows = [.. _rows.Where(r => r.Cursor > afterCursor).Take(limit)];
            return new FindingPage(rows, rows.Length > 0 ? rows[^1].Cursor : afterCursor);
        }
    }

    /// <summary>Routes that the page shows; asking for a test of one is kept in <see cref="RoutesTested"/> and answered with done or not, as it was added.</summary>
    public void AddRoute(string id, bool works) => _routes.Add((id, works));

    public ConcurrentQueue<string> RoutesTested { get; } = new();

    /// <summary>What the bench file says of how the page calls.</summary>
    internal PageNotices Calls { get; set; } = new();

    NoticeSettings IBenchView.NoticeSettings => NoticeSettings.None with { Page = Calls };

    IReadOnlyList<RouteReport> IBenchView.NoticeRoutes =>
        [.. _routes.Select(r => new RouteReport(
            Route(r.Id), 0, 0, 0, null, null, r.Works ? null : 1_772_323_200_000_000_000, r.Works ? null : "no answer", null))];

    Task<IReadOnlyList<RouteTest>?> IBenchView.TestNoticesAsync(string? route, string by, CancellationToken cancel)
    {
        if (route is not null && !_routes.Exists(r => r.Id == route))
        {
            return Task.FromResult<IReadOnlyList<RouteTest>?>(null);
        }

        RoutesTested.Enqueue($"{route} by {by}");
        return Task.FromResult<IReadOnlyList<RouteTest>?>(
        [
            .. _routes.Where(r => route is null || r.Id == route)
                .Select(r => new RouteTest(r.Id, RouteKind.Webhook, r.Works, r.Works ? "200 OK" : "no answer", r.Works ? null : "Look at the address.", TimeSpan.FromSeconds(0.1))),
        ]);
    }

    private static RouteSettings Route(string id) => new() { Id = id, Kind = RouteKind.Webhook, File = "bench.toml", Line = 1 };

    /// <summary>Every line of the book that was written; the latest of each alarm that is not normal is open.</summary>
    public IReadOnlyList<AlarmTransition> OpenAlarms
    {
        get
        {
            lock (_gate)
            {
                return [.. _alarms.Select(a => a.Line).Concat(_unstored).GroupBy(a => a.Tag).Select(g => g.Last()).Where(a => a.To != AlarmState.Normal)];
            }
        }
    }

    /// <summary>A line that the store has not taken: it stands, and the book does not have it.</summary>
    public void Hold(AlarmTransition line)
    {
        lock (_gate)
        {
            _unstored.Add(line);
        }
    }

    /// <summary>The store takes what was held.</summary>
    public void BookHeld()
    {
        lock (_gate)
        {
            _alarms.AddRange(_unstored.Select((line, i) => new AlarmRow(_alarms.Count + 1 + i, line)).ToList());
            _unstored.Clear();
        }
    }

    public void Book(AlarmTransition line)
    {
        lock (_gate)
        {
            _alarms.Add(new AlarmRow(_alarms.Count + 1, line));
        }
    }

    public AlarmPage Alarms(long afterCursor, int limit)
    {
        lock (_gate)
        {
            AlarmRow[] rows = [.. _alarms.Where(r => r.Cursor > afterCursor).Take(limit)];
            return new AlarmPage(rows, rows.Length > 0 ? rows[^1].Cursor : afterCursor);
        }
    }

    public AlarmPage LatestAlarms(int limit)
    {
        lock (_gate)
        {
            return new AlarmPage([.. _alarms.TakeLast(limit)], _alarms.Count);
        }
    }

    public IReadOnlyList<AlarmTransition> AlarmsOver(long fromUtc, long toUtc)
    {
        lock (_gate)
        {
            return [.. _alarms.Select(a => a.Line).Where(a => a.AtUtc < toUtc)];
        }
    }

    /// <summary>What <see cref="ReadAgain"/> gives; the test fills it.</summary>
    public Func<IInputSource>? Again { get; set; }

    public IInputSource ReadAgain(long fromUtc, long toUtc) => Again?.Invoke() ?? throw new IOException("the fake bench keeps no readings");

    public BenchFileResult TryBenchText(string text) => BenchFile.LoadText("bench.toml", text, [Path.Combine(AppContext.BaseDirectory, "device-profiles")]);

    public IReadOnlyList<UtcStretch> Watched() => [new UtcStretch(0, ToUtcNanoseconds(Now))];

    public FindingPage LatestFindings(int limit)
    {
        lock (_gate)
        {
            return new FindingPage([.. _rows.TakeLast(limit)], _rows.Count);
        }
    }

    public IReadOnlyList<Bucket> History(string channel, EngineTime from, EngineTime to, int buckets)
    {
        ChannelDefinition definition = Bench.Channels.Single(c => c.Id == channel);
        var result = new List<Bucket>(buckets);
        long width = Math.Max(1, (to.Nanoseconds - from.Nanoseconds) / buckets);
        EngineTime end = EndOf(channel, Now);
        for (int i = 0; i < buckets; i++)
        {
            var start = new EngineTime(from.Nanoseconds + (i * width));
            var stop = new EngineTime(start.Nanoseconds + width);
            if (stop > end || start.Nanoseconds < 0)
            {
                continue; // a gap is absent
            }

            (double low, double high) = (double.MaxValue, double.MinValue);
            double sum = 0;
            for (int k = 0; k < 10; k++)
            {
                double value = ValueAt(definition, start.Seconds + (k * width / 1e10));
                (low, high, sum) = (Math.Min(low, value), Math.Max(high, value), sum + value);
            }

            bool faulty = definition.Role == ChannelRole.AmbientHumidity && i > buckets * 0.6 && i < buckets * 0.66;
            result.Add(faulty
                ? new Bucket(start, stop, 0, 0, 0, 0, 10)
                : new Bucket(start, stop, 10, low, high, sum / 10, 0));
        }

        return result;
    }

    public FrameNow? LatestFrame(string channel)
    {
        ChannelDefinition definition = Bench.Channels.Single(c => c.Id == channel);
        EngineTime at = EndOf(channel, Now).FloorToMillisecond();
        double phase = at.Seconds / 7;
        return new FrameNow(
            at,
            (uint)(at.Nanoseconds / EngineTime.NanosecondsPerSecond),
            0,
            [
                .. definition.Axis!.Heads.Select((head, i) =>
                    (38 * Math.Sin(definition.Axis.AnglesDegrees[i] * Math.PI / 180))
                    + (12 * Math.Sin(phase + head)) + (head == 3 ? 9 : 0) + (2 * Math.Sin(i * 12.9898))),
            ]);
    }

    public Task<long> EnterAsync(Command command, CancellationToken cancel)
    {
        if (Refusal is { } refusal)
        {
            return Task.FromException<long>(refusal);
        }

        lock (_gate)
        {
            Entered.Add(command);
        }

        if (command is AcknowledgeCommand acknowledge && OpenFindings.FirstOrDefault(f => f.Id == acknowledge.Finding) is { } line)
        {
            Say(line with
            {
                Phase = FindingPhase.Updated,
                Input = line.Input + 1,
                Details = [.. line.Details, new FindingDetail("acknowledgedBy", null, acknowledge.By)],
            });
        }

        return Task.FromResult(1000L + Entered.Count);
    }

    public Task<IReadOnlyList<string>> ReloadAsync(CancellationToken cancel) =>
        Refusal is { } refusal ? Task.FromException<IReadOnlyList<string>>(refusal) : Task.FromResult(ReloadMistakes);

    private ChannelNow NowOf(ChannelDefinition channel)
    {
        EngineTime now = Now;
        EngineTime end = EndOf(channel.Id, now);
        long period = channel.Period.Ticks * TimeSpan.NanosecondsPerTick;
        var at = new EngineTime(end.Nanoseconds / period * period);
        if (_faults.TryGetValue(channel.Id, out (FaultCode Fault, EngineTime Since) fault))
        {
            return new ChannelNow(channel, null, null, null, null, fault.Fault, at, now - at);
        }

        if (channel.Kind == ChannelKind.Frame)
        {
            IReadOnlyList<double> values = LatestFrame(channel.Id)!.Values;
            return new ChannelNow(channel, values.Max(Math.Abs), values.Min(), values.Max(), null, null, at, now - at);
        }

        double value = ValueAt(channel, at.Seconds);
        return new ChannelNow(channel, value, value - 0.05, value + 0.05, value, null, at, now - at);
    }

    private EngineTime EndOf(string channel, EngineTime now) => _silentSince.TryGetValue(channel, out EngineTime since) ? since : now;

    private double ValueAt(ChannelDefinition channel, double seconds)
    {
        if (_held.TryGetValue(channel.Id, out double held))
        {
            return held;
        }

        (double middle, double swing, double period) = FakeBenchDefinition.Motion(channel);
        int salt = channel.Key;
        return middle + (swing * Math.Sin((seconds / period * 2 * Math.PI) + salt))
            + (0.25 * swing * Math.Sin((seconds * 9.7) + (salt * 3))) + (0.15 * swing * Math.Sin((seconds * 23.1) + salt));
    }
}
