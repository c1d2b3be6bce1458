using DriftWatch.Acquisition.Lines;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>Waits on the owner's thread until the time is over, the task (if any) is done, or stop is asked for.</summary>
internal delegate void Pause(TimeSpan limit, Task? until, CancellationToken stop);

/// <summary>
/// Opens a line on a throwaway task, so that a connection that takes seconds holds up no fault reading, and
/// throws a dead one away likewise. Waits between tries by the back-off.
/// </summary>
internal sealed class LineKeeper<TLine>(
    string name, Func<TLine> open, EngineClock clock, Backoff backoff, ILogger logger)
    where TLine : class, IDisposable
{
    /// <summary>A close that takes longer is left behind (a dead port's close can hang for ever).</summary>
    private static readonly TimeSpan CloseLimit = TimeSpan.FromSeconds(1);

    /// <summary>What the owner waits for a close before it goes on: most are done at once, and the port is then free.</summary>
    private static readonly TimeSpan CloseGrace = TimeSpan.FromMilliseconds(50);

    private Task<TLine>? _opening;

    public TLine? Line { get; private set; }

    /// <summary>The instant of the next try while the line is closed.</summary>
    public EngineTime NextTry { get; private set; } = EngineTime.MinValue;

    public Backoff Backoff => backoff;

    public Task? Opening => _opening;

    /// <summary>Goes one step on the way to an open line: true when it has just been opened.</summary>
    /// <exception cref="LinkException">This try failed; the next one is set.</exception>
    public bool TryOpen()
    {
        if (_opening is null)
        {
            if (clock.Now < NextTry)
            {
                return false;
            }

            _opening = Task.Run(open);
            return false;
        }

        if (!_opening.IsCompleted)
        {
            return false;
        }

        Task<TLine> done = _opening;
        _opening = null;
        try
        {
            Line = done.GetAwaiter().GetResult();
            return true;
        }
        catch
        {
            NextTry = clock.Now + backoff.Next();
            throw;
        }
    }

    /// <summary>Throws the line away and sets the next try: by the back-off, or at the instant given.</summary>
    public void Discard(EngineTime? nextTry = null)
    {
        if (Line is TLine dead)
        {
            Line = null;
            Throw(dead);
        }

        NextTry = nextTry ?? clock.Now + backoff.Next();
    }

    public void Stop()
    {
        _ = _opening?.ContinueWith(
            t => t.Result.Dispose(),
            CancellationToken.None,
            TaskContinuationOptions.OnlyOnRanToCompletion,
            TaskScheduler.Default);
        if (Line is TLine line)
        {
            Line = null;
            Throw(line);
        }
    }

    private void Throw(TLine dead)
    {
        Task closing = Task.Run(dead.Dispose);
        if (closing.Wait(CloseGrace))
        {
            return;
        }

        _ = closing.WaitAsync(CloseLimit, clock.TimeProvider).ContinueWith(
            _ => AcquisitionLog.CloseHangs(logger, name, CloseLimit),
            CancellationToken.None,
            TaskContinuationOptions.OnlyOnFaulted,
            TaskScheduler.Default);
    }
}

internal static class Pauses
{
    public static void Real(TimeSpan limit, Task? until, CancellationToken stop)
    {
        // Rounded up: a wait that ends a fraction of a millisecond early would spin.
        var whole = TimeSpan.FromMilliseconds(Math.Clamp(Math.Ceiling(limit.TotalMilliseconds), 0, 60_000));
        if (until is null)
        {
            stop.WaitHandle.WaitOne(whole);
        }
        else
        {
            WaitHandle.WaitAny([stop.WaitHandle, ((IAsyncResult)until).AsyncWaitHandle], whole);
        }
    }
}
