using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Modbus;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Acquisition.Scpi;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Samples a bench: one owner a line, each on a thread of its own, each failing alone. Instruments that name the same
/// port or the same host and port share their line. <see cref="Start"/> once, then <see cref="StopAsync"/>.
/// </summary>
public sealed class BenchSampler : IDisposable
{
    private readonly EngineClock _clock;
    private readonly ILogger _logger;
    private readonly CancellationTokenSource _stop = new();
    private readonly List<(ILineOwner Owner, TaskCompletionSource Done)> _owners = [];

    /// <exception cref="ArgumentException">Something that checking the bench file would have reported: a channel whose input or profile is missing, a ratio across instruments.</exception>
    public BenchSampler(
        BenchDefinition bench,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        EngineClock clock,
        IReadingSink sink,
        ILoggerFactory loggers)
    {
        _clock = clock;
        _logger = loggers.CreateLogger<BenchSampler>();
        foreach (ILineOwner owner in LineOwners.Make(bench, profiles, clock, sink, loggers))
        {
            _owners.Add((owner, new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously)));
        }
    }

    /// <summary>Names of the lines, one an owner.</summary>
    public IReadOnlyList<string> Lines => [.. _owners.Select(o => o.Owner.Name)];

    public void Start()
    {
        foreach ((ILineOwner owner, TaskCompletionSource done) in _owners)
        {
            new Thread(() => RunForEver(owner, done)) { IsBackground = true, Name = "line " + owner.Name }.Start();
        }
    }

    /// <summary>Asks every owner to stop and waits for them, but no longer than the limit: a hung one is logged and left behind.</summary>
    public async Task StopAsync(TimeSpan limit)
    {
        await _stop.CancelAsync();
        try
        {
            await Task.WhenAll(_owners.Select(o => o.Done.Task)).WaitAsync(limit, _clock.TimeProvider);
        }
        catch (TimeoutException)
        {
            foreach ((ILineOwner owner, TaskCompletionSource done) in _owners.Where(o => !o.Done.Task.IsCompleted))
            {
                AcquisitionLog.OwnerHangs(_logger, owner.Name, limit);
            }
        }
    }

    public void Dispose()
    {
        _stop.Cancel();
        _stop.Dispose();
    }

    /// <summary>
    /// An owner returns only when asked to stop. Should a mistake of ours throw, the line is started again after a
    /// second: one broken driver must not take the bench, nor be forgotten.
    /// </summary>
    private void RunForEver(ILineOwner owner, TaskCompletionSource done)
    {
        CancellationToken stop = _stop.Token;
        while (!stop.IsCancellationRequested)
        {
            try
            {
                owner.Run(stop);
            }
#pragma warning disable CA1031 // The last guard of the thread: anything else would end the process.
            catch (Exception error)
#pragma warning restore CA1031
            {
                if (!stop.IsCancellationRequested)
                {
                    AcquisitionLog.OwnerFailed(_logger, error, owner.Name);
                    Pauses.Real(TimeSpan.FromSeconds(1), null, stop);
                }
            }
        }

        done.TrySetResult();
    }
}

/// <summary>From a bench to the owners of its lines.</summary>
internal static class LineOwners
{
    public static IEnumerable<ILineOwner> Make(
        BenchDefinition bench,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        EngineClock clock,
        IReadingSink sink,
        ILoggerFactory loggers)
    {
        CheckRatios(bench);
        var used = bench.Instruments.Where(i => bench.Channels.Any(c => c.Instrument == i.Id));
        foreach (IGrouping<string, InstrumentDefinition> line in used.GroupBy(i => LineKey(i, profiles)))
        {
            InstrumentDefinition first = line.First();
            InstrumentProfile profile = ProfileOf(first, profiles);
            ILogger logger = loggers.CreateLogger("DriftWatch.Acquisition." + first.Id);
            bool isLocal = ByteLinks.IsLocal(first.Connection);
            switch (profile.Protocol)
            {
                case InstrumentProtocol.Lines when line.Count() > 1:
                case InstrumentProtocol.Scpi when line.Count() > 1:
                    throw new ArgumentException(
                        $"Instruments {string.Join(", ", line.Select(i => i.Id))} share one line; only Modbus units can.", nameof(bench));

                case InstrumentProtocol.Lines:
                    yield return new LinesOwner(
                        first,
                        profile,
                        bench.Channels,
                        () => ByteLinks.Open(first.Connection, clock.TimeProvider),
                        clock,
                        sink,
                        Backoff.For(isLocal, first.Id),
                        logger);
                    break;

                case InstrumentProtocol.Scpi:
                case InstrumentProtocol.ModbusRtu:
                    yield return Polled(bench, profiles, [.. line], isLocal, clock, sink, logger);
                    break;

                case InstrumentProtocol.Practice:
                    yield return new PracticeRigOwner(first, WithRatios(bench, first), clock, sink, logger);
                    break;

                default:
                    throw new NotSupportedException($"Instrument '{first.Id}': protocol {profile.Protocol} is not sampled by this build.");
            }
        }
    }

