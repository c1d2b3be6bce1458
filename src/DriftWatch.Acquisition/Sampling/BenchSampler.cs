using DriftWatch.Measurement.Benches;
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

    /// <summary>What the owners have counted, of each instrument that is counted.</summary>
    public IReadOnlyList<InstrumentTally> Tallies => [.. _owners.SelectMany(o => o.Owner.Tallies)];

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
