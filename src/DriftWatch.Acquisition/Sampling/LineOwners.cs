using DriftWatch.Acquisition.Boards;
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
            if (IsPractice(first, profile))
            {
                yield return new PracticeRigOwner(first, [.. ChannelsOf(bench, first)], clock, sink, logger);
                continue;
            }

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

                case InstrumentProtocol.Board:
                    yield return new BoardOwner([.. line], profiles, bench.Channels, clock, sink, logger, new SystemBoardDevices());
                    break;

                default:
                    throw new NotSupportedException($"Instrument '{first.Id}': protocol {profile.Protocol} is not sampled by this build.");
            }
        }
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
        IsPractice(instrument, ProfileOf(instrument, profiles))
            ? "practice:" + instrument.Id
            : ByteLinks.LineOf(instrument.Connection);

    private static bool IsPractice(InstrumentDefinition instrument, InstrumentProfile profile) =>
        profile.Protocol == InstrumentProtocol.Practice || instrument.Connection.Kind == ConnectionKind.Practice;

    /// <summary>The channels that an instrument serves: its own, and the ratios formed of them.</summary>
    internal static IEnumerable<ChannelDefinition> ChannelsOf(BenchDefinition bench, InstrumentDefinition instrument) =>
        bench.Channels.Where(c => c.Instrument == instrument.Id
            || (c.Ratio is not null && bench.Channels.Any(of => of.Id == c.Ratio.Of && of.Instrument == instrument.Id)));

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
