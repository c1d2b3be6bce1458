using DriftWatch.Acquisition.Lines;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// The owner of a polled line and of every instrument on it. Instruments take turns, the most overdue first; one that
/// is down is tried again by its own back-off and meanwhile posts one fault a period, so that its neighbours keep their
/// grid. When no instrument on the line has answered three times running, or the line dies, it is opened anew.
/// Opening a line also makes its instruments, in the order of the devices.
/// </summary>
internal sealed class PolledOwner(
    string name,
    IReadOnlyList<PolledDevice> devices,
    Func<(IPolledLine Line, IReadOnlyList<IPolledInstrument> Instruments)> open,
    EngineClock clock,
    IReadingSink sink,
    Backoff lineBackoff,
    ILogger logger,
    Pause? pause = null) : ILineOwner
{
    /// <summary>Scans without any answer, in a row, after which the line itself is suspected. Source: measured practice of serial adapters, no published source.</summary>
    private const int TimeoutsToReopen = 3;

    /// <summary>Neighbours' faults are posted at least this often while one instrument is waited for.</summary>
    private static readonly TimeSpan IdleStep = TimeSpan.FromMilliseconds(50);

    /// <summary>A line that is always too slow would otherwise say so at every scan.</summary>
    private static readonly TimeSpan MissedTellEvery = TimeSpan.FromMinutes(1);

    private EngineTime _missedTold = EngineTime.FromSeconds(-3600);

    private readonly Pause _pause = pause ?? Pauses.Real;

    public string Name => name;

    public IReadOnlyList<InstrumentTally> Tallies => [.. devices.Select(d => new InstrumentTally(d.Id, d.MissedTicks, null))];

    public void Run(CancellationToken stop)
    {
        var keeper = new LineKeeper<Opened>(name, OpenLine, clock, lineBackoff, logger);
        foreach (PolledDevice device in devices)
        {
            sink.Report(new InstrumentNotice(device.Id, LinkState.Connecting, "opening the line"));
        }

        using CancellationTokenRegistration waker = stop.Register(() => keeper.Line?.Line.Wake());
        try
        {
            while (!stop.IsCancellationRequested)
            {
                if (keeper.Line is null)
                {
                    WhileClosed(keeper, stop);
                }
                else
                {
                    WhileOpen(keeper, stop);
                }
            }
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            // A wait on the line was ended by the stop.
        }
        finally
        {
            keeper.Stop();
        }
    }

    private Opened OpenLine()
    {
        (IPolledLine line, IReadOnlyList<IPolledInstrument> instruments) = open();
        return new Opened(line, instruments);
    }

    private void WhileClosed(LineKeeper<Opened> keeper, CancellationToken stop)
    {
        try
        {
            if (keeper.TryOpen())
            {
                keeper.Line!.Line.WhileWaiting(IdleStep, () =>
                {
                    stop.ThrowIfCancellationRequested();
                    PostFaults(clock.Now);
                });
                for (int i = 0; i < devices.Count; i++)
                {
                    devices[i].Instrument = keeper.Line.Instruments[i];
                    devices[i].TryNow();
                }

                return;
            }
        }
        catch (LinkException error)
        {
            LineDown(keeper, error);
        }

        EngineTime now = clock.Now;
        PostFaults(now);
        EngineTime next = NextFault();
        if (keeper.Opening is null && keeper.NextTry < next)
        {
            next = keeper.NextTry;
        }

        _pause(next > now ? next - now : TimeSpan.Zero, keeper.Opening, stop);
    }

    private void WhileOpen(LineKeeper<Opened> keeper, CancellationToken stop)
    {
        PolledDevice device = devices[0];
        foreach (PolledDevice other in devices)
        {
            if (other.Due < device.Due)
            {
                device = other;
            }
        }

        EngineTime now = clock.Now;
        if (device.Due <= now)
        {
            Serve(keeper, device);
            return;
        }

        PostFaults(now);
        EngineTime next = NextFault();
        next = device.Due < next ? device.Due : next;
        if (next > now)
        {
            _pause(next - now, null, stop);
        }
    }

    private void Serve(LineKeeper<Opened> keeper, PolledDevice device)
    {
        EngineTime started = clock.Now;
        try
        {
            if (device.IsUp)
            {
                long missed = device.Missed;
                device.Scan(clock, everything: false);
                if (device.Missed > missed && clock.Now - _missedTold >= MissedTellEvery)
                {
                    _missedTold = clock.Now;
                    AcquisitionLog.Missed(logger, device.Id, device.Missed);
                }
            }
            else
            {
                string identity = device.Instrument!.Greet();
                device.Scan(clock, everything: true);
                device.MarkUp();
                AcquisitionLog.Talking(logger, device.Id, identity);
                sink.Report(new InstrumentNotice(device.Id, LinkState.Talking, identity));
            }

            lineBackoff.Reset();
        }
        catch (PollException error)
        {
            if (device.MarkDown(clock.Now, started, error.Fault, error.Words))
            {
                AcquisitionLog.Down(logger, device.Id, error.Words);
                sink.Report(new InstrumentNotice(device.Id, LinkState.Down, error.Words, device.Due - clock.Now));
            }

            if (devices.All(d => !d.IsUp && d.Timeouts >= TimeoutsToReopen))
            {
                // The device's own wait goes on: a port that opens at once must not make it longer.
                keeper.Discard(device.Due);
                foreach (PolledDevice silent in devices)
                {
                    silent.ForgetTimeouts();
                }
            }
        }
        catch (LinkException error)
        {
            keeper.Discard();
            LineDown(keeper, error);
        }
    }

    private void LineDown(LineKeeper<Opened> keeper, LinkException error)
    {
        EngineTime now = clock.Now;
        string reason = error.Remedy.Length > 0 ? $"{error.Message}; {error.Remedy}" : error.Message;
        foreach (PolledDevice device in devices)
        {
            if (device.MarkDown(now, now, FaultCode.LineDown, reason))
            {
                AcquisitionLog.Down(logger, device.Id, reason);
                sink.Report(new InstrumentNotice(device.Id, LinkState.Down, reason, keeper.NextTry - now));
            }
        }
    }

    private void PostFaults(EngineTime now)
    {
        foreach (PolledDevice device in devices)
        {
            device.PostFaults(now);
        }
    }

    private EngineTime NextFault()
    {
        EngineTime next = EngineTime.MaxValue;
        foreach (PolledDevice device in devices)
        {
            if (!device.IsUp && device.NextGrid < next)
            {
                next = device.NextGrid;
            }
        }

        return next == EngineTime.MaxValue ? clock.Now + TimeSpan.FromSeconds(1) : next;
    }

    private sealed class Opened(IPolledLine line, IReadOnlyList<IPolledInstrument> instruments) : IDisposable
    {
        public IPolledLine Line => line;

        public IReadOnlyList<IPolledInstrument> Instruments => instruments;

        public void Dispose() => line.Dispose();
    }
}
