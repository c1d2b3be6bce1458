using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Boards;

/// <summary>
/// The owner of one bus and of every board on it. Boards take turns; one that is missing fails alone and is tried again
/// for ever, while its neighbours keep their grid.
/// </summary>
public sealed class BoardOwner : ILineOwner
{
    private readonly PolledOwner _owner;

    /// <summary>For the boards of one bus, in bench order; channels of other instruments are left alone.</summary>
    public BoardOwner(
        IReadOnlyList<InstrumentDefinition> instruments,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        IReadOnlyList<ChannelDefinition> channels,
        EngineClock clock,
        IReadingSink sink,
        ILogger logger,
        IBoardDevices devices)
        : this(instruments, profiles, channels, clock, sink, logger, devices, null)
    {
    }

    internal BoardOwner(
        IReadOnlyList<InstrumentDefinition> instruments,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        IReadOnlyList<ChannelDefinition> channels,
        EngineClock clock,
        IReadingSink sink,
        ILogger logger,
        IBoardDevices devices,
        Pause? pause)
    {
        EngineTime now = clock.Now;
        PolledDevice[] boards =
        [
            .. instruments.Select(i => new PolledDevice(i, profiles[i.Profile], channels, sink, now, Backoff.For(isLocal: true, i.Id))),
        ];
        string name = string.Join("+", instruments.Select(i => i.Id));
        _owner = new PolledOwner(name, boards, Open, clock, sink, Backoff.For(isLocal: true, name), logger, pause);

        (IPolledLine Line, IReadOnlyList<IPolledInstrument> Instruments) Open()
        {
            BoardInstrument[] made = [.. boards.Select(b => BoardInstrument.Make(b.Definition, b.Profile, devices, clock.TimeProvider))];
            return (new BoardBus(made), made);
        }
    }

    public string Name => _owner.Name;

    public IReadOnlyList<InstrumentTally> Tallies => _owner.Tallies;

    public void Run(CancellationToken stop) => _owner.Run(stop);

    /// <summary>
    /// A bus has nothing of its own to open: its boards open their devices when they are greeted, so that one that is
    /// missing does not keep the others out. A reading takes a few milliseconds, so nothing waits on it.
    /// </summary>
    private sealed class BoardBus(BoardInstrument[] boards) : IPolledLine
    {
        public void WhileWaiting(TimeSpan everyAtMost, Action idle)
        {
        }

        public void Wake()
        {
        }

        public void Dispose()
        {
            foreach (BoardInstrument board in boards)
            {
                board.Dispose();
            }
        }
    }
}