    /// <summary>An instrument's channels, and the ratios formed of them.</summary>
    private static IReadOnlyList<ChannelDefinition> WithRatios(BenchDefinition bench, InstrumentDefinition instrument)
    {
        var own = bench.Channels.Where(c => c.Instrument == instrument.Id).ToList();
        return [.. own, .. bench.Channels.Where(c => c.Ratio is { } ratio && own.Exists(o => o.Id == ratio.Of))];
    }

    internal static PolledOwner Polled(
        BenchDefinition bench,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        IReadOnlyList<InstrumentDefinition> instruments,
        bool isLocal,
        EngineClock clock,
        IReadingSink sink,
        ILogger logger,
        Func<ConnectionDefinition, IByteLink>? open = null,
        Pause? pause = null)
    {
        open ??= c => ByteLinks.Open(c, clock.TimeProvider);
        EngineTime now = clock.Now;
        PolledDevice[] devices = [.. instruments.Select(i => new PolledDevice(
            i, ProfileOf(i, profiles), bench.Channels, sink, now, Backoff.For(isLocal, i.Id)))];
        string name = string.Join("+", instruments.Select(i => i.Id));
        return new PolledOwner(name, devices, Open, clock, sink, Backoff.For(isLocal, name), logger, pause);

        (IPolledLine Line, IReadOnlyList<IPolledInstrument> Instruments) Open()
        {
            var line = new PolledByteLine(open(instruments[0].Connection), clock.TimeProvider);
            return (line, MakeInstruments(line, [.. devices.Select(d => (d.Definition, d.Profile))], clock.TimeProvider));
        }
    }

    /// <summary>The instruments that talk over one byte link, in the order given.</summary>
    public static IReadOnlyList<IPolledInstrument> MakeInstruments(
        PolledByteLine line, IReadOnlyList<(InstrumentDefinition Definition, InstrumentProfile Profile)> instruments, TimeProvider time)
    {
        ModbusMaster? master = null;
        var made = new List<IPolledInstrument>();
        foreach ((InstrumentDefinition definition, InstrumentProfile profile) in instruments)
        {
            ConnectionDefinition connection = definition.Connection;
            if (profile.Protocol == InstrumentProtocol.Scpi)
            {
                made.Add(new ScpiInstrument(line, profile.Scpi ?? new ScpiFormat(), profile.Inputs, connection.ReplyTimeout, time));
            }
            else
            {
                // RTU frames may also come over a serial server: the gap then is the one of its serial side, unknown here.
                SerialFraming framing = SerialFraming.Parse(connection.Framing);
                master ??= new ModbusMaster(line, framing, connection.Baud, instruments.Max(i => i.Definition.Connection.ReplyTimeout), time);
                made.Add(new ModbusInstrument(master, connection.Address ?? 1, profile.Modbus ?? new ModbusFormat(), profile.Inputs));
            }
        }

        return made;
    }

    private static string LineKey(InstrumentDefinition instrument, IReadOnlyDictionary<string, InstrumentProfile> profiles) =>
        ProfileOf(instrument, profiles).Protocol == InstrumentProtocol.Practice || instrument.Connection.Kind == ConnectionKind.Practice
            ? "practice:" + instrument.Id
            : ByteLinks.LineOf(instrument.Connection);

    private static InstrumentProfile ProfileOf(InstrumentDefinition instrument, IReadOnlyDictionary<string, InstrumentProfile> profiles) =>
        profiles.TryGetValue(instrument.Profile, out InstrumentProfile? profile)
            ? profile
            : throw new ArgumentException($"Instrument '{instrument.Id}' names profile '{instrument.Profile}', which is not there.", nameof(profiles));

    private static void CheckRatios(BenchDefinition bench)
    {
        foreach (ChannelDefinition channel in bench.Channels.Where(c => c.Ratio is not null))
        {
            ChannelDefinition? of = bench.Channels.FirstOrDefault(c => c.Id == channel.Ratio!.Of);
            ChannelDefinition? over = bench.Channels.FirstOrDefault(c => c.Id == channel.Ratio!.Over);
            if (of?.Instrument is null || of.Instrument != over?.Instrument)
            {
                throw new ArgumentException(
                    $"Ratio channel '{channel.Id}' needs two channels of one instrument: only readings of the same scan can be divided.", nameof(bench));
            }
        }
    }
}
