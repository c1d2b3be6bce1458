using System.Data.Common;
using DriftWatch.Storage;

namespace DriftWatch.Running;

/// <summary>
/// What a store needs besides being written to: hours merged and the records copied each minute, old months dropped
/// and closed ones verified once a day; and on a full disk old months dropped at once, where retention allows. On a
/// thread of its own, never in a hurry: trouble is logged and tried again.
/// </summary>
internal sealed class StoreUpkeep : IDisposable
{
    private static readonly TimeSpan Turn = TimeSpan.FromMinutes(1);

    /// <summary>Soon after a start: what a stop or a crash left undone waits no longer than it must.</summary>
    private static readonly TimeSpan FirstTurn = TimeSpan.FromSeconds(4);
    private static readonly TimeSpan Daily = TimeSpan.FromDays(1);

    private readonly BenchStore _store;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly CancellationTokenSource _stop = new();
    private readonly Thread _thread;
    private volatile FileCheck? _check;
    private long _lastDaily;
    private bool _everDaily;

    public StoreUpkeep(BenchStore store, TimeProvider time, ILogger logger)
    {
        _store = store;
        _time = time;
        _logger = logger;
        _thread = new Thread(Run) { Name = "upkeep " + Path.GetFileName(store.Folder), IsBackground = true };
    }

    /// <summary>What the last verification of the closed months found; null before the first.</summary>
    public FileCheck? LastCheck => _check;

    public void Start() => _thread.Start();

    /// <summary>Stops; waits for a step that is under way.</summary>
    public void Dispose()
    {
        _stop.Cancel();
        if (_thread.IsAlive)
        {
            _thread.Join();
        }

        _stop.Dispose();
    }

    private void Run()
    {
        TimeSpan wait = FirstTurn;
        while (!_stop.Token.WaitHandle.WaitOne(wait))
        {
            wait = Turn;
            try
            {
                Once();
            }
            catch (OperationCanceledException)
            {
                return;
            }
            catch (Exception exception) when (exception is StoreException or IOException or UnauthorizedAccessException or DbException)
            {
                RunningLog.UpkeepFailed(_logger, exception.Message);
            }
        }
    }

    private void Once()
    {
        _store.SealDue();
        _store.MergeDue(_stop.Token);
        _store.CopyRecordsDue();
        bool dayIsOver = !_everDaily || _time.GetElapsedTime(_lastDaily) >= Daily;
        if (_store.IsFull || dayIsOver)
        {
            _store.RetainDue();
        }

        if (dayIsOver)
        {
            IReadOnlyList<FileProblem> problems = _store.VerifyClosed(_stop.Token);
            foreach (FileProblem problem in problems)
            {
                RunningLog.FileProblem(_logger, problem.Path, problem.Why);
            }

            _check = new FileCheck(_time.GetUtcNow(), problems);

            _lastDaily = _time.GetTimestamp();
            _everDaily = true;
        }
    }
}

/// <summary>A verification of the closed months: when it ended, UTC, and what is damaged.</summary>
internal sealed record FileCheck(DateTimeOffset At, IReadOnlyList<FileProblem> Problems);
