using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// The practice rig as an instrument: steps the simulation in engine time on the thread it is given and posts its
/// readings as any line does. A script that can't be read, or a channel the rig can't serve, is trouble with the
/// instrument: it is reported, and its channels are faults until the bench file is mended.
/// </summary>
public sealed partial class PracticeRigOwner : ILineOwner
{
    /// <summary>When the thread comes this late, the computer slept: the rig goes on from now, and the gap stays a gap.</summary>
    private static readonly TimeSpan Sleep = TimeSpan.FromSeconds(5);

    private readonly InstrumentDefinition _instrument;
    private readonly IReadOnlyList<ChannelDefinition> _channels;
    private readonly EngineClock _clock;
    private readonly IReadingSink _sink;
    private readonly ILogger _logger;

    public PracticeRigOwner(
        InstrumentDefinition instrument, IReadOnlyList<ChannelDefinition> channels, EngineClock clock, IReadingSink sink, ILogger logger)
    {
        _instrument = instrument;
        _channels = channels;
        _clock = clock;
        _sink = sink;
        _logger = logger;
    }

    public string Name => _instrument.Id;

    public void Run(CancellationToken stop)
    {
        RigFeed feed;
        try
        {
            feed = Open();
        }
        catch (Exception exception) when (exception is RigScriptException or ArgumentException)
        {
            CantRun(exception.Message);
            FailUntilStopped(stop);
            return;
        }

        _sink.Report(new InstrumentNotice(Name, LinkState.Talking, $"The practice rig plays '{feed.Simulation.Script.Name}': {feed.Simulation.Script.Title}."));
        bool wasSilent = false;
        using var alarm = new Alarm(_clock, stop);
        while (alarm.WaitUntil(feed.NextDue))
        {
            EngineTime now = _clock.Now;
            if (now - feed.Reached > Sleep)
            {
                LogLate(_logger, Name, (now - feed.Reached).TotalSeconds);
                feed = feed.Resumed(now.FloorToMillisecond());
            }

            feed.AdvanceTo(now);
            if (feed.IsSilent != wasSilent)
            {
                wasSilent = feed.IsSilent;
                _sink.Report(wasSilent
                    ? new InstrumentNotice(Name, LinkState.Down, "The practice script has silenced the instrument.")
                    : new InstrumentNotice(Name, LinkState.Talking, "The instrument speaks again."));
            }
        }
    }

    /// <summary>True where a channel's working point says that the wheel turns 250 times a second.</summary>
    internal static bool Is625(IEnumerable<ChannelDefinition> channels) =>
        channels.Any(channel => channel.Input == RigInputs.NameOf(RigInput.WheelSpeed) && channel.Setpoint is > 245);

    private RigFeed Open()
    {
        RigScript script = RigScripts.Load(_instrument.Connection.Script);
        var simulation = new RigSimulation(_instrument.Connection.Seed, script, Is625(_channels));
        return new RigFeed(simulation, _channels, _clock.Now.FloorToMillisecond(), _sink);
    }

    private void CantRun(string reason)
    {
        LogCantRun(_logger, Name, reason);
        _sink.Report(new InstrumentNotice(Name, LinkState.Down, reason));
    }

    private void FailUntilStopped(CancellationToken stop)
    {
        using var alarm = new Alarm(_clock, stop);
        EngineTime next = _clock.Now.FloorToMillisecond() + TimeSpan.FromSeconds(1);
        while (alarm.WaitUntil(next))
        {
            foreach (ChannelDefinition channel in _channels)
            {
                _sink.Post(channel.Key, next, Reading.Failed(FaultCode.LineDown));
                _sink.Promise(channel.Key, next + TimeSpan.FromMilliseconds(1));
            }

            next = _clock.Now.FloorToMillisecond() + TimeSpan.FromSeconds(1);
        }
    }

    [LoggerMessage(EventId = 3301, Level = LogLevel.Error, Message = "Practice rig {Instrument} can't run: {Reason}")]
    private static partial void LogCantRun(ILogger logger, string instrument, string reason);

    [LoggerMessage(EventId = 3302, Level = LogLevel.Warning, Message = "Practice rig {Instrument} comes {Seconds} s late and goes on from now")]
    private static partial void LogLate(ILogger logger, string instrument, double seconds);

    /// <summary>Waits for an instant of engine time, or for the end.</summary>
    private sealed class Alarm : IDisposable
    {
        private readonly EngineClock _clock;
        private readonly CancellationToken _stop;
        private readonly AutoResetEvent _rings = new(initialState: false);
        private readonly WaitHandle[] _handles;
        private readonly ITimer _timer;

        public Alarm(EngineClock clock, CancellationToken stop)
        {
            _clock = clock;
            _stop = stop;
            _handles = [stop.WaitHandle, _rings];
            _timer = clock.TimeProvider.CreateTimer(
                static state => ((AutoResetEvent)state!).Set(), _rings, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        }

        /// <summary>False when it is time to stop.</summary>
        public bool WaitUntil(EngineTime instant)
        {
            while (!_stop.IsCancellationRequested)
            {
                TimeSpan wait = instant - _clock.Now;
                if (wait <= TimeSpan.Zero)
                {
                    return true;
                }

                // A timer may ring a little early; half a millisecond more and it does not have to ring twice.
                TimeSpan due = wait < TimeSpan.FromHours(1) ? wait + TimeSpan.FromMilliseconds(0.5) : TimeSpan.FromHours(1);
                _timer.Change(due, Timeout.InfiniteTimeSpan);
                WaitHandle.WaitAny(_handles);
            }

            return false;
        }

        public void Dispose()
        {
            _timer.Dispose();
            _rings.Dispose();
        }
    }
}
