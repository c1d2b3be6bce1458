using System.Data.Common;
using DriftWatch.Measurement.Benches;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Watch.Alarms.Health;

namespace DriftWatch.Web.Api;

/// <summary>How a second judgement stands. Append only: the slugs stand in the API.</summary>
internal enum WhatIfState
{
    Running,
    Done,
    Cancelled,
    Failed,
}

/// <summary>One second judgement of a bench, asked for by a person.</summary>
internal sealed class WhatIfJob(string bench, UtcStretch span) : IProgress<double>
{
    private double _progress;

    public Guid Id { get; } = Guid.CreateVersion7();

    public string Bench => bench;

    public UtcStretch Span => span;

    public CancellationTokenSource Cancel { get; } = new();

    public double Progress => Volatile.Read(ref _progress);

    public WhatIfState State { get; private set; }

    public WhatIfResult? Result { get; private set; }

    /// <summary>Why it failed, for a person.</summary>
    public string? Trouble { get; private set; }

    public Lock Gate { get; } = new();

    public void Report(double value) => Volatile.Write(ref _progress, value);

    public void End(WhatIfState state, WhatIfResult? result = null, string? trouble = null)
    {
        lock (Gate)
        {
            (State, Result, Trouble) = (state, result, trouble);
        }
    }
}

/// <summary>
/// Judges again beside the running service, one job at a time, on a thread of its own that rests as long as it works: sampling
/// and judging come first. It reads the store and never writes; the live engine knows nothing of it. The last job's result is kept.
/// </summary>
internal sealed partial class WhatIfDesk(TimeProvider time, ILogger logger, CancellationToken stopping)
{
    private readonly Lock _gate = new();
    private WhatIfJob? _job;

    /// <summary>The job of an id; null where it is not the last one.</summary>
    public WhatIfJob? Find(string bench, string id)
    {
        lock (_gate)
        {
            return _job is { } job && job.Bench == bench && Guid.TryParse(id, out Guid guid) && job.Id == guid ? job : null;
        }
    }

    /// <summary>Begins, or gives back false and the job that is in the way.</summary>
    public bool TryBegin(IBenchView view, UtcStretch span, Func<BenchDefinition, BenchDefinition> change, out WhatIfJob job)
    {
        lock (_gate)
        {
            if (_job is { State: WhatIfState.Running } busy)
            {
                job = busy;
                return false;
            }

            _job?.Cancel.Dispose();
            job = _job = new WhatIfJob(view.Bench.Id, span);
        }

        WhatIfJob mine = job;
        new Thread(() => Run(view, mine, change)) { Name = "what-if", IsBackground = true, Priority = ThreadPriority.Lowest }.Start();
        return true;
    }

    private void Run(IBenchView view, WhatIfJob job, Func<BenchDefinition, BenchDefinition> change)
    {
        try
        {
            using var cancel = CancellationTokenSource.CreateLinkedTokenSource(job.Cancel.Token, stopping);
            using IInputSource source = view.ReadAgain(job.Span.FromUtc, job.Span.ToUtc);
            long since = time.GetTimestamp();
            WhatIfResult result = WhatIfPass.Run(source, change, job.Span, job, Rest, cancel.Token);
            job.End(WhatIfState.Done, result);

            void Rest()
            {
                cancel.Token.WaitHandle.WaitOne(time.GetElapsedTime(since));
                since = time.GetTimestamp();
            }
        }
        catch (OperationCanceledException)
        {
            job.End(WhatIfState.Cancelled);
        }
        catch (Exception exception) when (exception is IOException or DbException or StoreException)
        {
            Unread(logger, exception, job.Bench);
            job.End(WhatIfState.Failed, trouble: exception.Message);
        }
        catch (Exception exception) // nobody awaits this thread, and it must not end the service
        {
            Unread(logger, exception, job.Bench);
            job.End(WhatIfState.Failed, trouble: "A fault of DriftWatch itself; it stands in the log of this minute.");
        }
    }

    [LoggerMessage(2020, LogLevel.Warning, "Bench {Bench}: what it would have been under other limits could not be judged")]
    private static partial void Unread(ILogger logger, Exception exception, string bench);
}
